//! Moving a published file to another name below the same folder.
//!
//! Takes two relative paths and the hash the file must have if it has to be copied. Never moves onto a taken name.

use super::error::{Deed, DiskError};
use super::publish::{Onto, Source};
use super::rename::{is_any, rename_new};
use super::stamp::Stamp;
use super::tree::{Look, Tree};
use crate::tile::Content;
use rustix::io::Errno;
use std::io;
use std::path::Path;

impl Tree {
    /// Moves the plain file `from` to the free name `to`, whose folder is made when missing. Both folders are durable
    /// only after [`Tree::sync_up`].
    ///
    /// Where a part of the folder lies on another drive, the file is copied, its hash compared with `promised`, and only
    /// then removed.
    ///
    /// # Errors
    /// [`super::Cause::Taken`] or [`super::Cause::FolderInTheWay`] when the name is not free; then nothing is changed.
    pub fn rename(&self, from: &Path, to: &Path, promised: Content) -> Result<Stamp, DiskError> {
        let full = self.full(to);
        let (old, old_name) = self.parent(from, false)?;
        let (new, new_name) = self.parent(to, true)?;
        match rename_new(&self.disk, (&old, Path::new(old_name)), (&new, Path::new(new_name)), &full) {
            Ok(()) => match self.look(to)? {
                Look::File(stamp) => Ok(stamp),
                Look::Absent | Look::Other => {
                    Err(DiskError::system(Deed::Read, &full, io::Error::from(io::ErrorKind::NotFound)))
                }
            },
            Err(error) if is_any(&error, &[Errno::XDEV]) => {
                let stamp = self.publish(to, &Source::Open(self.open(from)?), promised, Onto::Nothing)?;
                self.remove(from)?;
                Ok(stamp)
            }
            Err(error) => Err(error),
        }
    }
}
