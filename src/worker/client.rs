//! The side that sends jobs: starts workers, waits for answers, notices deaths, and retries one once, in a fresh process.

use super::frame;
use super::job::{Answer, Errand, Job, Limits, Reply};
use super::products;
use crate::codec;
use crate::disk::{self, DiskError};
use crate::finding::{Finding, Grade, Kind, rounded};
use crate::pipeline;
use std::ffi::OsString;
use std::fs::File;
use std::io;
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::os::unix::net::UnixStream;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use thiserror::Error;

/// How a worker ended without an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Death {
    /// It took longer than allowed.
    Slow(Duration),
    /// It asked for more memory than allowed and gave up.
    Hungry(u64),
    /// It ended by a signal or by itself.
    Crashed(String),
}

impl Death {
    /// What the designer reads: what happened to the file.
    #[must_use]
    pub fn says(&self) -> String {
        match self {
            Self::Slow(time) => {
                format!("looking at it took longer than {} s and was given up", rounded(time.as_secs_f64()))
            }
            Self::Hungry(memory) => {
                format!("looking at it needs more than {} GB of memory", rounded(*memory as f64 / 1e9))
            }
            Self::Crashed(_) => "looking at it failed twice; the file may be damaged".into(),
        }
    }

    /// What the designer can do.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Slow(_) | Self::Hungry(_) => {
                "export one repeat only, or at a lower resolution, or allow more under [worker] in the configuration"
            }
            Self::Crashed(_) => "open the file in your drawing program and export it again",
        }
    }
}

/// Why there is no answer.
#[derive(Debug, Error)]
pub enum WorkerError {
    /// The worker process cannot be started.
    #[error("cannot start the inspecting process {}: {source}; check that Burler is installed completely", .program.display())]
    Start {
        /// Our own executable.
        program: PathBuf,
        /// The system's word.
        source: io::Error,
    },
    /// A worker ended without an answer.
    #[error("the inspecting process ended: {0:?}")]
    Died(Death),
    /// The worker could not do its part.
    #[error("{0}")]
    Failed(String),
}

/// Only a worker of another build could answer so.
const OTHERWISE: &str =
    "the inspecting process answered what it was not asked; check that Burler is installed completely";

struct Running {
    child: Child,
    socket: UnixStream,
}

/// A worker that is started when needed and again after a death.
pub struct Worker {
    program: PathBuf,
    running: Option<Running>,
}

impl Worker {
    /// A worker of this executable, not yet started.
    #[must_use]
    pub fn of(program: &Path) -> Self {
        Self { program: program.to_path_buf(), running: None }
    }

    /// Sends a job and waits for its answer.
    ///
    /// # Errors
    /// When the worker cannot be started, dies, or cannot read or write. After a death the next call starts a fresh one.
    pub fn run(&mut self, job: &Job, original: &File) -> Result<Reply, WorkerError> {
        match self.send(&Errand::Tile(Box::new(job.clone())), &[original.as_fd()])? {
            Answer::Tile(Reply::Failed { why }) => Err(WorkerError::Failed(why)),
            Answer::Tile(reply) => Ok(reply),
            _ => Err(WorkerError::Failed(OTHERWISE.into())),
        }
    }

