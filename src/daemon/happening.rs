//! Everything that can happen to the daemon, and everything it can do about it, as two enums.

use crate::arrival::{self, Look, LookAt};
use crate::disk::Stamp;
use crate::settle::{Ask, Settled, Structure};
use std::path::PathBuf;
use std::time::Duration;

/// A watched folder, by its place in the configuration.
pub type FolderNumber = usize;

/// What happened.
#[derive(Debug)]
pub enum Happening {
    /// The lookout over a folder tells something.
    Told(FolderNumber, arrival::Happening),
    /// A look was taken.
    Looked(FolderNumber, Look),
    /// A file's structure was read.
    Answered(FolderNumber, Ask, Option<Stamp>, Structure),
    /// A tile was worked through.
    Finished(FolderNumber, Settled, End),
    /// It is time for a letter.
    LetterDue,
    /// A person or the system wants the daemon to stop.
    Stop,
}

/// How working through a tile ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// Its standing holds.
    Delivered,
    /// It changed meanwhile; it must be looked at again.
    Superseded,
    /// It can succeed later; why not now.
    Later(String),
    /// It cannot succeed until a person acts on this file; what they must do.
    Stuck(String),
    /// Nothing can be delivered until a person acts; what they must do.
    Blocked(String),
}

/// What to do.
#[derive(Debug, PartialEq, Eq)]
pub enum Deed {
    /// Look at a folder.
    Look(FolderNumber, LookAt),
    /// Read a file's structure.
    Ask(FolderNumber, Ask),
    /// Work through a tile.
    Work(FolderNumber, Settled),
    /// Note that an original has disappeared.
    Gone(FolderNumber, PathBuf),
    /// Write a letter.
    Letter,
    /// Tell people who read the log.
    Say(String),
    /// Tell the state to people who look at the service.
    State(String),
    /// Warn people who read the log.
    Warn(String),
    /// End, after waiting at most this long for tiles in work.
    Leave(Duration),
}
