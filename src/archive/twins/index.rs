//! The search for likenesses that lie near each other, without comparing all with all.
//!
//! Takes signatures, yields pairs of tiles within a distance, nearest first. Each signature is cut into groups of waves whose
//! joint strengths are put into cells a few of them at a time: near ones share a cell or lie in neighboring ones in at least
//! one of several such tables (multi-index hashing: Norouzi, Punjani, Fleet, CVPR 2012). Cells are twice as wide as what is
//! looked for, so that rounding in a signature loses nothing.

use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::sign::{self, LENGTH, Sign};
use rayon::prelude::*;

/// Squared distances up to which two drawings, or two colorings, are looked at. Measured on drawn tiles: moved, turned and
/// halved ones and JPEG of quality 50 lie below 600 (free art; small regular repeats up to 2500), different free art above 3500.
const NEAR: [u32; 2] = [2500, 1200];

/// How many joint strengths make a key, and how far each may differ.
const KEYS: usize = 6;
const TOLERANCE: [u8; 2] = [9, 7];

/// Tables for the drawing and for the colors: each the next [`KEYS`] groups of waves, the lowest first.
const TABLES: [usize; 2] = [4, 3];

/// How far means and spreads of colors may differ for one repeat; lossy coders round large areas by up to 3 codes.
const SHADES: u8 = 3;

/// Most tiles that are looked at for their colors alone.
const MOST_OF_ONE_SHADE: usize = 8;

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

/// Points of a cell that are looked at, those that come next: what is alone in a cell says most, and of a thousand in one each
/// leads to the following ones.
const MOST_OF_A_CELL: usize = 32;

/// A look as it is searched.
struct Point<'a> {
    tile: u32,
    look: u8,
    signs: [&'a Sign; 2],
}

/// Numbers of a signature that are compared before the next ones are: most of what is far is so in its lowest waves.
const BLOCK: usize = 48;

/// Both signatures of a look beside each other, block by block, so that most comparisons read two lines of memory.
struct Flat([[[u8; BLOCK]; 2]; LENGTH.div_ceil(BLOCK)]);

impl Flat {
    fn of(signs: [&Sign; 2]) -> Self {
        let mut flat = [[[0; BLOCK]; 2]; LENGTH.div_ceil(BLOCK)];
        for (which, sign) in signs.into_iter().enumerate() {
            for (numbers, block) in sign.0.chunks(BLOCK).zip(&mut flat) {
                block[which][..numbers.len()].copy_from_slice(numbers);
            }
        }
        Self(flat)
    }

    /// The squared distances of both signatures; `None` when neither is within [`NEAR`].
    fn apart(&self, other: &Self) -> Option<[u32; 2]> {
        let mut apart = [0_u32; 2];
        for (own, its) in self.0.iter().zip(&other.0) {
            for which in 0..2 {
                let squares = own[which].iter().zip(&its[which]).map(|(a, b)| {
                    let apart = i16::from(*a) - i16::from(*b);
                    i32::from(apart) * i32::from(apart)
                });
                apart[which] += squares.sum::<i32>() as u32;
            }
            if apart[0] > NEAR[0] && apart[1] > NEAR[1] {
                return None;
            }
        }
        Some(apart)
    }
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
    tolerance: u8,
    /// The keys of the points, by cell; those of one cell beside each other.
    keys: Vec<(Key, u32)>,
    /// The key of each point.
    own: Vec<Key>,
    /// Where the points of a cell begin and end, at a place that follows from the cell or at the next free one after it.
    slots: Vec<(u64, [u32; 2])>,
}

/// What no cell is: cells have fewer bits.
const FREE: u64 = u64::MAX;

fn packed(cells: [u8; KEYS]) -> u64 {
    cells.into_iter().fold(0, |key, cell| key << 8 | u64::from(cell))
}

impl Table {
    /// The table of the waves with this number.
    fn of_waves(points: &[Point<'_>], which: usize, number: usize) -> Self {
        let spans = spans();
        let spans: Vec<_> = (0..KEYS).filter_map(|i| spans.get(number * KEYS + i).cloned()).collect();
        let key = |point: &Point<'_>| {
            let mut key = [0; KEYS];
            key.iter_mut().zip(&spans).for_each(|(key, span)| *key = strength(point.signs[which], span.clone()));
            key
        };
        Self::new(points.iter().map(key).collect(), TOLERANCE[which])
    }

    fn new(own: Vec<Key>, tolerance: u8) -> Self {
        let wide = 2 * tolerance;
        let cell = |key: &Key| packed(key.map(|v| v / wide));
        let mut sorted: Vec<(u64, u32)> = (0..).zip(&own).map(|(at, key)| (cell(key), at)).collect();
        sorted.sort_unstable();
        let keys = sorted.iter().map(|&(_, at)| (own[at as usize], at)).collect();
        let cells: Vec<&[(u64, u32)]> = sorted.chunk_by(|a, b| a.0 == b.0).collect();
        let mut slots = vec![(FREE, [0; 2]); (2 * cells.len() + 1).next_power_of_two()];
        let mut from = 0;
        for points in cells {
            let until = from + points.len() as u32;
            let mut at = Self::place(points[0].0, slots.len());
            while slots[at].0 != FREE {
                at = (at + 1) % slots.len();
            }
            slots[at] = (points[0].0, [from, until]);
            from = until;
        }
        Self { tolerance, keys, own, slots }
    }

