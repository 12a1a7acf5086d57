//! Publishing: a file appears under its name whole and durable, or not at all.
//!
//! Takes bytes or an open file and the hash they must have; writes a part beside the target, waits for the drive, then
//! gives it its name. Yields the stamp of the published file. Knows nothing of what the bytes mean.

use super::count::{Disk, Turn};
use super::error::{Cause, Deed, DiskError};
use super::extras;
use super::read::{CHUNK, QUIET, open, read_at};
use super::rename::{rename_new, rename_over};
use super::stamp::{Dress, Stamp};
use super::tree::Tree;
use crate::tile::Content;
use rustix::fs::{AtFlags, FlockOperation, Mode, OFlags};
use rustix::io::Errno;
use std::fs::File;
use std::io::{self, Write};
use std::os::fd::{AsFd, OwnedFd};
use std::os::unix::fs::{MetadataExt, fchown};
use std::path::{Path, PathBuf};

/// How the name of an unfinished file begins.
pub(super) const PART_PREFIX: &str = ".burler-";
/// How it ends.
pub(super) const PART_SUFFIX: &str = ".part";

/// The rights of a new file before the account's own mask: others who share the folder are meant to read it.
const FILE_MODE: Mode = Mode::from_raw_mode(0o666);

/// Where the bytes to be published are.
#[derive(Debug)]
pub enum Source {
    /// In memory.
    Bytes(Vec<u8>),
    /// In an open file, from its first byte to its last; its position is neither used nor moved.
    Open(File),
    /// In a plain file of this name.
    Path(PathBuf),
}

/// What may have the target's name already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Onto {
    /// Nothing: whatever is there stays.
    Nothing,
    /// A plain file, which is replaced in one step.
    Anything,
}

/// A file that is written and durable but does not have its name yet. Dropping it removes it.
#[derive(Debug)]
pub struct Staged {
    disk: Disk,
    folder: OwnedFd,
    part: PathBuf,
    file: File,
    target: PathBuf,
    named: bool,
}

impl Tree {
    /// Writes a durable part in the folder of `target` (relative), which is made when missing.
    ///
    /// # Errors
    /// When writing fails or the bytes do not have the hash `promised`; nothing is left then.
    pub fn stage(&self, target: &Path, source: &Source, promised: Content) -> Result<Staged, DiskError> {
        let full = self.full(target);
        let (folder, _) = self.parent(target, true)?;
        let (part, file) = make_part(&self.disk, &folder, &full)?;
        let mut staged = Staged { disk: self.disk.clone(), folder, part, file, target: full, named: false };
        // A sweeper takes parts for abandoned unless their writer holds them; where locks are not known, it will do so.
        let _ = rustix::fs::flock(&staged.file, FlockOperation::NonBlockingLockExclusive);
        if staged.fill(source)? != promised {
            return Err(DiskError::new(Deed::Write, &staged.target, Cause::Differs));
        }
        self.disk.run(Deed::Sync, &staged.target, || rustix::fs::fsync(&staged.file))?;
        Ok(staged)
    }

    /// Publishes a file at `target` (relative) in one go: part, sync, name, sync of the folder.
    ///
    /// # Errors
    /// As [`Tree::stage`] and [`Staged::publish`].
    pub fn publish(&self, target: &Path, source: &Source, promised: Content, onto: Onto) -> Result<Stamp, DiskError> {
        let stamp = self.stage(target, source, promised)?.publish(onto)?;
        self.sync_up(target.parent().unwrap_or(Path::new("")))?;
        Ok(stamp)
    }
}

impl Staged {
    /// Gives the file its name. The folder is durable only after [`Tree::sync_up`].
    ///
    /// # Errors
    /// [`Cause::Taken`] or [`Cause::FolderInTheWay`] when the name is not free; then nothing is changed.
    pub fn publish(mut self, onto: Onto) -> Result<Stamp, DiskError> {
        let Some(name) = self.target.file_name() else {
            return Err(DiskError::new(Deed::Rename, &self.target, Cause::Outside));
        };
        let (from, to) = ((&self.folder, self.part.as_path()), (&self.folder, Path::new(name)));
        match onto {
            Onto::Nothing => rename_new(&self.disk, from, to, &self.target)?,
            Onto::Anything => rename_over(&self.disk, from, to, &self.target)?,
        }
        self.named = true;
        // Asked after the renaming, which changes the change time.
        let metadata = self.file.metadata().map_err(|error| DiskError::system(Deed::Read, &self.target, error))?;
        Ok(Stamp::of(&metadata))
    }

    /// Gives the unnamed file a time of writing and rights, durably.
    pub(super) fn dress(&self, dress: Dress) -> Result<(), DiskError> {
        self.disk.run(Deed::Write, &self.target, || dress.put_on(&self.file))?;
        self.disk.run(Deed::Sync, &self.target, || rustix::fs::fsync(&self.file))
    }

