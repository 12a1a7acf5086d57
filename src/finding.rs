//! Findings: one fault at one place, with its measure and limit, what is seen and what to do.
//!
//! Plain data. Knows no pixels and cannot judge; the rules in `pipeline::check` make findings.

use serde::{Deserialize, Serialize};
use std::fmt;

/// The most boxes a finding carries.
pub const MOST_BOXES: usize = 64;

/// What kind of fault. The names in tickets, specs and documents are the dotted ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Kind {
    /// Cannot be decoded.
    #[serde(rename = "file.unreadable")]
    FileUnreadable,
    /// Ends before its last byte.
    #[serde(rename = "file.truncated")]
    FileTruncated,
    /// A kind of image we do not read.
    #[serde(rename = "file.unsupported")]
    FileUnsupported,
    /// Over the limits on sides, pixels or bytes.
    #[serde(rename = "file.too_large")]
    FileTooLarge,
    /// More than one frame.
    #[serde(rename = "file.animated")]
    FileAnimated,
    /// More than one page.
    #[serde(rename = "file.pages")]
    FilePages,
    /// Not the demanded pixels.
    #[serde(rename = "size.pixels")]
    SizePixels,
    /// Not the demanded print size.
    #[serde(rename = "size.print")]
    SizePrint,
    /// The resolution tag is wrong or missing.
    #[serde(rename = "size.resolution")]
    SizeResolution,
    /// A side that the layout cannot divide.
    #[serde(rename = "size.divisible")]
    SizeDivisible,
    /// More bytes than demanded.
    #[serde(rename = "size.bytes")]
    SizeBytes,
    /// CMYK and the like.
    #[serde(rename = "color.mode")]
    ColorMode,
    /// No profile or another than demanded.
    #[serde(rename = "color.profile")]
    ColorProfile,
    /// More bits than demanded.
    #[serde(rename = "color.depth")]
    ColorDepth,
    /// More flat colors than allowed.
    #[serde(rename = "color.count")]
    ColorCount,
    /// Two flat colors that can hardly be told apart.
    #[serde(rename = "color.twins")]
    ColorTwins,
    /// Scattered pixels in between flat colors.
    #[serde(rename = "color.stray")]
    ColorStray,
    /// The edge does not meet its copy.
    #[serde(rename = "joint.break")]
    JointBreak,
    /// Art that crosses the joint comes back displaced along it.
    #[serde(rename = "joint.shift")]
    JointShift,
    /// Lines too many at the joint.
    #[serde(rename = "joint.doubled")]
    JointDoubled,
    /// Lines too few at the joint.
    #[serde(rename = "joint.missing")]
    JointMissing,
    /// Light or tint differs evenly between opposite edges.
    #[serde(rename = "joint.drift")]
    JointDrift,
    /// A see-through line between opaque pixels.
    #[serde(rename = "alpha.hairline")]
    AlphaHairline,
    /// See-through border rows.
    #[serde(rename = "alpha.fringe")]
    AlphaFringe,
    /// A hole.
    #[serde(rename = "alpha.gap")]
    AlphaGap,
    /// A few stray see-through pixels.
    #[serde(rename = "alpha.speck")]
    AlphaSpeck,
    /// The ground itself is see-through.
    #[serde(rename = "alpha.ground")]
    AlphaGround,
    /// A see-through line that was merged onto a paper color.
    #[serde(rename = "line.flattened")]
    LineFlattened,
    /// One unit of a regular design sits aside.
    #[serde(rename = "unit.stray")]
    UnitStray,
    /// The tile holds a smaller exact repeat.
    #[serde(rename = "unit.smaller")]
    UnitSmaller,
    /// Strong regular stripes that may be hard on the eyes.
    #[serde(rename = "glare.stripes")]
    GlareStripes,
    /// A mended copy did not pass its proof.
    #[serde(rename = "mend.unproven")]
    MendUnproven,
}

