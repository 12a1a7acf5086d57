//! What can go wrong with the ledger, and how that is said.

use crate::disk::{DiskError, spelled};
use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};

/// A ledger that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// Its folder or a commit.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// There is none yet, and only reading was asked for.
    #[error("there is no ledger at {} yet; it is made when the first folder is watched", spelled(path))]
    Absent {
        /// The ledger.
        path: PathBuf,
    },
    /// A newer Burler wrote it.
    #[error(
        "the ledger {} was written by a newer Burler (its shape is number {found}, this program knows {known}) and is \
         left as it is; install the newer program, or name another state folder",
        spelled(path)
    )]
    Newer {
        /// The ledger.
        path: PathBuf,
        /// The number of its shape.
        found: i64,
        /// The newest shape this program knows.
        known: i64,
    },
    /// It was opened to be read.
    #[error("the ledger {} was opened for reading only; nothing was written", spelled(path))]
    ReadOnly {
        /// The ledger.
        path: PathBuf,
    },
    /// A database of something else.
    #[error("{} is not a ledger of Burler and is left as it is; name another state folder", spelled(path))]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// A row says what no Burler writes.
    #[error(
        "the ledger {} holds something unknown ({what}); restore it from a backup, or move it away and start anew",
        spelled(path)
    )]
    Odd {
        /// The ledger.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// The database's own answer.
    #[error("cannot use the ledger {}: {}", spelled(path), words(source))]
    Sql {
        /// The ledger.
        path: PathBuf,
        /// What the database said.
        source: rusqlite::Error,
    },
}

impl LedgerError {
    pub(super) fn sql(path: &Path, source: rusqlite::Error) -> Self {
        match source {
            rusqlite::Error::FromSqlConversionFailure(_, _, what) => {
                Self::Odd { path: path.into(), what: what.to_string() }
            }
            _ if source.sqlite_error_code() == Some(ErrorCode::NotADatabase) => Self::NotOurs { path: path.into() },
            source => Self::Sql { path: path.into(), source },
        }
    }

    /// Whether trying again later may succeed by itself.
    #[must_use]
    pub fn is_temporary(&self) -> bool {
        match self {
            Self::Disk(error) => error.errno().is_some(),
            Self::Sql { source, .. } => matches!(
                source.sqlite_error_code(),
                Some(
                    ErrorCode::DatabaseBusy
                        | ErrorCode::DatabaseLocked
                        | ErrorCode::DiskFull
                        | ErrorCode::SystemIoFailure
                        | ErrorCode::OutOfMemory
                        | ErrorCode::FileLockingProtocolFailed
                        | ErrorCode::ConstraintViolation
                )
            ),
            _ => false,
        }
    }
}

/// The database's answers in plain words, with the remedy.
fn words(error: &rusqlite::Error) -> String {
    let (what, remedy) = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            ("another program has been writing it for too long", "try later")
        }
        Some(ErrorCode::ConstraintViolation) => ("another program has just claimed the same name", "try again"),
        Some(ErrorCode::DiskFull) => ("the disk is full", "free some space"),
        Some(ErrorCode::SystemIoFailure) => ("the disk reports an error", "check the drive"),
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            ("writing there is not permitted", "allow this account to write there")
        }
        Some(ErrorCode::CannotOpen) => ("it cannot be opened", "check that its folder is there and may be used"),
        Some(ErrorCode::DatabaseCorrupt) => (
            "it is damaged",
            "restore it from a backup, or move it away and start anew: all tiles are then looked at again",
        ),
        _ => return format!("{error}; look at its folder"),
    };
    format!("{what}; {remedy}")
}
