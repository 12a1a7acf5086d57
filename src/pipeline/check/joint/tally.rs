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
    /// Share of pixels in separate places that are cut, 0 to 1; of each place at most four pixels count.
    Cuts,
    /// Largest share of such pixels over a third of the pair.
    CutsOfThird,
    /// Half the bend that more than half of the pixels share in sign, in levels.
    Even,
    /// Step of the mean light between blocks of four lines beyond their trend, in levels.
    LightOfFour,
    /// The same between blocks of eight lines.
    LightOfEight,
    /// How many pixels aside the art goes on beyond the pair, by the median vote of all that crosses it.
    Shift,
    /// Part of all that crosses which goes on aside, more to one side than to the other, 0 to 1.
    Aside,
    /// How many lines too far the art goes on beyond the pair, likewise.
    Advance,
    /// Weight of edges that do not go on beyond the pair, over all of it and over parts.
    Loose,
    /// The largest such weight over a third of the pair.
    LooseThird,
    /// The largest over a sixth.
    LooseSixth,
    /// The largest over a twelfth.
    LooseTwelfth,
    /// The largest over a twenty-fourth.
    LooseTwentyFourth,
    /// How many contours end at the pair.
    Ends,
    /// The most that end over a third of it.
    EndsThird,
    /// The most over a twelfth.
    EndsTwelfth,
    /// The most over a twenty-fourth.
    EndsTwentyFourth,
    /// One over how many contours pass, and two.
    Few,
    /// The same over the third where the fewest pass.
    FewOfThird,
    /// How many contours more go on equally far aside than straight.
    Parallel,
    /// How far the pair departs from what lies beside the same patches elsewhere, summed over all of it, in levels.
    Departs,
    /// The same over a third.
    DepartsOfThird,
    /// The same over a twelfth.
    DepartsOfTwelfth,
    /// How the art crosses, ends and departs together: the sum over ways to be odd of the square of what the oddest pair does.
    OddCourse,
    /// How rare the little figures of edges at the pair are and how uneven its excess is, likewise.
    OddFigures,
    /// All of it together.
    Together,
}

/// How many statistics a tally yields.
pub(super) const TALLIED: usize = 6;

impl Statistic {
    /// The statistics in the order of [`Tally::values`].
    pub(super) const TALLIED: [Self; TALLIED] =
        [Self::Mean, Self::Share, Self::Twelfth, Self::Sixth, Self::Cuts, Self::CutsOfThird];

    /// What is asked of how art crosses from line to line.
    pub(super) const OF_LINES: [Self; 8] = [
        Self::Shift,
        Self::Aside,
        Self::Advance,
        Self::Loose,
        Self::LooseThird,
        Self::LooseSixth,
        Self::LooseTwelfth,
        Self::LooseTwentyFourth,
    ];

    /// The statistics of loose ends in the order of `crossing::PARTS`.
    pub(super) const LOOSE: [Self; 5] =
        [Self::Loose, Self::LooseThird, Self::LooseSixth, Self::LooseTwelfth, Self::LooseTwentyFourth];

    /// The statistics of contours that end.
    pub(super) const ENDS: [Self; 4] = [Self::Ends, Self::EndsThird, Self::EndsTwelfth, Self::EndsTwentyFourth];

    /// What is asked of contours, in the order of `passage::Passage::values`.
    pub(super) const OF_CONTOURS: [Self; 7] = [
        Self::Ends,
        Self::EndsThird,
        Self::EndsTwelfth,
        Self::EndsTwentyFourth,
        Self::Few,
        Self::FewOfThird,
        Self::Parallel,
    ];

    /// What is asked of custom, in the order of `custom::PARTS`.
    pub(super) const OF_CUSTOM: [Self; 3] = [Self::Departs, Self::DepartsOfThird, Self::DepartsOfTwelfth];

