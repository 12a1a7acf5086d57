//! The search for likenesses that lie near each other, without comparing all with all.
//!
//! Takes signatures, yields pairs of tiles within a distance, nearest first. Each signature is cut into groups of waves whose
//! joint strengths are put into cells a few of them at a time: near ones share a cell or lie in neighboring ones in at least
//! one of several such tables (multi-index hashing: Norouzi, Punjani, Fleet, CVPR 2012). Cells are twice as wide as what is
//! looked for, so that rounding in a signature loses nothing.

use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::sign::{self, Sign};
use rayon::prelude::*;
use std::collections::HashMap;

/// Squared distances up to which two drawings, or two colorings, are looked at. Measured on drawn tiles: moved, turned and
/// halved ones and JPEG of quality 50 lie below 600 (free art; small regular repeats up to 2500), different free art above 3500.
const NEAR: [u32; 2] = [2500, 1200];

/// How many joint strengths make a key, and how far each may differ.
const KEYS: usize = 6;
const TOLERANCE: [u8; 2] = [9, 7];

/// Tables for the drawing and for the colors: each the next [`KEYS`] groups of waves, the lowest first.
const TABLES: [usize; 2] = [4, 3];

/// Most neighbors of one look that are kept, the nearest: a thousand copies of one stripe are held together by fewer.
const MOST_NEIGHBORS: usize = 24;

/// Two tiles whose signatures are near.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Near {
    /// Whether their colors are too far apart for one repeat: then they can only be one drawing. Those that can be one come
    /// first, so that most is settled before colorways are asked about.
    pub other_colors: bool,
    /// The squared distance: of the drawings, or of the colors where these are nearer for their limit.
    pub apart: u32,
    /// The tile that comes first, and which of its looks.
    pub one: (u32, u8),
    /// The other.
    pub other: (u32, u8),
}

/// A look as it is searched.
struct Point<'a> {
    tile: u32,
    look: u8,
    signs: [&'a Sign; 2],
}

/// Where the groups of exchanged waves begin and end in a signature.
fn spans() -> Vec<std::ops::Range<usize>> {
    let mut from = 0;
    sign::groups()
        .iter()
        .map(|group| {
            let span = from..from + group.len();
            from = span.end;
            span
        })
        .collect()
}

/// The joint strength of the waves of a group.
fn strength(sign: &Sign, span: std::ops::Range<usize>) -> u8 {
    let power: u32 = sign.0.get(span).unwrap_or(&[]).iter().map(|&v| u32::from(v) * u32::from(v)).sum();
    power.isqrt().min(255) as u8
}

type Key = [u8; KEYS];

/// One table: points by cell.
struct Table {
    which: usize,
    keys: Vec<Key>,
    cells: HashMap<u64, Vec<u32>>,
}

fn packed(cells: impl Iterator<Item = u8>) -> u64 {
    cells.fold(0, |key, cell| key << 8 | u64::from(cell))
}

impl Table {
    fn new(points: &[Point<'_>], which: usize, number: usize) -> Self {
        let spans = spans();
        let spans: Vec<_> = (0..KEYS).filter_map(|i| spans.get(number * KEYS + i).cloned()).collect();
        let keys: Vec<Key> = points
            .iter()
            .map(|point| {
                let mut key = [0; KEYS];
                key.iter_mut().zip(&spans).for_each(|(key, span)| *key = strength(point.signs[which], span.clone()));
                key
            })
            .collect();
        let wide = 2 * TOLERANCE[which];
        let mut cells: HashMap<u64, Vec<u32>> = HashMap::new();
        for (at, key) in keys.iter().enumerate() {
            cells.entry(packed(key.iter().map(|v| v / wide))).or_default().push(at as u32);
        }
        Self { which, keys, cells }
    }

    /// Hands on every point after `at` whose key differs by no more than the tolerance.
    fn near(&self, at: usize, mut found: impl FnMut(u32)) {
        let tolerance = TOLERANCE[self.which];
        let wide = 2 * tolerance;
        let own = self.keys[at];
        for choice in 0..1_u32 << KEYS {
            let mut outside = false;
            let key = packed(own.iter().enumerate().map(|(i, &v)| {
                let (cell, lower) = (v / wide, v % wide < tolerance);
                match (choice >> i & 1, lower) {
                    (0, _) => cell,
                    (_, true) => cell.checked_sub(1).unwrap_or_else(|| {
                        outside = true;
                        0
                    }),
                    (_, false) => cell + 1,
                }
            }));
            if outside {
                continue;
            }
            for &other in self.cells.get(&key).map_or(&[][..], Vec::as_slice) {
                if other as usize > at
                    && self.keys[other as usize].iter().zip(own).all(|(a, b)| a.abs_diff(b) <= tolerance)
                {
                    found(other);
                }
            }
        }
    }
}

/// All pairs of tiles with a look of each within [`NEAR`], the nearest first; each pair of looks once. `None` stands for a tile
/// that is not to be looked at.
#[must_use]
pub fn near(tiles: &[Option<&Likeness>]) -> Vec<Near> {
    let points: Vec<Point<'_>> = (0..)
        .zip(tiles)
        .filter_map(|(tile, likeness)| Some((tile, (*likeness)?)))
        .flat_map(|(tile, likeness)| {
            (0..).zip(&likeness.looks).map(move |(look, found)| Point {
                tile,
                look,
                signs: [&found.drawing, &found.tone],
            })
        })
        .collect();
    let tables: Vec<Table> = TABLES
        .iter()
        .enumerate()
        .flat_map(|(which, count)| (0..*count).map(move |number| (which, number)))
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(which, number)| Table::new(&points, which, number))
        .collect();
    let mut all: Vec<Near> = (0..points.len())
        .into_par_iter()
        .flat_map_iter(|at| {
            let mut others = Vec::new();
            tables.iter().for_each(|table| table.near(at, |other| others.push(other)));
            others.sort_unstable();
            others.dedup();
            let own = &points[at];
            let mut found: Vec<Near> = others
                .into_iter()
                .filter_map(|other| {
                    let other = &points[other as usize];
                    let apart = [0, 1].map(|i| own.signs[i].apart(other.signs[i]));
                    let near = (apart[0] <= NEAR[0] || apart[1] <= NEAR[1]) && own.tile != other.tile;
                    near.then(|| Near {
                        apart: apart[0].min(apart[1] * NEAR[0] / NEAR[1]),
                        one: (own.tile, own.look),
                        other: (other.tile, other.look),
                        other_colors: apart[1] > NEAR[1],
                    })
                })
                .collect();
            found.sort_unstable();
            found.truncate(MOST_NEIGHBORS);
            found
        })
        .collect();
    all.sort_unstable();
    all
}
