//! Witnesses: cells beside an edge, spread over the picture. A move that is none fails with the first few of them.
//!
//! Takes cells; yields places and what share of neighbors differ. Flat ground says nothing about a move, so it is not asked.

use super::basis::{Move, gcd};
use super::cells::{Cells, Count, spread};

/// Rows that are searched from end to end for edges that cross them, and columns likewise, which are dearer to read.
const ROWS: usize = 128;
const COLUMNS: usize = 16;
/// The most witnesses that are kept.
const MOST: usize = 1024;
/// With fewer, nothing is known of a picture.
const LEAST: usize = 24;
/// Witnesses that are heard before a move can be given up.
const FIRST: usize = 16;

/// So many more than one in 64 may be against a move, while they are being heard, that can still come to be agreed on.
const SLIPS: usize = 3;

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
    /// Pairs of neighbors that were looked at along x and along y.
    seen: [u64; 2],
    /// How many of them differ.
    pub(super) steps: [u64; 2],
}

impl Witnesses {
    /// Finds witnesses; the last row and column have no next one.
    pub(super) fn of<const B: usize>(cells: &Cells<'_, B>) -> Self {
        let (width, height) = (cells.width - 1, cells.height - 1);
        let mut found = [Vec::new(), Vec::new()];
        for y in spread(height, ROWS) {
            let row = cells.row(y).as_chunks::<B>().0;
            let steps = row.windows(2).enumerate().filter(|(_, pair)| pair[0] != pair[1]);
            found[0].extend(steps.filter(|(_, pair)| cells.differ(pair[0], pair[1])).map(|(x, _)| (x, y)));
        }
        let columns: Vec<usize> = spread(width, COLUMNS).collect();
        let mut above: Vec<[u8; B]> = columns.iter().map(|x| cells.at(*x, 0)).collect();
        for y in 0..height {
            for (x, above) in columns.iter().zip(&mut above) {
                let below = cells.at(*x, y + 1);
                if cells.differ(*above, below) {
                    found[1].push((*x, y));
                }
                *above = below;
            }
        }
        let seen = [width * spread(height, ROWS).count(), height * columns.len()].map(|seen| seen as u64);
        let steps = [found[0].len() as u64, found[1].len() as u64];
        let [across, down] = found.map(|found| shuffled(&found, MOST / 2));
        let places = (0..MOST / 2).flat_map(|at| [across.get(at), down.get(at)]).flatten().copied().collect();
        Self { places, seen, steps }
    }

    /// Whether there are enough to say anything.
    pub(super) fn enough(&self) -> bool {
        self.places.len() >= LEAST
    }

    /// Pairs of neighbors along the axis that has fewer that differ; an axis that has none is left out.
    pub(super) fn steps(&self) -> Count {
        let count =
            |axis: usize| Count { pairs: self.seen[axis], differing: self.steps[axis], unlike: self.steps[axis] };
        let [across, down] = [count(0), count(1)];
        let rarer = u128::from(down.differing) * u128::from(across.pairs)
            < u128::from(across.differing) * u128::from(down.pairs);
        if across.differing == 0 || (down.differing > 0 && rarer) { down } else { across }
    }

    /// How many of `pairs` pairs would differ if everything were moved by one pixel, along the axis that minds it less.
    pub(super) fn one_pixel(&self, pairs: u64) -> u64 {
        let steps = self.steps();
        (u128::from(steps.differing) * u128::from(pairs) / u128::from(steps.pairs.max(1))) as u64
    }

    /// The same along the axis that minds it more.
    pub(super) fn one_pixel_at_most(&self, pairs: u64) -> u64 {
        let would = self.steps.into_iter().zip(self.seen).filter(|(steps, _)| *steps > 0);
        would.map(|(steps, seen)| (u128::from(steps) * u128::from(pairs) / u128::from(seen)) as u64).max().unwrap_or(0)
    }

    /// Asks the witnesses about a move, forth or back, whichever stays inside the canvas; stops when it cannot come to
    /// `wanted` any more.
    pub(super) fn ask<const B: usize>(&self, cells: &Cells<'_, B>, t: Move, wanted: Word) -> Word {
        let (mut heard, mut against) = (0, 0);
        for place in &self.places {
            let Some((x, y)) = cells.moved(*place, t).or_else(|| cells.moved(*place, [-t[0], -t[1]])) else { continue };
            heard += 1;
            against += usize::from(cells.differ(cells.at(place.0, place.1), cells.at(x, y)));
            let hopeless = match wanted {
                Word::Agree => against > SLIPS + heard / 64,
                Word::Lean | Word::Deny => against * 3 > heard,
            };
            if heard >= FIRST && hopeless {
                return Word::Deny;
            }
        }
        match heard {
            ..FIRST => Word::Deny,
            _ if against <= heard / 64 => Word::Agree,
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

/// Up to `most` of some places, evenly taken, in an order that jumps about: a stride without a common divisor visits each
/// one once.
fn shuffled(places: &[(usize, usize)], most: usize) -> Vec<(usize, usize)> {
    let count = places.len();
    let stride = (count * 5 / 13..).find(|stride| gcd(*stride as i64, count as i64) == 1).unwrap_or(1);
    (0..count.min(most)).map(|at| places[at * stride % count]).collect()
}
