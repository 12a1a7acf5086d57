//! Putting strays away: a dated folder beside the outputs, with a manifest that is durable before the first file moves.
//!
//! `quarantine/2026-11-27/1.jsonl` is the manifest and `quarantine/2026-11-27/1/` holds the files under their own paths; each
//! further tidying of one date takes the next number. Numbered and not appended: a manifest is published whole, never
//! written again, and a path that is put away twice a day needs no other name. Nothing is deleted, nothing is replaced.

use super::error::SweepError;
use super::stray::{Fate, Kind, Stray};
use crate::disk::{Cause, Disk, DiskError, Dress, Look, Onto, Source, Stamp, Tree, Writers, spelled};
use crate::ticket::away::{Away, Head, Manifest, Spelled};
use crate::tile::Content;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// The folder below the output folder.
pub const QUARANTINE: &str = "quarantine";

/// An archive and where its strays go.
#[derive(Clone, Copy, Debug)]
pub struct Site<'a> {
    /// The archive's name.
    pub archive: &'a str,
    /// Its folder.
    pub folder: &'a Path,
    /// Its output folder.
    pub checked: &'a Path,
}

/// What was put away.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tidied {
    /// The files, by path.
    pub away: Vec<(PathBuf, Kind)>,
    /// The folder they are in; `None` when there was nothing to put away.
    pub folder: Option<PathBuf>,
    /// What was left where it is, in sentences.
    pub left: Vec<String>,
}

/// One file that is to be put away.
struct Entry<'a> {
    stray: &'a Stray,
    stamp: Stamp,
    dress: Dress,
    content: Content,
}

/// Puts away what may be; of the strays on demand only when `all` is wanted. `begun` hears the paths when the manifest is
/// durable and before anything moves.
///
/// # Errors
/// When the disk fails. Each file then lies in its old or in its new place, and the manifest tells which files were meant.
pub fn tidy(
    disk: &Disk,
    site: Site<'_>,
    date: Date,
    made: jiff::Timestamp,
    (strays, all): (&[Stray], bool),
    begun: &mut dyn FnMut(&[PathBuf]) -> Result<(), SweepError>,
) -> Result<Tidied, SweepError> {
    let archive = disk.tree(site.folder)?;
    finish(disk, &archive, site)?;
    let mut tidied = Tidied::default();
    let mut entries = Vec::new();
    for stray in strays.iter().filter(|stray| may_go(stray, all)) {
        match entry(&archive, stray) {
            Ok(found) => entries.extend(found),
            Err(error) => tidied.left.push(error.to_string()),
        }
    }
    let writers = Writers::now();
    entries.retain(|entry| {
        let mut both = [Some(&entry.stray.path), entry.stray.base.as_ref()].into_iter().flatten();
        let held = both.find(|path| archive.open(path).is_ok_and(|file| writers.hold(&file)));
        let name = spelled(&entry.stray.path);
        tidied.left.extend(
            held.map(|held| format!("{name} is left where it is: a program has {} open for writing", spelled(held))),
        );
        held.is_none()
    });
    if entries.is_empty() {
        return Ok(tidied);
    }
    disk.make_folders(site.checked)?;
    let checked = disk.tree(site.checked)?;
    let home = publish(&checked, site, date, made, &entries)?;
    let paths: Vec<PathBuf> = entries.iter().map(|entry| entry.stray.path.clone()).collect();
    begun(&paths)?;
    let mut folders = BTreeSet::new();
    for entry in &entries {
        let path = &entry.stray.path;
        match put(&archive, &checked, &home.join(path), entry) {
            Ok(true) => {
                tidied.away.push((path.clone(), entry.stray.kind));
                folders.insert(path.parent().unwrap_or(Path::new("")));
            }
            Ok(false) => {
                let name = spelled(path);
                tidied
                    .left
                    .push(format!("{name} is left where it is: it, or the file it is a copy of, changed just now"));
            }
            Err(error) if is_of_one_file(&error) => tidied.left.push(error.to_string()),
            Err(error) => return Err(error.into()),
        }
    }
    for folder in folders {
        checked.sync_up(&home.join(folder))?;
        archive.sync_folder(folder)?;
    }
    tidied.folder = Some(site.checked.join(home));
    Ok(tidied)
}

/// Whether a stray may be put away.
#[must_use]
pub fn may_go(stray: &Stray, all: bool) -> bool {
    stray.fate == Fate::PutAway || (all && stray.fate == Fate::OnDemand)
}

/// Whether an error concerns one file alone, so that the others can go on.
pub(super) fn is_of_one_file(error: &DiskError) -> bool {
    let is_shut =
        [rustix::io::Errno::ACCESS, rustix::io::Errno::PERM, rustix::io::Errno::NAMETOOLONG, rustix::io::Errno::NOTSUP]
            .iter()
            .any(|errno| error.errno() == Some(errno.raw_os_error()));
    is_shut
        || error.is_absent()
        || matches!(
            error.cause,
            Cause::Taken | Cause::FolderInTheWay | Cause::NoPlainFile | Cause::Differs | Cause::Outside
        )
}

/// Reads a stray anew; `None` when it is gone or no plain file any more.
fn entry<'a>(archive: &Tree, stray: &'a Stray) -> Result<Option<Entry<'a>>, DiskError> {
    let Look::File(stamp) = archive.look_plainly(&stray.path)? else { return Ok(None) };
    let content = archive.content(&stray.path)?;
    let dress = archive.dress_of(&stray.path)?;
    Ok(Some(Entry { stray, stamp, dress, content }))
}

