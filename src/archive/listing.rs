//! Everything that lies in an archive's folder: names and stamps, never bytes.
//!
//! Follows no link below the folder. What cannot be read is told, and nothing is concluded of what may lie there.

use crate::arrival::names;
use crate::disk::Stamp;
use std::collections::HashSet;
use std::io;
use std::path::{Path, PathBuf};
use walkdir::WalkDir;

/// What a file is that has not the name of a tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OtherKind {
    /// A plain file.
    File,
    /// A link, which is not followed.
    Link,
    /// A pipe, a socket or a device.
    Special,
}

/// Something in the archive that has not the name of a tile: hidden, in a hidden folder, or of no image extension.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Other {
    /// Relative to the archive's folder, raw.
    pub path: PathBuf,
    /// What it is.
    pub kind: OtherKind,
    /// As it is now.
    pub stamp: Stamp,
}

/// What lies in an archive. All paths are relative to its folder and in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Listing {
    /// Files with the names of tiles.
    pub tiles: Vec<(PathBuf, Stamp)>,
    /// Everything else but folders.
    pub others: Vec<Other>,
    /// Folders that are empty, hidden ones too.
    pub empty: Vec<PathBuf>,
    /// Folders and files that could not be looked at: what is known of anything there stays as it is. The empty path is the
    /// archive's folder itself.
    pub unread: Vec<PathBuf>,
    /// What went wrong there, in sentences.
    pub troubles: Vec<String>,
}

impl Listing {
    /// Whether something may lie at a path though it was not seen.
    #[must_use]
    pub fn is_unsure(&self, path: &Path) -> bool {
        self.unread.iter().any(|unread| path.starts_with(unread))
    }
}

/// Reads everything below an archive's folder, which may itself be reached by a link.
#[must_use]
pub fn list(root: &Path) -> Listing {
    let mut listing = Listing::default();
    let mut folders: Vec<PathBuf> = Vec::new();
    let mut filled: HashSet<PathBuf> = HashSet::new();
    for entry in WalkDir::new(root).min_depth(1) {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                listing.trouble(root, &error);
                continue;
            }
        };
        let path = below(root, entry.path());
        if let Some(folder) = path.parent().filter(|folder| !filled.contains(*folder)) {
            filled.insert(folder.into());
        }
        if entry.file_type().is_dir() {
            folders.push(path);
            continue;
        }
        // Of the entry itself: a link is not followed.
        let stamp = match entry.metadata() {
            Ok(metadata) => Stamp::of(&metadata),
            Err(error) => {
                listing.trouble(root, &error);
                continue;
            }
        };
        if entry.file_type().is_file() && names::is_tile(&path) {
            listing.tiles.push((path, stamp));
        } else {
            let kind = match entry.file_type() {
                kind if kind.is_file() => OtherKind::File,
                kind if kind.is_symlink() => OtherKind::Link,
                _ => OtherKind::Special,
            };
            listing.others.push(Other { path, kind, stamp });
        }
    }
    folders.retain(|folder| !filled.contains(folder) && !listing.is_unsure(folder));
    listing.empty = folders;
    listing.tiles.sort_unstable();
    listing.others.sort_unstable_by(|one, other| one.path.cmp(&other.path));
    listing.empty.sort_unstable();
    listing
}

impl Listing {
    fn trouble(&mut self, root: &Path, error: &walkdir::Error) {
        let path = error.path().map_or_else(PathBuf::new, |path| below(root, path));
        let gone = error.io_error().is_some_and(|error| error.kind() == io::ErrorKind::NotFound);
        // A file that vanished while it was listed is simply not there; the root is another matter.
        if gone && !path.as_os_str().is_empty() {
            return;
        }
        let what = error.io_error().map_or_else(|| error.to_string(), ToString::to_string);
        let full = root.join(&path);
        self.troubles.push(format!(
            "cannot look into {}: {what}; allow this account to read it, or connect the drive it is on; what is known of \
             the tiles there stays as it is",
            crate::disk::spelled(&full)
        ));
        self.unread.push(path);
    }
}

fn below(root: &Path, path: &Path) -> PathBuf {
    path.strip_prefix(root).unwrap_or(path).into()
}
