//! What a tile is wished to become beside itself: its repeat turned by an angle, or laid in another way.
//!
//! Plain data with its spelling, the same in an order sheet, in a ticket and in a file name. Knows nothing of pixels.

use super::repeat::Repeat;
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// An angle, clockwise as seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Angle {
    /// Millionths of a degree, never a whole number of full turns.
    Degrees(i64),
    /// The direction that the tile's upper edge gets: so many steps to the right, so many down. Never two zeros.
    Toward([i32; 2]),
}

/// Most steps of a direction: longer ones close on no tile within any limit.
const MOST_STEPS: i32 = 30_000;

/// Millionths in a degree.
const MICRO: f64 = 1e6;

impl Angle {
    /// Reads degrees, `45` or `-22.5`, or a direction, `4:3`.
    ///
    /// # Errors
    /// When it is neither, or turns nothing.
    pub fn parse(text: &str) -> Result<Self, WishError> {
        let refused = || WishError::Angle(text.into());
        if let Some((right, down)) = text.split_once(':') {
            let step = |word: &str| word.trim().parse().ok().filter(|step: &i32| step.abs() <= MOST_STEPS);
            let toward = [step(right).ok_or_else(refused)?, step(down).ok_or_else(refused)?];
            return match toward {
                [0, 0] => Err(WishError::NoDirection(text.into())),
                [right, 0] if right > 0 => Err(WishError::NoTurn(text.into())),
                toward => Ok(Self::Toward(toward)),
            };
        }
        let degrees: f64 = text.trim().parse().map_err(|_| refused())?;
        if !degrees.is_finite() || degrees.abs() > 1e6 {
            return Err(refused());
        }
        let micro = (degrees * MICRO).round() as i64;
        if micro % 360_000_000 == 0 {
            return Err(WishError::NoTurn(text.into()));
        }
        Ok(Self::Degrees(micro))
    }

    /// The angle in degrees.
    #[must_use]
    pub fn degrees(self) -> f64 {
        match self {
            Self::Degrees(micro) => micro as f64 / MICRO,
            Self::Toward([right, down]) => f64::from(down).atan2(f64::from(right)).to_degrees(),
        }
    }
}

impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Degrees(_) => write!(f, "{}", self.degrees()),
            Self::Toward([right, down]) => write!(f, "{right}:{down}"),
        }
    }
}

/// A repeat turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Turn {
    /// By how much.
    pub by: Angle,
    /// Pixels across and down of the turned tile; the tile's own when `None`.
    pub size: Option<[u32; 2]>,
    /// Whether the scale is kept as nearly as pixels allow, and the tile gets the size that this takes.
    pub keep_scale: bool,
    /// Whether no color arises that the tile does not have.
    pub palette_only: bool,
}

/// A cloth cut into tiles of another repeat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Lay {
    /// The repeat.
    pub repeat: Repeat,
    /// Pixels across and down of the new tile; the smallest when `None`.
    pub size: Option<[u32; 2]>,
}

/// What a tile is wished to become.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wish {
    /// Turned.
    Turn(Turn),
    /// Laid in another repeat.
    Lay(Lay),
}

/// Why words are no wish.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum WishError {
    /// No number and no direction.
    #[error(
        "{0:?} is no angle; write degrees such as 45 or -22.5, or a direction such as 4:3 (four right, three down)"
    )]
    Angle(String),
    /// A full turn or none.
    #[error("an angle of {0} turns nothing; write another, such as 45")]
    NoTurn(String),
    /// The zero vector.
    #[error("{0:?} is no direction, since it goes nowhere; write one such as 1:1 for 45 degrees")]
    NoDirection(String),
    /// No size.
    #[error("{0:?} is no size in pixels; write one such as 3600x3600, or 3600 for a square")]
    Size(String),
    /// A repeat that a cloth cannot be cut into.
    #[error("{0:?} is no repeat to lay a tile as; write block, half-drop, third-drop, quarter-drop or brick")]
    Repeat(String),
    /// Two demands that cannot both be met.
    #[error("a size and keep-scale cannot both be had: the scale decides the size; leave one of them out")]
    SizeAndScale,
    /// None of the two.
    #[error("{0:?} is no companion; write for example \"turn 45\", \"turn 45 keep-scale\" or \"as block\"")]
    Words(String),
}

/// The repeats a cloth can be cut into.
const LAID: [Repeat; 5] = [Repeat::Block, Repeat::HalfDrop, Repeat::ThirdDrop, Repeat::QuarterDrop, Repeat::Brick];

/// Reads `3600x2400` or `3600`.
///
/// # Errors
/// When it is no size, or zero.
pub fn size(text: &str) -> Result<[u32; 2], WishError> {
    let side = |word: &str| word.trim().parse().ok().filter(|&side: &u32| side > 0);
    let (width, height) = text.split_once('x').unwrap_or((text, text));
    side(width).zip(side(height)).map(|(width, height)| [width, height]).ok_or_else(|| WishError::Size(text.into()))
}

