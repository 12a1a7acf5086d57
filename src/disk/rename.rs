//! Renaming: onto a free name only, or over a plain file on demand.
//!
//! Takes open folders and names. Never lets a file vanish that was not meant to. Knows nothing of what is renamed.

use super::count::Disk;
use super::error::{Cause, Deed, DiskError};
use super::read::kind_below;
use rustix::fs::{AtFlags, FileType, RenameFlags};
use rustix::io::Errno;
use std::os::fd::OwnedFd;
use std::path::Path;

/// A name in an open folder.
pub(super) type Spot<'a> = (&'a OwnedFd, &'a Path);

/// Renames onto a name that must be free; `full` is the target's name in messages.
///
/// Where the file system cannot refuse a taken name in the same step, a hard link does, and where it has no links
/// either, asking first is the best there is.
pub(super) fn rename_new(disk: &Disk, from: Spot<'_>, to: Spot<'_>, full: &Path) -> Result<(), DiskError> {
    let exclusive =
        disk.run(Deed::Rename, full, || rustix::fs::renameat_with(from.0, from.1, to.0, to.1, RenameFlags::NOREPLACE));
    match exclusive {
        Err(error) if is_any(&error, &[Errno::EXIST, Errno::NOTEMPTY, Errno::ISDIR]) => taken(to, full),
        Err(error) if is_any(&error, &[Errno::INVAL, Errno::NOSYS, Errno::OPNOTSUPP]) => {
            rename_by_link(disk, from, to, full)
        }
        ended => ended,
    }
}

fn rename_by_link(disk: &Disk, from: Spot<'_>, to: Spot<'_>, full: &Path) -> Result<(), DiskError> {
    let linked = disk.run(Deed::Rename, full, || rustix::fs::linkat(from.0, from.1, to.0, to.1, AtFlags::empty()));
    match linked {
        Ok(()) => disk.run(Deed::Rename, full, || rustix::fs::unlinkat(from.0, from.1, AtFlags::empty())),
        Err(error) if is_any(&error, &[Errno::EXIST]) => taken(to, full),
        Err(error) if is_any(&error, &[Errno::PERM, Errno::NOSYS, Errno::OPNOTSUPP, Errno::MLINK, Errno::INVAL]) => {
            if kind_below(to.0, to.1, full)?.is_some() {
                return taken(to, full);
            }
            disk.run(Deed::Rename, full, || rustix::fs::renameat(from.0, from.1, to.0, to.1))
        }
        Err(error) => Err(error),
    }
}

/// Renames over a plain file or onto a free name; a folder, a link or a device stays and is an error.
pub(super) fn rename_over(disk: &Disk, from: Spot<'_>, to: Spot<'_>, full: &Path) -> Result<(), DiskError> {
    match kind_below(to.0, to.1, full)? {
        None | Some(FileType::RegularFile) => {
            disk.run(Deed::Rename, full, || rustix::fs::renameat(from.0, from.1, to.0, to.1))
        }
        Some(_) => taken(to, full),
    }
}

/// The error for a name that is not free.
fn taken(to: Spot<'_>, full: &Path) -> Result<(), DiskError> {
    let cause = match kind_below(to.0, to.1, full)? {
        Some(FileType::Directory) => Cause::FolderInTheWay,
        _ => Cause::Taken,
    };
    Err(DiskError::new(Deed::Rename, full, cause))
}

/// Whether the system's answer is one of these.
pub(super) fn is_any(error: &DiskError, answers: &[Errno]) -> bool {
    error.errno().is_some_and(|errno| answers.iter().any(|answer| answer.raw_os_error() == errno))
}