impl Kind {
    /// Every kind, in the order of the vocabulary.
    pub const ALL: [Self; 32] = [
        Self::FileUnreadable,
        Self::FileTruncated,
        Self::FileUnsupported,
        Self::FileTooLarge,
        Self::FileAnimated,
        Self::FilePages,
        Self::SizePixels,
        Self::SizePrint,
        Self::SizeResolution,
        Self::SizeDivisible,
        Self::SizeBytes,
        Self::ColorMode,
        Self::ColorProfile,
        Self::ColorDepth,
        Self::ColorCount,
        Self::ColorTwins,
        Self::ColorStray,
        Self::JointBreak,
        Self::JointShift,
        Self::JointDoubled,
        Self::JointMissing,
        Self::JointDrift,
        Self::AlphaHairline,
        Self::AlphaFringe,
        Self::AlphaGap,
        Self::AlphaSpeck,
        Self::AlphaGround,
        Self::LineFlattened,
        Self::UnitStray,
        Self::UnitSmaller,
        Self::GlareStripes,
        Self::MendUnproven,
    ];

    /// The dotted name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::FileUnreadable => "file.unreadable",
            Self::FileTruncated => "file.truncated",
            Self::FileUnsupported => "file.unsupported",
            Self::FileTooLarge => "file.too_large",
            Self::FileAnimated => "file.animated",
            Self::FilePages => "file.pages",
            Self::SizePixels => "size.pixels",
            Self::SizePrint => "size.print",
            Self::SizeResolution => "size.resolution",
            Self::SizeDivisible => "size.divisible",
            Self::SizeBytes => "size.bytes",
            Self::ColorMode => "color.mode",
            Self::ColorProfile => "color.profile",
            Self::ColorDepth => "color.depth",
            Self::ColorCount => "color.count",
            Self::ColorTwins => "color.twins",
            Self::ColorStray => "color.stray",
            Self::JointBreak => "joint.break",
            Self::JointShift => "joint.shift",
            Self::JointDoubled => "joint.doubled",
            Self::JointMissing => "joint.missing",
            Self::JointDrift => "joint.drift",
            Self::AlphaHairline => "alpha.hairline",
            Self::AlphaFringe => "alpha.fringe",
            Self::AlphaGap => "alpha.gap",
            Self::AlphaSpeck => "alpha.speck",
            Self::AlphaGround => "alpha.ground",
            Self::LineFlattened => "line.flattened",
            Self::UnitStray => "unit.stray",
            Self::UnitSmaller => "unit.smaller",
            Self::GlareStripes => "glare.stripes",
            Self::MendUnproven => "mend.unproven",
        }
    }

    /// Whether it is about the tile's edges, which are best seen where they meet.
    #[must_use]
    pub fn at_joint(self) -> bool {
        matches!(self, Self::JointBreak | Self::JointShift | Self::JointDoubled | Self::JointMissing | Self::JointDrift)
    }

    /// The kind of a dotted name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// Told, never blocks.
    Advice,
    /// Burler mends it.
    Mend,
    /// The tile is held.
    Fault,
}

/// A rectangle of pixels inside the canvas; in tickets `[x, y, width, height]`, origin top left.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "[u32; 4]", into = "[u32; 4]")]
pub struct Area {
    /// First column.
    pub x: u32,
    /// First row.
    pub y: u32,
    /// Columns, at least 1.
    pub width: u32,
    /// Rows, at least 1.
    pub height: u32,
}

impl From<[u32; 4]> for Area {
    fn from([x, y, width, height]: [u32; 4]) -> Self {
        Self { x, y, width, height }
    }
}

impl From<Area> for [u32; 4] {
    fn from(area: Area) -> Self {
        [area.x, area.y, area.width, area.height]
    }
}

/// Which side of the limit is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Bound {
    /// The value must be at least the limit.
    Min,
    /// The value must be at most the limit.
    Max,
    /// The value must equal the limit.
    Equal,
}

