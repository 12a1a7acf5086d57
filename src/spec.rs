//! The spec (the designer's "order sheet"): what one kind of order demands of a tile.
//!
//! Plain data with its own digest. Knows nothing of TOML; `config` builds it.

pub mod repeat;
pub mod wish;

use crate::finding::Kind;
use serde::{Deserialize, Serialize};
use wish::Wish;

pub use repeat::Repeat;

/// Millimeters in one inch, exactly (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// The viewing distance in millimeters where a spec names none: an arm's length and a half, about the least at which a whole
/// cloth or wall is taken in (common practice).
pub const VIEWING_MM: f64 = 1000.0;

/// A demanded side of the tile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Length {
    /// Whole pixels.
    Pixels(u32),
    /// A print length in millimeters; needs a resolution to become pixels.
    Millimeters(f64),
}

/// What lies behind the motifs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GroundDemand {
    /// Not said: inferred from the pixels.
    #[default]
    Infer,
    /// Every pixel opaque.
    Opaque,
    /// Meant to be see-through.
    Transparent,
    /// Both allowed; inferred from the pixels and never a fault in itself.
    Either,
}

/// What the pixels say lies behind the motifs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ground {
    /// Every pixel is meant to be opaque.
    Opaque,
    /// See-through on purpose.
    Transparent,
    /// Neither named nor clear: alpha findings are advice and nothing is written.
    Unclear,
}

impl Ground {
    /// The name in tickets.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Opaque => "opaque",
            Self::Transparent => "transparent",
            Self::Unclear => "unclear",
        }
    }
}

/// What one kind of order demands. The default demands nothing: ground and repeat are inferred, size is not judged.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct Spec {
    /// Its name in the configuration; empty for the default.
    pub name: String,
    /// Demanded width.
    pub width: Option<Length>,
    /// Demanded height.
    pub height: Option<Length>,
    /// Demanded pixels per inch.
    pub resolution: Option<f64>,
    /// Demanded ground.
    pub ground: GroundDemand,
    /// Demanded repeat; `None` means any.
    pub repeat: Option<Repeat>,
    /// How many blocks a tile holds along each side: 4 blocks of 900 px in 3600.
    pub blocks: Option<u32>,
    /// Most bytes of the delivered file.
    pub bytes: Option<u64>,
    /// Whether inks other than RGB or gray are refused.
    pub rgb_only: bool,
    /// Demanded color profile, by name (`sRGB` also accepts an untagged file marked sRGB).
    pub profile: Option<String>,
    /// Most bits per sample.
    pub depth: Option<u8>,
    /// Most flat colors; `None` means that they are not counted.
    pub colors: Option<u32>,
    /// From how far away the print is looked at, in millimeters; `None` means [`VIEWING_MM`].
    pub viewing: Option<f64>,
    /// Rules that stay in the ticket but do not count.
    pub silence: Vec<Kind>,
    /// Rules loosened to advice: told, never blocking, never mended.
    pub tell: Vec<Kind>,
    /// Rules tightened to faults: the tile is held, nothing is mended for them.
    pub hold: Vec<Kind>,
    /// What is given back beside a sound or mended tile.
    #[serde(default)]
    pub companions: Vec<Wish>,
}

impl Spec {
    /// Whether findings of a kind are mended: what is silenced, loosened or tightened by name is left to the artist.
    #[must_use]
    pub fn mends(&self, kind: Kind) -> bool {
        ![&self.silence, &self.tell, &self.hold].into_iter().any(|list| list.contains(&kind))
    }

    /// A digest of everything that can change a judgment: two specs of equal content have equal digests whatever their
    /// name. 16 hexadecimal digits.
    #[must_use]
    pub fn digest(&self) -> String {
        let content = Self { name: String::new(), ..self.clone() };
        // `Debug` of plain data is a complete and stable spelling of it within one rules number, which is part of every key.
        blake3::hash(format!("{content:?}").as_bytes()).to_hex()[..16].to_string()
    }
}
