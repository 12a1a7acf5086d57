//! The stamp of a file: what must stay still for it to count as the same file with the same bytes.
//!
//! Plain data. Knows no paths and opens nothing.

use std::fs::Metadata;
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
