//! `sweep --tidy` and `sweep --undo`: puts away what does not belong in an archive, and puts it back.

use super::plain::{answer, printable};
use super::status::{Failure, Status};
use super::swept::hexes;
use crate::archive::quarantine::{self, QUARANTINE, Site, may_go};
use crate::archive::stray::{self, Kind, Stray};
use crate::archive::undo::{Undone, undo};
use crate::archive::{self, Report, SweepError, tidying};
use crate::clock::Clock;
use crate::config::Config;
use crate::config::archives::Archive;
use crate::disk::{Disk, spelled};
use crate::ledger::{Change, Ledger, archive_folder};
use crate::ticket::swept;
use jiff::Timestamp;
use jiff::civil::Date;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

/// What is put away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum What {
    /// Leftovers, empty files, files of systems, copies that are exactly the same
    Leftovers,
    /// These, and every file that is not an image
    All,
}

/// What tidying came to, to be told with the sweep that follows.
pub struct Outcome {
    away: Vec<(PathBuf, Kind)>,
    /// Strays that are still there, in a dry run: the sweep finds them too.
    rest: Option<Vec<Stray>>,
    folder: String,
    date: Date,
    left: Vec<String>,
}

fn site(archive: &Archive) -> Site<'_> {
    Site { archive: &archive.name, folder: &archive.folder, checked: &archive.checked }
}

/// Puts away what may be, before the archive is swept; a dry run only finds out what that would be.
///
/// # Errors
/// When the disk or the ledger fails.
pub fn tidy(
    what: What,
    config: &Config,
    archive: &Archive,
    ledger: &Mutex<Ledger>,
    (disk, clock): (&Disk, Clock),
    dry_run: bool,
) -> Result<Option<Outcome>, Failure> {
    if !archive.folder.is_dir() {
        // The sweep says so.
        return Ok(None);
    }
    let now = clock.wall();
    let made = Timestamp::try_from(now).map_err(Failure::io)?;
    let date = crate::daemon::hours::zone(config).to_datetime(made).date();
    let all = what == What::All;
    let rows = archive::rows(&archive.folder, &archive::list(&archive.folder), now, &|_| None);
    let strays = stray::judge_older(&rows, archive.tidy_after);
    let folder = spelled(&archive.checked.join(QUARANTINE).join(date.to_string()));
    if dry_run {
        let (away, rest): (Vec<Stray>, Vec<Stray>) = strays.into_iter().partition(|stray| may_go(stray, all));
        let away = away.into_iter().map(|stray| (stray.path, stray.kind)).collect();
        return Ok(Some(Outcome { away, rest: Some(rest), folder, date, left: Vec::new() }));
    }
    let mut begun = |paths: &[PathBuf]| forget(archive, ledger, paths);
    let tidied = quarantine::tidy(disk, site(archive), date, made, (&strays, all), &mut begun).map_err(Failure::io)?;
    let folder = tidied.folder.as_deref().map_or(folder, spelled);
    Ok(Some(Outcome { away: tidied.away, rest: None, folder, date, left: tidied.left }))
}

/// What the ledger knows of tiles that are put away is struck, so that no sweep misses them.
fn forget(archive: &Archive, ledger: &Mutex<Ledger>, paths: &[PathBuf]) -> Result<(), SweepError> {
    let mut ledger = ledger.lock().unwrap_or_else(PoisonError::into_inner);
    let known = ledger.members(&archive.name)?;
    let struck: Vec<Change> = known
        .into_iter()
        .filter(|member| paths.binary_search(&member.path).is_ok())
        .map(|member| Change::Strike(member.path))
        .collect();
    if !struck.is_empty() {
        ledger.apply(&archive_folder(&archive.name), &struck)?;
    }
    Ok(())
}

impl Outcome {
    /// Adds what was put away to what the sweep found.
    pub fn tell(self, report: &mut Report) {
        let dry_run = self.rest.is_some();
        if let Some(rest) = &self.rest {
            report.strays = tidying::remarks(rest);
        }
        let away = tidying::put_away(&self.away, &self.folder, &self.date.to_string(), dry_run);
        report.strays.splice(0..0, away);
        report.troubles.extend(self.left);
    }
}

/// Puts back in each archive what was put away on a date.
///
/// # Errors
/// When the word is no date, nothing was put away then, or the disk fails.
pub fn put_back(word: &str, archives: &[&Archive], disk: &Disk, json: bool, dry_run: bool) -> Result<Status, Failure> {
    let date: Date = word.parse().map_err(|_| {
        Failure::usage(format!("{word:?} is no date; write it as 2026-11-27, as the folder in {QUARANTINE} is named"))
    })?;
    let dates = |archive: &&Archive| quarantine::dates(&archive.checked);
    let meant: Vec<_> = archives.iter().filter(|archive| dates(archive).contains(&date)).collect();
    if meant.is_empty() {
        let mut known: Vec<String> = archives.iter().flat_map(dates).map(|date| date.to_string()).collect();
        known.dedup();
        let remedy = match known.as_slice() {
            [] => "nothing ever was".to_string(),
            known => format!("something was on {}", known.join(", ")),
        };
        return Err(Failure::usage(format!("nothing was put away on {date}; {remedy}")));
    }
    let mut status = Status::Fine;
    for archive in meant {
        let undone = undo(disk, site(archive), date, dry_run).map_err(Failure::io)?;
        if !undone.troubles.is_empty() {
            status = status.or(Status::InputOutput);
        }
        if json { lines(archive, undone, dry_run)? } else { answer(table(archive, &undone, dry_run).trim_end()) }
    }
    Ok(status)
}

fn lines(archive: &Archive, undone: Undone, dry_run: bool) -> Result<(), Failure> {
    let says = if dry_run { "would be put back" } else { "put back" };
    let back = undone.back.iter().map(|path| ("undone", std::slice::from_ref(path), says.to_string()));
    let troubles = undone.troubles.into_iter().map(|trouble| ("undone.trouble", &[][..], trouble));
    for (kind, paths, says) in back.chain(troubles) {
        let remark = swept::Remark {
            archive: archive.name.clone(),
            kind: kind.into(),
            files: paths.iter().map(|path| path.to_string_lossy().into_owned()).collect(),
            files_hex: hexes(paths),
            says,
            remedy: String::new(),
        };
        answer(&swept::Line::Remark(remark).to_line().map_err(Failure::io)?);
    }
    Ok(())
}

fn table(archive: &Archive, undone: &Undone, dry_run: bool) -> String {
    let files = |number: usize| if number == 1 { "1 file".to_string() } else { format!("{number} files") };
    let one = undone.back.len() == 1;
    let verb = match (dry_run, one) {
        (true, _) => "would be put back",
        (false, true) => "is back",
        (false, false) => "are back",
    };
    let mut out = format!("{}: {} {verb}", printable(&archive.name), files(undone.back.len()));
    if undone.already > 0 {
        out.push_str(&format!("; {} in place already", undone.already));
    }
    out.push('\n');
    for path in &undone.back {
        out.push_str(&format!("  {}\n", printable(&path.to_string_lossy())));
    }
    for trouble in &undone.troubles {
        out.push_str(&format!("  {}\n", printable(trouble)));
    }
    out
}
