//! What one look at a folder saw: plain data.

use crate::disk::Stamp;
use std::path::PathBuf;

/// Everything a look learned about one folder and what it read below. Paths are relative to the root, the root itself is
/// the empty path.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// Where it began.
    pub folder: PathBuf,
    /// Files with the names of tiles, each with its stamp.
    pub files: Vec<(PathBuf, Stamp)>,
    /// Folders at or below `folder` that are there, or may be, and were not read: nothing was learned about what is below.
    pub kept: Vec<PathBuf>,
}