    /// What is asked of all ways to be odd, in the order of `together::readings`.
    pub(super) const TOGETHER: [Self; 3] = [Self::OddCourse, Self::OddFigures, Self::Together];

    /// The statistics of light in the order of `light::BLOCKS`.
    pub(super) const LIGHT: [Self; 2] = [Self::LightOfFour, Self::LightOfEight];

    /// About what rounding to 8 bits alone can do to the statistic.
    pub(super) fn floor(self) -> f64 {
        match self {
            Self::Mean => 0.15,
            Self::Share | Self::CutsOfThird => 0.01,
            Self::Twelfth | Self::Sixth => 0.5,
            Self::Cuts => 0.005,
            Self::Even => 0.4,
            Self::LightOfFour | Self::LightOfEight => 0.3,
            Self::Shift => 0.2,
            Self::OddCourse | Self::OddFigures | Self::Together => 0.5,
            Self::Aside => 0.05,
            Self::Advance => 0.4,
            Self::Ends | Self::EndsThird | Self::EndsTwelfth | Self::EndsTwentyFourth => 1.0,
            Self::Few | Self::FewOfThird => 0.1,
            Self::Parallel => 2.0,
            Self::Departs | Self::DepartsOfThird | Self::DepartsOfTwelfth => 64.0,
            Self::Loose | Self::LooseThird | Self::LooseSixth | Self::LooseTwelfth | Self::LooseTwentyFourth => 20.0,
        }
    }

    /// Whether the statistic is believed only when a cause that it stands for explains the joint.
    pub(super) fn confirmed(self) -> bool {
        matches!(self, Self::Shift | Self::Aside | Self::Advance)
    }

    /// Whether the statistic asks for edges and pixels to be exactly where they are elsewhere.
    pub(super) fn of_exact_art(self) -> bool {
        Self::OF_CONTOURS.contains(&self) || Self::OF_CUSTOM.contains(&self) || Self::TOGETHER.contains(&self)
    }

    /// Whether the statistic is a number of levels, and not a share.
    pub(super) fn in_levels(self) -> bool {
        matches!(self, Self::Mean | Self::Twelfth | Self::Sixth | Self::Even | Self::LightOfFour | Self::LightOfEight)
    }
}

/// What a tally sums in every cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sum {
    /// Excess.
    Excess,
    /// Pixels with an excess over 2 levels.
    Strong,
    /// Pixels of places that are cut.
    Cuts,
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

    /// The cell that a pixel lies in.
    pub(super) fn of(self, pixel: usize) -> usize {
        (pixel * self.count / self.length.max(1)).min(self.count - 1)
    }

    /// Where cell `cell` begins; `cell` may be the count, where the last one ends.
    pub(super) fn start(self, cell: usize) -> usize {
        cell * self.length / self.count
    }

    /// Pixels in `cells` cells from `first` on, cyclically.
    fn pixels(self, first: usize, cells: usize) -> usize {
        let end = first + cells;
        if end <= self.count {
            return self.start(end) - self.start(first);
        }
        self.length - self.start(first) + self.start(end - self.count)
    }
}

/// Sums over many pairs of the same length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Tally {
    cells: Cells,
    pairs: usize,
    /// For each [`Sum`], per cell and pair: `[cell * pairs + pair]`.
    sums: [Vec<u32>; 3],
    /// Pixels left out, likewise; empty while none is.
    left_out: Vec<u32>,
}

impl Tally {
    /// A tally of `pairs` pairs of `length` pixels.
    pub(super) fn new(length: usize, pairs: usize) -> Self {
        let cells = Cells::new(length);
        Self { cells, pairs, sums: [(); 3].map(|()| vec![0; cells.count() * pairs]), left_out: Vec::new() }
    }

    /// The cells of every pair.
    pub(super) fn cells(&self) -> Cells {
        self.cells
    }

