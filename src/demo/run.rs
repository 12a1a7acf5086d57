//! Running the demo: saves the tiles as a sync client would, lets the real daemon work, and compares what came with what
//! was promised.
//!
//! Here Burler plays the designer too, so it writes into an exports folder of its own making and nowhere else.

use super::piece::{DrawError, Piece};
use crate::clock::Clock;
use crate::deliver::Role;
use crate::disk::{self, Disk, DiskError, Onto, Source};
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::ledger::{Ledger, LedgerError, OutputState, StandingState};
use crate::tile::Content;
use rustix::process::{Pid, Signal, kill_process};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use thiserror::Error;

/// The file by which a folder is known to be a demo's.
const MARK: &str = "burler-demo.txt";
const MARK_TEXT: &str = "This folder was made by `burler demo`. Everything in it may be deleted.\n";
/// How long everything may take to settle after the last tile was saved.
const PATIENCE: Duration = Duration::from_secs(120);
const PAUSE: Duration = Duration::from_millis(50);
/// The piece that arrives slowly comes in so many parts.
const PARTS: usize = 6;

/// Why the demo could not run to its end.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The folder holds something else.
    #[error("{} is not empty and was not made by the demo; name another folder, or none for a fresh one", .0.display())]
    NotOurs(PathBuf),
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// A tile could not be drawn.
    #[error(transparent)]
    Draw(#[from] DrawError),
    /// The daemon could not be started or ended early.
    #[error("the daemon of the demo {what}; see {}", .log.display())]
    Daemon {
        /// What happened.
        what: String,
        /// Its log.
        log: PathBuf,
    },
}

/// What came of one piece.
#[derive(Clone, Debug)]
pub struct Came {
    /// Its path under the exports folder.
    pub path: String,
    /// What it shows.
    pub why: &'static str,
    /// What was promised.
    pub promised: (Verdict, Vec<Kind>),
    /// What came; `None` when it did not settle in time.
    pub got: Option<(Verdict, Vec<Kind>)>,
    /// Whether the original still has the bytes it was saved with.
    pub untouched: bool,
    /// Where to look first.
    pub look_at: Option<PathBuf>,
}

impl Came {
    /// Whether what came is what was promised.
    #[must_use]
    pub fn kept(&self) -> bool {
        self.untouched && self.got.as_ref() == Some(&self.promised)
    }
}

/// The folders of one demo.
#[derive(Clone, Debug)]
pub struct Stage {
    /// The folder of the demo.
    pub root: PathBuf,
}

impl Stage {
    /// Makes the folders and the configuration in `root`.
    ///
    /// # Errors
    /// When the folder holds something else, or cannot be written.
    pub fn set(root: &Path) -> Result<Self, DemoError> {
        let disk = Disk::new();
        disk.make_folders(root)?;
        let taken = root.read_dir().is_ok_and(|mut entries| entries.next().is_some());
        if taken && !root.join(MARK).is_file() {
            return Err(DemoError::NotOurs(root.into()));
        }
        disk.write_scratch(&root.join(MARK), MARK_TEXT.as_bytes())?;
        let stage = Self { root: root.into() };
        disk.make_folders(&stage.exports())?;
        let config = format!(
            "[state]\nfolder = \"state\"\n\n[folder.studio]\nexports = \"exports\"\n\n[settle]\nquiet = \"1 s\"\ngrace = \"3 s\"\n\n\
             [worker]\ncount = 2\n\n{}",
            include_str!("specs.toml")
        );
        disk.write_scratch(&stage.config(), config.as_bytes())?;
        Ok(stage)
    }

    /// The folder the tiles are saved into.
    #[must_use]
    pub fn exports(&self) -> PathBuf {
        self.root.join("exports")
    }

    /// The output folder.
    #[must_use]
    pub fn checked(&self) -> PathBuf {
        self.root.join("checked")
    }

    /// The configuration.
    #[must_use]
    pub fn config(&self) -> PathBuf {
        self.root.join("burler.toml")
    }

    fn ledger(&self) -> PathBuf {
        self.root.join("state/ledger.sqlite")
    }

    fn log(&self) -> PathBuf {
        self.root.join("watch.log")
    }
}

/// Runs the demo to its end. `program` is our own executable; `say` hears what is going on.
///
/// # Errors
/// When something beside the promises fails.
pub fn run(stage: &Stage, pieces: &[Piece], program: &Path, say: &mut dyn FnMut(&str)) -> Result<Vec<Came>, DemoError> {
    let clock = Clock::start();
    let mut daemon = Daemon::start(stage, program)?;
    let mut contents = Vec::new();
    for (number, piece) in pieces.iter().enumerate() {
        say(&format!("saving {} of {}: {}", number + 1, pieces.len(), piece.path()));
        let bytes = piece.draw()?;
        contents.push(Content::of(&bytes));
        // One of them comes over a slow line.
        save(&stage.exports(), piece, &bytes, number == 1)?;
        daemon.still_runs()?;
    }
    let deadline = clock.tick().after(PATIENCE);
    let mut settled = 0;
    while settled < pieces.len() && clock.tick() < deadline {
        daemon.still_runs()?;
        std::thread::sleep(PAUSE);
        let now = all_settled(stage, pieces)?;
        if now != settled {
            settled = now;
            say(&format!("{settled} of {} settled after {:.0} s", pieces.len(), clock.tick().0.as_secs_f64()));
        }
    }
    daemon.stop()?;
    let ledger = Ledger::open_to_read(&stage.ledger())?;
    pieces.iter().zip(contents).map(|(piece, content)| came(stage, &ledger, piece, content)).collect()
}

