//! The stamp of a file: what must stay still for it to count as the same file with the same bytes.
//!
//! Plain data. Knows no paths and opens nothing.

use rustix::fs::{Mode, Timespec, Timestamps, UTIME_OMIT};
use std::fs::{File, Metadata};
use std::os::unix::fs::MetadataExt;

/// Nanoseconds in a second.
const NANOS: i128 = 1_000_000_000;

/// What the file system says about one file without reading it.
///
/// The change time is kept beside the modification time because a program may set the latter back, and the inode because
/// a file may be replaced by another of equal size and times.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Stamp {
    /// Size in bytes.
    pub size: u64,
    /// Modification time, nanoseconds since 1970 (negative before).
    pub mtime_ns: i128,
    /// Time of the last change of bytes, name or rights, nanoseconds since 1970.
    pub ctime_ns: i128,
    /// The number of the file within its file system.
    pub inode: u64,
}

impl Stamp {
    /// The stamp that `metadata` describes.
    #[must_use]
    pub fn of(metadata: &Metadata) -> Self {
        Self {
            size: metadata.size(),
            mtime_ns: i128::from(metadata.mtime()) * NANOS + i128::from(metadata.mtime_nsec()),
            ctime_ns: i128::from(metadata.ctime()) * NANOS + i128::from(metadata.ctime_nsec()),
            inode: metadata.ino(),
        }
    }
}

/// What a file wears beside its bytes: a move keeps it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dress {
    /// Modification time: whole seconds since 1970, negative before.
    pub seconds: i64,
    /// And nanoseconds after those.
    pub nanos: u32,
    /// The rights, the lower twelve bits of the mode (`chmod(2)`).
    pub mode: u32,
}

impl Dress {
    /// What the file of this `metadata` wears.
    #[must_use]
    pub fn of(metadata: &Metadata) -> Self {
        let nanos = u32::try_from(metadata.mtime_nsec()).unwrap_or(0);
        Self { seconds: metadata.mtime(), nanos, mode: metadata.mode() & 0o7777 }
    }

    /// Gives it to a file. The time of the last reading stays.
    pub(super) fn put_on(self, file: &File) -> rustix::io::Result<()> {
        rustix::fs::fchmod(file, Mode::from_raw_mode(self.mode))?;
        let times = Timestamps {
            last_access: Timespec { tv_sec: 0, tv_nsec: UTIME_OMIT },
            last_modification: Timespec { tv_sec: self.seconds, tv_nsec: self.nanos.into() },
        };
        rustix::fs::futimens(file, &times)
    }
}
