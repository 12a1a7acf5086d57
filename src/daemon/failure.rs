//! Why a tile was not worked through, from whatever stage it came.

use super::happening::End;
use crate::deliver::{DeliverError, Fate};
use crate::disk::DiskError;
use crate::ledger::LedgerError;
use crate::worker::client::WorkerError;

/// Why a tile was not worked through, sorted by what happens next.
pub(super) enum Failure {
    /// It is tried again.
    Later(String),
    /// This tile alone needs a person.
    Stuck(String),
    /// Everything does.
    Blocked(String),
}

impl Failure {
    /// What the owner hears.
    pub fn end(self) -> End {
        match self {
            Self::Later(why) => End::Later(why),
            Self::Stuck(why) => End::Stuck(why),
            Self::Blocked(why) => End::Blocked(why),
        }
    }
}

impl From<DiskError> for Failure {
    fn from(error: DiskError) -> Self {
        Self::Later(format!("{error}; it is tried again"))
    }
}

impl From<LedgerError> for Failure {
    fn from(error: LedgerError) -> Self {
        if error.is_temporary() { Self::Later(error.to_string()) } else { Self::Blocked(error.to_string()) }
    }
}

impl From<DeliverError> for Failure {
    fn from(error: DeliverError) -> Self {
        match error.fate() {
            Fate::Retry => Self::Later(error.to_string()),
            Fate::Tile => Self::Stuck(error.to_string()),
            Fate::Daemon => Self::Blocked(error.to_string()),
        }
    }
}

impl From<WorkerError> for Failure {
    fn from(error: WorkerError) -> Self {
        match error {
            WorkerError::Start { .. } => Self::Blocked(error.to_string()),
            WorkerError::Died(_) | WorkerError::Failed(_) => Self::Later(error.to_string()),
        }
    }
}
