//! Lanes: tiles are read and inspected side by side, one worker to a lane, and what comes of each reaches one place in turn.
//!
//! Takes a list and the work on one of it; yields what came of each to the caller's own thread, which alone writes. Knows
//! nothing of what the work is.

use crate::worker::client::Worker;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::sync::{PoisonError, RwLock};
use std::time::Duration;

/// What waits to be written at most: memory stays flat however slow the disk is.
const WAITING: usize = 64;
/// How long the caller is left without anything, so that it can write what it has gathered.
pub(super) const PAUSE: Duration = Duration::from_millis(200);

/// What one lane has for itself.
pub(super) struct Lane<'a> {
    /// Its worker, started when it is first needed.
    pub worker: Worker,
    /// Memory for reading files.
    pub buffer: Vec<u8>,
    /// Held for reading by every tile in a worker, for writing by the lone retry after a worker's death.
    company: &'a RwLock<()>,
}

impl Lane<'_> {
    /// Runs an inspection beside those of other lanes; a retry after a death waits until it is alone.
    pub fn inspect(
        &mut self,
        job: &crate::worker::job::Job,
        original: &std::fs::File,
    ) -> Result<crate::worker::job::Reply, crate::worker::client::WorkerError> {
        let company = self.company.read().unwrap_or_else(PoisonError::into_inner);
        crate::worker::client::inspect(&mut self.worker, job, original, || {
            drop(company);
            self.company.write().unwrap_or_else(PoisonError::into_inner)
        })
    }
}

/// Works through `tasks` in their order in so many lanes. `each` hears, on the caller's thread, the place of a task and what came
/// of it, or `None` after a pause without anything. Ends early when `stop` says so, with tasks that are begun brought to
/// their end, and at the first error of `each`. Yields how many tasks were begun.
pub(super) fn run<T: Sync, R: Send, E>(
    program: &Path,
    lanes: usize,
    tasks: &[T],
    stop: &(dyn Fn() -> bool + Sync),
    work: impl Fn(&mut Lane<'_>, &T) -> R + Sync,
    mut each: impl FnMut(Option<(usize, R)>) -> Result<(), E>,
) -> Result<usize, E> {
    let (next, ended, company) = (AtomicUsize::new(0), AtomicBool::new(false), RwLock::new(()));
    let (sender, inbox) = sync_channel(WAITING);
    std::thread::scope(|scope| {
        for _ in 0..lanes.clamp(1, tasks.len().max(1)) {
            let sender = sender.clone();
            let (next, ended, company, work) = (&next, &ended, &company, &work);
            scope.spawn(move || {
                let mut lane = Lane { worker: Worker::of(program), buffer: Vec::new(), company };
                while !ended.load(Ordering::Relaxed) && !stop() {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(task) = tasks.get(at) else { break };
                    if sender.send((at, work(&mut lane, task))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
        loop {
            let heard = match inbox.recv_timeout(PAUSE) {
                Ok(done) => each(Some(done)),
                Err(RecvTimeoutError::Timeout) => each(None),
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            };
            if let Err(error) = heard {
                ended.store(true, Ordering::Relaxed);
                // Nobody listens any more, so a lane that waits to be heard goes on and ends.
                drop(inbox);
                return Err(error);
            }
        }
    })?;
    Ok(next.load(Ordering::Relaxed).min(tasks.len()))
}
