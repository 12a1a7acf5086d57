//! Which folder is this? Tells a folder from another one made under the same name.

use std::fs::Metadata;
use std::os::unix::fs::MetadataExt;
use std::time::SystemTime;

/// What stays the same about a folder for as long as it exists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity {
    device: u64,
    inode: u64,
    /// Inode numbers are given out again; the time of birth, where the file system keeps it, tells the two apart.
    born: Option<SystemTime>,
}

impl Identity {
    /// The identity of the folder that `metadata` describes.
    #[must_use]
    pub fn of(metadata: &Metadata) -> Self {
        Self { device: metadata.dev(), inode: metadata.ino(), born: metadata.created().ok() }
    }
}
