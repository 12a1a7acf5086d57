//! Leftovers: parts that a killed program left behind.
//!
//! Takes a folder of ours and removes, at any depth and without following a link, files with the name of a part that no
//! living writer holds. Touches nothing else.

use super::error::{Deed, DiskError};
use super::publish::is_part;
use super::read::QUIET;
use super::tree::{Tree, open_directory};
use rustix::fs::{AtFlags, Dir, FileType, FlockOperation, Mode, OFlags};
use rustix::io::Errno;
use std::ffi::OsStr;
use std::os::fd::{AsFd, OwnedFd};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

impl Tree {
    /// Removes abandoned parts in the folder `path` (relative) and below; returns how many. An absent folder has none.
    ///
    /// # Errors
    /// When a folder cannot be read or a part cannot be removed.
    pub fn sweep_parts(&self, path: &Path) -> Result<usize, DiskError> {
        let mut removed = 0;
        let mut open: Vec<PathBuf> = vec![path.into()];
        while let Some(path) = open.pop() {
            let folder = match self.folder(&path, false) {
                Ok(folder) => folder,
                Err(error) if error.is_absent() || error.errno().is_none() => continue,
                Err(error) => return Err(error),
            };
            let full = self.full(&path);
            let failed = |errno: Errno| DiskError::system(Deed::List, &full, errno);
            for entry in Dir::read_from(&folder).map_err(failed)? {
                let entry = entry.map_err(failed)?;
                let name = OsStr::from_bytes(entry.file_name().to_bytes());
                let is_folder = match entry.file_type() {
                    FileType::Directory => name != "." && name != "..",
                    // Some file systems do not say what a name is; opening it tells.
                    FileType::Unknown => name != "." && name != ".." && open_directory(&folder, name).is_ok(),
                    _ => false,
                };
                if is_folder {
                    open.push(path.join(name));
                } else if is_part(name.as_bytes()) && is_abandoned(&folder, name) {
                    self.disk.run(Deed::Remove, &full.join(name), || {
                        rustix::fs::unlinkat(&folder, name, AtFlags::empty())
                    })?;
                    removed += 1;
                }
            }
        }
        Ok(removed)
    }
}

/// Whether nobody is writing the part: its writer holds a lock on it for as long as it lives.
fn is_abandoned(folder: &OwnedFd, name: &OsStr) -> bool {
    let flags = OFlags::RDONLY | OFlags::NOFOLLOW | QUIET;
    match rustix::fs::openat(folder.as_fd(), name, flags, Mode::empty()) {
        Ok(file) => rustix::fs::flock(&file, FlockOperation::NonBlockingLockExclusive) != Err(Errno::WOULDBLOCK),
        Err(errno) => errno == Errno::ACCESS,
    }
}
