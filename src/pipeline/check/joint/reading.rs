//! One statistic at a joint, beside what the interior does in it and the limit that this sets.
//!
//! Plain data.

use super::tally::Statistic;

/// A seam below this many levels, in every statistic that is in levels, is told but not held: on cloth nobody sees it.
const VISIBLE: f64 = 2.0;

/// One statistic at a joint, beside what the interior does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Which statistic.
    pub statistic: Statistic,
    /// Its value at the joint.
    pub joint: f64,
    /// The largest value inside the tile.
    pub inside: f64,
    /// The largest value a sound joint may have.
    pub limit: f64,
}

impl Reading {
    /// Whether the joint lies beyond its limit.
    #[must_use]
    pub fn beyond(&self) -> bool {
        self.joint > self.limit
    }

    /// Whether it is of something that can be seen on cloth.
    pub(super) fn shows(&self) -> bool {
        self.statistic.in_levels() && self.joint >= VISIBLE
    }

    /// How many times the allowed distance from the interior's largest value the joint lies beyond it.
    pub(super) fn violation(&self) -> f64 {
        (self.joint - self.inside) / (self.limit - self.inside).max(f64::MIN_POSITIVE)
    }
}
