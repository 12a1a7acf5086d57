//! What the ledger knows of an archive's files, as plain data. Knows nothing of how that is stored or found out.

use super::entry::Key;
use crate::disk::Stamp;
use crate::finding::Verdict;
use crate::tile::Content;
use std::path::PathBuf;
use std::time::SystemTime;

/// How the names begin under which archives stand beside watched folders, in standings and everywhere else.
const ARCHIVE: &str = "archive/";

/// The name of an archive among all folders of the ledger.
#[must_use]
pub fn archive_folder(archive: &str) -> String {
    format!("{ARCHIVE}{archive}")
}

/// The archive of such a name; `None` for a watched folder.
#[must_use]
pub fn archive_of(folder: &str) -> Option<&str> {
    folder.strip_prefix(ARCHIVE)
}

/// Whether a file of an archive is as it should be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MemberState {
    /// It is there.
    Present,
    /// It is there with other bytes, though nothing says that anyone wrote it: what is known is of the bytes it had.
    Damaged {
        /// The hash of the bytes it was found with.
        found: Content,
    },
    /// It is no longer there.
    Vanished,
}

/// What was last news about a file. Numbers of change say whether that was told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// Nothing worth telling yet.
    None,
    /// It was not known.
    New,
    /// Someone wrote it anew.
    Changed,
    /// Someone wrote another drawing under its name.
    Reused {
        /// The hash of the bytes it had.
        before: Content,
    },
    /// Its bytes changed and nothing says that anyone wrote it.
    Damaged,
    /// It has its recorded bytes again.
    Healed,
    /// It is no longer there.
    Vanished,
    /// It is there again, as it was.
    Returned,
    /// It has another path.
    Moved {
        /// The path it had.
        from: PathBuf,
    },
    /// The verdict or findings on the same bytes changed: another order sheet or other rules.
    Judged,
}

/// What a file of an archive came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdicted {
    /// The digest of the spec's content.
    pub spec_digest: String,
    /// The version of the rules.
    pub rules: u32,
    /// The spec's name; empty for none.
    pub spec: String,
    /// The verdict.
    pub verdict: Verdict,
}

/// One file of an archive.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// The archive's name in the configuration, or the folder itself where none is configured.
    pub archive: String,
    /// Relative to the archive's folder, raw bytes.
    pub path: PathBuf,
    /// Its stamp when it was last read; of a damaged file, when it was last as it should be.
    pub stamp: Stamp,
    /// The hash of its bytes; of a damaged file, of those it should have.
    pub content: Content,
    /// Whether it is as it should be.
    pub state: MemberState,
    /// When it was last read in full.
    pub verified: SystemTime,
    /// When it was first seen with these bytes.
    pub found: SystemTime,
    /// What it came to; `None` when it was not judged yet.
    pub judged: Option<Verdicted>,
    /// What was last news about it.
    pub news: News,
    /// The number of its last change worth telling; 0 before the first.
    pub changed: i64,
}

impl Member {
    /// Its size in bytes.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.stamp.size
    }

    /// The key of its judgment.
    #[must_use]
    pub fn key(&self) -> Option<Key> {
        let judged = self.judged.as_ref()?;
        Some(Key { content: self.content, spec_digest: judged.spec_digest.clone(), rules: judged.rules })
    }
}
