//! What can be chosen about pictures, and why one could not be made: all wording of this stage's errors.

use crate::codec::picture::PictureError;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The version of the drawing: raised whenever the same tile and settings can give another picture, so that kept
/// pictures are not taken for current ones.
pub const DRAWING: u32 = 2;

/// The smallest `max_side` that is honored; less would leave no room for two copies side by side.
pub const LEAST_SIDE: u32 = 64;

/// What can be chosen about pictures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// Most pixels along a side of the repeat picture; taken as [`LEAST_SIDE`] when smaller, as 65535 when larger.
    pub max_side: u32,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
    /// Most bytes of the strike-off.
    pub strike_off_bytes: u64,
    /// Most pixels per inch of the strike-off.
    pub strike_off_per_inch: u32,
}

impl Default for Settings {
    fn default() -> Self {
        Self { max_side: 2000, quality: 90, strike_off_bytes: 3_000_000, strike_off_per_inch: 150 }
    }
}

impl Settings {
    /// A digest of everything that can change a picture, [`DRAWING`] included. 16 hexadecimal digits.
    #[must_use]
    pub fn digest(&self) -> String {
        blake3::hash(format!("{DRAWING} {self:?}").as_bytes()).to_hex()[..16].to_string()
    }
}

/// Why a picture could not be made.
#[derive(Debug, Error)]
pub enum MockupError {
    /// The encoder refused.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// No print size can be drawn from this resolution.
    #[error(
        "no strike-off of {name}: {per_inch} pixels per inch is no print resolution; correct it in the file (300 is usual)"
    )]
    NoScale {
        /// The tile's name.
        name: String,
        /// The resolution the file gives.
        per_inch: f64,
    },
    /// Even the smallest strike-off is larger than allowed.
    #[error("no strike-off of {name} fits into {limit} bytes (the smallest has {smallest}); raise strike_off_bytes")]
    TooManyBytes {
        /// The tile's name.
        name: String,
        /// The limit.
        limit: u64,
        /// What the smallest one needs.
        smallest: u64,
    },
    /// A picture's sides are beyond what can be drawn.
    #[error("cannot draw a picture of {0} x {1} pixels")]
    NoCanvas(u32, u32),
    /// The bundled font does not parse, which its test rules out.
    #[error("the bundled font cannot be read; this build of burler is damaged, install it again")]
    Font,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_follows_every_setting() {
        let base = Settings::default();
        let others = [
            Settings { max_side: 1999, ..base.clone() },
            Settings { quality: 89, ..base.clone() },
            Settings { strike_off_bytes: 2_999_999, ..base.clone() },
            Settings { strike_off_per_inch: 149, ..base.clone() },
        ];
        assert_eq!(base.digest(), Settings::default().digest());
        assert_eq!(base.digest().len(), 16);
        for other in others {
            assert_ne!(base.digest(), other.digest(), "{other:?}");
        }
    }
}
