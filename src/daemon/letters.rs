//! Letters: what is new in the ledger becomes a mail in the outbox and a page in each output folder it speaks of.
//!
//! What a letter told is noted in one step with the letter itself, before anything of it is seen; a kill before it means that
//! the next letter tells the same under the same name.

use super::hours::{spelled, zone, zoned};
use super::mail::{self, Written};
use super::news::{self, Found, Reminder};
use super::swept;
use super::telling;
use crate::clock::Clock;
use crate::config::{Config, Folder};
use crate::deliver::LETTERS;
use crate::digest::outbox::OutboxError;
use crate::digest::{self, Letter, Window};
use crate::disk::{Disk, DiskError};
use crate::ledger::{Ledger, LedgerError, Told};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::SystemTime;
use thiserror::Error;

/// Why a letter was not written.
#[derive(Debug, Error)]
pub enum LetterError {
    /// Another process writes one right now.
    #[error("another letter is being written right now; try again in a moment")]
    Busy,
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The outbox.
    #[error(transparent)]
    Outbox(#[from] OutboxError),
    /// The clock of the machine.
    #[error("the machine's clock shows no usable time ({0}); set it")]
    Clock(#[from] jiff::Error),
}

/// A letter that is not noted yet, with what noting it must say.
struct Draft {
    letter: Letter,
    /// The last change it may tell of.
    upto: i64,
    /// Which letter it is.
    number: i64,
    /// The output folders it speaks of.
    spoken_of: BTreeSet<PathBuf>,
    /// What it tells.
    told: Vec<Told>,
}

/// Writes the letter of everything new; `None` when there is nothing to tell.
///
/// # Errors
/// When another one is being written, or something cannot be read or written. Nothing is lost then.
pub fn write(config: &Config, disk: &Disk, ledger: &mut Ledger, clock: Clock) -> Result<Option<Written>, LetterError> {
    let _lock = disk.lock(&config.state.join("letter.lock"))?.ok_or(LetterError::Busy)?;
    write_at(config, disk, ledger, clock.wall())
}

/// As [`write()`], at an instant and by who holds the lock.
///
/// # Errors
/// As for [`write()`].
pub fn write_at(
    config: &Config,
    disk: &Disk,
    ledger: &mut Ledger,
    now: SystemTime,
) -> Result<Option<Written>, LetterError> {
    draft(config, ledger, now)?.map(|draft| store(config, disk, ledger, draft, now)).transpose()
}

/// The letter that would be written now; `None` when there is nothing to tell. Notes and writes nothing.
///
/// # Errors
/// When the ledger cannot be read.
pub fn preview(config: &Config, ledger: &Ledger, now: SystemTime) -> Result<Option<Letter>, LetterError> {
    Ok(draft(config, ledger, now)?.map(|draft| draft.letter))
}

/// Puts the next letter together.
fn draft(config: &Config, ledger: &Ledger, now: SystemTime) -> Result<Option<Draft>, LetterError> {
    let zone = zone(config);
    // Asked before anything is read, so that what changes meanwhile is told by the next letter.
    let upto = ledger.last_change()?;
    let found = news::find(config, ledger, now)?;
    let reminders = news::reminders(config, ledger, now)?;
    let entries = found.new.iter().map(|new| telling::entry(new, ledger)).collect::<Result<Vec<_>, _>>()?;
    let first: BTreeSet<&str> = found.new.iter().filter(|new| new.first).map(|new| new.folder.name.as_str()).collect();
    let picked = digest::pick(&entries, config.digest.most, |entry| first.contains(entry.folder.as_str()));
    let mut entries: Vec<Option<digest::Entry>> = entries.into_iter().map(Some).collect();
    let mut told = Vec::new();
    for &at in &picked.told {
        let (Some(mut entry), Some(new)) = (entries.get_mut(at).and_then(Option::take), found.new.get(at)) else {
            continue;
        };
        entry.picture = telling::picture(new);
        told.push(entry);
    }
    let calls = reminders.len().min(config.digest.most);
    let reminders = &reminders[..calls];
    let mut window = Window {
        since: found.last.as_ref().map(|letter| spelled(letter.window_end, &zone)).transpose()?,
        until: spelled(now, &zone)?,
        inventory: picked.inventory,
        kept: picked.kept,
        still: reminders
            .iter()
            .map(|one| Ok(telling::still(one, zoned(one.told.at, &zone)?.strftime("%-d %B").to_string())))
            .collect::<Result<_, jiff::Error>>()?,
        swept: swept::swept(config, ledger, |time| spelled(time, &zone).unwrap_or_default())?,
        remarks: found.strange.iter().map(|(folder, picture)| telling::remark(folder, picture)).collect(),
    };
    let settings = digest::Settings::default();
    if digest::letter(&told, &window, &settings).is_none() {
        return Ok(None);
    }
    // What became of earlier letters is told along with other news only: a letter about letters could go on for ever.
    window.remarks.extend(mail::remarks(config, ledger)?);
    let Some(letter) = digest::letter(&told, &window, &settings) else { return Ok(None) };
    Ok(Some(Draft {
        letter,
        upto,
        number: ledger.letters()? + 1,
        spoken_of: spoken_of(config, &found, &picked.told, reminders),
        told: noted(&found, &picked.told, reminders, now),
    }))
}

/// The output folders of what a letter tells. When it tells of archives alone, those of all watched folders, and where none of
/// these was ever made, those of the archives.
fn spoken_of(config: &Config, found: &Found<'_>, told: &[usize], reminders: &[Reminder<'_>]) -> BTreeSet<PathBuf> {
    let new = told.iter().filter_map(|&at| found.new.get(at)).map(|new| new.folder);
    let others = found.strange.iter().map(|(folder, _)| *folder).chain(reminders.iter().map(|one| one.folder));
    let folders: BTreeSet<PathBuf> = new.chain(others).map(|folder: &Folder| folder.checked.clone()).collect();
    if !folders.is_empty() {
        return folders;
    }
    let watched: BTreeSet<PathBuf> = config.folders.iter().map(|folder| folder.checked.clone()).collect();
    let archives = || config.archives.iter().map(|archive| archive.checked.clone());
    if watched.iter().any(|folder| folder.is_dir()) || !archives().any(|folder| folder.is_dir()) {
        return watched;
    }
    archives().filter(|folder| folder.is_dir()).collect()
}

/// What noting a letter must say: what it tells, what was known by another name, and when was last called to mind.
fn noted(found: &Found<'_>, told: &[usize], reminders: &[Reminder<'_>], now: SystemTime) -> Vec<Told> {
    let new = told.iter().filter_map(|&at| found.new.get(at)).flat_map(|new| new.told.iter().cloned());
    let called = reminders.iter().map(|one| Told { at: now, ..one.told.clone() });
    new.chain(found.known.iter().cloned()).chain(called).collect()
}

/// Puts a letter on its way: its mail and its pages, and, in one step, that it was written and what it told.
fn store(
    config: &Config,
    disk: &Disk,
    ledger: &mut Ledger,
    draft: Draft,
    now: SystemTime,
) -> Result<Written, LetterError> {
    let Draft { letter, upto, number, spoken_of, told } = draft;
    // The number makes another try of this very letter take the place of a first that was cut off.
    let name = format!("{}-letter-{number}", zoned(now, &zone(config))?.strftime("%Y-%m-%d"));
    let page = Path::new(LETTERS).join(format!("{name}.html"));
    let pages = spoken_of.into_iter().map(|folder| folder.join(&page)).collect();
    Ok(mail::queue(config, disk, ledger, mail::Rendered { letter, upto, now, name, pages, told })?)
}
