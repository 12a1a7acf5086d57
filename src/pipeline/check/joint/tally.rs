//! The statistics of excess over pairs of lines: mean, share of strong steps, and the largest running means.
//!
//! Takes rows of excess values and sums them in cells along the pair; knows nothing of where they come from.

use super::step::STRONG;

/// Cells that a long pair is summed in: a multiple of 12, so that a twelfth and a sixth are whole numbers of cells.
const MOST_CELLS: usize = 72;

/// Below this share of counted pixels a pair, or a stretch of it, says nothing.
const LEAST_COUNTED: f64 = 0.5;

/// What is measured at every pair of lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Statistic {
    /// Mean excess, in levels.
    Mean,
    /// Share of pixels with an excess over 2 levels, 0 to 1.
    Share,
    /// Largest mean excess over a twelfth of the pair, in levels.
    Twelfth,
    /// Largest mean excess over a sixth of the pair, in levels.
    Sixth,
    /// Half the bend that more than half of the pixels share in sign, in levels.
    Even,
}

impl Statistic {
    /// The statistics of excess, in the order of [`Tally::values`].
    pub(super) const OF_EXCESS: [Self; 4] = [Self::Mean, Self::Share, Self::Twelfth, Self::Sixth];

    /// About what rounding to 8 bits alone can do to the statistic.
    pub(super) fn floor(self) -> f64 {
        match self {
            Self::Mean => 0.15,
            Self::Share => 0.01,
            Self::Twelfth | Self::Sixth => 0.5,
            Self::Even => 0.4,
        }
    }
}

/// The cut of a pair of lines into cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cells {
    length: usize,
    count: usize,
}

impl Cells {
    /// Cells for pairs of `length` pixels, which are at least 12 for every cell to hold one.
    pub(super) fn new(length: usize) -> Self {
        let count = [MOST_CELLS, MOST_CELLS / 2, MOST_CELLS / 3].into_iter().find(|count| length >= count * 2);
        Self { length, count: count.unwrap_or(12) }
    }

    /// How many cells.
    pub(super) fn count(self) -> usize {
        self.count
    }

    /// Where cell `cell` begins; `cell` may be the count, where the last one ends.
    pub(super) fn start(self, cell: usize) -> usize {
        cell * self.length / self.count
    }

    /// Pixels in `cells` cells from `first` on, cyclically.
    fn pixels(self, first: usize, cells: usize) -> usize {
        (first..first + cells).map(|cell| self.start(cell % self.count + 1) - self.start(cell % self.count)).sum()
    }
}

/// Sums over many pairs of the same length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Tally {
    cells: Cells,
    pairs: usize,
    /// Excess per cell and pair: `[cell * pairs + pair]`.
    sums: Vec<u32>,
    /// Strong steps per pair.
    strong: Vec<u32>,
    /// Pixels left out, as `sums`; empty while none is.
    left_out: Vec<u32>,
}

impl Tally {
    /// A tally of `pairs` pairs of `length` pixels.
    pub(super) fn new(length: usize, pairs: usize) -> Self {
        let cells = Cells::new(length);
        Self { cells, pairs, sums: vec![0; cells.count() * pairs], strong: vec![0; pairs], left_out: Vec::new() }
    }

    /// The cells of every pair.
    pub(super) fn cells(&self) -> Cells {
        self.cells
    }

    /// Adds the whole of one pair. `counted` is 255 where a pixel counts and 0 where not; there `excess` must be 0.
    pub(super) fn add_pair(&mut self, pair: usize, excess: &[u8], counted: Option<&[u8]>) {
        for cell in 0..self.cells.count() {
            let range = self.cells.start(cell)..self.cells.start(cell + 1);
            let Some(values) = excess.get(range.clone()) else { return };
            self.sums[cell * self.pairs + pair] += values.iter().map(|&value| u32::from(value)).sum::<u32>();
            self.strong[pair] += values.iter().map(|&value| u32::from(value > STRONG)).sum::<u32>();
            if let Some(counted) = counted.and_then(|counted| counted.get(range)) {
                let out = counted.iter().map(|&counts| u32::from(counts == 0)).sum::<u32>();
                let at = cell * self.pairs + pair;
                self.left_out_mut()[at] += out;
            }
        }
    }

    /// Adds sums over part of one cell, an entry per pair.
    pub(super) fn add_cell(&mut self, cell: usize, sums: &[u16], strong: &[u8]) {
        let range = cell * self.pairs..(cell + 1) * self.pairs;
        for (total, sum) in self.sums[range].iter_mut().zip(sums) {
            *total += u32::from(*sum);
        }
        for (total, strong) in self.strong.iter_mut().zip(strong) {
            *total += u32::from(*strong);
        }
    }

    /// Adds pixels left out in part of one cell, an entry per pair.
    pub(super) fn leave_out(&mut self, cell: usize, out: &[u8]) {
        let range = cell * self.pairs..(cell + 1) * self.pairs;
        for (total, out) in self.left_out_mut()[range].iter_mut().zip(out) {
            *total += u32::from(*out);
        }
    }