/// Writes the manifest under the next free number and yields the folder of its files, relative to the output folder.
fn publish(
    checked: &Tree,
    site: Site<'_>,
    date: Date,
    made: jiff::Timestamp,
    entries: &[Entry<'_>],
) -> Result<PathBuf, SweepError> {
    let head = Head { archive: site.archive.into(), folder: Spelled::of(site.folder), made: made.to_string() };
    let files = entries.iter().map(|entry| Away {
        file: Spelled::of(&entry.stray.path),
        size: entry.stamp.size,
        blake3: entry.content.to_string(),
        mtime: (entry.dress.seconds, entry.dress.nanos),
        mode: format!("{:04o}", entry.dress.mode),
        why: entry.stray.kind.name().into(),
    });
    let day = Path::new(QUARANTINE).join(date.to_string());
    let unwritable =
        |_| SweepError::Manifest { path: site.checked.join(&day), line: 0, folder: site.checked.join(&day) };
    let text = Manifest { head, files: files.collect() }.to_text().map_err(unwritable)?.into_bytes();
    let content = Content::of(&text);
    let mut number = numbers(&site.checked.join(&day)).last().copied().unwrap_or(0);
    loop {
        number += 1;
        let home = day.join(number.to_string());
        if checked.look_plainly(&home)? != Look::Absent {
            continue;
        }
        let manifest = day.join(format!("{number}.jsonl"));
        match checked.publish(&manifest, &Source::Bytes(text.clone()), content, Onto::Nothing) {
            Err(DiskError { cause: Cause::Taken | Cause::FolderInTheWay, .. }) => {}
            published => return Ok(published.map(|_| home)?),
        }
    }
}

/// The numbers of the manifests of one day, in order.
pub(super) fn numbers(day: &Path) -> Vec<u64> {
    let Ok(entries) = std::fs::read_dir(day) else { return Vec::new() };
    let mut found: Vec<u64> = entries
        .filter_map(Result::ok)
        .filter_map(|entry| entry.file_name().to_str()?.strip_suffix(".jsonl")?.parse().ok())
        .collect();
    found.sort_unstable();
    found
}

/// The dates on which something was put away, in order.
#[must_use]
pub fn dates(checked: &Path) -> Vec<Date> {
    let Ok(entries) = std::fs::read_dir(checked.join(QUARANTINE)) else { return Vec::new() };
    let date = |name: &OsStr| name.to_str()?.parse::<Date>().ok();
    let mut found: Vec<Date> = entries.filter_map(Result::ok).filter_map(|entry| date(&entry.file_name())).collect();
    found.sort_unstable();
    found
}

/// Moves one file; `false` when it is not the one that was looked at.
fn put(archive: &Tree, checked: &Tree, to: &Path, entry: &Entry<'_>) -> Result<bool, DiskError> {
    let path = &entry.stray.path;
    if archive.look(path)? != Look::File(entry.stamp) {
        return Ok(false);
    }
    // What makes a copy superfluous must be there at this moment.
    if let Some(base) = &entry.stray.base
        && archive.content(base)? != entry.content
    {
        return Ok(false);
    }
    archive.carry(path, checked, to, entry.content, entry.dress)?;
    let is_it = match checked.look(to)? {
        Look::File(stamp) => stamp.is_moved(&entry.stamp) || checked.content(to)? == entry.content,
        Look::Absent | Look::Other => false,
    };
    if !is_it {
        // Another file took the name between the look and the move.
        checked.carry(to, archive, path, checked.content(to)?, checked.dress_of(to)?)?;
    }
    Ok(is_it)
}

/// Ends a move by hard links that was stopped halfway: the file then has both names. Only the last manifest can hold one.
fn finish(disk: &Disk, archive: &Tree, site: Site<'_>) -> Result<(), SweepError> {
    let Some(date) = dates(site.checked).last().copied() else { return Ok(()) };
    let day = Path::new(QUARANTINE).join(date.to_string());
    let Some(number) = numbers(&site.checked.join(&day)).last().copied() else { return Ok(()) };
    let checked = disk.tree(site.checked)?;
    let Ok(manifest) = read(&checked, &day, number) else { return Ok(()) };
    if manifest.head.archive != site.archive {
        return Ok(());
    }
    let home = day.join(number.to_string());
    for path in manifest.files.iter().filter_map(|file| file.file.path()) {
        let both = [archive.look_plainly(&path)?, checked.look_plainly(&home.join(&path))?];
        if both.iter().all(|look| matches!(look, Look::File(_))) {
            archive.drop_second_name(&path, &checked, &home.join(&path))?;
        }
    }
    Ok(())
}

/// Reads a manifest of a day.
pub(super) fn read(checked: &Tree, day: &Path, number: u64) -> Result<Manifest, SweepError> {
    let path = day.join(format!("{number}.jsonl"));
    let text = String::from_utf8_lossy(&checked.bytes(&path)?).into_owned();
    Manifest::from_text(&text).map_err(|line| SweepError::Manifest {
        path: checked.root().join(&path),
        line,
        folder: checked.root().join(day.join(number.to_string())),
    })
}
