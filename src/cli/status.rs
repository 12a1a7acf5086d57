//! Exit statuses and the failures that end a command.

use std::fmt::Display;
use std::process::ExitCode;

/// How a command ended. The numbers from 74 on are those of `sysexits.h`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// All is well.
    Fine,
    /// Some tile is held or cannot be opened.
    Held,
    /// Words that are not understood.
    Usage,
    /// Reading or writing failed.
    InputOutput,
    /// Another Burler does this already.
    Busy,
    /// The configuration is wrong.
    Configuration,
}

impl Status {
    /// The number.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::Fine => 0,
            Self::Held => 1,
            Self::Usage => 2,
            Self::InputOutput => 74,
            Self::Busy => 75,
            Self::Configuration => 78,
        }
    }

    /// The graver of two.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        if other.code() > self.code() { other } else { self }
    }
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(status.code())
    }
}

/// A failure that ends the command.
#[derive(Debug)]
pub struct Failure {
    /// The exit status.
    pub status: Status,
    /// What happened, to which file, and what to do.
    pub message: String,
}

impl Failure {
    /// A failure with its status.
    #[must_use]
    pub fn new(status: Status, message: impl Display) -> Self {
        Self { status, message: message.to_string() }
    }

    /// Words that are not understood.
    #[must_use]
    pub fn usage(message: impl Display) -> Self {
        Self::new(Status::Usage, message)
    }

    /// Reading or writing failed.
    #[must_use]
    pub fn io(message: impl Display) -> Self {
        Self::new(Status::InputOutput, message)
    }

    /// The configuration is wrong.
    #[must_use]
    pub fn configuration(message: impl Display) -> Self {
        Self::new(Status::Configuration, message)
    }
}
