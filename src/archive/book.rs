//! The book of a sweep: gathers changes and writes them to the ledger, fifty files or a fifth of a second at a time.
//!
//! A commit waits for the drive, which takes longer than judging a small tile. A dry run gathers nothing.

use crate::clock::{Clock, Tick};
use crate::ledger::{Change, Ledger, LedgerError};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Files of one commit.
const ROWS: usize = 50;
/// The longest a change waits for others.
const WAIT: Duration = Duration::from_millis(200);

/// Where a sweep's changes go.
pub(super) struct Book<'a> {
    ledger: &'a Mutex<Ledger>,
    key: String,
    clock: Clock,
    dry: bool,
    gathered: Vec<Change>,
    files: usize,
    since: Tick,
}

impl<'a> Book<'a> {
    /// An empty one. `key` is the archive's name among the ledger's folders; a dry run writes nothing.
    pub fn new(ledger: &'a Mutex<Ledger>, key: String, clock: Clock, dry: bool) -> Self {
        Self { ledger, key, clock, dry, gathered: Vec::new(), files: 0, since: clock.tick() }
    }

    /// The ledger, for a question or a step of delivering. What was gathered must be written before a file is moved.
    pub fn ledger(&self) -> MutexGuard<'a, Ledger> {
        lock(self.ledger)
    }

    /// Takes in the changes of one file.
    pub fn add(&mut self, changes: impl IntoIterator<Item = Change>) -> Result<(), LedgerError> {
        if self.dry {
            return Ok(());
        }
        if self.gathered.is_empty() {
            self.since = self.clock.tick();
        }
        self.gathered.extend(changes);
        self.files += 1;
        if self.files >= ROWS { self.write() } else { self.rest() }
    }

    /// Writes what has waited long enough.
    pub fn rest(&mut self) -> Result<(), LedgerError> {
        if self.clock.tick().since(self.since) >= WAIT { self.write() } else { Ok(()) }
    }

    /// Writes everything that was gathered.
    pub fn write(&mut self) -> Result<(), LedgerError> {
        let gathered = std::mem::take(&mut self.gathered);
        self.files = 0;
        if gathered.is_empty() {
            return Ok(());
        }
        self.ledger().apply(&self.key, &gathered).map(drop)
    }
}

/// The ledger behind its lock. A panic elsewhere cannot leave it half-changed: SQLite rolls back.
pub(super) fn lock(ledger: &Mutex<Ledger>) -> MutexGuard<'_, Ledger> {
    ledger.lock().unwrap_or_else(PoisonError::into_inner)
}
