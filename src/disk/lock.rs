//! Locks, one per duty: who holds one may be sure that no other process does the same work.
//!
//! The lock lives as long as the process, so a kill cannot leave one behind. Knows nothing of the duties.

use super::count::Disk;
use super::error::{Deed, DiskError};
use rustix::fs::{FlockOperation, Mode, OFlags, flock, open};
use rustix::io::Errno;
use std::os::fd::OwnedFd;
use std::path::Path;

/// A lock that is held until dropped.
#[derive(Debug)]
pub struct Lock {
    _file: OwnedFd,
}

impl Disk {
    /// Takes the lock of this file, making the file when missing; `None` when another process holds it.
    ///
    /// # Errors
    /// When the file cannot be made or the file system knows no locks.
    pub fn lock(&self, path: &Path) -> Result<Option<Lock>, DiskError> {
        self.count(Deed::Write, path)?;
        let failed = |errno: Errno| DiskError::system(Deed::Write, path, errno);
        let file =
            open(path, OFlags::RDWR | OFlags::CREATE | OFlags::CLOEXEC, Mode::from_raw_mode(0o600)).map_err(failed)?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Ok(Some(Lock { _file: file })),
            Err(Errno::WOULDBLOCK) => Ok(None),
            Err(errno) => Err(failed(errno)),
        }
    }
}
