//! What can go wrong while watching, and its wording. None of it stops the watch.

use std::io;
use std::path::PathBuf;
use thiserror::Error;

/// Something that people should know. The text says what failed, on which folder, what to do.
#[derive(Debug, Error)]
pub enum Trouble {
    /// The system watches no more folders for this user; names the root.
    #[error(
        "cannot watch all of \"{}\" for changes: the system's limit on watched folders is reached; raise it \
         (sudo sysctl fs.inotify.max_user_watches=524288) or set polling = true; until then all folders are \
         looked through every few seconds", .0.display()
    )]
    WatchLimit(PathBuf),
    /// The system gives this user no further queue of events; names the root.
    #[error(
        "cannot watch \"{}\" for changes: too many programs are watching folders; raise the limit \
         (sudo sysctl fs.inotify.max_user_instances=512) or set polling = true; until then all folders are \
         looked through every few seconds", .0.display()
    )]
    InstanceLimit(PathBuf),
    /// The system refuses to watch a folder for another reason.
    #[error(
        "cannot watch \"{}\" for changes: {reason}; allow this user to read and enter it, or set polling = true where \
         the folder lies on a network; until then all folders are looked through every few seconds", .folder.display()
    )]
    Watch {
        /// Which folder.
        folder: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// A folder, or something in it, cannot be read.
    #[error(
        "cannot read \"{}\": {source}; allow this user to read and enter it, and its tiles are found at the next look",
        .path.display()
    )]
    Read {
        /// Which folder or entry.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// More troubles at once than anyone reads.
    #[error("more folders cannot be watched or read; put the first ones right, and the others are told next")]
    More,
}
