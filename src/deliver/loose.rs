//! Writing for a command: the same layout without a ledger.
//!
//! Takes parcels and a folder; never writes over a file with other bytes unless it is forced, never over the input and
//! never below an exports folder. Without a ledger, a file with equal bytes is the only one known to be ours.

use super::error::DeliverError;
use super::layout::{as_png, spot};
use super::outcome::Parcel;
use crate::disk::{Cause, Deed, Disk, DiskError, Look, Onto};
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Component, Path, PathBuf};

/// What a command wants written where.
#[derive(Clone, Copy, Debug)]
pub struct Loose<'a> {
    /// The output folder; it and those above it are made when missing.
    pub root: &'a Path,
    /// The tile's name in the layout, usually its file name.
    pub name: &'a Path,
    /// The file that was given, which is never replaced.
    pub input: Option<&'a Path>,
    /// Exports folders, which are never written into.
    pub exports: &'a [PathBuf],
    /// Whether files with other bytes are replaced.
    pub force: bool,
    /// Whether only to say what would be written.
    pub dry_run: bool,
}

/// What was, or in a dry run would be, done for one parcel. Paths start with the output folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Written {
    /// A new file.
    New(PathBuf),
    /// The very file was there.
    Same(PathBuf),
    /// A file with other bytes was replaced.
    Replaced(PathBuf),
}

impl Written {
    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::New(path) | Self::Same(path) | Self::Replaced(path) => path,
        }
    }
}

/// Writes parcels below a folder; all names are looked at before the first is written.
///
/// # Errors
/// When a file is in the way or cannot be written.
pub fn write_loose(disk: &Disk, wish: &Loose<'_>, parcels: &[Parcel]) -> Result<Vec<Written>, DeliverError> {
    let root = standing_place(wish.root);
    if let Some(exports) = wish.exports.iter().find(|exports| root.starts_with(standing_place(exports))) {
        return Err(DeliverError::InExports { path: wish.root.into(), exports: exports.clone() });
    }
    let png = as_png(wish.name);
    let mut found = Vec::with_capacity(parcels.len());
    for parcel in parcels {
        let file = spot(parcel.role, wish.name, &png);
        found.push((parcel, look(disk, wish, &file, parcel)?, file));
    }
    if !wish.dry_run && found.iter().any(|(_, written, _)| !matches!(written, Written::Same(_))) {
        disk.make_folders(wish.root)?;
        let tree = disk.tree(wish.root)?;
        for (parcel, written, file) in &found {
            let onto = match written {
                Written::Same(_) => continue,
                Written::New(_) => Onto::Nothing,
                Written::Replaced(_) => Onto::Anything,
            };
            tree.publish(file, &parcel.source, parcel.content, onto)?;
        }
    }
    Ok(found.into_iter().map(|(_, written, _)| written).collect())
}

fn look(disk: &Disk, wish: &Loose<'_>, file: &Path, parcel: &Parcel) -> Result<Written, DeliverError> {
    let full = wish.root.join(file);
    if !wish.root.is_dir() {
        return Ok(Written::New(full));
    }
    let tree = disk.tree(wish.root)?;
    match tree.look(file)? {
        Look::Absent => Ok(Written::New(full)),
        Look::Other if full.is_dir() => Err(DiskError::new(Deed::Rename, &full, Cause::FolderInTheWay).into()),
        Look::Other => Err(DiskError::new(Deed::Rename, &full, Cause::Taken).into()),
        Look::File(_) if wish.input.is_some_and(|input| is_same_file(input, &full)) => {
            Err(DeliverError::IsInput { path: full })
        }
        Look::File(_) if tree.content(file)? == parcel.content => Ok(Written::Same(full)),
        Look::File(_) if wish.force => Ok(Written::Replaced(full)),
        Look::File(_) => Err(DeliverError::WouldReplace { path: full }),
    }
}

/// Whether two names lead to one file, by any links.
fn is_same_file(a: &Path, b: &Path) -> bool {
    match (fs::metadata(a), fs::metadata(b)) {
        (Ok(a), Ok(b)) => (a.dev(), a.ino()) == (b.dev(), b.ino()),
        _ => false,
    }
}

/// The real place of a folder that may not be there yet: its nearest folder that is, links resolved, and the rest.
fn standing_place(path: &Path) -> PathBuf {
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.into());
    for above in whole.ancestors() {
        if let (Ok(real), Ok(rest)) = (above.canonicalize(), whole.strip_prefix(above)) {
            // What is not there cannot be a link, so going up is a matter of the name alone.
            return rest.components().fold(real, |mut at, part| {
                match part {
                    Component::ParentDir => drop(at.pop()),
                    part => at.push(part),
                }
                at
            });
        }
    }
    whole
}
