//! Where a few rows or columns of a tile cross something thin: a pixel that stands out from both sides, which agree.
//!
//! Takes pixels, yields places. One row or column in several is enough: a line worth telling crosses many. What is one
//! to three pixels wide and slanted by up to 45 degrees is at most six wide along a row; its sides are looked at beyond.

use crate::tile::Raster;

/// How the scanned lines of pixels lie. A line of art is found by the scan that it crosses at 45 degrees or steeper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scan {
    /// Every so many rows, each from left to right.
    Rows,
    /// Every so many columns, each from the top.
    Columns,
}

/// A tile seen along a scan: `along` counts scanned lines of pixels, `across` the pixels in each; both wrap.
#[derive(Clone, Copy)]
pub struct View<'a> {
    raster: &'a Raster,
    /// Which way.
    pub scan: Scan,
    /// Rows of a row scan, columns of a column scan.
    pub along: i64,
    /// The length of each.
    pub across: i64,
}

impl<'a> View<'a> {
    /// A tile seen along a scan.
    #[must_use]
    pub fn of(raster: &'a Raster, scan: Scan) -> Self {
        let (width, height) = (i64::from(raster.width()), i64::from(raster.height()));
        let (along, across) = if scan == Scan::Rows { (height, width) } else { (width, height) };
        Self { raster, scan, along, across }
    }

    /// The pixel at a place of the endless repeat.
    #[must_use]
    pub fn pixel(&self, along: i64, across: i64) -> [u8; 4] {
        match self.scan {
            Scan::Rows => self.raster.wrapped(across, along),
            Scan::Columns => self.raster.wrapped(along, across),
        }
    }

    /// The pixel at a place of the tile itself.
    #[must_use]
    #[inline]
    pub fn inside(&self, along: i64, across: i64) -> [u8; 4] {
        match self.scan {
            Scan::Rows => self.raster.pixel(across as u32, along as u32),
            Scan::Columns => self.raster.pixel(along as u32, across as u32),
        }
    }

    /// The `N` pixels from a place of the endless repeat on.
    #[must_use]
    #[inline]
    pub fn run<const N: usize>(&self, along: i64, across: i64) -> [[u8; 4]; N] {
        let pixels = self.raster.samples().as_chunks::<4>().0;
        let width = self.raster.width() as usize;
        let (along, length) = (along.rem_euclid(self.along) as usize, self.across as usize);
        let first = across.rem_euclid(self.across) as usize;
        match self.scan {
            Scan::Rows => {
                let row = &pixels[along * width..][..width];
                match row.get(first..first + N) {
                    Some(run) => std::array::from_fn(|at| run[at]),
                    None => std::array::from_fn(|at| row[(first + at) % length]),
                }
            }
            Scan::Columns => {
                let column = &pixels[along..];
                if first + N <= length {
                    std::array::from_fn(|at| column[(first + at) * width])
                } else {
                    std::array::from_fn(|at| column[(first + at) % length * width])
                }
            }
        }
    }
}

/// The thin crossings of one scan.
#[derive(Clone, Debug)]
pub struct Ridges {
    /// The row or column of each scanned line, rising.
    pub at: Vec<i64>,
    /// For each scanned line the middles of its crossings in half pixels, rising.
    pub middles: Vec<Vec<i64>>,
    /// All crossings.
    pub count: usize,
}

impl Ridges {
    /// The crossing nearest to a place, in half pixels and wrapping after `2 * across`, if one is within `reach`; answers
    /// its number and how far it lies from the place.
    #[must_use]
    pub fn nearest(&self, line: usize, place: i64, across: i64, reach: i64) -> Option<(usize, i64)> {
        let (middles, turn) = (&self.middles[line], 2 * across);
        let place = if (0..turn).contains(&place) { place } else { place.rem_euclid(turn) };
        let after = middles.partition_point(|middle| *middle < place);
        let candidates = [
            after.checked_sub(1).or_else(|| middles.len().checked_sub(1)),
            (after < middles.len()).then_some(after).or((!middles.is_empty()).then_some(0)),
        ];
        candidates
            .into_iter()
            .flatten()
            .map(|i| (i, apart(middles[i], place, across)))
            .filter(|(_, off)| off.abs() <= reach)
            .min_by_key(|(i, off)| (off.abs(), *i))
    }
}

/// How far a middle lies from a place, both within a turn of `2 * across`, by the shorter way: from `-across` to below `across`.
#[inline]
pub(super) fn apart(middle: i64, place: i64, across: i64) -> i64 {
    let off = middle - place;
    if off < -across {
        off + 2 * across
    } else if off >= across {
        off - 2 * across
    } else {
        off
    }
}

