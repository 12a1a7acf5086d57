//! Witnesses: cells beside an edge, spread over the picture. A move that is none fails with the first few of them.
//!
//! Takes cells; yields places and what share of neighbors differ. Flat ground says nothing about a move, so it is not asked.

use super::basis::Move;
use super::cells::{Cells, spread};

/// Rows that are searched for witnesses.
const ROWS: usize = 128;
/// The most witnesses that are kept.
const MOST: usize = 1024;
/// With fewer, nothing is known of a picture.
const LEAST: usize = 24;
/// Witnesses that are heard before a move can be given up.
const FIRST: usize = 16;

/// What the witnesses say of a move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Word {
    /// Nearly all see their like.
    Agree,
    /// Most of them do.
    Lean,
    /// No, or too few could be heard.
    Deny,
}

/// The witnesses of a picture.
pub(super) struct Witnesses {
    /// Cells that differ from the next one to the right or below, in an order that jumps about the picture.
    pub(super) places: Vec<(usize, usize)>,
    /// Cells that were looked at, and how many of them differ from the next to the right, and from the next below.
    pub(super) seen: u64,
    pub(super) steps: [u64; 2],
}

impl Witnesses {
    /// Finds witnesses; the last row and column have no next one.
    pub(super) fn of<const B: usize>(cells: &Cells<'_, B>) -> Self {
        let (mut found, mut steps, mut seen) = (Vec::new(), [0, 0], 0);
        for y in spread(cells.height.saturating_sub(1), ROWS) {
            let (row, below) = (cells.row(y).as_chunks::<B>().0, cells.row(y + 1).as_chunks::<B>().0);
            for (x, (pair, under)) in row.windows(2).zip(below).enumerate() {
                seen += 1;
                if pair[0] == pair[1] && pair[0] == *under {
                    continue;
                }
                let differ = [cells.differ(pair[0], pair[1]), cells.differ(pair[0], *under)];
                steps[0] += u64::from(differ[0]);
                steps[1] += u64::from(differ[1]);
                if differ[0] || differ[1] {
                    found.push((x, y));
                }
            }
        }
        // A stride without a common divisor visits every one once.
        let count = found.len();
        let stride = (count * 5 / 13..).find(|stride| gcd(*stride, count) == 1).unwrap_or(1);
        let places = (0..count.min(MOST)).map(|at| found[at * stride % count]).collect();
        Self { places, seen, steps }
    }

    /// Whether there are enough to say anything.
    pub(super) fn enough(&self) -> bool {
        self.places.len() >= LEAST
    }

    /// How many of `pairs` pairs would differ if everything were moved by one pixel, along the axis that minds it less;
    /// an axis that does not mind at all is left out.
    pub(super) fn one_pixel(&self, pairs: u64) -> u64 {
        let least = self.steps.into_iter().filter(|steps| *steps > 0).min().unwrap_or(0);
        (u128::from(least) * u128::from(pairs) / u128::from(self.seen.max(1))) as u64
    }

    /// Asks the witnesses about a move, forth or back, whichever stays inside the canvas.
    pub(super) fn ask<const B: usize>(&self, cells: &Cells<'_, B>, t: Move) -> Word {
        let (mut heard, mut against) = (0, 0);
        for place in &self.places {
            let Some((x, y)) = cells.moved(*place, t).or_else(|| cells.moved(*place, [-t[0], -t[1]])) else { continue };
            heard += 1;
            against += usize::from(cells.differ(cells.at(place.0, place.1), cells.at(x, y)));
            if heard >= FIRST && against * 3 > heard {
                return Word::Deny;
            }
        }
        match heard {
            ..FIRST => Word::Deny,
            _ if against * 64 <= heard => Word::Agree,
            _ => Word::Lean,
        }
    }

    /// How many witnesses stand where a corner of a figure can be put, in some of its four attitudes, so that all its
    /// other corners, given as moves from it, are inside the canvas.
    pub(super) fn inside<const B: usize>(&self, cells: &Cells<'_, B>, figures: &[[Move; 3]]) -> usize {
        let stands = |place: &&(usize, usize)| {
            figures.iter().any(|figure| figure.iter().all(|corner| cells.moved(**place, *corner).is_some()))
        };
        self.places.iter().filter(stands).count()
    }
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}
