//! What a sweep found, as plain data: counts, what is new, what is left. Knows no words of the terminal.

use crate::finding::Verdict;
use crate::ledger::Noted;
use std::path::PathBuf;
use std::time::Duration;

/// What a sweep found out about one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// As recorded.
    Unchanged,
    /// Not known before.
    New,
    /// Written anew since.
    Changed,
    /// Other bytes, though nothing says that anyone wrote it.
    Damaged,
    /// As recorded again, after it was damaged.
    Healed,
    /// There again, as recorded.
    Returned,
    /// Known bytes under another path.
    Moved {
        /// The path it had.
        from: PathBuf,
    },
    /// No longer there.
    Vanished,
    /// Not looked at by this sweep: it cannot be read, is being written, or its turn did not come.
    Left,
}

impl State {
    /// Its name in what machines read.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Unchanged => "unchanged",
            Self::New => "new",
            Self::Changed => "changed",
            Self::Damaged => "damaged",
            Self::Healed => "healed",
            Self::Returned => "returned",
            Self::Moved { .. } => "moved",
            Self::Vanished => "vanished",
            Self::Left => "left",
        }
    }
}

/// How the files of an archive are, counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Integrity {
    /// Files with the names of tiles.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
    /// How many were read in full, and found as recorded or recorded anew.
    pub read: u64,
    /// The bytes of those.
    pub read_bytes: u64,
    /// As recorded.
    pub unchanged: u64,
    /// Not known before.
    pub new: u64,
    /// Written anew.
    pub changed: u64,
    /// Damaged, now or found so earlier.
    pub damaged: u64,
    /// As recorded again, after damage or absence.
    pub restored: u64,
    /// Under another path.
    pub moved: u64,
    /// No longer there, found out by this sweep.
    pub vanished: u64,
    /// Not looked at: they cannot be read, are being written, or their turn did not come.
    pub left: u64,
}

/// What the tiles of an archive come to, counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Verdicts {
    /// Nothing wrong.
    pub sound: u64,
    /// Can be mended and is not.
    pub mendable: u64,
    /// Mended into the output folder.
    pub mended: u64,
    /// Need the artist.
    pub held: u64,
    /// Cannot be opened.
    pub unreadable: u64,
    /// How many were inspected by this sweep, and not known from an earlier judgment.
    pub inspected: u64,
}

impl Verdicts {
    /// Counts one more.
    pub fn count(&mut self, verdict: Verdict) {
        *match verdict {
            Verdict::Sound => &mut self.sound,
            Verdict::Mendable => &mut self.mendable,
            Verdict::Mended => &mut self.mended,
            Verdict::Held => &mut self.held,
            Verdict::Unreadable => &mut self.unreadable,
        } += 1;
    }
}

/// One file about which there is something to tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Relative to the archive's folder, raw.
    pub path: PathBuf,
    /// What is with it.
    pub state: State,
    /// What it came to, when it was judged.
    pub verdict: Option<Verdict>,
    /// What is seen, in a sentence: the gravest finding, or what happened to the file.
    pub says: String,
    /// What to do; empty when nothing is.
    pub remedy: String,
}

/// Something that concerns several files, or a file that is no tile: twins, names, strays.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// What it is, as machines read it: `twins`, `name.reused`, `stray.empty` and their like.
    pub kind: String,
    /// The files, relative to the archive's folder, raw.
    pub paths: Vec<PathBuf>,
    /// What is seen, in a sentence.
    pub says: String,
    /// What to do; empty when nothing is.
    pub remedy: String,
}

impl From<Noted> for Remark {
    fn from(Noted { kind, paths, says, remedy }: Noted) -> Self {
        Self { kind, paths, says, remedy }
    }
}

/// What was put into the output folder, counted by tiles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// Mended.
    pub mended: u64,
    /// Pictured, since they need the artist or cannot be opened.
    pub pictured: u64,
    /// Not known yet which of both: in a dry run.
    pub would: u64,
}

/// What is still to be done when the time is up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Left {
    /// Files.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
}

/// What a sweep of one archive found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// The archive's name.
    pub archive: String,
    /// How long it took.
    pub took: Duration,
    /// The files.
    pub integrity: Integrity,
    /// The tiles.
    pub verdicts: Verdicts,
    /// What there is to tell of single files, by path.
    pub lines: Vec<Line>,
    /// Tiles that are one repeat under several names, and families of colorways.
    pub twins: Vec<Remark>,
    /// Names that are used twice, do not follow the pattern, or miss a colorway.
    pub names: Vec<Remark>,
    /// Files that do not belong in an archive.
    pub strays: Vec<Remark>,
    /// Folders and files that could not be looked at, in sentences.
    pub troubles: Vec<String>,
    /// What was given, or would be in a dry run.
    pub given: Given,
    /// Tiles whose mending is left for the next sweep.
    pub unmended: u64,
    /// Files whose turn did not come.
    pub left: Left,
}

impl Report {
    /// Whether nothing is left for the next sweep.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.left.files == 0 && self.unmended == 0
    }
}