/// What was measured, in units a designer knows, and the limit beside it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// What the number is.
    pub name: String,
    /// The number, rounded to two decimals when written.
    #[serde(serialize_with = "two_decimals")]
    pub value: f64,
    /// Its unit, as one would say it after the number.
    pub unit: String,
    /// Which side of the limit is allowed.
    pub bound: Bound,
    /// The limit, in the same unit.
    #[serde(serialize_with = "two_decimals")]
    pub limit: f64,
}

impl Measure {
    /// A measure from its parts, its numbers rounded as they are written, so that a ticket read back equals itself.
    #[must_use]
    pub fn new(name: &str, value: f64, unit: &str, bound: Bound, limit: f64) -> Self {
        Self { name: name.into(), value: rounded(value), unit: unit.into(), bound, limit: rounded(limit) }
    }
}

/// Rounds to the two decimals that tickets carry; what is not a number becomes 0, which JSON can hold.
#[must_use]
pub fn rounded(value: f64) -> f64 {
    let rounded = (value * 100.0).round() / 100.0;
    if rounded.is_finite() { rounded + 0.0 } else { 0.0 }
}

fn two_decimals<S: serde::Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(rounded(*value))
}

/// One fault at one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Which fault.
    pub kind: Kind,
    /// Its weight.
    pub grade: Grade,
    /// Whether the spec silences it: it stays in the ticket and does not count.
    pub silenced: bool,
    /// Where, at most [`MOST_BOXES`]; empty for what concerns the whole file.
    pub boxes: Vec<Area>,
    /// How much, against what.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub measure: Option<Measure>,
    /// What is seen, one sentence for the designer, lower case, no full stop.
    pub says: String,
    /// What to do, in the same manner.
    #[serde(rename = "do")]
    pub remedy: String,
}

/// Puts findings in the order of every record: what counts before what is silenced, the gravest first, then by kind and
/// place, so that equal judgments read equal.
pub fn put_in_order(findings: &mut [Finding]) {
    findings.sort_by_key(|finding| {
        (finding.silenced, std::cmp::Reverse(finding.grade), finding.kind, finding.boxes.clone())
    });
}

/// One thing that was measured, whether or not it passed: what a verdict can be argued with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The rule that measured it.
    pub kind: Kind,
    /// Where: "right and left edge", "lowered by half", "the whole tile".
    pub at: String,
    /// How much, against what.
    pub measure: Measure,
}

impl Reading {
    /// Whether the value is on the allowed side of its limit.
    #[must_use]
    pub fn passes(&self) -> bool {
        let Measure { value, limit, .. } = self.measure;
        match self.measure.bound {
            Bound::Min => value >= limit,
            Bound::Max => value <= limit,
            Bound::Equal => value == limit,
        }
    }
}

/// What findings come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Nothing to do.
    Sound,
    /// Burler can mend it.
    Mendable,
    /// Burler has mended it (a standing's word, never a judgment's).
    Mended,
    /// The artist has to look.
    Held,
    /// Could not be decoded.
    Unreadable,
}

impl Verdict {
    /// The verdict over findings of a tile that could be read.
    #[must_use]
    pub fn over(findings: &[Finding]) -> Self {
        match findings.iter().filter(|finding| !finding.silenced).map(|finding| finding.grade).max() {
            Some(Grade::Fault) => Self::Held,
            Some(Grade::Mend) => Self::Mendable,
            Some(Grade::Advice) | None => Self::Sound,
        }
    }

    /// The name in tickets.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Mendable => "mendable",
            Self::Mended => "mended",
            Self::Held => "held",
            Self::Unreadable => "unreadable",
        }
    }

    /// What the designer reads.
    #[must_use]
    pub fn plain(self) -> &'static str {
        match self {
            Self::Sound => "ready",
            Self::Mendable => "can be mended",
            Self::Mended => "ready, mended",
            Self::Held => "needs you",
            Self::Unreadable => "cannot be opened",
        }
    }
}