    /// Adds the whole of one pair: its excess, its places (1 where cut), and which pixels count (255, 0 where not; there
    /// the others must be 0).
    pub(super) fn add_pair(&mut self, pair: usize, excess: &[u8], places: &[u8], counted: Option<&Vec<u8>>) {
        for cell in 0..self.cells.count() {
            let range = self.cells.start(cell)..self.cells.start(cell + 1);
            let (Some(excess), Some(places)) = (excess.get(range.clone()), places.get(range.clone())) else { return };
            let at = cell * self.pairs + pair;
            self.sums[Sum::Excess as usize][at] += excess.iter().map(|value| u32::from(*value)).sum::<u32>();
            self.sums[Sum::Strong as usize][at] += excess.iter().map(|value| u32::from(*value > STRONG)).sum::<u32>();
            self.sums[Sum::Cuts as usize][at] += places.iter().map(|value| u32::from(*value)).sum::<u32>();
            if let Some(counted) = counted.and_then(|counted| counted.get(range)) {
                let out = counted.iter().map(|counts| u32::from(*counts == 0)).sum::<u32>();
                self.left_out_mut()[at] += out;
            }
        }
    }

    /// Adds sums over part of one cell, an entry per pair.
    pub(super) fn add_cell<T: Copy + Into<u32>>(&mut self, sum: Sum, cell: usize, values: &[T]) {
        let range = cell * self.pairs..(cell + 1) * self.pairs;
        for (total, value) in self.sums[sum as usize][range].iter_mut().zip(values) {
            *total += (*value).into();
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
            self.left_out = vec![0; self.cells.count() * self.pairs];
        }
        &mut self.left_out
    }

    /// The value of every statistic at every pair that has enough counted pixels, in the order of
    /// [`Statistic::TALLIED`].
    pub(super) fn values(&self) -> [Vec<f64>; TALLIED] {
        let whole = self.cells.count();
        let left_out = self.over(&self.left_out, 0, whole);
        let pixels = self.cells.pixels(0, whole) as f64;
        let enough: Vec<bool> = left_out.iter().map(|out| enough(pixels, *out)).collect();
        Statistic::TALLIED.map(|statistic| {
            let values = match statistic {
                Statistic::Share => self.largest_running(Sum::Strong, 1),
                Statistic::Cuts => self.largest_running(Sum::Cuts, 1),
                Statistic::Twelfth => self.largest_running(Sum::Excess, 12),
                Statistic::Sixth => self.largest_running(Sum::Excess, 6),
                Statistic::CutsOfThird => self.largest_running(Sum::Cuts, 3),
                _ => self.largest_running(Sum::Excess, 1),
            };
            values.into_iter().zip(&enough).filter(|(_, enough)| **enough).map(|(value, _)| value).collect()
        })
    }

    /// The largest mean over a stretch of 1/`part` of every pair; stretches begin at every cell and wrap, and one with
    /// too few counted pixels counts 0.
    fn largest_running(&self, sum: Sum, part: usize) -> Vec<f64> {
        let (count, width) = (self.cells.count(), self.cells.count() / part);
        let table = &self.sums[sum as usize];
        let (mut sums, mut out) = (self.over(table, 0, width), self.over(&self.left_out, 0, width));
        let mut largest = vec![0.0f64; self.pairs];
        // Where all pixels count, stretches of as many pixels are compared by their sums, and only the largest is divided.
        let mut alike: Vec<(usize, Vec<u32>)> = Vec::new();
        for first in 0..if part == 1 { 1 } else { count } {
            let pixels = self.cells.pixels(first, width);
            if self.left_out.is_empty() {
                match alike.iter_mut().find(|(of, _)| *of == pixels) {
                    Some((_, most)) => most.iter_mut().zip(&sums).for_each(|(most, sum)| *most = (*most).max(*sum)),
                    None => alike.push((pixels, sums.clone())),
                }
            } else {
                let pixels = pixels as f64;
                for ((largest, sum), out) in largest.iter_mut().zip(&sums).zip(&out) {
                    if enough(pixels, *out) {
                        *largest = (f64::from(*sum) / (pixels - f64::from(*out))).max(*largest);
                    }
                }
                self.slide(&self.left_out, first, (first + width) % count, &mut out);
            }
            self.slide(table, first, (first + width) % count, &mut sums);
        }
        for (pixels, most) in alike {
            for (largest, sum) in largest.iter_mut().zip(most) {
                *largest = (f64::from(sum) / (pixels as f64).max(1.0)).max(*largest);
            }
        }
        largest
    }

