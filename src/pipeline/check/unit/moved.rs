//! The moved unit: where odd pixels crowd into one unit, the move of a few pixels that makes them fit.
//!
//! Takes copies and odd pixels, yields the unit and how far aside it sits. A unit that is odd but fits no better anywhere is
//! meant so: recolored, another motif, another size.

use super::copies::{Copies, Laid, apart};
use crate::finding::Area;
use std::collections::{BTreeMap, BTreeSet};

/// The farthest a unit is taken to have strayed, in pixels along each axis.
const FAR: i64 = 4;

/// Cells of the coarse grid along a unit; a unit lies within one more of them, wherever it begins.
const CELLS: u32 = 4;

/// The part of all odd pixels that one unit must hold, in percent, and the part of its mismatch that the move must leave
/// at most. Where nearly all are in one unit, less is asked of the move.
const CROWD: [(usize, u64); 2] = [(75, 50), (95, 75)];

/// The most pixels compared for each move.
const MOST: usize = 12_000;

/// A unit that sits aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moved {
    /// Around its odd pixels; up to four where it lies across the border.
    pub areas: Vec<Area>,
    /// How far to the right and down it sits of where it should.
    pub by: [i64; 2],
}

impl Moved {
    /// How far in a straight line, in pixels.
    pub fn far(&self) -> f64 {
        ((self.by[0] * self.by[0] + self.by[1] * self.by[1]) as f64).sqrt()
    }
}

/// The unit that sits aside, if one does.
pub fn unit(copies: &Copies<'_>, odd: &[(u32, u32)]) -> Option<Moved> {
    let (width, height) = (copies.raster.width(), copies.raster.height());
    // A unit that lies across the border is in one piece when the tile is seen from its middle.
    let middles = [(0, 0), (width / 2, 0), (0, height / 2), (width / 2, height / 2)];
    let seen = |&from: &(u32, u32)| {
        let turned: Vec<_> = odd.iter().map(|&(x, y)| ((x + from.0) % width, (y + from.1) % height)).collect();
        Some((crowd(copies, &turned)?, from))
    };
    let views = if copies.wraps { &middles[..] } else { &middles[..1] };
    // Of equal crowds the first view, which is the tile as it is.
    let (crowd, from) = views.iter().rev().filter_map(seen).max_by_key(|(crowd, _)| crowd.len())?;
    let back = |&(x, y): &(u32, u32)| ((x + width - from.0) % width, (y + height - from.1) % height);
    let left = left_by_move(copies, &crowd.iter().map(back).collect::<Vec<_>>());
    let stays = left.get(&[0, 0]).copied()?;
    // The map is in the order of the moves; of equal ones the shortest, then the first.
    let (&by, &least) = left.iter().min_by_key(|(by, left)| (**left, by[0] * by[0] + by[1] * by[1]))?;
    let enough =
        |&(percent, part): &(usize, u64)| crowd.len() * 100 >= odd.len() * percent && least * 100 <= stays * part;
    if by == [0, 0] || !CROWD.iter().any(enough) {
        return None;
    }
    let bounds = |of: fn(&(u32, u32)) -> u32| Some((crowd.iter().map(of).min()?, crowd.iter().map(of).max()? + 1));
    let (columns, rows) = (bounds(|pixel| pixel.0)?, bounds(|pixel| pixel.1)?);
    // What is larger than a unit and its way aside is a row or a column of the design that is set otherwise.
    let fits = |(first, past): (u32, u32), axis: usize| past - first <= side(copies, axis) + FAR as u32;
    // What moved is odd on both of its sides; one line alone is a unit a pixel larger or smaller.
    let two_sided = |(first, past): (u32, u32), by: i64| by == 0 || i64::from(past - first) > 2 * by.abs() + 1;
    if !fits(columns, 0) || !fits(rows, 1) || !two_sided(columns, by[0]) || !two_sided(rows, by[1]) {
        return None;
    }
    let columns = pieces(columns, from.0, width);
    let pieces = pieces(rows, from.1, height)
        .into_iter()
        .flat_map(|(y, height)| columns.iter().map(move |&(x, width)| Area { x, y, width, height }));
    Some(Moved { areas: pieces.collect(), by })
}