impl Turn {
    /// A turn with its demands.
    ///
    /// # Errors
    /// When the demands contradict each other.
    pub fn new(by: Angle, size: Option<[u32; 2]>, keep_scale: bool, palette_only: bool) -> Result<Self, WishError> {
        if keep_scale && size.is_some() {
            return Err(WishError::SizeAndScale);
        }
        Ok(Self { by, size, keep_scale, palette_only })
    }
}

impl Lay {
    /// A layout by its name.
    ///
    /// # Errors
    /// When a cloth cannot be cut into it.
    pub fn new(repeat: &str, size: Option<[u32; 2]>) -> Result<Self, WishError> {
        let found = Repeat::from_name(repeat).filter(|repeat| LAID.contains(repeat));
        Ok(Self { repeat: found.ok_or_else(|| WishError::Repeat(repeat.into()))?, size })
    }
}

impl Wish {
    /// Reads a wish as [`fmt::Display`] spells it: `turn 45 size 3600x3600 palette-only`, `turn 4:3 keep-scale`,
    /// `as block size 4800x2400`.
    ///
    /// # Errors
    /// When the words are no wish.
    pub fn parse(text: &str) -> Result<Self, WishError> {
        let refused = || WishError::Words(text.into());
        let mut words = text.split_whitespace();
        let (Some(what), Some(value)) = (words.next(), words.next()) else { return Err(refused()) };
        let (mut given, mut keep_scale, mut palette_only) = (None, false, false);
        while let Some(word) = words.next() {
            match (what, word) {
                (_, "size") => given = Some(size(words.next().ok_or_else(refused)?)?),
                ("turn", "keep-scale") => keep_scale = true,
                ("turn", "palette-only") => palette_only = true,
                _ => return Err(refused()),
            }
        }
        match what {
            "turn" => Ok(Self::Turn(Turn::new(Angle::parse(value)?, given, keep_scale, palette_only)?)),
            "as" => Ok(Self::Lay(Lay::new(value, given)?)),
            _ => Err(refused()),
        }
    }

    /// The wish as part of a file name: `turn-45`, `as-block`, `turn-4to3-keep-scale`.
    #[must_use]
    pub fn file_word(&self) -> String {
        // A colon is no character for file names on every disk.
        self.to_string().replace(' ', "-").replace(':', "to")
    }
}

impl fmt::Display for Wish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (Self::Turn(Turn { size, .. }) | Self::Lay(Lay { size, .. })) = self;
        match self {
            Self::Turn(turn) => write!(f, "turn {}", turn.by)?,
            Self::Lay(lay) => write!(f, "as {}", lay.repeat)?,
        }
        if let Some([width, height]) = size {
            write!(f, " size {width}x{height}")?;
        }
        if let Self::Turn(turn) = self {
            for (said, word) in [(turn.keep_scale, " keep-scale"), (turn.palette_only, " palette-only")] {
                f.write_str(if said { word } else { "" })?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wish_reads_back_as_it_is_spelled() {
        for text in [
            "turn 45",
            "turn -22.5 keep-scale",
            "turn 36.8699 palette-only",
            "turn 4:-3 size 3600x2400 palette-only",
            "as block",
            "as quarter-drop size 900x1200",
        ] {
            assert_eq!(Wish::parse(text).unwrap().to_string(), text);
        }
        assert_eq!(Wish::parse("turn 45 size 900").unwrap().to_string(), "turn 45 size 900x900");
        assert_eq!(Wish::parse("turn 4:3 keep-scale").unwrap().file_word(), "turn-4to3-keep-scale");
    }

    #[test]
    fn what_is_no_wish_is_refused_in_words() {
        let cases = [
            ("turn round", "\"round\" is no angle"),
            ("turn NaN", "\"NaN\" is no angle"),
            ("turn inf", "\"inf\" is no angle"),
            ("turn 0", "an angle of 0 turns nothing"),
            ("turn -720", "an angle of -720 turns nothing"),
            ("turn 0:0", "\"0:0\" is no direction"),
            ("turn 7:0", "an angle of 7:0 turns nothing"),
            ("turn 1:x", "\"1:x\" is no angle"),
            ("turn 45 size 0x9", "\"0x9\" is no size"),
            ("turn 45 size 900 keep-scale", "a size and keep-scale cannot both be had"),
            ("as across", "\"across\" is no repeat to lay a tile as"),
            ("as block keep-scale", "\"as block keep-scale\" is no companion"),
            ("turn", "\"turn\" is no companion"),
            ("flip 45", "\"flip 45\" is no companion"),
        ];
        for (text, says) in cases {
            let said = Wish::parse(text).unwrap_err().to_string();
            assert!(said.starts_with(says), "{text}: {said}");
        }
    }

    #[test]
    fn directions_and_degrees_agree() {
        assert_eq!(Angle::parse("1:1").unwrap().degrees(), 45.0);
        assert_eq!(Angle::parse("-1:0").unwrap().degrees(), 180.0);
        assert!((Angle::parse("4:3").unwrap().degrees() - 36.869_897_645_844).abs() < 1e-9);
    }
}
