//! Letters: what changed in the ledger since the last one becomes a mail in the outbox and a page in each output folder it
//! speaks of.

use super::mail::{self, Written};
use super::shop::STRANGE;
use crate::clock::Clock;
use crate::codec;
use crate::config::{Config, Folder};
use crate::deliver::{LET_PASS, LETTERS};
use crate::digest::outbox::OutboxError;
use crate::digest::{self, Preview, Remark, Window};
use crate::disk::{self, Disk, DiskError};
use crate::finding::Verdict;
use crate::ledger::{self, Ledger, LedgerError, LetPass, OutputState, Role, StandingState};
use crate::ticket::Ticket;
use crate::tile::Content;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use std::collections::BTreeSet;
use std::path::Path;
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

/// The zone that schedules and dates follow: the configured one, else the system's.
#[must_use]
pub fn zone(config: &Config) -> TimeZone {
    config.digest.zone.as_deref().and_then(|name| TimeZone::get(name).ok()).unwrap_or_else(TimeZone::system)
}

/// When the last letter was written.
///
/// # Errors
/// When the ledger cannot be read.
pub fn last(ledger: &Ledger) -> Result<Option<Timestamp>, LedgerError> {
    Ok(ledger.last_letter()?.and_then(|letter| Timestamp::try_from(letter.window_end).ok()))
}

/// Writes the letter of everything new; `None` when there is nothing to tell.
///
/// # Errors
/// When another one is being written, or something cannot be read or written. Nothing is lost then.
pub fn write(config: &Config, disk: &Disk, ledger: &mut Ledger, clock: Clock) -> Result<Option<Written>, LetterError> {
    let _lock = disk.lock(&config.state.join("letter.lock"))?.ok_or(LetterError::Busy)?;
    let now = clock.wall();
    let zone = zone(config);
    let before = ledger.last_letter()?;
    let upto = ledger.last_change()?;
    let rows = ledger.entries_since(before.as_ref().map_or(0, |letter| letter.upto))?;
    let told: Vec<(&Folder, ledger::Entry)> = rows
        .into_iter()
        .filter(|row| row.standing.state == StandingState::Present)
        .filter_map(|row| Some((config.folders.iter().find(|folder| folder.name == row.standing.folder)?, row)))
        .collect();
    let entries: Vec<digest::Entry> = told.iter().map(|(folder, row)| entry(folder, row)).collect();
    let strange: Vec<(&Folder, LetPass)> = ledger
        .strangers_since(before.as_ref().map_or(0, |letter| letter.upto))?
        .into_iter()
        .filter_map(|(name, picture)| Some((config.folders.iter().find(|folder| folder.name == name)?, picture)))
        .collect();
    let window = Window {
        since: before.map(|letter| spelled(letter.window_end, &zone)).transpose()?,
        until: spelled(now, &zone)?,
        remarks: strange.iter().map(|(folder, picture)| remark(folder, picture)).collect(),
    };
    let mut window = window;
    if !entries.is_empty() || !window.remarks.is_empty() {
        window.remarks.extend(mail::remarks(config, ledger)?);
    }
    let Some(letter) = digest::letter(&entries, &window, &digest::Settings::default()) else { return Ok(None) };

    let stem = format!("{}-letter-{upto}", zoned(now, &zone)?.strftime("%Y-%m-%d-%H-%M"));
    let spoken_of = told.iter().map(|(folder, _)| folder).chain(strange.iter().map(|(folder, _)| folder));
    let checked: BTreeSet<&Path> = spoken_of.map(|folder| folder.checked.as_path()).collect();
    let name = Path::new(LETTERS).join(format!("{stem}.html"));
    let pages = checked.into_iter().map(|folder| folder.join(&name)).collect();
    Ok(Some(mail::queue(config, disk, ledger, mail::Rendered { letter, upto, now, name: stem, pages })?))
}

fn entry(folder: &Folder, row: &ledger::Entry) -> digest::Entry {
    let standing = &row.standing;
    let published =
        |role: Role| row.outputs.iter().find(|output| output.role == role && output.state == OutputState::Published);
    let (main, pictured): (&[Role], Role) = match standing.verdict {
        Verdict::Held | Verdict::Unreadable => (&[Role::Held], Role::Held),
        Verdict::Sound | Verdict::Mended | Verdict::Mendable => {
            (&[Role::Ready, Role::ReadyAsPng, Role::BeforeAfter], Role::Repeat)
        }
    };
    let wants_picture = !matches!(standing.verdict, Verdict::Sound);
    digest::Entry {
        folder: folder.name.clone(),
        tile: standing.path.to_string_lossy().into_owned(),
        verdict: standing.verdict,
        findings: row.ticket.as_ref().map(|ticket| ticket.findings.clone()).unwrap_or_default(),
        original: folder.exports.join(&standing.path).to_string_lossy().into_owned(),
        outputs: main
            .iter()
            .filter_map(|role| published(*role))
            .map(|output| folder.checked.join(&output.file).to_string_lossy().into_owned())
            .collect(),
        picture: published(pictured)
            .filter(|_| wants_picture)
            .and_then(|output| small(&folder.checked.join(&output.file), output.content)),
        notes: let_pass(row).chain(edited(row)).chain(published(Role::PartlyMended).map(go_on)).collect(),
    }
}

/// What the artist let pass of a tile.
fn let_pass(row: &ledger::Entry) -> impl Iterator<Item = String> {
    let meant = |ticket: &Ticket| -> Vec<String> {
        ticket.let_pass.iter().filter_map(|at| Some(ticket.findings.get(*at)?.says.clone())).collect()
    };
    let meant = row.ticket.as_ref().map(meant).unwrap_or_default();
    meant.into_iter().map(|says| format!("let pass by you: {says}"))
}

fn edited(row: &ledger::Entry) -> impl Iterator<Item = String> {
    let edited = row.outputs.iter().filter(|output| output.state == OutputState::Edited);
    edited.map(|output| format!("someone changed {}, so it was left alone", output.file.to_string_lossy()))
}

fn go_on(partly: &ledger::Output) -> String {
    let file = partly.file.to_string_lossy();
    format!("what can be mended is mended in {file}, which you can go on with; nothing else is changed there")
}

fn remark(folder: &Folder, picture: &LetPass) -> Remark {
    let file = folder.checked.join(LET_PASS).join(&picture.path);
    Remark { name: file.to_string_lossy().into_owned(), says: STRANGE.into() }
}

/// A published picture made small, if it still has the bytes Burler wrote: nothing else is decoded in this process.
fn small(file: &Path, content: Content) -> Option<Preview> {
    let bytes = disk::read_bytes(file).ok().filter(|bytes| Content::of(bytes) == content)?;
    let tile = codec::decode(&bytes, &codec::Limits::default(), Vec::new()).ok()?;
    digest::preview(&tile.raster).ok()
}

fn spelled(time: SystemTime, zone: &TimeZone) -> Result<String, jiff::Error> {
    Ok(zoned(time, zone)?.strftime("%A, %-d %B %Y, %H:%M").to_string())
}

fn zoned(time: SystemTime, zone: &TimeZone) -> Result<ZonedDateTime, jiff::Error> {
    Ok(ZonedDateTime::new(Timestamp::try_from(time)?, zone.clone()))
}
