//! Putting back what was put away on a date, exactly: path, bytes, time of writing, rights.
//!
//! Takes the manifests of that date, the last first; moves each file that is still in quarantine to a place that is free.
//! Where something else lies now, both stay and it is said. What is done shows on the disk alone, so that undoing twice, or
//! after a kill, or after a person moved files by hand, comes to the same end.

use super::error::SweepError;
use super::quarantine::{QUARANTINE, Site, is_of_one_file, numbers, read};
use crate::disk::{Disk, DiskError, Dress, Look, Tree, spelled};
use crate::ticket::away::Away;
use crate::tile::Content;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

/// What was put back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Undone {
    /// The files that are back, by manifest and path; in a dry run, those that would be.
    pub back: Vec<PathBuf>,
    /// Files that lay in their places already.
    pub already: u64,
    /// What could not be put back, or not as it was, in sentences.
    pub troubles: Vec<String>,
}

/// Puts everything back that was put away on a date; a dry run only says so.
///
/// # Errors
/// When the disk fails. Each file then lies in its old or in its new place.
pub fn undo(disk: &Disk, site: Site<'_>, date: Date, dry_run: bool) -> Result<Undone, SweepError> {
    let day = Path::new(QUARANTINE).join(date.to_string());
    let mut undone = Undone::default();
    let numbers = numbers(&site.checked.join(&day));
    if numbers.is_empty() {
        return Ok(undone);
    }
    let archive = disk.tree(site.folder)?;
    let checked = disk.tree(site.checked)?;
    for number in numbers.into_iter().rev() {
        let manifest = match read(&checked, &day, number) {
            Ok(manifest) => manifest,
            Err(error @ SweepError::Manifest { .. }) => {
                undone.troubles.push(error.to_string());
                continue;
            }
            Err(error) => return Err(error),
        };
        if manifest.head.archive != site.archive {
            // Two folders that were swept with one output folder.
            continue;
        }
        let home = day.join(number.to_string());
        let mut folders = BTreeSet::new();
        for away in &manifest.files {
            let Some((path, promised, dress)) = meant(away) else {
                undone.troubles.push(format!(
                    "{}: the manifest's line about {:?} is not as it was written; move that file by hand",
                    spelled(&site.checked.join(&day)),
                    away.file.path
                ));
                continue;
            };
            let spot = home.join(&path);
            match back(&archive, &checked, &spot, (&path, promised, dress), dry_run) {
                Ok(Fate::Back) => {
                    folders.insert(path.parent().unwrap_or(Path::new("")).to_path_buf());
                    undone.back.push(path);
                }
                Ok(Fate::BackOtherwise) => {
                    let name = spelled(&path);
                    undone.troubles.push(format!("{name} is back as it is now: it was changed while it was put away"));
                    folders.insert(path.parent().unwrap_or(Path::new("")).to_path_buf());
                    undone.back.push(path);
                }
                Ok(Fate::Already) => undone.already += 1,
                Ok(Fate::Kept) => undone.troubles.push(format!(
                    "{}: something else lies there now, so both are kept; what was put away is {}; move it where you want it",
                    spelled(&path),
                    spelled(&site.checked.join(&spot))
                )),
                Ok(Fate::Missing) => undone.troubles.push(format!(
                    "{}: it is neither there nor in {}; somebody moved it by hand, so look where",
                    spelled(&path),
                    spelled(&site.checked.join(&home))
                )),
                Err(error) if is_of_one_file(&error) => undone.troubles.push(error.to_string()),
                Err(error) => return Err(error.into()),
            }
        }
        if !dry_run {
            for folder in &folders {
                archive.sync_up(folder)?;
            }
            clear(&checked, &home, manifest.files.iter().filter_map(|away| Some(meant(away)?.0)))?;
        }
    }
    Ok(undone)
}

/// What a line means; `None` when it was meddled with.
fn meant(away: &Away) -> Option<(PathBuf, Content, Dress)> {
    let mode = u32::from_str_radix(&away.mode, 8).ok().filter(|mode| *mode <= 0o7777)?;
    let dress = Dress { seconds: away.mtime.0, nanos: away.mtime.1, mode };
    let path = away.file.path()?;
    if path.as_os_str().is_empty() || !path.components().all(|part| matches!(part, Component::Normal(_))) {
        return None;
    }
    Some((path, Content::from_hex(&away.blake3)?, dress))
}

/// What became of one file.
enum Fate {
    Back,
    BackOtherwise,
    Already,
    Kept,
    Missing,
}

fn back(
    archive: &Tree,
    checked: &Tree,
    spot: &Path,
    (path, promised, dress): (&Path, Content, Dress),
    dry_run: bool,
) -> Result<Fate, DiskError> {
    let looks = (checked.look_plainly(spot)?, archive.look_plainly(path)?);
    match looks {
        (Look::File(_), Look::Absent) if dry_run => Ok(Fate::Back),
        (Look::File(_), Look::Absent) => {
            let found = checked.content(spot)?;
            if found != promised {
                let now = checked.dress_of(spot)?;
                checked.carry(spot, archive, path, found, now)?;
                return Ok(Fate::BackOtherwise);
            }
            // Dressed before it moves, so that what is in its place is as it was.
            checked.dress(spot, dress)?;
            checked.carry(spot, archive, path, found, dress)?;
            Ok(Fate::Back)
        }
        (there, Look::File(_)) if archive.content(path)? == promised => {
            if !dry_run && matches!(there, Look::File(_)) {
                checked.drop_second_name(spot, archive, path)?;
            }
            Ok(Fate::Already)
        }
        (Look::File(_), _) => Ok(Fate::Kept),
        (Look::Absent | Look::Other, _) => Ok(Fate::Missing),
    }
}

/// Removes the folders below `home` that are empty now: they were made to put files away.
fn clear(checked: &Tree, home: &Path, files: impl Iterator<Item = PathBuf>) -> Result<(), DiskError> {
    let folders: BTreeSet<PathBuf> =
        files.flat_map(|file| file.ancestors().skip(1).map(Path::to_path_buf).collect::<Vec<_>>()).collect();
    // The deepest first: a folder's path sorts before those below it.
    for folder in folders.iter().rev() {
        let folder = if folder.as_os_str().is_empty() { home.to_path_buf() } else { home.join(folder) };
        checked.remove_empty(&folder)?;
    }
    Ok(())
}
