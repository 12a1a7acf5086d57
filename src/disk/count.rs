//! Numbers every disk operation in order, and lets a test stop or fail at the n-th.
//!
//! Takes an operation and runs it; interrupted ones are run again. Knows nothing of what the operations are for.

use super::error::{Cause, Deed, DiskError};
use rustix::io::Errno;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What goes wrong at the chosen operation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trip {
    /// A simulated kill: a write gets half through, anything else does not happen, and every later operation fails.
    Stop,
    /// The system refuses with this error number; a write gets half through first, as a filling disk lets it.
    Fail(i32),
    /// A write takes only half of what it is given and says so, which is not an error.
    Short,
}

/// The disk: numbers its operations. Clones count together.
#[derive(Clone, Debug, Default)]
pub struct Disk {
    line: Arc<Line>,
}

#[derive(Debug, Default)]
struct Line {
    done: AtomicU64,
    parts: AtomicU64,
    trip: Option<(u64, Trip)>,
    stopped: AtomicBool,
}

/// How an operation may go on.
pub(super) enum Turn {
    Whole,
    Half,
    HalfThen(DiskError),
    Not(DiskError),
}

impl Disk {
    /// The real disk, on which nothing is made to fail.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A disk on which operation number `at`, counted from 1, goes wrong in the manner of `trip`.
    #[must_use]
    pub fn tripping(at: u64, trip: Trip) -> Self {
        Self { line: Arc::new(Line { trip: Some((at, trip)), ..Line::default() }) }
    }

    /// How many operations have begun.
    #[must_use]
    pub fn operations(&self) -> u64 {
        self.line.done.load(Ordering::SeqCst)
    }

    /// A number that no other part of this disk has.
    pub(super) fn next_part(&self) -> u64 {
        self.line.parts.fetch_add(1, Ordering::SeqCst)
    }

    /// Counts an operation of another module, such as a commit, right before it.
    ///
    /// # Errors
    /// When a test makes this operation go wrong; the caller then must not do it.
    pub fn count(&self, deed: Deed, path: &Path) -> Result<(), DiskError> {
        match self.turn(deed, path) {
            Turn::HalfThen(error) if error.errno() == Some(Errno::INTR.raw_os_error()) => self.count(deed, path),
            Turn::HalfThen(error) | Turn::Not(error) => Err(error),
            Turn::Whole | Turn::Half => Ok(()),
        }
    }

    /// Counts one operation and says how it may go on.
    pub(super) fn turn(&self, deed: Deed, path: &Path) -> Turn {
        let number = self.line.done.fetch_add(1, Ordering::SeqCst) + 1;
        let stopped = || DiskError::new(deed, path, Cause::Stopped);
        if self.line.stopped.load(Ordering::SeqCst) {
            return Turn::Not(stopped());
        }
        match self.line.trip {
            Some((at, trip)) if at == number => match trip {
                Trip::Stop => {
                    self.line.stopped.store(true, Ordering::SeqCst);
                    Turn::HalfThen(stopped())
                }
                Trip::Fail(errno) => Turn::HalfThen(DiskError::system(deed, path, io::Error::from_raw_os_error(errno))),
                Trip::Short => Turn::Half,
            },
            _ => Turn::Whole,
        }
    }

    /// Runs one operation that happens whole or not at all, again when it is interrupted.
    pub(super) fn run<T>(
        &self,
        deed: Deed,
        path: &Path,
        mut operation: impl FnMut() -> rustix::io::Result<T>,
    ) -> Result<T, DiskError> {
        loop {
            self.count(deed, path)?;
            match operation() {
                Err(Errno::INTR) => {}
                ended => return ended.map_err(|errno| DiskError::system(deed, path, errno)),
            }
        }
    }
}
