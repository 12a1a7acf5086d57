//! A straight thin line of a tile, with what it looks like and what is thought of it.
//!
//! Plain data. Knows no pixels and decides nothing.

use super::course::Course;
use super::proof::Opinion;
use super::ridges::Scan;
use super::trace::Stretch;

/// A straight thin line of a tile.
#[derive(Clone, Debug)]
pub struct Line {
    /// The scan that crossed it.
    pub scan: Scan,
    /// What it looks like from near.
    pub course: Course,
    /// What is thought of it.
    pub opinion: Opinion,
}

impl Line {
    /// Degrees from level, counted from the right upward, 0 up to but not including 180.
    #[must_use]
    pub fn angle(&self) -> f64 {
        let (right, down) = self.direction();
        let angle = (-down).atan2(right).to_degrees().rem_euclid(180.0);
        if angle >= 179.95 { 0.0 } else { angle }
    }

    /// Which way it runs, (right, down), of any length.
    #[must_use]
    pub fn direction(&self) -> (f64, f64) {
        let slope = self.course.stretch.slope;
        if self.scan == Scan::Rows { (slope, 1.0) } else { (1.0, slope) }
    }

    /// The place in its middle, (right, down).
    #[must_use]
    pub fn middle(&self) -> (f64, f64) {
        let Stretch { from, to, .. } = self.course.stretch;
        let along = (from + to - 1) as f64 / 2.0;
        let across = self.course.stretch.middle(along);
        if self.scan == Scan::Rows { (across, along) } else { (along, across) }
    }
}
