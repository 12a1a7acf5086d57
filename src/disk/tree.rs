//! A folder of ours and what lies below it, reached step by step without following a link.
//!
//! Takes paths relative to that folder and refuses those that leave it. Yields looks, contents and open folders; makes
//! and removes folders. Knows nothing of what the files are.

use super::count::Disk;
use super::error::{Cause, Deed, DiskError};
use super::read::{hash, kind_below, open_below, open_folder};
use super::stamp::Stamp;
use crate::tile::Content;
use rustix::fs::{AtFlags, FileType, Mode, OFlags};
use rustix::io::Errno;
use std::ffi::OsStr;
use std::fs::File;
use std::io::Read;
use std::os::fd::{AsFd, OwnedFd};
use std::path::{Component, Path, PathBuf};

/// The rights of a new folder before the account's own mask.
const FOLDER_MODE: Mode = Mode::from_raw_mode(0o777);

/// The rights of a folder whose files are for this account alone.
const PRIVATE_MODE: Mode = Mode::from_raw_mode(0o700);

/// A folder under which files are published. The folder itself may be reached by a link, since its owner named it;
/// nothing below it may.
#[derive(Debug)]
pub struct Tree {
    pub(super) disk: Disk,
    pub(super) root: PathBuf,
    fd: OwnedFd,
}

/// What lies at a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Nothing.
    Absent,
    /// A plain file.
    File(Stamp),
    /// A folder, a link, or anything else that is no plain file.
    Other,
}

impl Disk {
    /// Opens the folder `root`.
    ///
    /// # Errors
    /// When it is not there or no folder.
    pub fn tree(&self, root: &Path) -> Result<Tree, DiskError> {
        Ok(Tree { disk: self.clone(), root: root.into(), fd: open_folder(root)? })
    }

    /// Makes the folder `path`, durably, unless it is there; its parent must be there already.
    ///
    /// # Errors
    /// When the parent is missing or something that is no folder has the name.
    pub fn make_folder(&self, path: &Path) -> Result<(), DiskError> {
        self.make_with(path, FOLDER_MODE)
    }

    /// Makes the folder `path`, durably, for this account alone, unless it is there; those above it that are missing get
    /// the usual rights.
    ///
    /// # Errors
    /// As [`Disk::make_folders`].
    pub fn make_private_folder(&self, path: &Path) -> Result<(), DiskError> {
        if let Some(above) = path.parent().filter(|above| !above.as_os_str().is_empty()) {
            self.make_folders(above)?;
        }
        self.make_with(path, PRIVATE_MODE)
    }

    fn make_with(&self, path: &Path, mode: Mode) -> Result<(), DiskError> {
        if path.is_dir() {
            return Ok(());
        }
        let (Some(parent), Some(name)) = (path.parent(), path.file_name()) else {
            return Err(DiskError::new(Deed::Make, path, Cause::Outside));
        };
        let parent = if parent.as_os_str().is_empty() { Path::new(".") } else { parent };
        self.make_below(&open_folder(parent)?, name, path, mode)
    }

    /// Makes the folder `path` and those above it that are missing, durably.
    ///
    /// # Errors
    /// When something that is no folder has one of the names, or the account may not make it.
    pub fn make_folders(&self, path: &Path) -> Result<(), DiskError> {
        let missing: Vec<&Path> =
            path.ancestors().take_while(|above| !above.as_os_str().is_empty() && !above.is_dir()).collect();
        missing.into_iter().rev().try_for_each(|folder| self.make_folder(folder))
    }

    fn make_below(&self, parent: &OwnedFd, name: &OsStr, path: &Path, mode: Mode) -> Result<(), DiskError> {
        match self.run(Deed::Make, path, || rustix::fs::mkdirat(parent, name, mode)) {
            Ok(()) => self.run(Deed::Sync, path, || rustix::fs::fsync(parent)),
            // Someone else was faster, or a file lies there, which opening it as a folder will tell.
            Err(error) if error.errno() == Some(Errno::EXIST.raw_os_error()) => Ok(()),
            Err(error) => Err(error),
        }
    }
}

impl Tree {
    /// The folder itself.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// What lies at `path` below the folder.
    ///
    /// # Errors
    /// When the system cannot tell, which is not the same as the file being absent; [`Cause::NoPlainFile`] when a folder
    /// of the path is a file or a link.
    pub fn look(&self, path: &Path) -> Result<Look, DiskError> {
        let full = self.full(path);
        let (folder, name) = match self.parent(path, false) {
            Ok(found) => found,
            Err(error) if error.is_absent() => return Ok(Look::Absent),
            Err(error) => return Err(error),
        };
        let asked = match open_path(&folder, name) {
            Ok(file) => file.metadata(),
            Err(Errno::NOENT) => return Ok(Look::Absent),
            Err(errno) => return Err(DiskError::system(Deed::Read, &full, errno)),
        };
        let metadata = asked.map_err(|error| DiskError::system(Deed::Read, &full, error))?;
        Ok(if metadata.is_file() { Look::File(Stamp::of(&metadata)) } else { Look::Other })
    }

    /// Hashes the plain file at `path`.
    ///
    /// # Errors
    /// When it is absent, no plain file, or cannot be read.
    pub fn content(&self, path: &Path) -> Result<Content, DiskError> {
        hash(&self.open(path)?, &self.full(path))
    }

    /// Reads the whole plain file at `path`.
    ///
    /// # Errors
    /// When it is absent, no plain file, or cannot be read.
    pub fn bytes(&self, path: &Path) -> Result<Vec<u8>, DiskError> {
        let mut bytes = Vec::new();
        let read = self.open(path)?.read_to_end(&mut bytes);
        read.map_err(|error| DiskError::system(Deed::Read, &self.full(path), error))?;
        Ok(bytes)
    }

