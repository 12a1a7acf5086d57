//! The running daemon from outside: what is saved into its folder, taken from under it, or done to the process itself.
//! Every wait polls a condition with a deadline.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

#[path = "desk/watched.rs"]
mod watched;

use burler::codec::picture::encode_png;
use burler::tile::Raster;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::net::UnixDatagram;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;
use watched::{Studio, broken, sound, with_line};

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

#[test]
fn a_tile_goes_through_its_verdicts_and_an_original_is_never_changed() {
    let studio = Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &sound(90));
    studio.comes("ready/kelp.png");
    studio.comes("mockups/kelp.png/strike-off.jpg");
    // Another drawing under its name, whose edges do not meet: the one before stays.
    studio.save(b"kelp.png", &broken());
    let beside = format!("held/kelp~{}.png.held.png", &blake3::hash(b"kelp.png").to_hex()[..6]);
    studio.comes(&beside);
    assert_eq!(fs::read(studio.at("checked/ready/kelp.png")).unwrap(), sound(90));
    // The first drawing again, with a line through it: a newer verdict on that one.
    studio.save(b"kelp.png", &with_line(91));
    studio.goes(&beside);
    studio.until("both old sets are withdrawn", || studio.files("checked/earlier").len() == 4);
    studio.comes("ready/kelp.png");
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
