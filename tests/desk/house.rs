//! A designer's house: a temporary folder in which commands are run as the processes they are, and the files in it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use super::{desk, tiles};
use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::Write;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::process::{CommandExt, ExitStatusExt};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

/// Our own executable.
pub const BURLER: &str = env!("CARGO_BIN_EXE_burler");

/// An account that may read nothing but what everyone may.
pub const NOBODY: u32 = 65_534;

/// What a command said. Paths in the house are written from `~`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// The exit status; a signal is 128 and its number.
    pub status: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// The house. Its folder is the home and the working folder of everything that is run.
pub struct House {
    home: TempDir,
}

impl House {
    /// An empty one.
    pub fn new() -> Self {
        // In memory where there is such a folder: the tests wait for many syncs.
        let memory = Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        let house = Self { home };
        house.make("exports");
        house.make(".tmp");
        house
    }

    /// One with some of the drawn tiles in it, under their own names.
    pub fn with(names: &[&str]) -> Self {
        let house = Self::new();
        for name in names {
            house.bring(name, name);
        }
        house
    }

    pub fn path(&self, path: impl AsRef<Path>) -> PathBuf {
        self.home.path().join(path)
    }

    pub fn make(&self, folder: &str) {
        fs::create_dir_all(self.path(folder)).unwrap();
    }

    /// Writes a file where it is wanted.
    pub fn put(&self, path: impl AsRef<Path>, bytes: impl AsRef<[u8]>) {
        let path = self.path(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    /// A drawn tile, written where it is wanted.
    pub fn bring(&self, name: &str, path: impl AsRef<Path>) {
        self.put(path, tiles::bytes(name));
    }

    pub fn read(&self, path: impl AsRef<Path>) -> Vec<u8> {
        let path = self.path(path);
        fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    pub fn has(&self, path: impl AsRef<Path>) -> bool {
        self.path(path).exists()
    }

    /// Every file below a folder with the hash of its bytes. What scratch a killed command left is not hidden.
    pub fn files(&self, folder: &str) -> BTreeMap<OsString, String> {
        let root = self.path(folder);
        walkdir::WalkDir::new(&root)
            .into_iter()
            .filter_map(Result::ok)
            .filter(|entry| entry.file_type().is_file())
            .map(|entry| {
                let name = entry.path().strip_prefix(&root).unwrap().as_os_str().to_owned();
                (name, blake3::hash(&fs::read(entry.path()).unwrap()).to_hex().to_string())
            })
            .collect()
    }

    /// The names of all files below a folder, those that are no UTF-8 with replaced characters.
    pub fn names(&self, folder: &str) -> Vec<String> {
        self.files(folder).keys().map(|name| name.to_string_lossy().into_owned()).collect()
    }

    /// A command, ready to be run: its home is the house, and nothing of this machine's settings reaches it.
    pub fn command(&self, program: &str, arguments: &[impl AsRef<OsStr>]) -> Command {
        let mut command = Command::new(program);
        command.args(arguments).current_dir(self.home.path()).env_clear();
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
        command.env("HOME", self.home.path()).env("TMPDIR", self.path(".tmp")).env("TZ", "UTC");
        command.stdin(Stdio::null());
        command
    }

    /// Runs a command to its end.
    pub fn run(&self, arguments: &[impl AsRef<OsStr>]) -> Said {
        self.finish(self.command(BURLER, arguments), b"")
    }

    /// Runs a command to its end and gives it something to read.
    pub fn run_reading(&self, arguments: &[impl AsRef<OsStr>], input: &[u8]) -> Said {
        let mut command = self.command(BURLER, arguments);
        command.stdin(Stdio::piped());
        self.finish(command, input)
    }

    /// Runs a command as an account that has no special rights; as the account of the tests when that has none.
    pub fn run_as_nobody(&self, arguments: &[impl AsRef<OsStr>]) -> Said {
        let (command, _program) = self.as_nobody(arguments);
        self.finish(command, b"")
    }

    /// The command for that, and the copy of our executable that this account can reach; it lives in the house.
    pub fn as_nobody(&self, arguments: &[impl AsRef<OsStr>]) -> (Command, PathBuf) {
        use std::os::unix::fs::{PermissionsExt, chown};
        if !rustix::process::geteuid().is_root() {
            return (self.command(BURLER, arguments), BURLER.into());
        }
        let program = self.path(".tmp/burler");
        if !program.exists() {
            fs::copy(BURLER, &program).unwrap();
        }
        for folder in [".", ".tmp"] {
            fs::set_permissions(self.path(folder), fs::Permissions::from_mode(0o755)).unwrap();
            chown(self.path(folder), Some(NOBODY), Some(NOBODY)).unwrap();
        }
        let mut command = self.command(program.to_str().unwrap(), arguments);
        command.uid(NOBODY).gid(NOBODY);
        (command, program)
    }

    /// Runs a prepared command to its end.
    pub fn finish(&self, mut command: Command, input: &[u8]) -> Said {
        let (out, err) = (tempfile::NamedTempFile::new().unwrap(), tempfile::NamedTempFile::new().unwrap());
        command.stdout(out.reopen().unwrap()).stderr(err.reopen().unwrap());
        let mut child = command.spawn().unwrap();
        if let Some(mut pipe) = child.stdin.take() {
            pipe.write_all(input).unwrap();
        }
        let mut child = Ended(child);
        let status = desk::wait_for("the end of a command", || format!("{command:?}"), || child.0.try_wait().unwrap());
        let read = |file: &Path| self.spoken_from_home(&fs::read(file).unwrap());
        Said {
            status: status.code().unwrap_or_else(|| 128 + status.signal().unwrap_or(0)),
            out: read(out.path()),
            err: read(err.path()),
        }
    }

    /// A text with the paths of this house written from `~`.
    pub fn spoken_from_home(&self, text: &[u8]) -> String {
        String::from_utf8_lossy(text).replace(self.home.path().to_str().unwrap(), "~")
    }

    /// Runs a command and expects all of its words, written with a margin, its status, and that it left no scratch.
    #[track_caller]
    pub fn expect(&self, arguments: &[impl AsRef<OsStr>], status: i32, out: &str, err: &str) {
        let said = self.run(arguments);
        self.check(&said, arguments, status, out, err);
    }

    /// The same for what was said already.
    #[track_caller]
    pub fn check(&self, said: &Said, arguments: &[impl AsRef<OsStr>], status: i32, out: &str, err: &str) {
        let words: Vec<_> = arguments.iter().map(|word| word.as_ref().as_bytes().escape_ascii().to_string()).collect();
        let wanted = Said { status, out: desk::margin(out), err: desk::margin(err) };
        assert!(*said == wanted, "burler {}\n{}\nbut wanted\n{}", words.join(" "), shown(said), shown(&wanted));
        assert_eq!(self.names(".tmp").iter().filter(|name| *name != "burler").count(), 0, "scratch was left");
    }
}

fn shown(said: &Said) -> String {
    format!("-- status {}\n-- out\n{}-- err\n{}--", said.status, said.out, said.err)
}

/// A child that does not outlive the test.
struct Ended(Child);

impl Drop for Ended {
    fn drop(&mut self) {
        if let Ok(None) = self.0.try_wait() {
            self.0.kill().ok();
            self.0.wait().ok();
        }
    }
}