    /// Gives the unnamed file the extended attributes of another.
    pub(super) fn note(&self, from: &File) -> Result<(), DiskError> {
        if !extras::any(from) {
            return Ok(());
        }
        self.disk.run(Deed::Write, &self.target, || extras::copy(from, &self.file))
    }

    /// Gives the unnamed file the owner and the group of another where this account may: a file can be given away by the system's
    /// own account alone, and be put into groups that one is in (chown(2)).
    pub(super) fn belong(&self, from: &File) -> Result<(), DiskError> {
        let of = |file: &File| {
            let found = file.metadata().map(|metadata| [metadata.uid(), metadata.gid()]);
            found.map_err(|error| DiskError::system(Deed::Read, &self.target, error))
        };
        let [own, wanted] = [of(&self.file)?, of(from)?];
        if own == wanted {
            return Ok(());
        }
        self.disk.run(Deed::Write, &self.target, || {
            // Each for itself: the group may be granted where the owner is not.
            let _ = fchown(&self.file, None, Some(wanted[1]));
            let _ = fchown(&self.file, Some(wanted[0]), None);
            Ok(())
        })
    }

    /// Copies the source into the part and returns the hash of what was written.
    fn fill(&mut self, source: &Source) -> Result<Content, DiskError> {
        let mut hasher = blake3::Hasher::new();
        match source {
            Source::Bytes(bytes) => {
                for chunk in bytes.chunks(CHUNK) {
                    hasher.update(chunk);
                    self.write(chunk)?;
                }
            }
            Source::Open(file) => self.copy(file, &self.target.clone(), &mut hasher)?,
            Source::Path(path) => self.copy(&open(path)?, path, &mut hasher)?,
        }
        Ok(Content(*hasher.finalize().as_bytes()))
    }

    fn copy(&mut self, file: &File, path: &Path, hasher: &mut blake3::Hasher) -> Result<(), DiskError> {
        let mut buffer = vec![0; CHUNK];
        let mut at = 0_u64;
        loop {
            let taken = read_at(file, &mut buffer, at, path)?;
            if taken == 0 {
                return Ok(());
            }
            hasher.update(&buffer[..taken]);
            self.write(&buffer[..taken])?;
            at += taken as u64;
        }
    }

    /// Writes all bytes, however few the system takes at a time.
    fn write(&mut self, bytes: &[u8]) -> Result<(), DiskError> {
        let mut rest = bytes;
        while !rest.is_empty() {
            let half = &rest[..rest.len() / 2];
            let taken = match self.disk.turn(Deed::Write, &self.target) {
                Turn::Whole => self.file.write(rest),
                Turn::Half => self.file.write(half),
                Turn::HalfThen(error) if error.errno() == Some(Errno::INTR.raw_os_error()) => Ok(0),
                Turn::HalfThen(error) => {
                    let _ = self.file.write(half);
                    return Err(error);
                }
                Turn::Not(error) => return Err(error),
            };
            match taken {
                Ok(taken) => rest = &rest[taken..],
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(DiskError::system(Deed::Write, &self.target, error)),
            }
        }
        Ok(())
    }
}

impl Drop for Staged {
    fn drop(&mut self) {
        if !self.named {
            // What cannot be removed now is removed by the next sweep.
            let _ = self
                .disk
                .run(Deed::Remove, &self.target, || rustix::fs::unlinkat(&self.folder, &self.part, AtFlags::empty()));
        }
    }
}

/// Makes a new part in `folder`. The name is free by construction within a process and by asking otherwise.
fn make_part(disk: &Disk, folder: impl AsFd, target: &Path) -> Result<(PathBuf, File), DiskError> {
    let flags = OFlags::WRONLY | OFlags::CREATE | OFlags::EXCL | OFlags::NOFOLLOW | QUIET;
    loop {
        let name = format!("{PART_PREFIX}{:08x}{:08x}{PART_SUFFIX}", std::process::id(), disk.next_part());
        let made = disk.run(Deed::Write, target, || rustix::fs::openat(&folder, name.as_str(), flags, FILE_MODE));
        match made {
            Ok(fd) => return Ok((name.into(), fd.into())),
            Err(error) if error.errno() == Some(Errno::EXIST.raw_os_error()) => {}
            Err(error) => return Err(error),
        }
    }
}

/// Whether a name is that of an unfinished file.
pub(super) fn is_part(name: &[u8]) -> bool {
    let middle = name.strip_prefix(PART_PREFIX.as_bytes()).and_then(|rest| rest.strip_suffix(PART_SUFFIX.as_bytes()));
    middle.is_some_and(|hex| !hex.is_empty() && hex.iter().all(u8::is_ascii_hexdigit))
}