    /// Takes cell `leave` out of running sums and cell `enter` in.
    fn slide(&self, table: &[u32], leave: usize, enter: usize, sums: &mut [u32]) {
        let cell = |cell: usize| &table[cell * self.pairs..(cell + 1) * self.pairs];
        for ((sum, enter), leave) in sums.iter_mut().zip(cell(enter)).zip(cell(leave)) {
            *sum = *sum + enter - leave;
        }
    }

    /// The sum of a table over `width` cells from `first` on at every pair; zeros for an empty table.
    fn over(&self, table: &[u32], first: usize, width: usize) -> Vec<u32> {
        let mut sums = vec![0u32; self.pairs];
        for row in table.chunks_exact(self.pairs.max(1)).skip(first).take(width) {
            for (sum, more) in sums.iter_mut().zip(row) {
                *sum += more;
            }
        }
        sums
    }
}

/// Whether so many pixels less those left out are enough to say something.
fn enough(pixels: f64, left_out: u32) -> bool {
    let counted = pixels - f64::from(left_out);
    counted > 0.0 && counted >= LEAST_COUNTED * pixels
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One pair of 144 pixels with the given excesses and places at some of them, zero elsewhere.
    fn pair(at: &[(usize, u8)], places: &[usize], counted: Option<&Vec<u8>>) -> [f64; TALLIED] {
        let (mut excess, mut cut) = (vec![0; 144], vec![0; 144]);
        at.iter().for_each(|(at, value)| excess[*at] = *value);
        places.iter().for_each(|at| cut[*at] = 1);
        let mut tally = Tally::new(144, 1);
        tally.add_pair(0, &excess, &cut, counted);
        tally.values().map(|values| values[0])
    }

    #[test]
    fn statistics_by_hand() {
        // 144 pixels: a twelfth is 12, a sixth 24, a third 48. 30 and 41 lie within 12 pixels of each other.
        let found = pair(&[(30, 12), (41, 6)], &[30, 31, 100], None);
        assert_eq!(found, [18.0 / 144.0, 2.0 / 144.0, 1.5, 0.75, 3.0 / 144.0, 2.0 / 48.0]);
        // 13 pixels apart they share a sixth only; an excess of 2 is not strong.
        assert_eq!(pair(&[(30, 12), (43, 2)], &[], None)[..4], [14.0 / 144.0, 1.0 / 144.0, 1.0, 14.0 / 24.0]);
        // A stretch wraps from the last pixel to the first.
        assert_eq!(pair(&[(143, 12), (0, 12)], &[], None)[2], 2.0);
    }

    #[test]
    fn pixels_left_out_leave_both_sum_and_count() {
        let mut counted = vec![255; 144];
        counted[..72].fill(0);
        let found = pair(&[(100, 36)], &[100], Some(&counted));
        assert_eq!(
            found,
            [0.5, 1.0 / 72.0, 3.0, 1.5, 1.0 / 72.0, 1.0 / 30.0],
            "a third that holds 100 has at least 30 that count"
        );
        let mut tally = Tally::new(144, 1);
        counted[72] = 0;
        tally.add_pair(0, &[0; 144], &[0; 144], Some(&counted));
        assert_eq!(tally.values(), [const { Vec::<f64>::new() }; TALLIED], "fewer than half the pixels say nothing");
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
