//! The ticket: the record of one judgment as JSON, one line.
//!
//! The schema is public: other programs read it. Fields are only ever added; a change of meaning raises [`SCHEMA`].

use crate::finding::{Finding, Reading, Verdict, rounded};
use serde::{Deserialize, Serialize};

/// The version of the ticket's shape.
pub const SCHEMA: u32 = 1;

/// The version of the rules: raised whenever any rule can judge the same bytes differently, so that kept judgments are
/// not taken for current ones.
pub const RULES: u32 = 1;

/// The smallest repeat a tile holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Unit {
    /// First vector, pixels right and down.
    pub a: [i64; 2],
    /// Second vector.
    pub b: [i64; 2],
    /// How many units one tile holds.
    pub per_tile: u32,
}

/// How the tile repeats.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RepeatFound {
    /// The layouts in which both joints hold, by name, block first.
    pub joins_as: Vec<String>,
    /// The smallest repeat, when one was looked for and found.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub unit: Option<Unit>,
}

/// What was, or could not be, made of a tile beside itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Companion {
    /// The wish, as an order sheet spells it.
    pub wish: String,
    /// Its pixels across; 0 when it could not be made.
    pub width: u32,
    /// Its pixels down.
    pub height: u32,
    /// How many of the smallest repeats it holds.
    pub units: u64,
    /// The repeat it is to be laid in, by name; empty when there is none.
    pub repeat: String,
    /// By how many degrees it is turned, clockwise.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub degrees: Option<f64>,
    /// How large its art is against the tile's, when it is turned; rounded to six decimals.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub scale: Option<f64>,
    /// Why there is none, and what to do.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub refused: Option<String>,
}

/// The record of one judgment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ticket {
    /// [`SCHEMA`].
    pub schema: u32,
    /// [`RULES`].
    pub rules: u32,
    /// The tile's path relative to its folder, or as given on the command line; what is not UTF-8 is replaced.
    pub tile: String,
    /// The raw bytes of the path in hexadecimal, only when it is not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tile_hex: Option<String>,
    /// The hash of the file, 64 hexadecimal digits.
    pub blake3: String,
    /// The container; empty when unknown.
    pub format: String,
    /// Pixels; 0 when unreadable.
    pub width: u32,
    /// Pixels; 0 when unreadable.
    pub height: u32,
    /// The stored layout.
    pub channels: String,
    /// Bits per stored sample.
    pub bit_depth: u8,
    /// Pixels per inch, across and down, when the file gives them.
    pub resolution_dpi: Option<[f64; 2]>,
    /// Print size in millimeters at that resolution.
    pub print_mm: Option<[f64; 2]>,
    /// The color tag.
    pub color_profile: String,
    /// The spec's name; empty for none.
    pub spec: String,
    /// The digest of the spec's content.
    pub spec_digest: String,
    /// `opaque`, `transparent` or `unclear`.
    pub ground: String,
    /// How it repeats.
    pub repeat: RepeatFound,
    /// What it comes to.
    pub verdict: Verdict,
    /// All findings, gravest first.
    pub findings: Vec<Finding>,
    /// What was measured, passed or not, when it was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub readings: Vec<Reading>,
    /// What was made of it beside itself.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub companions: Vec<Companion>,
    /// Paths of what was written for it, relative to the output folder; empty in a judgment.
    #[serde(default)]
    pub outputs: Vec<String>,
}

impl Ticket {
    /// The ticket as one line of JSON without the line end.
    ///
    /// # Errors
    /// Never in practice: every field has a JSON form. The error is passed on rather than hidden.
    pub fn to_line(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }

    /// Reads a line back.
    ///
    /// # Errors
    /// When the line is not a ticket of a schema this program knows.
    pub fn from_line(line: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(line)
    }
}

/// Print size in millimeters for pixels at a resolution, both rounded as tickets are.
#[must_use]
pub fn print_mm(width: u32, height: u32, dpi: [f64; 2]) -> [f64; 2] {
    [
        rounded(f64::from(width) / dpi[0] * crate::spec::MM_PER_INCH),
        rounded(f64::from(height) / dpi[1] * crate::spec::MM_PER_INCH),
    ]
}
