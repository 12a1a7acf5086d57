//! Customary: what the art of a tile does by custom along one axis, learned once and asked at every joint.
//!
//! Takes a raster, strip by strip. Knows nothing of layouts.

use super::custom::{Custom, DEEP, PARTS, packed};
use super::limit::limit;
use super::line::{Axis, View};
use super::reading::Reading;
use super::strip::{STRIP, Strip, strips};
use super::tally::Statistic;
use crate::tile::Raster;
use std::rc::Rc;

/// Pixels from which the custom of the art is learned, at most.
const MOST_LEARNED: usize = 1_500_000;

/// Departures over [`PARTS`], in levels.
pub(super) type Departures = [f64; PARTS.len()];

/// What the art does by custom, and how far each pair inside departs from it.
pub(super) struct Customary {
    custom: Custom,
    /// By the first line of a pair; nothing where it was not learned from.
    inside: Vec<Option<Departures>>,
}

impl Customary {
    /// Learns from the whole tile, or from strips spread over a large one; nothing of free art, which has no custom, and of
    /// too few lines.
    /// `strip` gives the strip of each turn, and its first line.
    pub(super) fn learned(raster: &Raster, axis: Axis, strip: impl Fn(usize) -> Rc<Strip>) -> Option<Self> {
        let (length, lines) = (axis.length(raster), axis.lines(raster));
        if lines <= 2 * DEEP {
            return None;
        }
        let mut custom = Custom::new(lines, length);
        let count = strips(lines);
        for turn in 0..count.min(MOST_LEARNED / (STRIP * length).max(1)).max(1) {
            let strip = strip(turn);
            let packed: Vec<Vec<u32>> = strip.lines.iter().map(|(line, _)| packed(line)).collect();
            if !custom.learn(strip.first, &packed) {
                break;
            }
        }
        custom.known().then(|| Self { inside: custom.inside(), custom })
    }

    /// The departures of the pair inside whose first line is `line`.
    pub(super) fn inside(&self, line: usize) -> Option<Departures> {
        *self.inside.get(line)?
    }

    /// Those of the joint, with the copy moved along it by `moved` pixels.
    pub(super) fn at_joint(&self, view: View, raster: &Raster, axis: Axis, moved: usize) -> Departures {
        let last = view.strip(raster, axis, axis.lines(raster).saturating_sub(DEEP), DEEP).into_iter();
        let first = view.strip(raster, axis, 0, DEEP).into_iter();
        let around: Vec<Vec<u32>> =
            last.map(|(line, _)| packed(&line)).chain(first.map(|(line, _)| packed(&line.rolled(moved)))).collect();
        self.custom.at(&around)
    }

    /// The departures of a joint beside those of pairs inside.
    pub(super) fn readings(&self, joint: &Departures) -> Vec<Reading> {
        let reading = |(at, statistic): (usize, Statistic)| {
            let mut values: Vec<f64> = self.inside.iter().flatten().map(|pair| pair[at]).collect();
            let count = values.len();
            let limit = limit(&mut values, count, statistic.floor());
            Reading { statistic, joint: joint[at], inside: limit.most, limit: limit.limit }
        };
        Statistic::OF_CUSTOM.into_iter().enumerate().map(reading).collect()
    }
}