    /// Sends any errand with its files and waits for its answer.
    ///
    /// # Errors
    /// As [`Worker::run`].
    pub fn send(&mut self, errand: &Errand, files: &[BorrowedFd<'_>]) -> Result<Answer, WorkerError> {
        let limits = errand.limits();
        let patience = limits.time.saturating_mul(2);
        let running = match self.running.take() {
            Some(running) => self.running.insert(running),
            None => self.running.insert(start(&self.program)?),
        };
        let answer = exchange(&mut running.socket, errand, files, patience);
        match answer {
            Ok(Some(Answer::Failed { why })) => Err(WorkerError::Failed(why)),
            Ok(Some(answer)) => Ok(answer),
            Ok(None) => Err(WorkerError::Died(self.bury(limits))),
            Err(error) if matches!(error.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) => {
                self.bury(limits);
                Err(WorkerError::Died(Death::Slow(patience)))
            }
            Err(_) => Err(WorkerError::Died(self.bury(limits))),
        }
    }

    /// Ends the process if it runs, and says how it ended.
    fn bury(&mut self, limits: Limits) -> Death {
        let Some(mut running) = self.running.take() else { return Death::Crashed("it never ran".into()) };
        drop(running.socket);
        // A process that already ended cannot be killed, which is fine; one that lingers must go.
        let ended = running.child.try_wait().ok().flatten();
        let status = match ended {
            Some(status) => Some(status),
            None => {
                let gone = wait_briefly(&mut running.child);
                if gone.is_none() {
                    running.child.kill().ok();
                }
                gone.or_else(|| running.child.wait().ok())
            }
        };
        match status {
            Some(status) if status.signal() == Some(SIGXCPU) => Death::Slow(limits.time),
            Some(status) if status.signal() == Some(SIGABRT) => Death::Hungry(limits.memory),
            Some(status) => Death::Crashed(status.to_string()),
            None => Death::Crashed("it is gone".into()),
        }
    }
}

/// Signal numbers of Linux on all its architectures (`signal(7)`).
const SIGABRT: i32 = 6;
const SIGXCPU: i32 = 24;

/// A process whose socket closed ends within moments; a few short waits tell an abort from a kill of ours.
fn wait_briefly(child: &mut Child) -> Option<std::process::ExitStatus> {
    for _ in 0..100 {
        if let Ok(Some(status)) = child.try_wait() {
            return Some(status);
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    None
}

impl Drop for Worker {
    fn drop(&mut self) {
        if self.running.is_some() {
            self.bury(Limits::default());
        }
    }
}

fn start(program: &Path) -> Result<Running, WorkerError> {
    let failed = |source| WorkerError::Start { program: program.to_path_buf(), source };
    let (ours, theirs) = UnixStream::pair().map_err(failed)?;
    let child = Command::new(program)
        .arg("worker")
        .env(TUNABLES, tunables(std::env::var_os(TUNABLES)))
        .stdin(Stdio::from(OwnedFd::from(theirs)))
        .stdout(Stdio::null())
        .stderr(Stdio::inherit())
        .spawn()
        .map_err(failed)?;
    Ok(Running { child, socket: ours })
}

/// Where glibc reads how it should behave; other C libraries do not look at it (glibc manual, "Tunables").
const TUNABLES: &str = "GLIBC_TUNABLES";

/// The tunables of a worker: those it would inherit, and large pages for large buffers. A fresh tile of 52 MB is 12,700
/// small pages, whose faults take longer than decoding a flat tile.
fn tunables(inherited: Option<OsString>) -> OsString {
    let large_pages = "glibc.malloc.hugetlb=1";
    match inherited {
        Some(mut inherited) if !inherited.is_empty() => {
            inherited.push(":");
            inherited.push(large_pages);
            inherited
        }
        _ => large_pages.into(),
    }
}

fn exchange(
    socket: &mut UnixStream,
    errand: &Errand,
    files: &[BorrowedFd<'_>],
    patience: Duration,
) -> io::Result<Option<Answer>> {
    socket.set_read_timeout(Some(patience))?;
    frame::send_with(socket, errand, files)?;
    frame::receive(socket)
}

/// Runs a job; a death is retried once, in a fresh process, and a second one makes the file unreadable. `alone` is called
/// before the retry and what it returns is kept until that is over, so that the caller can keep others away.
///
/// # Errors
/// When no worker can be started, or reading or writing fails: nothing that the file is to blame for.
pub fn inspect<G>(
    worker: &mut Worker,
    job: &Job,
    original: &File,
    alone: impl FnOnce() -> G,
) -> Result<Reply, WorkerError> {
    let death = match worker.run(job, original) {
        Err(WorkerError::Died(death)) => death,
        answer => return answer,
    };
    tracing::warn!(tile = job.name, ?death, "the inspecting process ended; trying once more, alone");
    let guard = alone();
    let answer = worker.run(job, original);
    drop(guard);
    match answer {
        Err(WorkerError::Died(death)) => given_up(job, &death, original),
        answer => answer,
    }
}

fn given_up(job: &Job, death: &Death, original: &File) -> Result<Reply, WorkerError> {
    tracing::warn!(
        tile = job.name,
        ?death,
        "the inspecting process ended again; the file is told as one that cannot be opened"
    );
    let failed = |error: DiskError| WorkerError::Failed(error.to_string());
    let content = disk::hash(original, Path::new(&job.name)).map_err(failed)?;
    let finding = Finding {
        kind: Kind::FileUnreadable,
        grade: Grade::Fault,
        silenced: false,
        boxes: Vec::new(),
        measure: None,
        says: death.says(),
        remedy: death.remedy().into(),
    };
    let limits = codec::Limits::default();
    let order = job.order(&limits);
    let outcome = pipeline::unreadable(content, "", &order, finding);
    let made = products::keep(outcome.made, Path::new(&job.scratch)).map_err(failed)?;
    Ok(Reply::Done { ticket: Box::new(outcome.ticket), made, likeness: None, sketch: None })
}
