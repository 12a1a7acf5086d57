//! Reading folders: names and stamps, never bytes. What cannot be read is told and does not end the walk.
//!
//! Each folder is offered before it is opened, so that it can be watched first: an entry made after that moment causes
//! an event, one made before is read here, and nothing falls between the two.

use super::identity::Identity;
use super::look::LookAt;
use super::names;
use super::trouble::Trouble;
use crate::disk::Stamp;
use std::fs::{self, DirEntry};
use std::io;
use std::path::{Path, PathBuf};

/// One thing a scan came upon.
#[derive(Debug)]
pub enum Entry {
    /// A file with the name of a tile.
    Tile {
        /// Relative to the root, raw.
        path: PathBuf,
        /// As it is now.
        stamp: Stamp,
    },
    /// Something that could not be read.
    Trouble(Trouble),
}

/// Reads everything below a root. Hidden names, links and files without the name of a tile are passed over.
pub fn scan(root: &Path, see: &mut dyn FnMut(Entry)) {
    walk(root, &LookAt::everything(), &mut |_, _| true, see);
}

/// Reads a folder and those below that `enter` lets in: it is offered each one, with its identity, before it is opened.
/// Yields the folders that are there, or may be, and were not read to the end.
pub(super) fn walk(
    root: &Path,
    at: &LookAt,
    enter: &mut dyn FnMut(&Path, Identity) -> bool,
    see: &mut dyn FnMut(Entry),
) -> Vec<PathBuf> {
    let mut kept = Vec::new();
    let is_root = at.folder.as_os_str().is_empty();
    let top = below(root, &at.folder);
    // The root may be a link, nothing below it is followed.
    let metadata = if is_root { fs::metadata(&top) } else { fs::symlink_metadata(&top) };
    match metadata {
        Ok(metadata) if metadata.is_dir() => {
            if !enter(&at.folder, Identity::of(&metadata)) {
                return vec![at.folder.clone()];
            }
        }
        // A folder that vanished or became something else holds nothing.
        Ok(_) if !is_root => return kept,
        Err(error) if !is_root && vanished(&error) => return kept,
        // Of a root that is lost nothing is known; whoever watches it tells.
        Ok(_) => return vec![at.folder.clone()],
        Err(error) => {
            if !vanished(&error) {
                see(Entry::Trouble(Trouble::Read { path: top, source: error }));
            }
            return vec![at.folder.clone()];
        }
    }
    let mut open = vec![at.folder.clone()];
    while let Some(folder) = open.pop() {
        match read(root, &folder, &mut open, &mut kept, enter, see) {
            Ok(()) => {}
            Err(error) if vanished(&error) => {
                if folder.as_os_str().is_empty() {
                    kept.push(folder);
                }
            }
            Err(error) => {
                see(Entry::Trouble(Trouble::Read { path: below(root, &folder), source: error }));
                kept.push(folder);
            }
        }
    }
    kept
}

fn read(
    root: &Path,
    folder: &Path,
    open: &mut Vec<PathBuf>,
    kept: &mut Vec<PathBuf>,
    enter: &mut dyn FnMut(&Path, Identity) -> bool,
    see: &mut dyn FnMut(Entry),
) -> io::Result<()> {
    for entry in fs::read_dir(root.join(folder))? {
        let entry: DirEntry = entry?;
        let name = entry.file_name();
        if names::is_hidden(&name) {
            continue;
        }
        let path = folder.join(name);
        // Does not follow a link.
        match entry.metadata() {
            Ok(metadata) if metadata.is_dir() => {
                if enter(&path, Identity::of(&metadata)) {
                    open.push(path);
                } else {
                    kept.push(path);
                }
            }
            Ok(metadata) if metadata.is_file() && names::is_tile(&path) => {
                see(Entry::Tile { path, stamp: Stamp::of(&metadata) });
            }
            Ok(_) => {}
            Err(error) if vanished(&error) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

/// The absolute path of a folder below the root, without a slash at the end for the root itself.
pub(super) fn below(root: &Path, folder: &Path) -> PathBuf {
    if folder.as_os_str().is_empty() { root.to_owned() } else { root.join(folder) }
}

fn vanished(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory)
}
