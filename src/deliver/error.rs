//! What can go wrong while delivering, what happens next, and how that is said.

use crate::disk::{Cause, DiskError, spelled};
use crate::ledger::LedgerError;
use rustix::io::Errno;
use std::path::PathBuf;

/// What happens next after an error.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It concerns this tile alone: it is told, and everything else goes on.
    Tile,
    /// It may pass by itself: the tile is tried again.
    Retry,
    /// Nothing can be delivered until a person has acted.
    Daemon,
}

/// A delivery that failed. Nothing is half-written, and trying again continues where it stopped.
#[derive(Debug, thiserror::Error)]
pub enum DeliverError {
    /// A file could not be read, written or moved.
    #[error("{0}{then}", then = next(self.fate()))]
    Disk(#[from] DiskError),
    /// The ledger could not be used.
    #[error("{0}{then}", then = next(self.fate()))]
    Ledger(#[from] LedgerError),
    /// The output folder has vanished although files were published in it.
    #[error(
        "the output folder {} has vanished with what was published in it; connect its drive or put it back, or make an \
         empty folder there to begin anew",
        spelled(path)
    )]
    FolderGone {
        /// The output folder.
        path: PathBuf,
    },
    /// Every name that could be used is taken by files Burler did not write.
    #[error(
        "cannot publish {}: this name and all other names for it are taken by files that were not written here; move \
         those files",
        spelled(path)
    )]
    NoName {
        /// The name that was wanted.
        path: PathBuf,
    },
    /// A command would have written over a file it did not write.
    #[error(
        "{} is there already and was not written from this file; move it, choose another --output, or replace it with \
         --force",
        spelled(path)
    )]
    WouldReplace {
        /// The file.
        path: PathBuf,
    },
    /// A command would have written over its own input.
    #[error("{} is the file that was given; choose another --output, an original is never replaced", spelled(path))]
    IsInput {
        /// The file.
        path: PathBuf,
    },
    /// A command would have written where only the designer writes.
    #[error(
        "{} lies in the exports folder {}, where nothing is ever written; choose another --output",
        spelled(path),
        spelled(exports)
    )]
    InExports {
        /// The folder that was to be written into.
        path: PathBuf,
        /// The exports folder.
        exports: PathBuf,
    },
}

impl DeliverError {
    /// What happens next.
    #[must_use]
    pub fn fate(&self) -> Fate {
        match self {
            Self::Disk(error) => disk_fate(error),
            Self::Ledger(LedgerError::Disk(error)) => disk_fate(error),
            Self::Ledger(error) if error.is_temporary() => Fate::Retry,
            Self::Ledger(_) | Self::FolderGone { .. } => Fate::Daemon,
            Self::NoName { .. } | Self::WouldReplace { .. } | Self::IsInput { .. } | Self::InExports { .. } => {
                Fate::Tile
            }
        }
    }
}

fn disk_fate(error: &DiskError) -> Fate {
    match &error.cause {
        Cause::Stopped => Fate::Daemon,
        Cause::Outside | Cause::FolderInTheWay | Cause::NoPlainFile => Fate::Tile,
        // Someone took the name in this very moment, or the bytes changed: the next look finds out.
        Cause::Taken | Cause::Differs => Fate::Retry,
        Cause::System(error) => match Errno::from_io_error(error) {
            Some(Errno::NAMETOOLONG | Errno::ISDIR | Errno::NOTDIR | Errno::LOOP | Errno::ILSEQ | Errno::INVAL) => {
                Fate::Tile
            }
            _ => Fate::Retry,
        },
    }
}

/// What a daemon does about it, as the end of the sentence.
fn next(fate: Fate) -> &'static str {
    match fate {
        Fate::Retry => ", the tile is tried again by itself",
        Fate::Tile | Fate::Daemon => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::disk::Deed;
    use std::io;
    use std::path::Path;

    #[test]
    fn an_error_says_what_to_do_and_what_happens_next() {
        let of = |deed, path: &str, cause| DeliverError::Disk(DiskError::new(deed, Path::new(path), cause));
        let full =
            of(Deed::Write, "ready/kelp.png", Cause::System(io::Error::from_raw_os_error(Errno::NOSPC.raw_os_error())));
        assert_eq!(
            full.to_string(),
            "cannot write ready/kelp.png: the disk is full; free some space, the tile is tried again by itself"
        );
        assert_eq!(full.fate(), Fate::Retry);
        let folder = of(Deed::Rename, "ready/kelp.png", Cause::FolderInTheWay);
        assert_eq!(folder.fate(), Fate::Tile);
        assert!(folder.to_string().ends_with("move or rename the folder"));
        assert_eq!(of(Deed::Write, "a", Cause::Stopped).fate(), Fate::Daemon);
        assert_eq!(DeliverError::FolderGone { path: "checked".into() }.fate(), Fate::Daemon);
    }
}