/// How far from the middle the sides begin, in pixels; they are two pixels wide.
const SIDE: usize = 4;

/// The least jump that counts, in levels, less one: rounding alone makes two.
const LEAST: u16 = 2;

/// The widest crossing in pixels: three pixels at 45 degrees, and their soft edges.
const WIDEST: usize = 6;

/// How far a pixel must stand out against how far its sides differ, in quarters: the first that leaves few enough crossings.
const OUT: [u16; 4] = [4, 6, 8, 12];

/// The most pairs of crossings that following them may begin from, given the harshest demand and any other.
const PAIRS: [u64; 2] = [12_000, 100_000];

/// A scan tries out its demand on one in so many of its rows.
const TRIED: usize = 8;

/// Scans every `step`-th row and about as many columns; in rough art, where much stands out by itself, only for what stands
/// out more. `None` when even then there is too much of it: the art is made of lines.
#[must_use]
pub fn ridges(raster: &Raster, step: usize) -> [Option<Ridges>; 2] {
    let scanned = u64::from(raster.width()) * u64::from(raster.height()) / step as u64;
    let pairs = |count: usize, of: u64| (count as u64).pow(2) * 66 / of.max(1);
    let few = |out: &&u16| {
        let tried = rows(raster, TRIED * step, **out).count * TRIED;
        pairs(tried, scanned) <= PAIRS[0]
    };
    let out = OUT.iter().find(few).copied().unwrap_or(OUT[OUT.len() - 1]);
    [rows(raster, step, out), columns(raster, step, out)]
        .map(|found| (pairs(found.count, scanned) <= PAIRS[1]).then_some(found))
}

/// Marks each sample that differs from all four of its sides by more than they differ among themselves.
fn mark(marks: &mut [u8], middle: &[u8], sides: [&[u8]; 4], out: u16) {
    let [a, b, c, d] = sides;
    let sides = a.iter().zip(b).zip(c).zip(d);
    for ((mark, middle), (((a, b), c), d)) in marks.iter_mut().zip(middle).zip(sides) {
        let (high, low) = ((*a).max(*b).max((*c).max(*d)), (*a).min(*b).min((*c).min(*d)));
        let wanted = (u16::from(high - low) * out / 4).clamp(LEAST, 255) as u8;
        *mark = u8::from(middle.saturating_sub(high) > wanted) | u8::from(low.saturating_sub(*middle) > wanted);
    }
}

fn rows(raster: &Raster, step: usize, out: u16) -> Ridges {
    let reach = 4 * (SIDE + 1);
    let long = raster.width() as usize * 4;
    let mut marks = vec![0; long];
    let mut padded = vec![0; long + 2 * reach];
    let mut found = Ridges { at: Vec::new(), middles: Vec::new(), count: 0 };
    for y in (0..raster.height()).step_by(step) {
        let row = raster.row(y);
        for (i, sample) in padded.iter_mut().enumerate().take(reach) {
            *sample = row[(i + long * (reach / long + 1) - reach) % long];
        }
        padded[reach..reach + long].copy_from_slice(row);
        for i in 0..reach {
            padded[reach + long + i] = row[i % long];
        }
        let from = |pixels: usize| &padded[pixels * 4..][..long];
        mark(&mut marks, row, [from(0), from(1), from(2 * SIDE + 1), from(2 * SIDE + 2)], out);
        let mut middles = Vec::new();
        let mut start = None;
        // Where eight bytes in a row are unmarked there is nothing to look at.
        for (eighth, chunk) in marks.chunks(8).enumerate() {
            let quiet = chunk.iter().fold(0, |all, mark| all | mark) == 0;
            if quiet && start.is_none() {
                continue;
            }
            for (i, pixel) in chunk.chunks_exact(4).enumerate() {
                let x = eighth * 2 + i;
                let marked = pixel[0] | pixel[1] | pixel[2] != 0 && row[4 * x + 3] == 255;
                match (marked, start) {
                    (true, None) => start = Some(x),
                    (false, Some(from)) => {
                        keep(&mut middles, from, x);
                        start = None;
                    }
                    _ => {}
                }
            }
        }
        if let Some(from) = start {
            keep(&mut middles, from, long / 4);
        }
        found.count += middles.len();
        found.at.push(y.into());
        found.middles.push(middles);
    }
    found
}

