//! What a letter is made of: one entry for each tile that is told, the window it covers, and its limits.
//!
//! Plain data. Paths and dates come as text, ready to be read by a person.

use super::preview::Preview;
use crate::finding::{Finding, Verdict};

/// One tile to be told.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The configured name of its folder.
    pub folder: String,
    /// Its path relative to that folder; what is not UTF-8 is replaced.
    pub tile: String,
    /// What holds for it.
    pub verdict: Verdict,
    /// All its findings, gravest first.
    pub findings: Vec<Finding>,
    /// Where the original is.
    pub original: String,
    /// Where its checked file or its held picture is; empty when nothing was written.
    pub outputs: Vec<String>,
    /// The picture of what is wrong, or of a mended place before and after, made small.
    pub picture: Option<Preview>,
    /// What was told of it last, in an earlier letter; `None` when nothing was.
    pub before: Option<Verdict>,
    /// The tile it is a conflicting copy of, relative to the folder.
    pub copy_of: Option<String>,
    /// What else is to be told of it, for instance that a person changed its checked file and it was left alone.
    pub notes: Vec<String>,
}

/// The time a letter covers, spelled in the reader's zone, and what it tells beside the tiles that are new.
#[derive(Clone, Debug, Default)]
pub struct Window {
    /// When it begins; `None` for the first letter.
    pub since: Option<String>,
    /// When it ends.
    pub until: String,
    /// Whether it takes stock of a folder that was full before Burler came: the worst in full, everything else by name.
    pub inventory: bool,
    /// What waits for the next letters.
    pub kept: Kept,
    /// Tiles told earlier that still need the artist.
    pub still: Vec<Still>,
    /// What sweeps of archives found.
    pub swept: Vec<Swept>,
    /// What happened in it beside tiles.
    pub remarks: Vec<Remark>,
}

/// How many tiles wait for the next letters because this one has no room for them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// Those that need the artist.
    pub needs: usize,
    /// Mended ones.
    pub mended: usize,
}

/// A tile that was told to need the artist and still does.
#[derive(Clone, Debug)]
pub struct Still {
    /// The configured name of its folder.
    pub folder: String,
    /// Its path relative to that folder.
    pub tile: String,
    /// What is wrong, one sentence.
    pub says: String,
    /// When that was told.
    pub told: String,
}

/// Something to be told that is about no tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// What it is about: a file below an output folder.
    pub name: String,
    /// What there is to say, one sentence.
    pub says: String,
}

/// What one sweep of an archive found. Nothing found and nothing counted is nothing said; counts alone are told in a letter
/// that comes anyway.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Swept {
    /// The configured name of the archive.
    pub archive: String,
    /// When it ended.
    pub when: String,
    /// What was counted, in the order it is told: how many, and the words for one and for several.
    pub counts: Vec<Count>,
    /// What the artist should know, the gravest first; those over [`MOST_SWEPT`] are told by their number.
    pub lines: Vec<Remark>,
    /// What else was remarked, in groups of which each is told by one sentence and its first few.
    pub folded: Vec<Folded>,
}

/// Remarks of one sort.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folded {
    /// How many they are and of what sort, one sentence.
    pub says: String,
    /// Each of them; those over [`MOST_FOLDED`] are told by their number.
    pub lines: Vec<Remark>,
}

/// So many of something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Count {
    /// How many.
    pub number: usize,
    /// What, of one: `tile checked`.
    pub one: String,
    /// What, of several: `tiles checked`.
    pub several: String,
}

/// The most lines of one sweep.
pub const MOST_SWEPT: usize = 10;
/// The most lines of one sort of remarks.
pub const MOST_FOLDED: usize = 3;

impl Swept {
    /// Whether it is reason enough for a letter.
    #[must_use]
    pub fn is_news(&self) -> bool {
        !self.lines.is_empty() || !self.folded.is_empty()
    }
}

/// How a letter is written.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Who it speaks of, for instance the studio's name; may be empty.
    pub title: String,
    /// The most bytes of HTML.
    pub most_html: usize,
    /// The most bytes of the whole mail.
    pub most_bytes: usize,
}

impl Default for Settings {
    /// No title, HTML below 100 kB (mail readers cut longer ones off: common practice), the whole below 5 MB.
    fn default() -> Self {
        Self { title: String::new(), most_html: 100_000, most_bytes: 5_000_000 }
    }
}