/// A stretch seen from a middle as first and length on the canvas, the longest piece first.
fn pieces((first, past): (u32, u32), from: u32, side: u32) -> Vec<(u32, u32)> {
    let start = (first + side - from) % side;
    let long = (past - first).min(side - start);
    let mut pieces = vec![(start, long)];
    if long < past - first {
        pieces.push((0, past - first - long));
        pieces.sort_by_key(|(_, long)| std::cmp::Reverse(*long));
    }
    pieces
}

/// How far a unit reaches along an axis.
fn side(copies: &Copies<'_>, axis: usize) -> u32 {
    (copies.a[axis].unsigned_abs() + copies.b[axis].unsigned_abs()) as u32
}

/// The odd pixels of the unit that holds most of them.
fn crowd(copies: &Copies<'_>, odd: &[(u32, u32)]) -> Option<Vec<(u32, u32)>> {
    // A stray unit is odd where it is and where it should be.
    let cell = [side(copies, 0), side(copies, 1)].map(|side| (side + 2 * FAR as u32).div_ceil(CELLS).max(1));
    let of = |&(x, y): &(u32, u32)| (x / cell[0], y / cell[1]);
    let mut counts: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for pixel in odd {
        *counts.entry(of(pixel)).or_default() += 1;
    }
    let corners: BTreeSet<(u32, u32)> = counts
        .keys()
        .flat_map(|&(i, j)| {
            (0..=CELLS)
                .flat_map(move |right| (0..=CELLS).map(move |down| (i.saturating_sub(right), j.saturating_sub(down))))
        })
        .collect();
    let held = |&(i, j): &(u32, u32)| {
        let cells = (0..=CELLS).flat_map(|right| (0..=CELLS).map(move |down| (i + right, j + down)));
        cells.filter_map(|cell| counts.get(&cell)).sum::<usize>()
    };
    let (i, j) = corners.iter().max_by_key(|corner| held(corner)).copied()?;
    let inside = |pixel: &&(u32, u32)| {
        let (x, y) = of(pixel);
        (i..=i + CELLS).contains(&x) && (j..=j + CELLS).contains(&y)
    };
    Some(odd.iter().filter(inside).copied().collect())
}

/// Whether every pixel that a move may bring here is known: an unknown one would fit whatever it should be.
fn known_around(copies: &Copies<'_>, x: i64, y: i64) -> bool {
    (-FAR..=FAR).all(|down| (-FAR..=FAR).all(|right| copies.at(x + right, y + down).is_some()))
}

/// How badly the unit fits when it is moved back by each move of a few pixels: the sum of how far the pixels on and around
/// the odd ones are from what they should be.
fn left_by_move(copies: &Copies<'_>, crowd: &[(u32, u32)]) -> BTreeMap<[i64; 2], u64> {
    let stride = crowd.len().div_ceil(MOST / 5).max(1);
    let mut around: Vec<(i64, i64)> = crowd
        .iter()
        .step_by(stride)
        .flat_map(|&(x, y)| {
            let (x, y) = (i64::from(x), i64::from(y));
            [(0, 0), (FAR, 0), (-FAR, 0), (0, FAR), (0, -FAR)].map(|(right, down)| (x + right, y + down))
        })
        .collect();
    around.sort_unstable();
    around.dedup();
    let should: Vec<((i64, i64), Laid)> = around
        .into_iter()
        .filter_map(|(x, y)| Some(((x, y), copies.should(x, y)?.be)))
        .filter(|((x, y), _)| known_around(copies, *x, *y))
        .collect();
    let mut left = BTreeMap::new();
    for down in -FAR..=FAR {
        for right in -FAR..=FAR {
            let fits = |((x, y), be): &((i64, i64), Laid)| {
                copies.at(x + right, y + down).map_or(0, |found| u64::from(apart(found, *be)))
            };
            left.insert([right, down], should.iter().map(fits).sum());
        }
    }
    left
}
