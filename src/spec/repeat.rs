//! The ways a tile can be laid.
//!
//! Plain data with its spelling. Knows no pixels.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How a tile is laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Repeat {
    /// Straight rows and columns.
    Block,
    /// Each column lowered by half a tile.
    HalfDrop,
    /// Each column lowered by a third.
    ThirdDrop,
    /// Each column lowered by a quarter.
    QuarterDrop,
    /// Each row moved by half a tile.
    Brick,
    /// A border that repeats sideways only.
    Across,
    /// A border that repeats downward only.
    Down,
    /// Not a repeat.
    None,
}

impl Repeat {
    /// Every repeat.
    pub const ALL: [Self; 8] = [
        Self::Block,
        Self::HalfDrop,
        Self::ThirdDrop,
        Self::QuarterDrop,
        Self::Brick,
        Self::Across,
        Self::Down,
        Self::None,
    ];

    /// The name in specs, tickets and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Block => "block",
            Self::HalfDrop => "half-drop",
            Self::ThirdDrop => "third-drop",
            Self::QuarterDrop => "quarter-drop",
            Self::Brick => "brick",
            Self::Across => "across",
            Self::Down => "down",
            Self::None => "none",
        }
    }

    /// The repeat of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|repeat| repeat.name() == name)
    }

    /// How far the copy to the right is lowered, as 1/n of the height; `None` when it is not.
    #[must_use]
    pub fn drop_divisor(self) -> Option<u32> {
        match self {
            Self::HalfDrop => Some(2),
            Self::ThirdDrop => Some(3),
            Self::QuarterDrop => Some(4),
            Self::Block | Self::Brick | Self::Across | Self::Down | Self::None => None,
        }
    }
}

impl fmt::Display for Repeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
