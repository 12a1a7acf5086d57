//! `sweep`: looks archives through: whether every file is as it was, and what each tile comes to under today's rules.

use super::progress::Bar;
use super::status::{Failure, Status};
use super::swept::Form;
use super::tidy::{self, What};
use super::words::Demands;
use super::{bench, input, names, plain};
use crate::archive::{self, Company, Report, Rereading, Settings, Sheets, SweepError, Swept, Tools, window};
use crate::clock::Clock;
use crate::config::archives::Archive;
use crate::config::{Config, places};
use crate::daemon::swept::roots;
use crate::disk::{Disk, Lock, spelled};
use crate::ledger::Ledger;
use crate::worker::job::Limits;
use jiff::Timestamp;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Words of `sweep`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Archives of the configuration, or folders [default: every archive of the configuration]
    #[arg(value_name = "ARCHIVE")]
    pub archives: Vec<PathBuf>,
    /// Read every file again in full, not only tonight's share
    #[arg(long)]
    pub full: bool,
    /// One line of JSON for every tile, and one of counts at the end
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// One line of comma-separated values for every tile, below a line of names
    #[arg(long)]
    pub csv: bool,
    /// Say what is there and what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Where mended copies and pictures of a folder that is not configured go [default: checked]
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Only tell: mend nothing and draw no pictures
    #[arg(long)]
    pub no_mend: bool,
    /// Put away what does not belong: into quarantine in the output folder; nothing is deleted [default: leftovers]
    #[arg(long, value_name = "WHAT", num_args = 0..=1, require_equals = true, default_missing_value = "leftovers")]
    pub tidy: Option<What>,
    /// Put back exactly what was put away on a date, such as 2026-11-27; sweeps nothing
    #[arg(long, value_name = "DATE", conflicts_with_all = ["tidy", "full", "csv", "scheduled"])]
    pub undo: Option<String>,
    /// As the nightly sweep: with low priority, and only within the time window of the configuration
    #[arg(long)]
    pub scheduled: bool,
    /// What the tiles of a folder that is not configured are judged against.
    #[command(flatten)]
    pub demands: Demands,
}

/// Sweeps each archive named, or all. Status 1 when some tile is damaged, needs the artist or cannot be opened; a scheduled
/// sweep tells that in the letter alone.
///
/// # Errors
/// When words or configuration are wrong, another sweep runs, an archive is not there, or something cannot be read or written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::configuration(settings)?;
    let archives = chosen(words, &config, settings)?;
    if words.scheduled {
        archive::lightly().iter().for_each(|undone| tracing::warn!("{undone}"));
    }
    let (disk, clock) = (Disk::new(), Clock::start());
    if let Some(date) = &words.undo {
        let _duty = (!words.dry_run).then(|| archive::duty(&disk, &config.state)).transpose().map_err(failed)?;
        let archives: Vec<&Archive> = archives.iter().map(|(archive, _)| archive).collect();
        return tidy::put_back(date, &archives, &disk, words.json, words.dry_run);
    }
    let open = Open::new(words, &config, &disk)?;
    let mut status = Status::Fine;
    let form = match (words.json, words.csv) {
        (true, _) => Form::Json,
        (false, true) => Form::Csv,
        (false, false) => Form::Table,
    };
    form.begin();
    for (archive, default) in &archives {
        match one(words, &config, archive, default, &open, clock, &disk) {
            Ok(Some(swept)) => {
                form.tell(archive, &swept, &open.ledger, words.dry_run).map_err(Failure::io)?;
                status = status.or(outcome(&swept.report));
            }
            Ok(None) => {}
            Err(failure) => {
                plain::tell(&failure);
                status = status.or(failure.status);
            }
        }
    }
    // The nightly sweep has done what it should when it could look; what it saw stands in the ledger.
    Ok(if words.scheduled && status == Status::Held { Status::Fine } else { status })
}

