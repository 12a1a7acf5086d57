//! What to look at, and what one look at a folder saw: plain data.

use crate::disk::Stamp;
use std::path::PathBuf;

/// A mark: look again at this folder. The order is that of paths.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LookAt {
    /// Relative to the root; the root itself is the empty path.
    pub folder: PathBuf,
    /// Whether everything below is in doubt too. Otherwise only folders that are not watched yet are gone into.
    pub deep: bool,
}

impl LookAt {
    /// The whole root.
    #[must_use]
    pub fn everything() -> Self {
        Self { folder: PathBuf::new(), deep: true }
    }
}

/// Everything a look learned about one folder and what it read below. Paths are relative to the root, the root itself is
/// the empty path.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// Where it began.
    pub folder: PathBuf,
    /// Files with the names of tiles, each with its stamp.
    pub files: Vec<(PathBuf, Stamp)>,
    /// Folders at or below `folder` that are there, or may be, and were not read to the end: what was not seen there may
    /// be there all the same.
    pub kept: Vec<PathBuf>,
}
