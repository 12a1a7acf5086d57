//! What a disk operation can end in, and how that is said.
//!
//! Takes the deed, the path and the cause; yields one sentence that names the file and what to do. Knows nothing of why
//! the file was wanted.

use std::io;
use std::path::{Path, PathBuf};

/// What was being done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Opening or reading a file.
    Read,
    /// Reading the names in a folder.
    List,
    /// Making a folder.
    Make,
    /// Making or writing a file.
    Write,
    /// Waiting until the drive has it.
    Sync,
    /// Giving a file its name, or another one.
    Rename,
    /// Removing a file or an empty folder.
    Remove,
    /// Committing a database.
    Commit,
}

impl Deed {
    /// The verb, as it follows "cannot".
    #[must_use]
    pub fn verb(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::List => "look into",
            Self::Make => "make the folder",
            Self::Write | Self::Commit => "write",
            Self::Sync => "save",
            Self::Rename => "put in place",
            Self::Remove => "remove",
        }
    }
}

/// Why it could not be done.
#[derive(Debug)]
pub enum Cause {
    /// The system's own answer.
    System(io::Error),
    /// A simulated kill: nothing more happens.
    Stopped,
    /// The bytes are not the promised ones.
    Differs,
    /// Something has that name already.
    Taken,
    /// A folder has the name that a file needs.
    FolderInTheWay,
    /// A file or a link has the name that a folder needs, or something that is no file was to be read as one.
    NoPlainFile,
    /// The path leaves the folder that it was given for.
    Outside,
}

/// A disk operation that failed.
#[derive(Debug, thiserror::Error)]
#[error("cannot {} {}: {}", deed.verb(), spelled(path), words(cause, *deed))]
pub struct DiskError {
    /// What was being done.
    pub deed: Deed,
    /// To which file.
    pub path: PathBuf,
    /// Why it failed.
    pub cause: Cause,
}

impl DiskError {
    /// An error of `cause`.
    #[must_use]
    pub fn new(deed: Deed, path: &Path, cause: Cause) -> Self {
        Self { deed, path: path.into(), cause }
    }

    /// An error of the system.
    pub(super) fn system(deed: Deed, path: &Path, error: impl Into<io::Error>) -> Self {
        Self::new(deed, path, Cause::System(error.into()))
    }

    /// The system's number for it, when it came from the system.
    #[must_use]
    pub fn errno(&self) -> Option<i32> {
        match &self.cause {
            Cause::System(error) => error.raw_os_error(),
            _ => None,
        }
    }

    /// Whether the file or folder simply is not there.
    #[must_use]
    pub fn is_absent(&self) -> bool {
        matches!(&self.cause, Cause::System(error) if error.kind() == io::ErrorKind::NotFound)
    }
}

/// A path as text in a message: as it is when it is plain, else quoted and escaped, so that a name cannot break a line.
#[must_use]
pub fn spelled(path: &Path) -> String {
    match path.to_str() {
        Some(text) if !text.is_empty() && !text.chars().any(char::is_control) => text.into(),
        _ => format!("{path:?}"),
    }
}

/// What happened and what to do, without the file's name.
fn words(cause: &Cause, deed: Deed) -> String {
    match cause {
        Cause::System(error) => {
            let (what, remedy) = plain(error, deed);
            format!("{what}; {remedy}")
        }
        Cause::Stopped => "stopped here on purpose; start again".into(),
        Cause::Differs => "its bytes are not the ones that were checked; check it again".into(),
        Cause::Taken => "there is already something of that name, which was not written here; move or rename it".into(),
        Cause::FolderInTheWay => "a folder of that name is in the way; move or rename the folder".into(),
        Cause::NoPlainFile => {
            "it, or a part of its path, is a link or another kind of file than needed; move or rename that".into()
        }
        Cause::Outside => "the name leads out of its folder; rename it".into(),
    }
}

/// The system's answers in plain words, with the remedy.
fn plain(error: &io::Error, deed: Deed) -> (String, &'static str) {
    use rustix::io::Errno;
    let (what, remedy) = match Errno::from_io_error(error) {
        Some(Errno::NOSPC) => ("the disk is full", "free some space"),
        Some(Errno::DQUOT) => ("the space allowed to this account is used up", "free some space or have more allowed"),
        Some(Errno::FBIG) => ("the file is larger than this disk or account allows", "raise the limit"),
        Some(Errno::IO) => ("the disk reports an error", "check the drive and its cable"),
        Some(Errno::ROFS) => ("the disk is read-only", "make it writable or choose another folder"),
        Some(Errno::ACCESS | Errno::PERM) => match deed {
            Deed::Read | Deed::List => ("reading it is not permitted", "allow this account to read it"),
            _ => ("writing there is not permitted", "allow this account to write there"),
        },
        Some(Errno::NOENT) => ("it is not there", "put it back, or connect the drive it is on"),
        Some(Errno::ISDIR) => ("a folder of that name is in the way", "move or rename the folder"),
        Some(Errno::NOTDIR) => ("a file or link has the name of a folder on its path", "move or rename that"),
        Some(Errno::LOOP) => ("it is a link", "put the file itself there"),
        Some(Errno::NAMETOOLONG) => ("the name is too long", "shorten it"),
        Some(Errno::MFILE | Errno::NFILE) => ("too many files are open", "close other programs or raise the limit"),
        Some(Errno::XDEV) => ("it would have to move to another drive", "keep the output folder on one drive"),
        Some(Errno::BUSY | Errno::TXTBSY) => ("another program holds it", "close that program"),
        Some(Errno::STALE | Errno::NOTCONN | Errno::TIMEDOUT | Errno::HOSTDOWN | Errno::HOSTUNREACH) => {
            ("the network folder does not answer", "check the connection")
        }
        _ => return (error.to_string(), "look at that folder"),
    };
    (what.into(), remedy)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_names_the_file_what_happened_and_what_to_do() {
        let full = DiskError::system(Deed::Write, Path::new("ready/kelp.png"), rustix::io::Errno::NOSPC);
        assert_eq!(full.to_string(), "cannot write ready/kelp.png: the disk is full; free some space");
        let folder = DiskError::new(Deed::Rename, Path::new("held/kelp.png.held.png"), Cause::FolderInTheWay);
        assert_eq!(
            folder.to_string(),
            "cannot put in place held/kelp.png.held.png: a folder of that name is in the way; move or rename the folder"
        );
    }

    #[test]
    fn a_name_with_a_line_end_stays_on_its_line() {
        assert_eq!(spelled(Path::new("a\nb.png")), "\"a\\nb.png\"");
        assert_eq!(spelled(Path::new("algue verte.png")), "algue verte.png");
    }
}
