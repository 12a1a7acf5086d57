//! What ends a sweep before its end, and how that is said. What concerns single files does not: it is told, and the sweep
//! goes on.

use crate::deliver::DeliverError;
use crate::disk::{DiskError, spelled};
use crate::ledger::LedgerError;
use crate::worker::client::WorkerError;
use std::path::PathBuf;

/// A sweep that could not be made or ended early. What was found out until then is kept, and the next one goes on there.
#[derive(Debug, thiserror::Error)]
pub enum SweepError {
    /// Another process sweeps.
    #[error(
        "another sweep works with the state folder {}; it goes on by itself, so wait for its end or stop it",
        spelled(state)
    )]
    Busy {
        /// The state folder.
        state: PathBuf,
    },
    /// The archive is not there.
    #[error(
        "the archive {} is not there; connect the drive it is on, or correct its folder in the configuration; what is known \
         of it stays as it is",
        spelled(folder)
    )]
    Absent {
        /// The archive's folder.
        folder: PathBuf,
    },
    /// Nothing lies in an archive in which tiles lay.
    #[error(
        "the archive {} holds no tile at all, though {known} lay there; is its drive connected? What is known of them \
         stays as it is; remove the empty folder's entry from the configuration if they are really gone",
        spelled(folder)
    )]
    Empty {
        /// The archive's folder.
        folder: PathBuf,
        /// How many files were known.
        known: usize,
    },
    /// The scratch folder has a name that cannot be handed to a worker.
    #[error("{} is not UTF-8; set [state] folder to another place", spelled(scratch))]
    Scratch {
        /// The folder.
        scratch: PathBuf,
    },
    /// A manifest of what was put away is not as it was written.
    #[error(
        "{}, line {line}: not as it was written, so nothing is concluded from it; what was put away lies in {}; move it by \
         hand, or put the manifest back from a backup",
        spelled(path),
        spelled(folder)
    )]
    Manifest {
        /// The manifest.
        path: PathBuf,
        /// The first line that is none, counted from 1.
        line: usize,
        /// Where its files lie.
        folder: PathBuf,
    },
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// Delivering.
    #[error(transparent)]
    Deliver(#[from] DeliverError),
    /// The inspecting process.
    #[error(transparent)]
    Worker(#[from] WorkerError),
}
