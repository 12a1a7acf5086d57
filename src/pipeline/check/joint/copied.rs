//! Doubled lines: the last lines of a tile are its first ones once more, to the last sample.
//!
//! Takes the raster as it is. Knows nothing of statistics: what is equal is equal.

use super::line::{Axis, column, samples};
use super::step::STRONG;
use crate::tile::Raster;

/// The most lines that are looked for: a larger excess is no slip of a canvas size.
const MOST: usize = 32;

/// Changes along the doubled lines beyond twice what equal lines inside have: lines with next to nothing on them are
/// equal by chance.
const LEAST_CHANGES: usize = 5;

/// How many of the first lines follow once more after the last one, the copy being moved along by `moved` pixels; 0 when
/// none.
///
/// Art that repeats neighboring lines by itself (checks, weaves, stripes, plain color) proves nothing: equal lines inside
/// with half as much on them silence the rule, and so does equality that goes on beyond the doubled lines.
pub(super) fn lines(raster: &Raster, axis: Axis, moved: usize) -> usize {
    let most = MOST.min(axis.lines(raster) / 4);
    let ends = Ends { raster, axis };
    // The fewest that are equal decide: where fewer are equal too, the art has a period of its own there.
    let fewest = (1..=most).find(|n| ends.equal(*n, moved));
    fewest.filter(|n| ends.alone(*n) && proven(raster, axis, *n, ends.changes(*n))).unwrap_or(0)
}

/// The lines at both ends of an axis.
struct Ends<'a> {
    raster: &'a Raster,
    axis: Axis,
}

impl Ends<'_> {
    /// Whether line `a` equals line `b` moved forward by `moved` pixels. Most lines differ at one of the first pixels.
    fn same(&self, a: usize, b: usize, moved: usize) -> bool {
        let length = self.axis.length(self.raster);
        let moved = moved % length.max(1);
        match self.axis {
            Axis::Rows => {
                let (before, after) = self.raster.row(a as u32).split_at(moved * 4);
                let (start, end) = self.raster.row(b as u32).split_at(after.len());
                after == start && before == end
            }
            Axis::Columns => {
                let [a, b] = [a, b].map(|index| column(self.raster, index));
                a.clone().skip(moved).eq(b.clone().take(length - moved)) && a.take(moved).eq(b.skip(length - moved))
            }
        }
    }

    /// Whether the last `n` lines equal the first `n`.
    fn equal(&self, n: usize, moved: usize) -> bool {
        let from = self.axis.lines(self.raster) - n;
        (0..n).all(|line| self.same(from + line, line, moved))
    }

    /// Whether these `n` lines alone are equal: equality that goes on to either side is the art's own, and lines that are
    /// all equal are one line.
    fn alone(&self, n: usize) -> bool {
        let lines = self.axis.lines(self.raster);
        !self.same(lines - n - 1, lines - 1, 0)
            && !self.same(0, n, 0)
            && (n == 1 || (1..n).any(|line| !self.same(line - 1, line, 0)))
    }

    /// The fewest changes along one of the first `n` lines.
    fn changes(&self, n: usize) -> usize {
        (0..n).map(|line| changes(&samples(self.raster, self.axis, line))).min().unwrap_or(0)
    }
}

/// How many neighbors along a line differ visibly.
fn changes(line: &[u8]) -> usize {
    line.chunks_exact(4).zip(line.chunks_exact(4).skip(1)).filter(|(a, b)| differ(a, b)).count()
}

fn differ(a: &[u8], b: &[u8]) -> bool {
    a.iter().zip(b).any(|(a, b)| a.abs_diff(*b) > STRONG)
}

/// Whether no place inside has `n` lines that equal the `n` before them with half as much on them as `changes`.
fn proven(raster: &Raster, axis: Axis, n: usize, changes_here: usize) -> bool {
    if changes_here < LEAST_CHANGES {
        return false;
    }
    let (lines, stride) = (axis.lines(raster), raster.width() as usize * 4);
    let equal: Vec<bool> = match axis {
        Axis::Rows => (0..lines - n).map(|y| raster.row(y as u32) == raster.row((y + n) as u32)).collect(),
        Axis::Columns => {
            let mut equal = vec![true; lines - n];
            for row in raster.samples().chunks_exact(stride) {
                for ((equal, a), b) in equal.iter_mut().zip(row.chunks_exact(4)).zip(row[n * 4..].chunks_exact(4)) {
                    *equal &= a == b;
                }
            }
            equal
        }
    };
    let mut run = 0;
    for (at, equal) in equal.iter().enumerate() {
        run = if *equal { run + 1 } else { 0 };
        if run >= n && 2 * changes(&samples(raster, axis, at)) + LEAST_CHANGES >= changes_here {
            return false;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::check::joint::sample::{gray, noise};

    #[test]
    fn lines_once_more_are_counted_on_both_axes() {
        for n in 1..6 {
            let rows = gray(40, 60 + n, |x, y| noise(x, y % 60));
            let columns = gray(60 + n, 40, |x, y| noise(x % 60, y));
            assert_eq!(lines(&rows.raster, Axis::Rows, 0), n as usize);
            assert_eq!(lines(&rows.raster, Axis::Columns, 0), 0);
            assert_eq!(lines(&columns.raster, Axis::Columns, 0), n as usize);
            // The copy moved by a quarter: row 60 + k is row k moved forward by 10.
            let moved = gray(40, 60 + n, |x, y| noise((x + 40 - 10 * (y / 60)) % 40, y % 60));
            assert_eq!(lines(&moved.raster, Axis::Rows, 10), n as usize);
        }
    }

    #[test]
    fn art_that_repeats_lines_by_itself_proves_nothing() {
        // Every line twice: the joint of 0 and 1 is one of many.
        let pairs = gray(40, 60, |x, y| noise(x, y.div_ceil(2) % 30));
        // Stripes across, an empty border, one color.
        let stripes = gray(40, 60, |x, _| if x % 8 < 4 { 10 } else { 200 });
        let island = gray(40, 61, |x, y| if (10..30).contains(&x) && (20..40).contains(&y) { noise(x, y) } else { 9 });
        for tile in [pairs, stripes, island, gray(40, 60, |_, _| 7)] {
            assert_eq!((lines(&tile.raster, Axis::Rows, 0), lines(&tile.raster, Axis::Columns, 0)), (0, 0));
        }
        // A twill of period 4 in a band of 16 lines around the joint: lines 8 apart are equal there and nowhere else.
        let band = |y: u32| if !(8..52).contains(&y) { 100 + (y + 8) % 60 % 4 } else { y };
        assert_eq!(lines(&gray(40, 60, |x, y| noise(x, band(y))).raster, Axis::Rows, 0), 0);
        // A single pair of equal lines inside silences one doubled line, not two.
        let inside = |y: u32| if y % 60 == 30 { 29 } else { y % 60 };
        assert_eq!(lines(&gray(40, 61, |x, y| noise(x, inside(y))).raster, Axis::Rows, 0), 0);
        assert_eq!(lines(&gray(40, 62, |x, y| noise(x, inside(y))).raster, Axis::Rows, 0), 2);
    }
}
