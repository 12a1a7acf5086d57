//! Everything that can happen to the daemon, and everything it can do about it, as two enums.

use crate::arrival::{self, Look, LookAt};
use crate::deliver::Lying;
use crate::disk::Stamp;
use crate::settle::{Ask, Settled, Structure};
use std::collections::BTreeSet;
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
    /// Something happened in a folder's let-pass.
    LetPass(FolderNumber, InLetPass),
    /// It is time for a letter.
    LetterDue,
    /// How it is with the letters on their way; empty when none needs a word.
    Mail(String),
    /// A person or the system wants the daemon to stop.
    Stop,
}

/// What happened in let-pass.
#[derive(Debug)]
pub enum InLetPass {
    /// Its lookout tells something.
    Told(arrival::Happening),
    /// A look was taken.
    Looked(Look),
    /// A file's structure was read.
    Answered(Ask, Option<Stamp>, Structure),
    /// It was gone through: the originals that concerns, or why it failed.
    Reviewed(Result<BTreeSet<PathBuf>, String>),
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
    /// Look at a folder within let-pass.
    LookIntoLetPass(FolderNumber, LookAt),
    /// Read the structure of a file in let-pass.
    AskInLetPass(FolderNumber, Ask),
    /// Go through let-pass, in which this lies.
    Review(FolderNumber, Vec<Lying>),
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