fn outcome(report: &Report) -> Status {
    let (files, tiles) = (&report.integrity, &report.verdicts);
    if !report.troubles.is_empty() {
        Status::InputOutput
    } else if files.damaged + tiles.held + tiles.unreadable > 0 {
        Status::Held
    } else {
        Status::Fine
    }
}

/// What is open while sweeping.
struct Open {
    ledger: Mutex<Ledger>,
    roots: archive::Roots,
    /// The duty is this process's alone; a dry run changes nothing and needs no lock.
    _duty: Option<Lock>,
    /// Stands in for the ledger of a dry run where there is none yet.
    _blank: Option<tempfile::TempDir>,
}

impl Open {
    fn new(words: &Arguments, config: &Config, disk: &Disk) -> Result<Self, Failure> {
        let file = config.state.join("ledger.sqlite");
        let (mut duty, mut blank) = (None, None);
        let ledger = if !words.dry_run {
            duty = Some(archive::duty(disk, &config.state).map_err(failed)?);
            Ledger::open(disk, &file)
        } else if file.exists() {
            Ledger::open_to_read(&file)
        } else {
            let folder = tempfile::tempdir()
                .map_err(|error| Failure::io(format!("cannot make a scratch folder: {error}; free some space")))?;
            let ledger = Ledger::open(disk, &folder.path().join("ledger.sqlite"));
            blank = Some(folder);
            ledger
        };
        let ledger = Mutex::new(ledger.map_err(Failure::io)?);
        Ok(Self { ledger, roots: roots(config), _duty: duty, _blank: blank })
    }
}

/// The archives that the words name, each with the spec for tiles whose folders name none.
fn chosen(
    words: &Arguments,
    config: &Config,
    settings: Option<&Path>,
) -> Result<Vec<(Archive, crate::spec::Spec)>, Failure> {
    let of = |archive: &Archive| {
        let spec = archive.spec.as_ref().and_then(|name| config.specs.get(name)).cloned();
        (archive.clone(), spec.unwrap_or_default())
    };
    if words.archives.is_empty() {
        if config.archives.is_empty() {
            let file = settings.map_or_else(|| places::Home::from_environment().config, Path::to_path_buf);
            return Err(Failure::configuration(format!(
                "{}: no archive to sweep; add [archive.prints] with folder = \"…\", or name a folder: burler sweep FOLDER",
                spelled(&file)
            )));
        }
        return Ok(config.archives.iter().map(of).collect());
    }
    words
        .archives
        .iter()
        .map(|word| {
            let named = config.archives.iter().find(|archive| Path::new(&archive.name) == word);
            if let Some(archive) = named {
                return Ok(of(archive));
            }
            if !word.is_dir() {
                let known: Vec<&str> = config.archives.iter().map(|archive| archive.name.as_str()).collect();
                let remedy = match known.as_slice() {
                    [] => "name a folder, or add [archive.NAME] to the configuration".to_string(),
                    known => crate::config::complaint::nearest(&word.to_string_lossy(), known),
                };
                return Err(Failure::usage(format!("{} is neither a folder nor an archive; {remedy}", spelled(word))));
            }
            let real = places::real(word);
            match config.archives.iter().find(|archive| places::real(&archive.folder) == real) {
                Some(archive) => Ok(of(archive)),
                None => Ok((loose(words, config, &real)?, input::spec(&words.demands, config, &real)?)),
            }
        })
        .collect()
}

