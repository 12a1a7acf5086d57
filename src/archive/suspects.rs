//! A first look at every file that may be a stray: its first bytes, its names on the disk, its content where it is a copy.
//!
//! Takes a listing; yields rows for the rule. Reads little: sixteen bytes of most files, all of those that are copies of
//! others or look like images under a name that is none. What cannot be read counts as unknown.

use super::copies::bases;
use super::listing::{Listing, OtherKind};
use super::stray::{Looks, Row, is_open, is_temporary};
use crate::codec::{Completeness, completeness, format_of};
use crate::disk::{self, Stamp};
use crate::tile::Content;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Bytes of a file by which it is told from an image.
const HEAD: u64 = 16;
/// The largest file under an unfinished name that is read to see whether it is a whole image; a larger one counts as one.
const MOST: u64 = 1 << 30;

/// The rows of everything that may be a stray, and of the files of which some may be copies.
///
/// `known` says the hash of a file where that is known to be today's; else copies and what they are copies of are read.
#[must_use]
pub fn rows(root: &Path, listing: &Listing, now: SystemTime, known: &dyn Fn(&Path) -> Option<Content>) -> Vec<Row> {
    let tiles = listing.tiles.iter().map(|(path, stamp)| (path, *stamp));
    let plain = listing.others.iter().filter(|other| other.kind == OtherKind::File);
    let files: BTreeMap<&PathBuf, Stamp> =
        tiles.clone().chain(plain.clone().map(|other| (&other.path, other.stamp))).collect();
    let mut hashed: BTreeSet<&PathBuf> = BTreeSet::new();
    for path in files.keys().filter(|path| is_open(path)) {
        if let Some((base, _)) = bases(path).iter().find_map(|base| files.get_key_value(base)) {
            hashed.extend([*path, *base]);
        }
    }
    let odd = |path: &PathBuf, stamp: &Stamp| {
        let strange = path.file_name().is_some_and(is_temporary);
        stamp.size == 0 || strange || hashed.contains(path)
    };
    let suspects = tiles.filter(|(path, stamp)| odd(path, stamp));
    suspects
        .chain(plain.map(|other| (&other.path, other.stamp)))
        .filter(|(path, _)| is_open(path))
        .filter_map(|(path, stamp)| {
            let content = hashed.contains(path).then(|| known(path).or_else(|| disk::hash_file(&root.join(path)).ok()));
            row(root, path, stamp, now, content.flatten())
        })
        .collect()
}

fn row(root: &Path, path: &Path, listed: Stamp, now: SystemTime, content: Option<Content>) -> Option<Row> {
    let full = root.join(path);
    let metadata = std::fs::symlink_metadata(&full).ok()?;
    let stamp = Stamp::of(&metadata);
    if stamp != listed {
        // Somebody is at it.
        return None;
    }
    let (head, looks) = look(&full, path, stamp.size);
    Some(Row {
        path: path.into(),
        is_plain: metadata.is_file(),
        size: stamp.size,
        age: age(&stamp, now),
        links: metadata.nlink(),
        head,
        looks,
        content,
    })
}

/// How long ago anything about a file changed.
pub(super) fn age(stamp: &Stamp, now: SystemTime) -> Option<Duration> {
    let last = u64::try_from(stamp.mtime_ns.max(stamp.ctime_ns).max(0)).ok()?;
    now.duration_since(SystemTime::UNIX_EPOCH + Duration::from_nanos(last)).ok()
}

fn look(full: &Path, path: &Path, size: u64) -> (Vec<u8>, Looks) {
    let read = |most: u64| -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        disk::open(full).ok()?.take(most).read_to_end(&mut bytes).ok()?;
        Some(bytes)
    };
    let Some(head) = read(HEAD) else { return (Vec::new(), Looks::Unknown) };
    let looks = match format_of(&head) {
        None => Looks::NoImage,
        Some(_) if size > MOST || !path.file_name().is_some_and(is_temporary) => Looks::Image,
        Some(_) => match read(MOST).map(|bytes| completeness(&bytes)) {
            Some(Completeness::Incomplete) => Looks::PartOfImage,
            Some(Completeness::Complete) => Looks::Image,
            Some(Completeness::NotAnImage) | None => Looks::Unknown,
        },
    };
    (head, looks)
}
