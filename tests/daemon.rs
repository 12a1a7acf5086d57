//! The running daemon from outside: what is saved into its folder, taken from under it, or done to the process itself.
//! Every wait polls a condition with a deadline.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

use burler::codec::picture::encode_png;
use burler::tile::{Content, Raster};
use rustix::process::{Pid, Signal, kill_process};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::net::UnixDatagram;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

struct Studio {
    home: tempfile::TempDir,
}

impl Studio {
    fn new() -> Self {
        let studio = Self { home: tempfile::tempdir().unwrap() };
        fs::create_dir(studio.at("exports")).unwrap();
        let config = "[state]\nfolder = \"state\"\n[folder.studio]\nexports = \"exports\"\n\
                      [settle]\nquiet = \"300 ms\"\ngrace = \"1 s\"\nscan = \"2 s\"\n";
        fs::write(studio.at("burler.toml"), config).unwrap();
        studio
    }

    fn at(&self, path: &str) -> PathBuf {
        self.home.path().join(path)
    }

    /// Saves as a sync client does: under a temporary name, then renamed.
    fn save(&self, name: &[u8], bytes: &[u8]) {
        let exports = self.at("exports");
        fs::write(exports.join(".incoming.part"), bytes).unwrap();
        fs::rename(exports.join(".incoming.part"), exports.join(std::ffi::OsStr::from_bytes(name))).unwrap();
    }

    fn watch(&self) -> Watch {
        self.watch_with(|command| command)
    }

    fn watch_with(&self, more: impl FnOnce(&mut Command) -> &mut Command) -> Watch {
        let log = fs::OpenOptions::new().create(true).append(true).open(self.at("log")).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
        command.args(["watch", "--config"]).arg(self.at("burler.toml"));
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(log);
        Watch(more(&mut command).spawn().unwrap())
    }

    fn log(&self) -> String {
        fs::read_to_string(self.at("log")).unwrap_or_default()
    }

    /// Waits until something holds.
    fn until(&self, what: &str, holds: impl Fn() -> bool) {
        let deadline = Instant::now() + Duration::from_secs(60);
        while !holds() {
            assert!(Instant::now() < deadline, "never: {what}\n{}", self.log());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn comes(&self, file: &str) {
        self.until(file, || self.at("checked").join(file).is_file());
    }

    /// Every file below a folder with its hash; letters, and what was withdrawn on the way, aside.
    fn files(&self, folder: &str) -> BTreeMap<PathBuf, Content> {
        let mut files = BTreeMap::new();
        let mut folders = vec![self.at(folder)];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).into_iter().flatten() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else if let Ok(bytes) = fs::read(&path) {
                    // A part that got its name between listing and reading is simply not there any more.
                    files.insert(path.strip_prefix(self.home.path()).unwrap().into(), Content::of(&bytes));
                }
            }
        }
        files
    }
}

struct Watch(Child);

impl Watch {
    /// Asks it to stop as the system does and waits for its end.
    fn stop(mut self) -> ExitStatus {
        kill_process(Pid::from_child(&self.0), Signal::TERM).unwrap();
        self.0.wait().unwrap()
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        if let Ok(None) = self.0.try_wait() {
            self.0.kill().ok();
            self.0.wait().ok();
        }
    }
}

fn drawn(draw: impl Fn(u32, u32) -> [u8; 4]) -> Vec<u8> {
    let samples = (0..96).flat_map(|y| (0..96).map(move |x| (x, y))).flat_map(|(x, y)| draw(x, y)).collect();
    encode_png(&Raster::new(96, 96, samples).unwrap(), Some(300.0)).unwrap()
}

/// A check in a shade of its own, so that no two have the same content.
fn check(shade: u8) -> impl Fn(u32, u32) -> [u8; 4] {
    move |x, y| if (x / 12 + y / 12).is_multiple_of(2) { [24, 60, shade, 255] } else { [236, 226, 205, 255] }
}

fn sound(shade: u8) -> Vec<u8> {
    drawn(check(shade))
}

fn with_line(shade: u8) -> Vec<u8> {
    drawn(move |x, y| {
        let [r, g, b, _] = check(shade)(x, y);
        [r, g, b, if y == 47 { 128 } else { 255 }]
    })
}

/// Even noise, which has no joint to show and hardly shrinks: about a megabyte.
fn noise() -> Vec<u8> {
    let mut state = 1_u32;
    let mut samples = Vec::new();
    for _ in 0..640 * 640 {
        // Numerical Recipes' linear congruence; its high bits serve.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let [_, a, b, c] = state.to_le_bytes();
        samples.extend([c, b ^ c, a ^ c, 255]);
    }
    encode_png(&Raster::new(640, 640, samples).unwrap(), Some(300.0)).unwrap()
}

/// Spots of a period that 96 does not hold.
fn broken() -> Vec<u8> {
    drawn(|x, y| {
        let (u, v) = ((x % 41).abs_diff(20), (y % 37).abs_diff(18));
        if u * u + v * v < 260 { [180, 60, 70, 255] } else { [240, 235, 220, 255] }
    })
}

#[test]
fn a_tile_goes_through_its_verdicts_and_an_original_is_never_changed() {
    let studio = Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &sound(90));
    studio.comes("ready/kelp.png");
    studio.comes("mockups/kelp.png/strike-off.jpg");
    studio.save(b"kelp.png", &broken());
    studio.comes("held/kelp.png.held.png");
    studio.until("the old set is withdrawn", || {
        let there = ["ready/kelp.png", "mockups/kelp.png/repeat.jpg"]
            .iter()
            .any(|file| studio.at("checked").join(file).exists());
        !there && studio.files("checked/earlier").len() == 3
    });
    studio.save(b"kelp.png", &with_line(91));
    studio.comes("ready/kelp.png");
    studio.until("the held picture is withdrawn", || !studio.at("checked/held/kelp.png.held.png").exists());
    assert_ne!(fs::read(studio.at("checked/ready/kelp.png")).unwrap(), with_line(91), "it was mended");
    assert_eq!(fs::read(studio.at("exports/kelp.png")).unwrap(), with_line(91));
    assert!(watch.stop().success());
}

