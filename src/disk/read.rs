//! Reading: opens files and folders to read, stamps and hashes them. Nothing here changes the disk, so it is not numbered.
//!
//! Knows nothing of what the bytes are.

use super::error::{Cause, Deed, DiskError};
use super::stamp::Stamp;
use crate::tile::Content;
use rustix::fs::{AtFlags, CWD, FileType, Mode, OFlags};
use rustix::io::Errno;
use std::fs::{self, File};
use std::io;
use std::os::fd::{AsFd, OwnedFd};
use std::os::unix::fs::FileExt;
use std::path::Path;

/// Bytes read or written in one go.
pub(super) const CHUNK: usize = 256 * 1024;

/// Flags of every open: not inherited by children, and never waiting for the other end of a pipe.
pub(super) const QUIET: OFlags = OFlags::CLOEXEC.union(OFlags::NONBLOCK).union(OFlags::NOCTTY);

/// Opens a plain file for reading; a link as the last part of the path is not followed.
///
/// # Errors
/// When it cannot be opened, or is a folder, a link, a pipe or a device.
pub fn open(path: &Path) -> Result<File, DiskError> {
    open_below(CWD, path, path)
}

/// Opens `name` in the open folder `folder`; `path` is its name in messages.
pub(super) fn open_below(folder: impl AsFd, name: &Path, path: &Path) -> Result<File, DiskError> {
    let flags = OFlags::RDONLY | OFlags::NOFOLLOW | QUIET;
    let fd = loop {
        match rustix::fs::openat(&folder, name, flags, Mode::empty()) {
            Err(Errno::INTR) => {}
            Err(Errno::LOOP) => return Err(DiskError::new(Deed::Read, path, Cause::NoPlainFile)),
            ended => break ended.map_err(|errno| DiskError::system(Deed::Read, path, errno))?,
        }
    };
    let file = File::from(fd);
    let metadata = file.metadata().map_err(|error| DiskError::system(Deed::Read, path, error))?;
    if metadata.is_dir() {
        return Err(DiskError::new(Deed::Read, path, Cause::FolderInTheWay));
    }
    if !metadata.is_file() {
        return Err(DiskError::new(Deed::Read, path, Cause::NoPlainFile));
    }
    Ok(file)
}

/// Opens a folder; links on the way and the last part being one are followed, because the owner named this folder.
///
/// # Errors
/// When it is not there, is no folder, or may not be entered.
pub fn open_folder(path: &Path) -> Result<OwnedFd, DiskError> {
    let flags = OFlags::RDONLY | OFlags::DIRECTORY | OFlags::CLOEXEC;
    rustix::io::retry_on_intr(|| rustix::fs::openat(CWD, path, flags, Mode::empty()))
        .map_err(|errno| DiskError::system(Deed::List, path, errno))
}

/// The stamp of a plain file by its path, not following a link; `None` when there is no plain file.
///
/// # Errors
/// When the system cannot tell, which is not the same as the file being absent.
pub fn stamp(path: &Path) -> Result<Option<Stamp>, DiskError> {
    match fs::symlink_metadata(path) {
        Ok(metadata) => Ok(metadata.is_file().then(|| Stamp::of(&metadata))),
        Err(error) if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => Ok(None),
        Err(error) => Err(DiskError::system(Deed::Read, path, error)),
    }
}

/// The stamp of an open file.
///
/// # Errors
/// When the system cannot tell; `path` is only its name in messages.
pub fn stamp_open(file: &File, path: &Path) -> Result<Stamp, DiskError> {
    file.metadata().map(|metadata| Stamp::of(&metadata)).map_err(|error| DiskError::system(Deed::Read, path, error))
}

/// Hashes an open file from its first byte to its last, whatever its position, which does not move.
///
/// # Errors
/// When reading fails; `path` is only its name in messages.
pub fn hash(file: &File, path: &Path) -> Result<Content, DiskError> {
    hash_with(file, path, &mut Vec::new())
}

/// As [`hash`], with the memory of an earlier call: over thousands of files, fresh pages cost more than hashing small ones.
///
/// # Errors
/// As [`hash`].
pub fn hash_with(file: &File, path: &Path, buffer: &mut Vec<u8>) -> Result<Content, DiskError> {
    let mut hasher = blake3::Hasher::new();
    buffer.resize(CHUNK, 0);
    let mut at = 0_u64;
    loop {
        let taken = read_at(file, buffer, at, path)?;
        if taken == 0 {
            return Ok(Content(*hasher.finalize().as_bytes()));
        }
        hasher.update(&buffer[..taken]);
        at += taken as u64;
    }
}

/// Opens and hashes a plain file.
///
/// # Errors
/// As [`open`] and [`hash`].
pub fn hash_file(path: &Path) -> Result<Content, DiskError> {
    hash(&open(path)?, path)
}

/// Reads at a place, again when interrupted; 0 at the end of the file.
pub(super) fn read_at(file: &File, buffer: &mut [u8], at: u64, path: &Path) -> Result<usize, DiskError> {
    loop {
        match file.read_at(buffer, at) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            ended => return ended.map_err(|error| DiskError::system(Deed::Read, path, error)),
        }
    }
}

/// What kind of thing `name` in `folder` is; `None` when there is none.
pub(super) fn kind_below(folder: impl AsFd, name: &Path, path: &Path) -> Result<Option<FileType>, DiskError> {
    match rustix::io::retry_on_intr(|| rustix::fs::statat(&folder, name, AtFlags::SYMLINK_NOFOLLOW)) {
        Ok(stat) => Ok(Some(FileType::from_raw_mode(stat.st_mode))),
        Err(Errno::NOENT) => Ok(None),
        Err(errno) => Err(DiskError::system(Deed::Read, path, errno)),
    }
}