/// Saves a piece: under a temporary name and renamed, or slowly under its own name.
fn save(exports: &Path, piece: &Piece, bytes: &[u8], slowly: bool) -> Result<(), DemoError> {
    let disk = Disk::new();
    let path = PathBuf::from(piece.path());
    let target = exports.join(&path);
    if disk::hash_named(&target).is_ok_and(|there| there == Content::of(bytes)) {
        return Ok(());
    }
    disk.make_folders(target.parent().unwrap_or(exports))?;
    if slowly {
        disk.write_scratch(&target, &[])?;
        for part in bytes.chunks(bytes.len().div_ceil(PARTS).max(1)) {
            disk.append_scratch(&target, part)?;
            std::thread::sleep(PAUSE * 4);
        }
    } else {
        let source = Source::Bytes(bytes.to_vec());
        disk.tree(exports)?.publish(&path, &source, Content::of(bytes), Onto::Anything)?;
    }
    Ok(())
}

/// How many pieces have a finished standing for the file as it is.
fn all_settled(stage: &Stage, pieces: &[Piece]) -> Result<usize, DemoError> {
    if !stage.ledger().exists() {
        return Ok(0);
    }
    let ledger = Ledger::open_to_read(&stage.ledger())?;
    let mut settled = 0;
    for piece in pieces {
        let path = PathBuf::from(piece.path());
        let stamp = disk::stamp(&stage.exports().join(&path))?;
        let standing = ledger.standing("studio", &path)?;
        settled += usize::from(
            standing.is_some_and(|standing| standing.state == StandingState::Present && Some(standing.stamp) == stamp),
        );
    }
    Ok(settled)
}

fn came(stage: &Stage, ledger: &Ledger, piece: &Piece, content: Content) -> Result<Came, DemoError> {
    let path = PathBuf::from(piece.path());
    let untouched = disk::hash_named(&stage.exports().join(&path)).is_ok_and(|now| now == content);
    let mut came = Came {
        path: piece.path(),
        why: piece.why,
        promised: (piece.promised, piece.kinds.to_vec()),
        got: None,
        untouched,
        look_at: None,
    };
    let Some(standing) = ledger.standing("studio", &path)? else { return Ok(came) };
    if standing.state != StandingState::Present || standing.key.content != content {
        return Ok(came);
    }
    let entry = ledger.entry(standing)?;
    let findings = entry.ticket.as_ref().map_or(&[][..], |ticket| &ticket.findings);
    came.got = Some((entry.standing.verdict, told_kinds(findings)));
    let first = |role: Role| {
        let output = entry.outputs.iter().find(|output| output.role == role && output.state == OutputState::Published);
        output.map(|output| output.file.clone())
    };
    came.look_at = first(Role::Held).or_else(|| first(Role::Repeat)).or_else(|| first(Role::Ready));
    Ok(came)
}

/// The kinds of the findings that count, in the order of the vocabulary, each once.
fn told_kinds(findings: &[Finding]) -> Vec<Kind> {
    let counts = |finding: &&Finding| !finding.silenced && finding.grade > Grade::Advice;
    let mut kinds: Vec<Kind> = findings.iter().filter(counts).map(|finding| finding.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds
}

/// The real daemon, as its own process.
struct Daemon {
    child: Child,
    log: PathBuf,
}

impl Daemon {
    fn start(stage: &Stage, program: &Path) -> Result<Self, DemoError> {
        let log = stage.log();
        let failed = |error: std::io::Error| DemoError::Daemon {
            what: format!("could not be started: {error}"),
            log: stage.log(),
        };
        let sink = Disk::new().create_scratch(&log)?;
        let child = Command::new(program)
            .args(["watch", "--config"])
            .arg(stage.config())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(sink)
            .spawn()
            .map_err(failed)?;
        Ok(Self { child, log })
    }

    fn still_runs(&mut self) -> Result<(), DemoError> {
        match self.child.try_wait() {
            Ok(None) => Ok(()),
            Ok(Some(status)) => {
                Err(DemoError::Daemon { what: format!("ended early: {status}"), log: self.log.clone() })
            }
            Err(error) => Err(DemoError::Daemon { what: format!("is lost: {error}"), log: self.log.clone() }),
        }
    }

    /// Asks it to stop as the system would, and waits for its end.
    fn stop(mut self) -> Result<(), DemoError> {
        let failed = |what: String, log: &Path| DemoError::Daemon { what, log: log.into() };
        kill_process(Pid::from_child(&self.child), Signal::TERM)
            .map_err(|error| failed(format!("could not be stopped: {error}"), &self.log))?;
        let status = self.child.wait().map_err(|error| failed(format!("is lost: {error}"), &self.log))?;
        if status.success() { Ok(()) } else { Err(failed(format!("did not stop cleanly: {status}"), &self.log)) }
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // Only when the demo fails on the way; a daemon that has been waited for is not hit.
        if let Ok(None) = self.child.try_wait() {
            self.child.kill().ok();
            self.child.wait().ok();
        }
    }
}
