//! Beside: the statistics of how art crosses a joint, set against those of pairs inside the tile.
//!
//! Takes what was measured; knows nothing of lines and tiles.

use super::crossing::Crossing;
use super::limit::{limit, limit_within};
use super::passage::{self, Passage};
use super::reading::Reading;
use super::tally::Statistic;
use super::together::{self, LOOSE_FLOOR};

/// A pair with less content than this share of the median's is damped.
const DAMPING: f64 = 0.15;

/// A joint votes for a shift only if it has this share of the content that pairs inside have.
const LEAST_CONTENT: f64 = 0.15;

/// What is believed only when a shift or a number of lines explains it may stand out by this part of the usual margin.
const CONFIRMED: f64 = 0.75;

/// The statistics of a crossing beside those of pairs inside; `names` are those of shift, advance and loose ends.
pub(super) fn crossed(joint: &Crossing, inside: &[Crossing], lines: usize, names: &[Statistic]) -> Vec<Reading> {
    let middle = |value: fn(&Crossing) -> f64| together::middle(inside.iter().map(value).collect());
    let (content, slant) = (middle(|pair| pair.content), middle(|pair| pair.slant));
    let damped = |vote: f64, weight: f64, usual: f64| vote.abs() * weight / (weight + DAMPING * usual).max(1.0);
    let reading = |statistic: Statistic, floor: f64, value: &dyn Fn(&Crossing) -> f64| {
        let mut values: Vec<f64> = inside.iter().map(value).collect();
        let part = if statistic.confirmed() { CONFIRMED } else { 1.0 };
        let limit = limit_within(&mut values, lines, floor, part);
        let inside = if values.is_empty() { f64::NEG_INFINITY } else { limit.most };
        Reading { statistic, joint: value(joint), inside, limit: limit.limit }
    };
    let mut readings = Vec::with_capacity(names.len());
    for statistic in names {
        match statistic {
            Statistic::Aside if joint.content >= LEAST_CONTENT * content => {
                let part = |pair: &Crossing| pair.aside / pair.content.max(content).max(1.0);
                readings.push(reading(*statistic, statistic.floor(), &part));
            }
            Statistic::Shift if joint.content >= LEAST_CONTENT * content => {
                let floor = statistic.floor();
                readings.push(reading(*statistic, floor, &|pair| damped(pair.shift, pair.content, content)));
            }
            Statistic::Advance if joint.slant >= LEAST_CONTENT * slant => {
                let floor = statistic.floor();
                readings.push(reading(*statistic, floor, &|pair| damped(pair.advance, pair.slant, slant)));
            }
            _ => {}
        }
        if let Some(at) = Statistic::LOOSE.iter().position(|loose| loose == statistic) {
            readings.push(reading(*statistic, LOOSE_FLOOR * content + statistic.floor(), &|pair| pair.loose[at]));
        }
    }
    readings
}

/// The statistics of contours at a joint beside those of pairs inside.
pub(super) fn passed(joint: &Passage, inside: &[Passage], lines: usize) -> Vec<Reading> {
    Statistic::OF_CONTOURS
        .into_iter()
        .enumerate()
        .map(|(at, statistic)| {
            let mut values: Vec<f64> = inside.iter().map(|pair| pair.values()[at]).collect();
            let found = limit(&mut values, lines, statistic.floor());
            let inside = if values.is_empty() { f64::NEG_INFINITY } else { found.most };
            // Where hardly a line passes anywhere, one line fewer is chance: at least two must be missed.
            let few = matches!(statistic, Statistic::Few | Statistic::FewOfThird);
            let limit = if few { passage::two_fewer(found.limit) } else { found.limit };
            Reading { statistic, joint: joint.values()[at], inside, limit }
        })
        .collect()
}