#[test]
fn names_of_any_bytes_and_files_that_are_none_do_not_stop_it() {
    let studio = Studio::new();
    let watch = studio.watch();
    studio.save(b"empty.png", b"");
    studio.save(b"letter.png", b"Dear harbor master,");
    studio.save(b"two\nlines.png", &sound(10));
    studio.save(b"caf\xe9.png", &sound(20));
    fs::create_dir(studio.at("exports/folder.png")).unwrap();
    let ready = |name: &[u8]| studio.at("checked/ready").join(std::ffi::OsStr::from_bytes(name));
    studio.until("both odd names", || ready(b"two\nlines.png").is_file() && ready(b"caf\xe9.png").is_file());
    studio.comes("held/letter.png.held.png");
    studio.comes("held/empty.png.held.png");
    assert!(watch.stop().success());
}

#[test]
fn the_exports_folder_may_vanish_and_come_back() {
    let studio = Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &sound(30));
    studio.comes("ready/kelp.png");
    fs::rename(studio.at("exports"), studio.at("elsewhere")).unwrap();
    studio.until("the loss is told", || studio.log().contains("the exports folder of studio is not there"));
    fs::rename(studio.at("elsewhere"), studio.at("exports")).unwrap();
    studio.save(b"dulse.png", &sound(31));
    studio.comes("ready/dulse.png");
    assert!(studio.at("checked/ready/kelp.png").is_file(), "nothing was concluded from the loss");
    assert!(watch.stop().success());
}

#[test]
fn a_kill_at_any_moment_and_a_restart_give_what_an_undisturbed_run_gives() {
    let save_all = |studio: &Studio| {
        for shade in 0..6 {
            studio.save(format!("check-{shade}.png").as_bytes(), &sound(100 + shade));
        }
        studio.save(b"line.png", &with_line(99));
        studio.save(b"spots.png", &broken());
    };
    let all_there = |studio: &Studio| {
        let files = studio.files("checked");
        let count = |start: &str| files.keys().filter(|path| path.starts_with(start)).count();
        count("checked/ready") == 7 && count("checked/held") == 1 && count("checked/mockups") == 15
    };
    let calm = Studio::new();
    save_all(&calm);
    let watch = calm.watch();
    calm.until("all outputs", || all_there(&calm));
    assert!(watch.stop().success());

    let storm = Studio::new();
    save_all(&storm);
    let originals = storm.files("exports");
    for files in [1, 4, 9, 13, 18] {
        let mut watch = storm.watch();
        storm.until("some outputs", || storm.files("checked").len() >= files);
        watch.0.kill().unwrap();
        watch.0.wait().unwrap();
    }
    let watch = storm.watch();
    storm.until("all outputs", || all_there(&storm));
    assert!(watch.stop().success());
    assert_eq!(storm.files("checked"), calm.files("checked"));
    assert_eq!(storm.files("exports"), originals);
}

#[test]
fn a_full_disk_is_told_and_the_tile_comes_once_there_is_room() {
    let studio = Studio::new();
    // A limit on file sizes refuses large outputs as a full disk does, while the ledger still fits.
    let limited = studio.watch_with(|command| {
        let program = env!("CARGO_BIN_EXE_burler");
        let script = format!("trap '' XFSZ; ulimit -f 400; exec '{program}' watch --config \"$0\"");
        *command = Command::new("bash");
        let log = fs::OpenOptions::new().create(true).append(true).open(studio.at("log")).unwrap();
        command.args(["-c", &script]).arg(studio.at("burler.toml")).stdin(Stdio::null()).stderr(log)
    });
    studio.save(b"kelp.png", &noise());
    studio.until("it is told", || {
        studio.log().contains("larger than this disk or account allows") || studio.log().contains("full")
    });
    assert!(studio.files("checked").is_empty(), "nothing half-written has a name");
    drop(limited);
    let watch = studio.watch();
    studio.comes("ready/kelp.png");
    assert!(watch.stop().success());
}

#[test]
fn the_service_manager_hears_of_the_start_the_state_and_the_end() {
    let studio = Studio::new();
    let socket = studio.at("notify");
    let ear = UnixDatagram::bind(&socket).unwrap();
    ear.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    let hear = |word: &str| {
        let mut buffer = [0; 4096];
        loop {
            let length = ear.recv(&mut buffer).unwrap_or_else(|error| panic!("{word} was never heard: {error}"));
            if String::from_utf8_lossy(&buffer[..length]).contains(word) {
                return;
            }
        }
    };
    let watch = studio.watch_with(|command| command.env("NOTIFY_SOCKET", Path::new(&socket)));
    hear("READY=1");
    studio.save(b"kelp.png", &sound(50));
    hear("1 done since the start");
    assert!(watch.stop().success());
    hear("STOPPING=1");
}

#[test]
fn two_do_not_watch_with_one_state() {
    let studio = Studio::new();
    let watch = studio.watch();
    studio.until("the first holds the lock", || studio.log().contains("tiles to look at"));
    let mut second = studio.watch();
    assert_eq!(second.0.wait().unwrap().code(), Some(75));
    assert!(studio.log().contains("stop that one first"));
    assert!(watch.stop().success());
}