    /// Where a cell is looked for first: the upper bits of a product by the golden ratio.
    fn place(cell: u64, slots: usize) -> usize {
        (cell.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 32) as usize & (slots - 1)
    }

    /// The points of a cell, lowest first.
    fn cell(&self, cell: u64) -> &[(Key, u32)] {
        let mut at = Self::place(cell, self.slots.len());
        loop {
            match self.slots[at] {
                (FREE, _) => return &[],
                (found, [from, until]) if found == cell => return &self.keys[from as usize..until as usize],
                _ => at = (at + 1) & (self.slots.len() - 1),
            }
        }
    }

    /// Hands on every point after `at` whose key differs by no more than the tolerance.
    fn near(&self, at: usize, mut found: impl FnMut(u32)) {
        let tolerance = self.tolerance;
        let wide = 2 * tolerance;
        let own = self.own[at];
        // Of each strength its own cell, and the one on the side on which it lies; below the lowest there is none.
        let (mut all, mut count) = ([0_u64; 1 << KEYS], 1);
        for &v in &own {
            let (cell, lower) = (v / wide, v % wide < tolerance);
            let beside = if lower { cell.checked_sub(1) } else { Some(cell + 1) };
            for i in 0..count {
                let start = all[i] << 8;
                all[i] = start | u64::from(cell);
                if let Some(beside) = beside {
                    all[count + i] = start | u64::from(beside);
                }
            }
            count *= 1 + usize::from(beside.is_some());
        }
        for &cell in &all[..count] {
            let points = self.cell(cell);
            let after = points.partition_point(|&(_, other)| other as usize <= at);
            for &(key, other) in points[after..].iter().take(MOST_OF_A_CELL) {
                if !(0..KEYS).fold(false, |far, i| far | (key[i].abs_diff(own[i]) > tolerance)) {
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
        .map(|(which, number)| Table::of_waves(&points, which, number))
        .collect();
    let flat: Vec<Flat> = points.iter().map(|point| Flat::of(point.signs)).collect();
    let mut all: Vec<Near> = (0..points.len())
        .into_par_iter()
        .flat_map_iter(|at| {
            let own = &points[at];
            let mut found: Vec<(u32, [u32; 2])> = Vec::new();
            for table in &tables {
                table.near(at, |other| found.extend(flat[at].apart(&flat[other as usize]).map(|apart| (other, apart))));
            }
            found.sort_unstable();
            found.dedup();
            let mut found: Vec<Near> = found
                .into_iter()
                .map(|(other, apart)| (&points[other as usize], apart))
                .filter(|(other, _)| own.tile != other.tile)
                .map(|(other, apart)| Near {
                    apart: apart[0].min(apart[1] * NEAR[0] / NEAR[1]),
                    one: (own.tile, own.look),
                    other: (other.tile, other.look),
                    other_colors: apart[1] > NEAR[1],
                })
                .collect();
            found.sort_unstable();
            found.truncate(MOST_NEIGHBORS);
            found
        })
        .collect();
    all.extend(of_one_shade(tiles));
    all.sort_unstable();
    all
}

/// Pairs of tiles with the same colors, whatever is drawn: what is left of a fine texture behind a lossy coder, or of units of a
/// few pixels in another size, has other waves. They come after all others.
fn of_one_shade(tiles: &[Option<&Likeness>]) -> Vec<Near> {
    let seen: Vec<(u32, &Likeness)> = (0..)
        .zip(tiles)
        .filter_map(|(tile, likeness)| Some((tile, (*likeness)?)))
        .filter(|(_, likeness)| !likeness.looks.is_empty())
        .collect();
    let table = Table::new(seen.iter().map(|(_, likeness)| likeness.colors.0).collect(), SHADES);
    (0..seen.len())
        .into_par_iter()
        .flat_map_iter(|at| {
            let own = seen[at];
            let mut found: Vec<Near> = Vec::new();
            table.near(at, |other| {
                let other = seen[other as usize];
                let apart: u32 =
                    (own.1.colors.0.iter().zip(other.1.colors.0)).map(|(a, b)| u32::from(a.abs_diff(b)).pow(2)).sum();
                let looks = |likeness: &Likeness| 0..likeness.looks.len().min(256) as u8;
                let pairs = looks(own.1).flat_map(|a| looks(other.1).map(move |b| (a, b)));
                let nearest = pairs.min_by_key(|&(a, b)| {
                    own.1.looks[usize::from(a)].drawing.apart(&other.1.looks[usize::from(b)].drawing)
                });
                if let Some((a, b)) = nearest {
                    found.push(Near {
                        other_colors: false,
                        apart: NEAR[0] + apart,
                        one: (own.0, a),
                        other: (other.0, b),
                    });
                }
            });
            found.sort_unstable();
            found.truncate(MOST_OF_ONE_SHADE);
            found
        })
        .collect()
}