/// A folder that is no configured archive, under its own path as a name.
fn loose(words: &Arguments, config: &Config, folder: &Path) -> Result<Archive, Failure> {
    let checked = words.output.clone().unwrap_or_else(|| "checked".into());
    let checked = std::path::absolute(checked).map_err(Failure::io)?;
    let archive = Archive { checked, mend: !words.no_mend, ..Archive::of(&folder.to_string_lossy(), folder) };
    let mut all = config.places();
    // Without mending there is no output folder that could lie anywhere.
    let writes = archive.mend || words.tidy.is_some() || words.undo.is_some();
    all.extend(archive.places().into_iter().take(if writes { 2 } else { 1 }));
    if let Some((one, other)) = places::overlap(&all) {
        let own = format!("archive.{}", archive.name);
        let say = |place: &places::Place| match place.entry == own {
            true if place.path == archive.checked => format!("the output folder ({})", spelled(&place.path)),
            true => format!("the folder to sweep ({})", spelled(&place.path)),
            false => format!("{} ({})", place.what, spelled(&place.path)),
        };
        return Err(Failure::usage(format!(
            "{} and {} overlap, and nothing is ever written among originals; choose another --output, or sweep another folder",
            say(one),
            say(other)
        )));
    }
    Ok(archive)
}

/// Sweeps one archive; `None` when it is not the time for it.
fn one(
    words: &Arguments,
    config: &Config,
    archive: &Archive,
    default: &crate::spec::Spec,
    open: &Open,
    clock: Clock,
    disk: &Disk,
) -> Result<Option<Swept>, Failure> {
    let zone = crate::daemon::hours::zone(config);
    let until = match archive.until.filter(|_| words.scheduled) {
        None => None,
        Some(until) => {
            let now = Timestamp::try_from(clock.wall()).map_err(Failure::io)?;
            let Some(end) = window::end(archive.at, until, &zone, now) else {
                tracing::info!("{}: outside its hours, so nothing is swept", archive.name);
                return Ok(None);
            };
            Some(end)
        }
    };
    let tidied = match words.tidy {
        Some(what) => tidy::tidy(what, config, archive, &open.ledger, (disk, clock), words.dry_run)?,
        None => None,
    };
    let program = std::env::current_exe()
        .map_err(|error| Failure::io(format!("cannot find Burler's own executable: {error}")))?;
    let settings = Settings {
        name: archive.name.clone(),
        folder: archive.folder.clone(),
        checked: archive.checked.clone(),
        sheets: Sheets::new(default.clone(), &config.specs),
        rereading: Rereading { within: archive.verify, all: words.full },
        untouched: archive.tidy_after,
        mend: archive.mend && !words.no_mend,
        dry_run: words.dry_run,
        mockup: bench::mockup_settings(config),
        limits: Limits { memory: config.worker_memory, time: config.worker_time },
        lanes: std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(2),
        nightly: words.scheduled,
    };
    let tools = Tools { disk: disk.clone(), clock, program, scratch: config.state.join("scratch") };
    let stop = move || until.is_some_and(|end| Timestamp::try_from(clock.wall()).is_ok_and(|now| now >= end));
    let mut bar = Bar::new(&archive.name, clock);
    let mut progress = |progress| bar.show(progress);
    let mut company = Company { stop: &stop, progress: &mut progress, roots: &open.roots };
    let swept = archive::look_through(&settings, &tools, &open.ledger, &mut company).map_err(failed);
    bar.end();
    swept.and_then(|mut swept| {
        if let Some(pattern) = archive.pattern() {
            let told = names::remarks(&pattern, &open.ledger, &swept).map_err(Failure::io)?;
            swept.report.names.extend(told);
        }
        if let Some(tidied) = tidied {
            tidied.tell(&mut swept.report);
            archive::told_once(&mut swept.report);
        }
        // One that ended before its end has not seen all twins, and would take those it missed for gone.
        if !words.dry_run && swept.report.is_whole() && !stop() {
            let mut ledger = open.ledger.lock().unwrap_or_else(PoisonError::into_inner);
            ledger.note_remarks(&archive.name, &archive::for_letters(&swept.report)).map_err(Failure::io)?;
        }
        Ok(Some(swept))
    })
}

fn failed(error: SweepError) -> Failure {
    match error {
        error @ SweepError::Busy { .. } => Failure::new(Status::Busy, error),
        error => Failure::io(error),
    }
}
