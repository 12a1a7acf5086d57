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
    /// The picture of what is wrong, made small.
    pub picture: Option<Preview>,
    /// What else is to be told of it, for instance that a person changed its checked file and it was left alone.
    pub notes: Vec<String>,
}

/// The time a letter covers, spelled in the reader's zone.
#[derive(Clone, Debug)]
pub struct Window {
    /// When it begins; `None` for the first letter.
    pub since: Option<String>,
    /// When it ends.
    pub until: String,
    /// What happened in it beside tiles.
    pub remarks: Vec<Remark>,
}

/// Something to be told that is about no tile.
#[derive(Clone, Debug)]
pub struct Remark {
    /// What it is about: a file below an output folder.
    pub name: String,
    /// What there is to say, one sentence.
    pub says: String,
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
