//! An archive with strays in a temporary folder, and its output folder.

use burler::archive::quarantine::{Site, Tidied, tidy};
use burler::archive::stray::{Stray, judge};
use burler::archive::undo::{Undone, undo};
use burler::archive::{SweepError, list, rows};
use burler::disk::Disk;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

pub const NAME: &str = "prints";

/// A file as undoing must bring it back: bytes, time of writing, rights.
pub type Seen = (Vec<u8>, (i64, i64), u32);

pub struct Shed {
    home: TempDir,
    archive: PathBuf,
    checked: PathBuf,
}

pub fn day() -> Date {
    "2026-11-27".parse().unwrap()
}

impl Shed {
    pub fn new() -> Self {
        // In memory where there is such a folder: some tests repeat everything for each operation.
        let memory = Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        let (archive, checked) = (home.path().join("archive"), home.path().join("checked"));
        fs::create_dir(&archive).unwrap();
        Self { home, archive, checked }
    }

    /// One with something of every kind.
    pub fn full() -> Self {
        let shed = Self::new();
        for (path, bytes) in [
            ("kelp.png", &b"\x89PNG\r\n\x1a\nkelp"[..]),
            ("kelp (1).png", b"\x89PNG\r\n\x1a\nkelp"),
            ("nets/dulse.png.part", b"half"),
            ("nets/deep/~$list", b"lock"),
            ("nets/deep/empty.png", b""),
            ("nets/.DS_Store", b"how the folder looks"),
            ("nets/notes.txt", b"ask the mill"),
        ] {
            shed.put(path, bytes);
        }
        fs::set_permissions(shed.file("nets/deep/~$list"), fs::Permissions::from_mode(0o640)).unwrap();
        shed
    }

    pub fn home(&self) -> &Path {
        self.home.path()
    }

    pub fn file(&self, path: impl AsRef<Path>) -> PathBuf {
        self.archive.join(path)
    }

    pub fn away(&self, path: impl AsRef<Path>) -> PathBuf {
        self.checked.join("quarantine").join(path)
    }

    /// The output folder goes to another drive.
    pub fn check_into(&mut self, folder: &Path) {
        self.checked = folder.into();
    }

    /// Puts a file there, written at a time of its own.
    pub fn put(&self, path: impl AsRef<Path>, bytes: &[u8]) {
        let path = self.file(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        let name = blake3::hash(path.as_os_str().as_bytes());
        let odd = u64::from(u16::from_le_bytes([name.as_bytes()[0], name.as_bytes()[1]]));
        let time =
            SystemTime::UNIX_EPOCH + Duration::from_secs(1_600_000_000 + odd) + Duration::from_nanos(odd * 7 + 1);
        fs::File::options().write(true).open(&path).unwrap().set_modified(time).unwrap();
    }

    pub fn site(&self) -> Site<'_> {
        Site { archive: NAME, folder: &self.archive, checked: &self.checked }
    }

    /// The strays as they are two days from now; nothing can make a file's entry older than it is.
    pub fn strays(&self) -> Vec<Stray> {
        let later = SystemTime::now() + Duration::from_hours(48);
        judge(&rows(&self.archive, &list(&self.archive), later, &|_| None))
    }

    pub fn tidy_on(&self, disk: &Disk) -> Result<Tidied, SweepError> {
        let made = "2026-11-27T03:00:00Z".parse().unwrap();
        tidy(disk, self.site(), day(), made, (&self.strays(), true), &mut |_| Ok(()))
    }

    pub fn tidy(&self) -> Tidied {
        self.tidy_on(&Disk::new()).unwrap()
    }

    pub fn undo(&self) -> Undone {
        undo(&Disk::new(), self.site(), day(), false).unwrap()
    }

    pub fn seen(&self) -> BTreeMap<PathBuf, Seen> {
        files(&self.archive)
    }

    /// The bytes of everything anywhere, sorted.
    pub fn bytes(&self) -> Vec<Vec<u8>> {
        let mut all: Vec<Vec<u8>> =
            files(&self.archive).into_values().chain(files(&self.checked).into_values()).map(|seen| seen.0).collect();
        all.sort();
        all
    }

    /// Files in quarantine that are no manifests.
    pub fn quarantined(&self) -> Vec<PathBuf> {
        let is_manifest = |path: &PathBuf| path.components().count() == 3 && path.extension().is_some();
        files(&self.checked).into_keys().filter(|path| !is_manifest(path)).collect()
    }
}

/// Every plain file below a folder.
pub fn files(root: &Path) -> BTreeMap<PathBuf, Seen> {
    walkdir::WalkDir::new(root)
        .into_iter()
        .filter_map(Result::ok)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let metadata = entry.metadata().unwrap();
            let seen =
                (fs::read(entry.path()).unwrap(), (metadata.mtime(), metadata.mtime_nsec()), metadata.mode() & 0o7777);
            (entry.path().strip_prefix(root).unwrap().into(), seen)
        })
        .collect()
}
