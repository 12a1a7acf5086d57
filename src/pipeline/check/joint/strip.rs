//! Strips: how many lines of a tile are read at once, and in which order strips are visited.
//!
//! Takes a raster; knows no statistics.

use super::crossing::Soft;
use super::line::{Axis, Line, View};
use crate::tile::Raster;
use std::cell::OnceCell;

/// Lines read at once: sixteen pixels of a row fill one line of a processor's cache.
pub(super) const STRIP: usize = 32;

/// Pairs of a strip: those with a line before and one after.
const PAIRS: usize = STRIP - 3;

/// How many strips hold the pairs of so many lines.
pub(super) fn strips(lines: usize) -> usize {
    lines.saturating_sub(3).div_ceil(PAIRS)
}

/// A step coprime to `count`, near its golden section.
fn stride(count: usize) -> usize {
    let divides = |a: usize, b: usize| {
        let (mut a, mut b) = (a, b);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    };
    (count * 55 / 144 + 1..).find(|step| divides(*step, count) == 1).unwrap_or(1)
}

/// A strip of lines that was read.
pub(super) struct Strip {
    /// Which is its first line.
    pub(super) first: usize,
    /// The lines, each with the pixels of it that count.
    pub(super) lines: Vec<(Line, Option<Vec<u8>>)>,
    soft: OnceCell<Vec<Soft>>,
}

impl Strip {
    /// The strip that is visited in a turn. Steps of about the golden section visit the strips evenly, however many are
    /// visited.
    pub(super) fn of_turn(view: View, raster: &Raster, axis: Axis, turn: usize) -> Self {
        let lines = axis.lines(raster);
        let count = strips(lines);
        let first = (turn * stride(count) % count * PAIRS).min(lines.saturating_sub(STRIP));
        Self { first, lines: view.strip(raster, axis, first, STRIP), soft: OnceCell::new() }
    }

    /// Its lines, blurred.
    pub(super) fn soft(&self) -> &[Soft] {
        self.soft.get_or_init(|| self.lines.iter().map(|(line, counted)| Soft::new(line, counted.as_deref())).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_strip_is_visited_once() {
        for count in 1..300 {
            let mut seen: Vec<usize> = (0..count).map(|turn| turn * stride(count) % count).collect();
            seen.sort_unstable();
            assert!(seen.iter().enumerate().all(|(at, strip)| at == *strip), "{count}");
        }
    }
}
