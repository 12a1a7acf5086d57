//! Carrying a file from one folder of ours to another, with its time of writing and its rights.
//!
//! Takes two trees, a path in each and the hash the file must have if it has to be copied. Never carries onto a taken name,
//! and removes the old file only when the new one is durable and was read back. Knows nothing of why it is moved.

use super::error::{Cause, Deed, DiskError};
use super::publish::{Onto, Source};
use super::rename::{is_any, rename_new};
use super::stamp::{Dress, Stamp};
use super::tree::{Look, Tree};
use crate::tile::Content;
use rustix::fs::AtFlags;
use rustix::io::Errno;
use std::path::Path;

impl Tree {
    /// Moves the plain file `from` to the free name `to` of another tree, whose folder is made when missing. Within one file
    /// system it is renamed, and both folders are durable only after [`Tree::sync_up`]; else it is copied with its extended
    /// attributes and, where this account may, its owner, dressed as `dress` says, made durable, read back, and only then removed.
    ///
    /// # Errors
    /// [`Cause::Taken`] or [`Cause::FolderInTheWay`] when the name is not free; then nothing is changed. [`Cause::Differs`]
    /// when the bytes are not the promised ones; then the file is still here.
    pub fn carry(
        &self,
        from: &Path,
        other: &Self,
        to: &Path,
        promised: Content,
        dress: Dress,
    ) -> Result<(), DiskError> {
        let full = other.full(to);
        let (old, old_name) = self.parent(from, false)?;
        let (new, new_name) = other.parent(to, true)?;
        match rename_new(&self.disk, (&old, Path::new(old_name)), (&new, Path::new(new_name)), &full) {
            Err(error) if is_any(&error, &[Errno::XDEV]) => {}
            ended => return ended,
        }
        let before = self.look(from)?;
        let file = self.open(from)?;
        let staged = other.stage(to, &Source::Open(self.open(from)?), promised)?;
        staged.note(&file)?;
        // Before the rights, of which a change of owner takes some away.
        staged.belong(&file)?;
        staged.dress(dress)?;
        staged.publish(Onto::Nothing)?;
        other.sync_up(to.parent().unwrap_or(Path::new("")))?;
        if other.content(to)? != promised || self.look(from)? != before {
            return Err(DiskError::new(Deed::Write, &full, Cause::Differs));
        }
        self.remove(from)
    }

    /// The time of writing and the rights of the plain file at `path`.
    ///
    /// # Errors
    /// When it is absent, no plain file, or cannot be read.
    pub fn dress_of(&self, path: &Path) -> Result<Dress, DiskError> {
        let metadata = self.open(path)?.metadata();
        metadata
            .map(|metadata| Dress::of(&metadata))
            .map_err(|error| DiskError::system(Deed::Read, &self.full(path), error))
    }

    /// Gives the plain file at `path` a time of writing and rights, unless it has them.
    ///
    /// # Errors
    /// When it is absent, no plain file, or another account's.
    pub fn dress(&self, path: &Path, dress: Dress) -> Result<(), DiskError> {
        if self.dress_of(path)? == dress {
            return Ok(());
        }
        let full = self.full(path);
        let file = self.open(path)?;
        self.disk.run(Deed::Write, &full, || dress.put_on(&file))?;
        self.disk.run(Deed::Sync, &full, || rustix::fs::fsync(&file))
    }

    /// Removes the second name of a file that also lies at `elsewhere` in another tree: what a move by hard links leaves
    /// behind when it is stopped halfway. Does nothing unless both names are of one file.
    ///
    /// # Errors
    /// When the disk cannot tell, or the name cannot be removed.
    pub fn drop_second_name(&self, path: &Path, other: &Self, elsewhere: &Path) -> Result<bool, DiskError> {
        let (folder, name) = self.parent(path, false)?;
        let (there, its_name) = other.parent(elsewhere, false)?;
        let ask = |folder, name| rustix::fs::statat(folder, name, AtFlags::SYMLINK_NOFOLLOW);
        let (Ok(one), Ok(two)) = (ask(&folder, name), ask(&there, its_name)) else { return Ok(false) };
        if (one.st_dev, one.st_ino) != (two.st_dev, two.st_ino) {
            return Ok(false);
        }
        self.remove(path).map(|()| true)
    }

    /// What lies at `path`, with the stamp of a plain file; a folder of the path that is a link or a file is something else.
    ///
    /// # Errors
    /// When the system cannot tell.
    pub fn look_plainly(&self, path: &Path) -> Result<Look, DiskError> {
        match self.look(path) {
            Err(DiskError { cause: Cause::NoPlainFile, .. }) => Ok(Look::Other),
            looked => looked,
        }
    }
}

impl Stamp {
    /// Whether two stamps are of one file with the same bytes, moved or not: a move changes the time of change alone.
    #[must_use]
    pub fn is_moved(&self, other: &Self) -> bool {
        (self.size, self.mtime_ns, self.inode) == (other.size, other.mtime_ns, other.inode)
    }
}
