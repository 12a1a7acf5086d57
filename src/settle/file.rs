//! What settling speaks of: settings, questions, finished files. Plain data.

use crate::disk::Stamp;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// How long a file must be still.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// For a file whose structure is complete. Not below the coarsest time step of the file systems in use (2 s on FAT,
    /// its published directory entry format): a write after this wait then always moves the stamp.
    pub quiet: Duration,
    /// For a file whose structure cannot be told, and the first second look at one that ends early.
    pub quiet_incomplete: Duration,
    /// For a file that ends early, before it is told as such.
    pub grace: Duration,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            quiet: Duration::from_secs(2),
            quiet_incomplete: Duration::from_secs(30),
            grace: Duration::from_secs(10 * 60),
        }
    }
}

/// What the bytes say about whether they are all there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Structure {
    /// An image whose own structure reaches its end.
    Complete,
    /// An image that ends early, or an empty file.
    Truncated,
    /// No image, or none whose end can be told, or a file that cannot be opened.
    Unknown,
}

/// A request for the structure of a file that has been still.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// As it was observed.
    pub path: Arc<Path>,
    /// The stamp it had.
    pub stamp: Stamp,
}

/// A finished file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settled {
    /// As it was observed.
    pub path: PathBuf,
    /// The stamp its judgment belongs to.
    pub stamp: Stamp,
    /// What its bytes said last; anything but complete has waited longer.
    pub structure: Structure,
}

/// What an observation changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noted {
    /// Not a name that tiles have.
    Ignored,
    /// Known with this very stamp, or unknown and absent.
    Same,
    /// Seen for the first time.
    New,
    /// Known with another stamp: its waiting starts anew.
    Changed,
    /// Known, not yet handed out, and now absent: forgotten.
    Dropped,
    /// Handed out before, and now absent: forgotten.
    Gone,
}

/// What has not been handed out yet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Backlog {
    /// How many files.
    pub files: usize,
    /// Their sizes together, in bytes.
    pub bytes: u64,
}
