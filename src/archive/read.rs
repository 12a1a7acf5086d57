//! One file of an archive in a lane: opened once, hashed, and inspected where its judgment is not known.
//!
//! Takes a task; yields what was read and the judgment. Opens the file only to read, and changes nothing.

use super::compare::{Reading, is_damage};
use super::lanes::Lane;
use super::plan::Task;
use super::settings::{Settings, Tools};
use super::sheets::Sheet;
use crate::disk::{self, DiskError, Stamp, spelled};
use crate::finding::Verdict;
use crate::ledger::{Ledger, LedgerError};
use crate::pipeline::Wants;
use crate::pipeline::likeness::Likeness;
use crate::pipeline::sketch::Sketch;
use crate::ticket::Ticket;
use crate::tile::Content;
use crate::worker::client::WorkerError;
use crate::worker::job::{Job, Reply};
use std::fs::File;
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// A file that cannot be opened and was written this recently may still be on its way.
const FRESH: Duration = Duration::from_mins(1);

/// What came of one file.
pub(super) enum Seen {
    /// It was read, or only judged; `judged` is absent for damage and where today's judgment is known to hold already.
    Read(Reading, Option<Judged>),
    /// It is no longer there.
    Gone,
    /// It is being written right now.
    Moving,
    /// It cannot be read.
    Failed(String),
    /// Nothing can go on.
    Fatal(Fatal),
}

/// A judgment under today's rules.
pub(super) struct Judged {
    pub ticket: Box<Ticket>,
    /// Whether the ledger had it.
    pub kept: bool,
    /// What is kept to find its twins, where it was inspected.
    pub likeness: Option<Box<Likeness>>,
    /// What is kept to know its drawing under its name again, likewise.
    pub sketch: Option<Box<Sketch>>,
}

pub(super) enum Fatal {
    Ledger(LedgerError),
    Worker(WorkerError),
}

/// Reads and judges one file. The ledger is only asked.
pub(super) fn look(
    lane: &mut Lane<'_>,
    task: &Task,
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
) -> Seen {
    let path = settings.folder.join(&task.path);
    let file = match disk::open(&path) {
        Ok(file) => file,
        Err(error) if error.is_absent() => return Seen::Gone,
        Err(error) => return Seen::Failed(error.to_string()),
    };
    match read(lane, task, settings, tools, ledger, &path, &file) {
        Ok(seen) => seen,
        Err(Failure::File(why)) => Seen::Failed(why),
        Err(Failure::Fatal(fatal)) => Seen::Fatal(fatal),
    }
}

enum Failure {
    File(String),
    Fatal(Fatal),
}

impl From<DiskError> for Failure {
    fn from(error: DiskError) -> Self {
        Self::File(error.to_string())
    }
}

fn read(
    lane: &mut Lane<'_>,
    task: &Task,
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    path: &Path,
    file: &File,
) -> Result<Seen, Failure> {
    let stamp = disk::stamp_open(file, path)?;
    let known = task.known.as_ref();
    let (mut content, mut read) = match known {
        Some(known) if !task.read && known.stamp == stamp => (known.content, false),
        _ => (disk::hash_with(file, path, &mut lane.buffer)?, true),
    };
    let sheet = settings.sheets.for_path(&task.path);
    let at = tools.clock.wall();
    let reading = |content, read| Reading { stamp, content, at, read };
    let holds = known.is_some_and(|known| known.content == content && settings.sheets.is_current(known));
    let damaged = |content| known.is_some_and(|known| is_damage(known, &reading(content, true)));
    let mut judged = None;
    if !holds && !damaged(content) {
        let kept = ledger
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .judgment(&sheet.key(content))
            .map_err(|error| Failure::Fatal(Fatal::Ledger(error)))?;
        judged = match kept {
            Some(ticket) => Some(Judged { ticket: Box::new(ticket), kept: true, likeness: None, sketch: None }),
            None => {
                let Inspected { ticket, likeness, sketch } = inspect(lane, &task.path, settings, sheet, file)?;
                read = true;
                // The worker has hashed what it read: for a file that was only to be judged, that is its reading.
                content = Content::from_hex(&ticket.blake3)
                    .ok_or_else(|| Failure::File("the inspecting process gave no hash".into()))?;
                (!damaged(content)).then_some(Judged { ticket, kept: false, likeness, sketch })
            }
        };
    }
    if settings.nightly {
        // Advice to the system: without it, the file stays cached.
        let _ = rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::DontNeed);
    }
    let is_same = disk::stamp_open(file, path)? == stamp && disk::stamp(path)? == Some(stamp);
    let unfinished =
        judged.as_ref().is_some_and(|judged| judged.ticket.verdict == Verdict::Unreadable) && is_fresh(&stamp, at);
    if !is_same || unfinished {
        return Ok(Seen::Moving);
    }
    Ok(Seen::Read(reading(content, read), judged))
}

/// What a worker found out about a file.
struct Inspected {
    ticket: Box<Ticket>,
    likeness: Option<Box<Likeness>>,
    sketch: Option<Box<Sketch>>,
}

fn inspect(
    lane: &mut Lane<'_>,
    name: &Path,
    settings: &Settings,
    sheet: &Sheet,
    file: &File,
) -> Result<Inspected, Failure> {
    let job = Job {
        name: name.to_string_lossy().into_owned(),
        spec: sheet.spec.clone(),
        // A judgment alone makes no files, so that there is no scratch folder.
        wants: Wants { likeness: true, ..Wants::default() },
        mockup: settings.mockup.clone(),
        scratch: String::new(),
        limits: settings.limits,
        let_pass: None,
    };
    match lane.inspect(&job, file) {
        Ok(Reply::Done { ticket, likeness, sketch, .. }) => Ok(Inspected { ticket, likeness, sketch }),
        Ok(Reply::Failed { why }) | Err(WorkerError::Failed(why)) => Err(Failure::File(why)),
        Err(error @ WorkerError::Start { .. }) => Err(Failure::Fatal(Fatal::Worker(error))),
        Err(error @ WorkerError::Died(_)) => Err(Failure::File(format!("{}: {error}", spelled(name)))),
    }
}

/// By the time of writing, which a copy in progress moves on; the time of a copy that keeps the original's is set at its end.
fn is_fresh(stamp: &Stamp, now: SystemTime) -> bool {
    let now = now.duration_since(UNIX_EPOCH).unwrap_or_default().as_nanos() as i128;
    (0..FRESH.as_nanos() as i128).contains(&(now - stamp.mtime_ns))
}