    /// Opens the plain file at `path` for reading.
    ///
    /// # Errors
    /// When it is absent, no plain file, or cannot be read.
    pub fn open(&self, path: &Path) -> Result<File, DiskError> {
        let (folder, name) = self.parent(path, false)?;
        open_below(&folder, Path::new(name), &self.full(path))
    }

    /// Waits until the drive has the names in the folder `path` (relative; empty for the folder itself).
    ///
    /// # Errors
    /// When it is not there or the drive reports an error.
    pub fn sync_folder(&self, path: &Path) -> Result<(), DiskError> {
        let folder = self.folder(path, false)?;
        self.disk.run(Deed::Sync, &self.full(path), || rustix::fs::fsync(&folder))
    }

    /// Waits until the drive has the folder `path` (relative) and every folder above it, up to the tree's own: one of them
    /// may have been made by a program that was killed before it could wait.
    ///
    /// # Errors
    /// As [`Tree::sync_folder`].
    pub fn sync_up(&self, path: &Path) -> Result<(), DiskError> {
        path.ancestors().try_for_each(|folder| self.sync_folder(folder))
    }

    /// Removes the plain file at `path` and waits until its folder is durable.
    ///
    /// # Errors
    /// When it is absent or may not be removed.
    pub fn remove(&self, path: &Path) -> Result<(), DiskError> {
        let (folder, name) = self.parent(path, false)?;
        self.disk.run(Deed::Remove, &self.full(path), || rustix::fs::unlinkat(&folder, name, AtFlags::empty()))?;
        self.disk.run(Deed::Sync, &self.full(path), || rustix::fs::fsync(&folder))
    }

    /// Removes the folder `path` if it is there and empty; says whether it is gone.
    ///
    /// # Errors
    /// When the system refuses for another reason than that something is in it.
    pub fn remove_empty(&self, path: &Path) -> Result<bool, DiskError> {
        let (folder, name) = match self.parent(path, false) {
            Ok(found) => found,
            Err(error) if error.is_absent() || matches!(error.cause, Cause::NoPlainFile) => return Ok(true),
            Err(error) => return Err(error),
        };
        if kind_below(&folder, Path::new(name), &self.full(path))? != Some(FileType::Directory) {
            return Ok(true);
        }
        let gone = self.disk.run(Deed::Remove, &self.full(path), || {
            match rustix::fs::unlinkat(&folder, name, AtFlags::REMOVEDIR) {
                Ok(()) | Err(Errno::NOENT) => Ok(true),
                Err(Errno::NOTEMPTY | Errno::EXIST | Errno::NOTDIR | Errno::BUSY) => Ok(false),
                Err(errno) => Err(errno),
            }
        })?;
        if gone {
            self.disk.run(Deed::Sync, &self.full(path), || rustix::fs::fsync(&folder))?;
        }
        Ok(gone)
    }

    /// The full path, for messages.
    pub(super) fn full(&self, path: &Path) -> PathBuf {
        self.root.join(path)
    }

    /// Opens the folder that holds `path`, making it and those above when `make`; and the last part of `path`.
    pub(super) fn parent<'a>(&self, path: &'a Path, make: bool) -> Result<(OwnedFd, &'a OsStr), DiskError> {
        let outside = || DiskError::new(Deed::Rename, &self.full(path), Cause::Outside);
        let Some(Component::Normal(name)) = path.components().next_back() else { return Err(outside()) };
        let folder = self.folder(path.parent().unwrap_or(Path::new("")), make)?;
        Ok((folder, name))
    }

    /// Opens the folder `path`, part by part, none of them a link.
    pub(super) fn folder(&self, path: &Path, make: bool) -> Result<OwnedFd, DiskError> {
        let failed = |path: &Path, errno| DiskError::system(Deed::List, path, errno);
        let mut full = self.root.clone();
        let mut folder = self.fd.try_clone().map_err(|error| DiskError::system(Deed::List, &full, error))?;
        for part in path.components() {
            let Component::Normal(name) = part else {
                return Err(DiskError::new(Deed::List, &self.full(path), Cause::Outside));
            };
            full.push(name);
            folder = match open_directory(&folder, name) {
                Err(Errno::NOENT) if make => {
                    self.disk.make_below(&folder, name, &full, FOLDER_MODE)?;
                    open_directory(&folder, name)
                }
                ended => ended,
            }
            .map_err(|errno| match errno {
                Errno::NOTDIR | Errno::LOOP => DiskError::new(Deed::List, &full, Cause::NoPlainFile),
                _ => failed(&full, errno),
            })?;
        }
        Ok(folder)
    }
}

/// Opens the folder `name` in `folder`, which must not be a link.
pub(super) fn open_directory(folder: impl AsFd, name: &OsStr) -> rustix::io::Result<OwnedFd> {
    let flags = OFlags::RDONLY | OFlags::DIRECTORY | OFlags::NOFOLLOW | OFlags::CLOEXEC;
    rustix::io::retry_on_intr(|| rustix::fs::openat(&folder, name, flags, Mode::empty()))
}

/// Opens a file only to ask about it: needs no right to read it.
fn open_path(folder: impl AsFd, name: &OsStr) -> rustix::io::Result<File> {
    let flags = OFlags::PATH | OFlags::NOFOLLOW | OFlags::CLOEXEC;
    rustix::io::retry_on_intr(|| rustix::fs::openat(&folder, name, flags, Mode::empty())).map(File::from)
}