fn columns(raster: &Raster, step: usize, out: u16) -> Ridges {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    // Where few columns are looked at, four lie near each other: they share the cache line of each row.
    let at: Vec<usize> =
        (0..width).filter(|x| if step == 8 { x % 64 < 16 && x % 4 == 0 } else { x % step == 0 }).collect();
    let span = 2 * (SIDE + 1) + 1;
    let mut ring: Vec<Vec<u8>> = vec![vec![0; at.len() * 4]; span];
    let gather = |thin: &mut [u8], y: i64| {
        let row = raster.row(y.rem_euclid(height as i64) as u32);
        for (to, x) in thin.chunks_exact_mut(4).zip(&at) {
            to.copy_from_slice(&row[4 * x..4 * x + 4]);
        }
    };
    let reach = SIDE as i64 + 1;
    let slot = |y: i64| y.rem_euclid(span as i64) as usize;
    for y in -reach..reach {
        gather(&mut ring[slot(y)], y);
    }
    let mut marks = vec![0; at.len() * 4];
    let mut open: Vec<Option<usize>> = vec![None; at.len()];
    let mut middles: Vec<Vec<i64>> = vec![Vec::new(); at.len()];
    for y in 0..height {
        let here = y as i64;
        gather(&mut ring[slot(here + reach)], here + reach);
        let side = |off: i64| ring[slot(here + off)].as_slice();
        mark(&mut marks, side(0), [side(-reach), side(1 - reach), side(reach - 1), side(reach)], out);
        for (i, (pixel, open)) in marks.chunks_exact(4).zip(&mut open).enumerate() {
            let marked = pixel[0] | pixel[1] | pixel[2] != 0;
            if !marked && open.is_none() {
                continue;
            }
            if marked && side(0)[4 * i + 3] == 255 {
                open.get_or_insert(y);
            } else if let Some(from) = open.take() {
                keep(&mut middles[i], from, y);
            }
        }
    }
    for (open, middles) in open.into_iter().zip(&mut middles) {
        if let Some(from) = open {
            keep(middles, from, height);
        }
    }
    let count = middles.iter().map(Vec::len).sum();
    Ridges { at: at.into_iter().map(|x| x as i64).collect(), middles, count }
}

/// Keeps the middle of a crossing from `from` to before `to` unless it is too wide.
fn keep(middles: &mut Vec<i64>, from: usize, to: usize) {
    if to - from <= WIDEST {
        middles.push((from + to - 1) as i64);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(width: u32, height: u32, color: impl Fn(u32, u32) -> u8) -> Raster {
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        Raster::new(width, height, pixels.flat_map(|(x, y)| [color(x, y), 90, 90, 255]).collect()).unwrap()
    }

    #[test]
    fn a_thin_line_is_crossed_at_its_middle_by_both_scans() {
        let level = drawn(40, 50, |_, y| if (20..22).contains(&y) { 100 } else { 90 });
        let found = columns(&level, 4, 4);
        assert_eq!(found.at, [0, 4, 8, 12, 16, 20, 24, 28, 32, 36]);
        assert!(found.middles.iter().all(|middles| middles == &[41]));
        assert_eq!(rows(&level, 1, 4).count, 0);
        let upright = drawn(50, 40, |x, _| if x == 30 { 80 } else { 90 });
        assert!(rows(&upright, 8, 4).middles.iter().all(|middles| middles == &[60]));
    }

    #[test]
    fn a_line_on_the_border_has_its_sides_beyond_the_border() {
        for x0 in [0, 49] {
            let upright = drawn(50, 40, |x, _| if x == x0 { 80 } else { 90 });
            let found = rows(&upright, 8, 4);
            assert!(found.middles.iter().all(|middles| middles == &[2 * i64::from(x0)]), "{found:?}");
        }
    }

    #[test]
    fn edges_and_wide_bars_are_no_crossings() {
        let edge = drawn(64, 16, |x, _| if (10..30).contains(&x) { 200 } else { 90 });
        assert_eq!(rows(&edge, 1, 4).count, 0);
    }

    #[test]
    fn the_nearest_crossing_may_lie_beyond_the_border() {
        let found = Ridges { at: vec![0], middles: vec![vec![1, 40, 97]], count: 3 };
        assert_eq!(found.nearest(0, 98, 50, 3), Some((2, -1)));
        assert_eq!(found.nearest(0, 100, 50, 3), Some((0, 1)));
        assert_eq!(found.nearest(0, -4, 50, 3), Some((2, 1)));
        assert_eq!(found.nearest(0, 60, 50, 3), None);
    }
}
