//! What is there to tell: standings that no letter told as they are, tiles to be called to mind, pictures in let-pass that are
//! not understood, and what a schedule must know of them.
//!
//! Takes the configuration and the ledger; yields plain data. Writes nothing, decodes nothing.

use super::swept;
use crate::config::{Config, Folder};
use crate::digest::Waiting;
use crate::finding::Verdict;
use crate::ledger::{self, Ledger, LedgerError, LetPass, Standing, StandingState, Told, Untold};
use jiff::Timestamp;
use std::time::SystemTime;

/// A tile that is to be told.
pub struct New<'a> {
    /// The folder it belongs to.
    pub folder: &'a Folder,
    /// Everything that is known of it.
    pub row: ledger::Entry,
    /// When it came about, if that is known.
    pub since: Option<SystemTime>,
    /// What was told of its path last.
    pub before: Option<Told>,
    /// Whether nothing was ever told of its folder.
    pub first: bool,
    /// What is noted once it is told: it, and other paths with the same file.
    pub told: Vec<Told>,
}

/// A tile that was told to need the artist, long enough ago to be called to mind.
pub struct Reminder<'a> {
    /// The folder it belongs to.
    pub folder: &'a Folder,
    /// Everything that is known of it.
    pub row: ledger::Entry,
    /// What was told.
    pub told: Told,
}

/// Everything there is to tell.
pub struct Found<'a> {
    /// Tiles, in the order they came.
    pub new: Vec<New<'a>>,
    /// Tiles whose file and faults were told under another name: noted with the next letter, never told.
    pub known: Vec<Told>,
    /// Pictures in let-pass that accept nothing.
    pub strange: Vec<(&'a Folder, LetPass)>,
    /// The last letter.
    pub last: Option<ledger::Letter>,
}

/// Looks for what there is to tell. `now` is when it will be told.
///
/// # Errors
/// When the ledger cannot be read.
pub fn find<'a>(config: &'a Config, ledger: &Ledger, now: SystemTime) -> Result<Found<'a>, LedgerError> {
    let last = ledger.last_letter()?;
    let mut found = Found { new: Vec::new(), known: Vec::new(), strange: Vec::new(), last };
    for Untold { standing, since } in ledger.news()? {
        let Some(folder) = configured(config, &standing.folder) else { continue };
        let row = ledger.entry(standing)?;
        let (standing, says) = (&row.standing, ledger::says(row.ticket.as_ref()));
        let told = Told {
            folder: standing.folder.clone(),
            path: standing.path.clone(),
            content: standing.key.content,
            verdict: standing.verdict,
            says,
            change: standing.changed,
            at: now,
        };
        let before = ledger.told_of(&standing.folder, &standing.path)?;
        if let Some(at) = known_since(ledger, &told, before.as_ref())? {
            found.known.push(Told { at, ..told });
            continue;
        }
        let twin = |new: &&mut New<'_>| new.told.first().is_some_and(|first| same_file(first, &told));
        match found.new.iter_mut().find(twin).filter(|_| needs_you(told.verdict)) {
            Some(twin) => twin.told.push(told),
            None => {
                let first = !ledger.told_anything(&folder.name)?;
                found.new.push(New { folder, row, since, before, first, told: vec![told] });
            }
        }
    }
    let upto = found.last.as_ref().map_or(0, |letter| letter.upto);
    let strange = ledger.strangers_since(upto)?.into_iter();
    found.strange = strange.filter_map(|(name, one)| Some((configured(config, &name)?, one))).collect();
    Ok(found)
}

/// The tiles to be called to mind at `now`, the longest ago first.
///
/// # Errors
/// When the ledger cannot be read.
pub fn reminders<'a>(config: &'a Config, ledger: &Ledger, now: SystemTime) -> Result<Vec<Reminder<'a>>, LedgerError> {
    let Some(after) = config.digest.remind else { return Ok(Vec::new()) };
    let mut due = Vec::new();
    for (standing, told) in ledger.still_needing()? {
        if told.at.checked_add(after).is_none_or(|at| at > now) {
            break;
        }
        let Some(folder) = configured(config, &standing.folder) else { continue };
        due.push(Reminder { folder, row: ledger.entry(standing)?, told });
    }
    Ok(due)
}

/// What a schedule must know. `began` stands for instants that nobody noted.
///
/// # Errors
/// When the ledger cannot be read.
pub fn waiting(config: &Config, ledger: &Ledger, began: SystemTime) -> Result<Waiting, LedgerError> {
    let found = find(config, ledger, began)?;
    let last = found.last.as_ref().map(|letter| letter.window_end);
    let unknown = last.unwrap_or(began);
    let fresh: Vec<&New<'_>> =
        found.new.iter().filter(|new| last.is_none_or(|last| new.since.is_some_and(|since| since > last))).collect();
    let since = |new: &New<'_>| new.since.unwrap_or(unknown);
    let needing = fresh.iter().filter(|new| needs_you(new.row.standing.verdict));
    let reminder = match config.digest.remind {
        Some(after) => {
            let needing = ledger.still_needing()?;
            let oldest = needing.iter().find(|(standing, _)| configured(config, &standing.folder).is_some());
            oldest.and_then(|(_, told)| told.at.checked_add(after))
        }
        None => None,
    };
    let strange = found.strange.first().map(|_| unknown);
    let swept = swept::waiting_since(config, ledger, unknown)?;
    Ok(Waiting {
        last: last.and_then(instant),
        oldest: found.new.iter().map(since).chain(reminder).chain(strange).chain(swept).min().and_then(instant),
        fresh: fresh.len(),
        fresh_since: fresh.iter().map(|new| since(new)).min().and_then(instant),
        needing_since: needing.map(|new| since(new)).min().and_then(instant),
        busy: false,
    })
}

fn instant(time: SystemTime) -> Option<Timestamp> {
    Timestamp::try_from(time).ok()
}

fn configured<'a>(config: &'a Config, name: &str) -> Option<&'a Folder> {
    config.folders.iter().find(|folder| folder.name == name)
}

/// Whether a verdict is the artist's to act on.
pub fn needs_you(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Held | Verdict::Unreadable | Verdict::Mendable)
}

/// When exactly this was told already; `None` when it is news. A path is news when it is not as it was told last. One never
/// told of is no news when the same file with the same faults was told under another name; a ready one only when every
/// such name is gone, since a second file is a second file.
fn known_since(ledger: &Ledger, now: &Told, before: Option<&Told>) -> Result<Option<SystemTime>, LedgerError> {
    if let Some(before) = before {
        return Ok(same(before, now).then_some(before.at));
    }
    let mut told = ledger.told_of_content(&now.folder, now.content)?;
    told.retain(|told| same(told, now));
    if !needs_you(now.verdict) {
        for other in &told {
            if !is_gone(ledger, other)? {
                return Ok(None);
            }
        }
    }
    Ok(told.last().map(|told| told.at))
}

/// Whether a file that was told is no longer there: another one may have its path.
fn is_gone(ledger: &Ledger, told: &Told) -> Result<bool, LedgerError> {
    let is_it = |standing: Standing| standing.state != StandingState::Gone && standing.key.content == told.content;
    Ok(!ledger.standing(&told.folder, &told.path)?.is_some_and(is_it))
}

fn same(told: &Told, now: &Told) -> bool {
    told.content == now.content && told.verdict == now.verdict && (told.says == now.says || told.says.is_empty())
}

fn same_file(one: &Told, other: &Told) -> bool {
    one.folder == other.folder && one.content == other.content && one.verdict == other.verdict && one.says == other.says
}
