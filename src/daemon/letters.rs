//! Letters: what is new in the ledger becomes a mail in the state folder and a page in each output folder it speaks of.
//!
//! What a letter told is noted in one step with the letter itself, and last; a kill before it means that the next letter tells
//! the same under the same name.

use super::news::{self, Found, Reminder};
use super::telling;
use crate::clock::Clock;
use crate::config::{Config, Folder};
use crate::deliver::LETTERS;
use crate::digest::{self, Letter, MessageError, Window};
use crate::disk::{Disk, DiskError, Onto, Source};
use crate::ledger::{self, Ledger, LedgerError, Told};
use crate::tile::Content;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
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
    /// The mail.
    #[error(transparent)]
    Message(#[from] MessageError),
    /// The clock of the machine.
    #[error("the machine's clock shows no usable time ({0}); set it")]
    Clock(#[from] jiff::Error),
}

/// A letter that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// Its subject.
    pub subject: String,
    /// The mail.
    pub mail: PathBuf,
    /// The pages.
    pub pages: Vec<PathBuf>,
}

/// The zone that schedules and dates follow: the configured one, else the system's.
#[must_use]
pub fn zone(config: &Config) -> TimeZone {
    config.digest.zone.as_deref().and_then(|name| TimeZone::get(name).ok()).unwrap_or_else(TimeZone::system)
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
    let _lock = disk.lock(&config.state.join("post.lock"))?.ok_or(LetterError::Busy)?;
    write_at(config, disk, ledger, clock.wall())
}

/// As [`write`], at an instant and by who holds the lock.
///
/// # Errors
/// As for [`write`].
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
    let window = Window {
        since: found.last.as_ref().map(|letter| spelled(letter.window_end, &zone)).transpose()?,
        until: spelled(now, &zone)?,
        inventory: picked.inventory,
        kept: picked.kept,
        still: reminders
            .iter()
            .map(|one| Ok(telling::still(one, zoned(one.told.at, &zone)?.strftime("%-d %B").to_string())))
            .collect::<Result<_, jiff::Error>>()?,
        swept: Vec::new(),
        remarks: found.strange.iter().map(|(folder, picture)| telling::remark(folder, picture)).collect(),
    };
    let Some(letter) = digest::letter(&told, &window, &digest::Settings::default()) else { return Ok(None) };
    Ok(Some(Draft {
        letter,
        upto,
        number: ledger.letters()? + 1,
        spoken_of: spoken_of(&found, &picked.told, reminders),
        told: noted(&found, &picked.told, reminders, now),
    }))
}

fn spoken_of(found: &Found<'_>, told: &[usize], reminders: &[Reminder<'_>]) -> BTreeSet<PathBuf> {
    let new = told.iter().filter_map(|&at| found.new.get(at)).map(|new| new.folder);
    let others = found.strange.iter().map(|(folder, _)| *folder).chain(reminders.iter().map(|one| one.folder));
    new.chain(others).map(|folder: &Folder| folder.checked.clone()).collect()
}

/// What noting a letter must say: what it tells, what was known by another name, and when was last called to mind.
fn noted(found: &Found<'_>, told: &[usize], reminders: &[Reminder<'_>], now: SystemTime) -> Vec<Told> {
    let new = told.iter().filter_map(|&at| found.new.get(at)).flat_map(|new| new.told.iter().cloned());
    let called = reminders.iter().map(|one| Told { at: now, ..one.told.clone() });
    new.chain(found.known.iter().cloned()).chain(called).collect()
}

/// Keeps a letter: its mail and its pages, then, in one step, that it was written and what it told.
fn store(
    config: &Config,
    disk: &Disk,
    ledger: &mut Ledger,
    draft: Draft,
    now: SystemTime,
) -> Result<Written, LetterError> {
    let Draft { letter, upto, number, spoken_of, told } = draft;
    // The number makes another try of this very letter take the place of a first that was cut off.
    let stem = format!("{}-letter-{number}", zoned(now, &zone(config))?.strftime("%Y-%m-%d"));
    // Unguessable it need not be, only unlike any other: the changes told, the moment, and the ledger's own folder.
    let id = Content::of(format!("{stem} {upto} {now:?} {}", config.state.display()).as_bytes()).to_string();
    let message_id = format!("<{}@burler.localhost>", &id[..32]);
    let nobody = ["The studio <studio@localhost>".to_string()];
    let to = if config.digest.to.is_empty() { &nobody[..] } else { &config.digest.to[..] };
    let mail = digest::message(&letter, "Burler <burler@localhost>", to, &message_id, now)?;

    let page = digest::page(&letter).into_bytes();
    let mut pages = Vec::new();
    for folder in spoken_of {
        let name = Path::new(LETTERS).join(format!("{stem}.html"));
        put(disk, &folder, &name, page.clone())?;
        pages.push(folder.join(name));
    }
    let letters = config.state.join("letters");
    disk.make_folders(&letters)?;
    let name = PathBuf::from(format!("{stem}.eml"));
    put(disk, &letters, &name, mail)?;
    let mail = letters.join(name);
    let row = ledger::Letter { upto, window_end: now, message_id, file: mail.clone() };
    ledger.note_letter(&row, &told)?;
    Ok(Written { subject: letter.subject, mail, pages })
}

fn put(disk: &Disk, root: &Path, name: &Path, bytes: Vec<u8>) -> Result<(), DiskError> {
    let content = Content::of(&bytes);
    disk.tree(root)?.publish(name, &Source::Bytes(bytes), content, Onto::Anything).map(drop)
}

fn spelled(time: SystemTime, zone: &TimeZone) -> Result<String, jiff::Error> {
    Ok(zoned(time, zone)?.strftime("%A, %-d %B %Y, %H:%M").to_string())
}

fn zoned(time: SystemTime, zone: &TimeZone) -> Result<ZonedDateTime, jiff::Error> {
    Ok(ZonedDateTime::new(Timestamp::try_from(time)?, zone.clone()))
}
