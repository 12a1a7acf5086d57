//! What a sweep says to machines: lines of JSON, one for each tile, one for each remark, one of counts at the end.
//!
//! The schema is public: other programs read it. Fields are only ever added; a change of meaning raises [`SCHEMA`].

use serde::Serialize;

/// The version of these lines' shape.
pub const SCHEMA: u32 = 1;

/// One line of a sweep. The key `line` says which.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "line", rename_all = "kebab-case")]
pub enum Line {
    /// One tile of the archive.
    Tile(Tile),
    /// Something that concerns several files, or a file that is no tile.
    Remark(Remark),
    /// The counts at the end.
    Summary(Summary),
}

impl Line {
    /// The line without the line end.
    ///
    /// # Errors
    /// When a number is not finite, which none here is.
    pub fn to_line(&self) -> Result<String, serde_json::Error> {
        #[derive(Serialize)]
        struct Versioned<'a> {
            schema: u32,
            #[serde(flatten)]
            line: &'a Line,
        }
        serde_json::to_string(&Versioned { schema: SCHEMA, line: self })
    }
}

/// One tile of an archive.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Tile {
    /// The archive's name, or its folder where none is configured.
    pub archive: String,
    /// Its path relative to the archive's folder; what is not UTF-8 is replaced.
    pub tile: String,
    /// The raw bytes of the path in hexadecimal, only when it is not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tile_hex: Option<String>,
    /// What the sweep found out: `unchanged`, `new`, `changed`, `damaged`, `healed`, `returned`, `moved`, `vanished` or `left`.
    pub state: String,
    /// The path it had, when it was moved.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moved_from: Option<String>,
    /// The raw bytes of that path in hexadecimal, only when it is not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moved_from_hex: Option<String>,
    /// The family of twins and colorways it belongs to, named by the first of their paths.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// The recorded hash, 64 hexadecimal digits.
    pub blake3: String,
    /// The hash it was found with, of a damaged file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found_blake3: Option<String>,
    /// Its size.
    pub bytes: u64,
    /// When it was last read in full (RFC 3339, UTC).
    pub verified: String,
    /// The order sheet's name; empty for none.
    pub spec: String,
    /// What it came to; absent before it was judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<String>,
    /// The kinds of its findings that count, gravest first.
    pub findings: Vec<String>,
    /// The gravest of them in a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
    /// What to do about it.
    #[serde(rename = "do", skip_serializing_if = "Option::is_none")]
    pub remedy: Option<String>,
}

/// Something that concerns several files, or a file that is no tile.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remark {
    /// The archive's name.
    pub archive: String,
    /// What it is: `twins`, `name.reused`, `stray.empty` and their like.
    pub kind: String,
    /// The files, relative to the archive's folder.
    pub files: Vec<String>,
    /// The raw bytes of those whose names are not UTF-8, as hexadecimal digits, in the same order; empty texts for the others.
    /// Absent when there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub files_hex: Vec<String>,
    /// What is seen.
    pub says: String,
    /// What to do; empty when nothing is.
    #[serde(rename = "do")]
    pub remedy: String,
}

/// The counts of a sweep.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Summary {
    /// The archive's name.
    pub archive: String,
    /// Tiles that are there, and their bytes.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
    /// How many were read in full, and their bytes.
    pub read: u64,
    /// The bytes of those.
    pub read_bytes: u64,
    /// How many were inspected, since no judgment of theirs was kept.
    pub inspected: u64,
    /// By what the sweep found out.
    pub unchanged: u64,
    /// Not known before.
    pub new: u64,
    /// Written anew.
    pub changed: u64,
    /// Damaged.
    pub damaged: u64,
    /// As recorded again.
    pub restored: u64,
    /// Under another path.
    pub moved: u64,
    /// No longer there.
    pub vanished: u64,
    /// Not looked at.
    pub not_looked_at: u64,
    /// By verdict: nothing wrong.
    pub sound: u64,
    /// Can be mended and is not.
    pub mendable: u64,
    /// Mended.
    pub mended: u64,
    /// Need the artist.
    pub held: u64,
    /// Cannot be opened.
    pub unreadable: u64,
    /// Tiles mended into the output folder by this sweep.
    pub given_mended: u64,
    /// Tiles pictured there by this sweep.
    pub given_pictured: u64,
    /// Files whose turn did not come.
    pub left: u64,
    /// Their bytes.
    pub left_bytes: u64,
    /// Tiles whose mending is left.
    pub left_to_mend: u64,
    /// Whether nothing was written.
    pub dry_run: bool,
    /// How long it took.
    pub seconds: f64,
    /// What could not be looked at, in sentences.
    pub troubles: Vec<String>,
}
