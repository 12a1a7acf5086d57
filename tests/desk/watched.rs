//! The daemon as its own process over a folder of a designer, and the tiles that are saved into it. Every wait polls a
//! condition with a deadline.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use burler::codec::picture::encode_png;
use burler::tile::{Content, Raster};
use rustix::process::{Pid, Signal, kill_process};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// A designer's folder with Burler's settings beside it.
pub struct Studio {
    home: tempfile::TempDir,
}

impl Studio {
    pub fn new() -> Self {
        let studio = Self { home: tempfile::tempdir().unwrap() };
        fs::create_dir(studio.at("exports")).unwrap();
        studio.configure("");
        studio
    }

    /// Writes the settings, with more behind them.
    pub fn configure(&self, more: &str) {
        let config = "[state]\nfolder = \"state\"\n[folder.studio]\nexports = \"exports\"\n\
                      [settle]\nquiet = \"300 ms\"\ngrace = \"1 s\"\nscan = \"2 s\"\n";
        fs::write(self.at("burler.toml"), format!("{config}{more}")).unwrap();
    }

    /// What a command says on standard output.
    pub fn says(&self, words: &[&str]) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
        let output = command.args(words).arg("--config").arg(self.at("burler.toml")).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    }

    /// A person moves a file within the output folder.
    pub fn carry(&self, from: &str, to: &str) {
        let (from, to) = (self.at("checked").join(from), self.at("checked").join(to));
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::rename(from, to).unwrap();
    }

    pub fn at(&self, path: &str) -> PathBuf {
        self.home.path().join(path)
    }

    /// Saves as a sync client does: under a temporary name, then renamed.
    pub fn save(&self, name: &[u8], bytes: &[u8]) {
        let exports = self.at("exports");
        fs::write(exports.join(".incoming.part"), bytes).unwrap();
        fs::rename(exports.join(".incoming.part"), exports.join(std::ffi::OsStr::from_bytes(name))).unwrap();
    }

    pub fn watch(&self) -> Watch {
        self.watch_with(|command| command)
    }

    pub fn watch_with(&self, more: impl FnOnce(&mut Command) -> &mut Command) -> Watch {
        let log = fs::OpenOptions::new().create(true).append(true).open(self.at("log")).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
        command.args(["watch", "--config"]).arg(self.at("burler.toml"));
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(log);
        Watch(more(&mut command).spawn().unwrap())
    }

    pub fn log(&self) -> String {
        fs::read_to_string(self.at("log")).unwrap_or_default()
    }

    /// Waits until something holds.
    pub fn until(&self, what: &str, holds: impl Fn() -> bool) {
        let deadline = Instant::now() + Duration::from_secs(60);
        while !holds() {
            assert!(Instant::now() < deadline, "never: {what}\n{}", self.log());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    pub fn comes(&self, file: &str) {
        self.until(file, || self.at("checked").join(file).is_file());
    }

    pub fn goes(&self, file: &str) {
        self.until(file, || !self.at("checked").join(file).exists());
    }

    /// Every file below a folder with its hash; letters, and what was withdrawn on the way, aside.
    pub fn files(&self, folder: &str) -> BTreeMap<PathBuf, Content> {
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

/// The running daemon; killed when dropped.
pub struct Watch(pub Child);

impl Watch {
    /// Asks it to stop as the system does and waits for its end.
    pub fn stop(mut self) -> ExitStatus {
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

pub fn drawn(draw: impl Fn(u32, u32) -> [u8; 4]) -> Vec<u8> {
    let samples = (0..96).flat_map(|y| (0..96).map(move |x| (x, y))).flat_map(|(x, y)| draw(x, y)).collect();
    encode_png(&Raster::new(96, 96, samples).unwrap(), Some(300.0)).unwrap()
}

/// A check in a shade of its own, so that no two have the same content.
pub fn check(shade: u8) -> impl Fn(u32, u32) -> [u8; 4] {
    move |x, y| if (x / 12 + y / 12).is_multiple_of(2) { [24, 60, shade, 255] } else { [236, 226, 205, 255] }
}

pub fn sound(shade: u8) -> Vec<u8> {
    drawn(check(shade))
}

pub fn with_line(shade: u8) -> Vec<u8> {
    drawn(move |x, y| {
        let [r, g, b, _] = check(shade)(x, y);
        [r, g, b, if y == 47 { 128 } else { 255 }]
    })
}

/// Spots of a period that 96 does not hold.
pub fn broken() -> Vec<u8> {
    drawn(|x, y| {
        let (u, v) = ((x % 41).abs_diff(20), (y % 37).abs_diff(18));
        if u * u + v * v < 260 { [180, 60, 70, 255] } else { [240, 235, 220, 255] }
    })
}