    fn left_out_mut(&mut self) -> &mut [u32] {
        if self.left_out.is_empty() {
            self.left_out = vec![0; self.sums.len()];
        }
        &mut self.left_out
    }

    /// The value of every statistic of excess at every pair that has enough counted pixels, in the order of
    /// [`Statistic::OF_EXCESS`].
    pub(super) fn values(&self) -> [Vec<f64>; 4] {
        let enough: Vec<bool> = self.counted(0, self.cells.count()).iter().map(|(_, enough)| *enough).collect();
        let means = self.means(0, self.cells.count());
        let shares = self.strong.iter().zip(self.counted(0, self.cells.count()));
        let shares = shares.map(|(strong, (counted, _))| f64::from(*strong) / counted).collect();
        let values = [means, shares, self.largest_running(12), self.largest_running(6)];
        values.map(|values| {
            values.into_iter().zip(&enough).filter(|(_, enough)| **enough).map(|(value, _)| value).collect()
        })
    }

    /// The largest mean over a stretch of 1/`part` of every pair; stretches begin at every cell and wrap.
    fn largest_running(&self, part: usize) -> Vec<f64> {
        let width = self.cells.count() / part;
        let mut largest = vec![0.0; self.pairs];
        for first in 0..self.cells.count() {
            for (largest, mean) in largest.iter_mut().zip(self.means(first, width)) {
                *largest = mean.max(*largest);
            }
        }
        largest
    }

    /// The mean excess over `width` cells from `first` on, at every pair; 0 where too few pixels count.
    fn means(&self, first: usize, width: usize) -> Vec<f64> {
        let mut sums = vec![0u32; self.pairs];
        for cell in first..first + width {
            let from = cell % self.cells.count() * self.pairs;
            for (sum, more) in sums.iter_mut().zip(&self.sums[from..from + self.pairs]) {
                *sum += more;
            }
        }
        let means = sums.iter().zip(self.counted(first, width));
        means.map(|(sum, (counted, enough))| if enough { f64::from(*sum) / counted } else { 0.0 }).collect()
    }

    /// Counted pixels over `width` cells from `first` on (at least 1, to divide by), and whether they are enough.
    fn counted(&self, first: usize, width: usize) -> Vec<(f64, bool)> {
        let pixels = self.cells.pixels(first, width) as f64;
        if self.left_out.is_empty() {
            return vec![(pixels.max(1.0), pixels > 0.0); self.pairs];
        }
        let mut out = vec![0u32; self.pairs];
        for cell in first..first + width {
            let from = cell % self.cells.count() * self.pairs;
            for (out, more) in out.iter_mut().zip(&self.left_out[from..from + self.pairs]) {
                *out += more;
            }
        }
        let counted = out.iter().map(|out| pixels - f64::from(*out));
        counted.map(|counted| (counted.max(1.0), counted > 0.0 && counted >= LEAST_COUNTED * pixels)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One pair of 144 pixels with the given excesses, zero elsewhere.
    fn pair(at: &[(usize, u8)], counted: Option<&[u8]>) -> [f64; 4] {
        let mut excess = vec![0; 144];
        for &(at, value) in at {
            excess[at] = value;
        }
        let mut tally = Tally::new(144, 1);
        tally.add_pair(0, &excess, counted);
        tally.values().map(|values| values[0])
    }

    #[test]
    fn statistics_by_hand() {
        // 144 pixels: a twelfth is 12, a sixth 24. Excess 12 at 30 and 6 at 41 lie within 12 pixels of each other.
        assert_eq!(pair(&[(30, 12), (41, 6)], None), [18.0 / 144.0, 2.0 / 144.0, 1.5, 0.75]);
        // 13 pixels apart they share a sixth only; an excess of 2 is not strong.
        assert_eq!(pair(&[(30, 12), (43, 2)], None), [14.0 / 144.0, 1.0 / 144.0, 1.0, 14.0 / 24.0]);
        // A stretch wraps from the last pixel to the first.
        assert_eq!(pair(&[(143, 12), (0, 12)], None)[2], 2.0);
    }

    #[test]
    fn pixels_left_out_leave_both_sum_and_count() {
        let mut counted = [255; 144];
        counted[..72].fill(0);
        assert_eq!(pair(&[(100, 36)], Some(&counted)), [0.5, 1.0 / 72.0, 3.0, 1.5]);
        let mut tally = Tally::new(144, 1);
        counted[72] = 0;
        tally.add_pair(0, &[0; 144], Some(&counted));
        assert_eq!(tally.values(), [const { Vec::<f64>::new() }; 4], "fewer than half the pixels say nothing");
    }

    #[test]
    fn cells_cover_every_length() {
        for length in 12..2000 {
            let cells = Cells::new(length);
            assert!(cells.count().is_multiple_of(12) && cells.start(0) == 0 && cells.start(cells.count()) == length);
            assert!((0..cells.count()).all(|cell| cells.start(cell) < cells.start(cell + 1)), "{length}");
        }
    }
}
