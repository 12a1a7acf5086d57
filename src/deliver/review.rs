//! Looking the folder let-pass over: which pictures lie there, what they accept, and which tiles that concerns.
//!
//! Takes everything that lies there; brings the ledger's words up to it in one step, however things got there. The folder is
//! the artist's: nothing in it is written, moved or removed.

use super::error::DeliverError;
use super::layout::LET_PASS;
use super::look::is_any;
use super::outcome::Place;
use crate::codec;
use crate::disk::{Cause, Disk, Look, Stamp, Tree};
use crate::ledger::{Change, Ledger, LetPass, Standing, StandingState};
use crate::pipeline::WORD;
use crate::ticket::word::{Mark, Word};
use crate::tile::Content;
use rustix::io::Errno;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The largest file that is read: many times the size of any held picture.
const MOST_BYTES: u64 = 64 << 20;

/// One file that lies in let-pass, or may: its path relative to that folder, and its stamp once it is at rest. What is
/// known of one without a stamp stays as it is.
pub type Lying = (PathBuf, Option<Stamp>);

/// What looking the folder over found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reviewed {
    /// Originals, relative to the exports folder, for whose content the word has changed: they must be worked through.
    pub concerns: BTreeSet<PathBuf>,
    /// Pictures whose word is heard now and was not before.
    pub heard: Vec<PathBuf>,
    /// Those of them whose content no tile of the folder has.
    pub idle: Vec<PathBuf>,
    /// Pictures that are not ours, or no longer carry their word; each is named once.
    pub strange: Vec<PathBuf>,
    /// Pictures that were taken out.
    pub taken_out: Vec<PathBuf>,
}

/// Brings the ledger up to what lies in let-pass. `lying` is everything that is there. An absent folder says nothing.
///
/// # Errors
/// When a file cannot be read for a reason that may pass, or the ledger cannot be written. Nothing is changed then.
pub fn review(disk: &Disk, ledger: &mut Ledger, place: &Place<'_>, lying: &[Lying]) -> Result<Reviewed, DeliverError> {
    let mut found = Reviewed::default();
    let folder = place.checked.join(LET_PASS);
    if !folder.is_dir() {
        return Ok(found);
    }
    // Rooted there, since the artist may have made a link of the folder; nothing below it is followed.
    let tree = disk.tree(&folder)?;
    // A drawing whose name another one has now has no original that could be worked through.
    let standings_of = |ledger: &Ledger, content| -> Result<Vec<Standing>, DeliverError> {
        let mut found = ledger.standings_of(place.folder, content)?;
        found.retain(|standing| standing.state != StandingState::Kept);
        Ok(found)
    };
    let mut known: BTreeMap<PathBuf, LetPass> =
        ledger.words(place.folder)?.into_iter().map(|picture| (picture.path.clone(), picture)).collect();
    let mut changes = Vec::new();
    let mut contents = BTreeSet::new();
    for (path, stamp) in lying {
        let before = known.remove(path);
        let Some(stamp) = stamp else { continue };
        if before.as_ref().is_some_and(|before| before.stamp == *stamp) {
            continue;
        }
        // It is on its way again: the next look tells.
        let Some(Held { file, word }) = read(&tree, path, *stamp)? else { continue };
        let same_file = before.as_ref().is_some_and(|before| before.file.is_some() && before.file == file);
        match &word {
            Some(word) if before.as_ref().and_then(|before| before.word.as_ref()) != Some(word) => {
                found.heard.push(path.clone());
                if standings_of(ledger, word.content)?.is_empty() {
                    found.idle.push(path.clone());
                }
            }
            None if !same_file => found.strange.push(path.clone()),
            Some(_) | None => {}
        }
        let spoken = [before.as_ref().and_then(|before| before.word.as_ref()), word.as_ref()];
        contents.extend(spoken.into_iter().flatten().map(|word| word.content));
        // One that was told already is not told again for a new stamp.
        let changed = before.filter(|_| same_file).map_or(0, |before| before.changed);
        changes.push(Change::Hear(LetPass { path: path.clone(), stamp: *stamp, file, word, changed }));
    }
    for (path, picture) in known {
        contents.extend(picture.word.map(|word| word.content));
        changes.push(Change::Unhear(path.clone()));
        found.taken_out.push(path);
    }
    if changes.is_empty() {
        return Ok(found);
    }
    let said = |ledger: &Ledger| -> Result<Vec<BTreeSet<Mark>>, DeliverError> {
        contents.iter().map(|content| Ok(ledger.let_pass(place.folder, *content)?)).collect()
    };
    let before = said(ledger)?;
    ledger.apply(place.folder, &changes)?;
    let after = said(ledger)?;
    for (content, _) in contents.iter().zip(before.iter().zip(&after)).filter(|(_, (before, after))| before != after) {
        found.concerns.extend(standings_of(ledger, *content)?.into_iter().map(|standing| standing.path));
    }
    Ok(found)
}

/// What a file holds.
struct Held {
    /// The hash of its bytes; `None` when they were not read, since they cannot be ours.
    file: Option<Content>,
    word: Option<Word>,
}

/// Reads a file in let-pass as far as it can be read; `None` when it is no longer the one that was seen.
fn read(tree: &Tree, path: &Path, stamp: Stamp) -> Result<Option<Held>, DeliverError> {
    let is_seen = || tree.look(path).is_ok_and(|look| look == Look::File(stamp));
    if !is_seen() {
        return Ok(None);
    }
    let foreign = Held { file: None, word: None };
    if stamp.size > MOST_BYTES {
        return Ok(Some(foreign));
    }
    let bytes = match tree.bytes(path) {
        Ok(bytes) => bytes,
        Err(error) if error.is_absent() || matches!(error.cause, Cause::NoPlainFile) => return Ok(None),
        Err(error) if is_any(&error, &[Errno::ACCESS, Errno::PERM]) => return Ok(Some(foreign)),
        Err(error) => return Err(error.into()),
    };
    if !is_seen() {
        return Ok(None);
    }
    let word = codec::note(&bytes, WORD).and_then(Word::from_text);
    Ok(Some(Held { file: Some(Content::of(&bytes)), word }))
}
