//! How one archive is swept: plain data, and who else it works with.

use super::plan::Rereading;
use super::sheets::Sheets;
use crate::clock::Clock;
use crate::deliver;
use crate::disk::Disk;
use crate::ledger::archive_folder;
use crate::pipeline::mockup;
use crate::worker::job::Limits;
use std::path::PathBuf;
use std::time::Duration;

/// How one archive is swept.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Its name.
    pub name: String,
    /// Its folder, only read.
    pub folder: PathBuf,
    /// Where mended tiles and pictures go.
    pub checked: PathBuf,
    /// What its tiles are judged against.
    pub sheets: Sheets,
    /// What is read again.
    pub rereading: Rereading,
    /// How long nobody has touched what is taken for a stray.
    pub untouched: Duration,
    /// Whether anything is mended and pictured.
    pub mend: bool,
    /// Whether nothing at all is written, not even to the ledger.
    pub dry_run: bool,
    /// How pictures are drawn.
    pub mockup: mockup::Settings,
    /// What a worker may use for one tile.
    pub limits: Limits,
    /// How many tiles are read and inspected at the same time.
    pub lanes: usize,
    /// Whether it is the nightly sweep: noted even when it finds nothing, and what was read is dropped from the system's
    /// cache, which is left to the day's work.
    pub nightly: bool,
}

impl Settings {
    /// Its name among all folders of the ledger.
    #[must_use]
    pub fn key(&self) -> String {
        archive_folder(&self.name)
    }

    /// What the outputs of the archive depend on beside the tile and its spec.
    #[must_use]
    pub fn pictures(&self) -> String {
        format!("{}-mended", self.mockup.digest())
    }

    /// The archive as delivering knows it; `key` is [`Settings::key`].
    #[must_use]
    pub fn place<'a>(&'a self, key: &'a str) -> deliver::Place<'a> {
        deliver::Place { folder: key, exports: &self.folder, checked: &self.checked }
    }
}

/// What a sweep works with.
#[derive(Clone, Debug)]
pub struct Tools {
    /// The disk.
    pub disk: Disk,
    /// The clock.
    pub clock: Clock,
    /// Our own executable, which workers run.
    pub program: PathBuf,
    /// Where scratch folders are made.
    pub scratch: PathBuf,
}
