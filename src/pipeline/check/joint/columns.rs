//! The statistics of every pair of columns, gathered while a raster is read row by row.

use super::cut::{self, PLACE, SLANT};
use super::line::{Line, mask};
use super::step;
use super::tally::{Sum, Tally};

/// Rows whose counts fit a byte.
const MOST_ROWS: usize = 255;

/// Rows of steps that are kept: a row is judged when the steps [`SLANT`] rows on are known.
const KEPT: usize = 2 * SLANT + 1;

/// Column statistics, gathered row by row.
pub(super) struct Columns {
    tally: Tally,
    height: usize,
    /// Steps along the row for the rows that matter, row y in slot y % KEPT, and which of their pixels count.
    steps: Vec<Vec<u8>>,
    counted: Vec<Option<Vec<u8>>>,
    spare: Vec<Vec<u8>>,
    /// The largest steps within [`SLANT`] rows.
    wide: Vec<u8>,
    excess: Vec<u8>,
    strong: Vec<u8>,
    /// How many strong rows in a row end here, at most 255.
    run: Vec<u8>,
    /// Counters of the cell that is being filled.
    cell: usize,
    rows: usize,
    sums: Vec<u16>,
    strongs: Vec<u8>,
    cuts: Vec<u8>,
    left_out: Vec<u8>,
    any_left_out: bool,
}

impl Columns {
    pub(super) fn new(width: usize, height: usize) -> Self {
        let pairs = width.saturating_sub(3);
        Self {
            tally: Tally::new(height, pairs),
            height,
            steps: vec![vec![0; width.saturating_sub(1)]; KEPT],
            counted: vec![None; KEPT],
            spare: Vec::new(),
            wide: vec![0; width.saturating_sub(1)],
            excess: vec![0; pairs],
            strong: vec![0; pairs],
            run: vec![0; pairs],
            cell: 0,
            rows: 0,
            sums: vec![0; pairs],
            strongs: vec![0; pairs],
            cuts: vec![0; pairs],
            left_out: vec![0; pairs],
            any_left_out: false,
        }
    }

    /// Adds row `y`; `counted` says which of its pixels count, as in `View::counted`.
    pub(super) fn add(&mut self, y: usize, line: &Line, counted: Option<&[u8]>) {
        let slot = y % KEPT;
        step::along(line, &mut self.steps[slot]);
        if let Some(old) = self.counted[slot].take() {
            self.spare.push(old);
        }
        if let Some(counted) = counted {
            let mut of_pairs = self.spare.pop().unwrap_or_default();
            of_pairs.clear();
            of_pairs.extend(counted.windows(4).map(|four| four[0] & four[1] & four[2] & four[3]));
            self.counted[slot] = Some(of_pairs);
        }
        if y >= SLANT {
            self.judge(y - SLANT, y);
        }
    }

    /// Judges the rows that waited for more and yields the tally.
    pub(super) fn finish(mut self) -> Tally {
        for y in self.height.saturating_sub(SLANT)..self.height {
            self.judge(y, self.height - 1);
        }
        self.flush(self.height);
        self.tally
    }

    /// Adds the excess of row `y` to the counters; `last` is the last row whose steps are known.
    fn judge(&mut self, y: usize, last: usize) {
        let Some(pairs) = self.steps[0].len().checked_sub(2) else { return };
        if self.rows == MOST_ROWS || y == self.tally.cells().start(self.cell + 1) {
            self.flush(y);
        }
        let own = &self.steps[y % KEPT];
        self.wide.copy_from_slice(own);
        for near in (y.saturating_sub(SLANT)..=(y + SLANT).min(last)).filter(|near| *near != y) {
            for (wide, step) in self.wide.iter_mut().zip(&self.steps[near % KEPT]) {
                *wide = (*wide).max(*step);
            }
        }
        step::excess(&self.wide[..pairs], &own[1..], &self.wide[2..], &mut self.excess);
        let counted = self.counted[y % KEPT].as_deref();
        if let Some(counted) = counted {
            mask(&mut self.excess, counted);
        }
        for ((strong, run), excess) in self.strong.iter_mut().zip(&mut self.run).zip(&self.excess) {
            let is_strong = u8::from(*excess > step::STRONG);
            *run = run.saturating_add(1) & is_strong.wrapping_neg();
            *strong = is_strong & u8::from(*run <= PLACE as u8);
        }
        for (cuts, strong) in self.cuts.iter_mut().zip(&self.strong) {
            *cuts += strong;
        }
        step::excess(&own[..pairs], &own[1..], &own[2..], &mut self.excess);
        if let Some(counted) = counted {
            mask(&mut self.excess, counted);
            for (out, counted) in self.left_out.iter_mut().zip(counted) {
                *out += u8::from(*counted == 0);
            }
            self.any_left_out = true;
        }
        cut::strong(&self.excess, &mut self.strong);
        for (strongs, strong) in self.strongs.iter_mut().zip(&self.strong) {
            *strongs += strong;
        }
        for (sum, excess) in self.sums.iter_mut().zip(&self.excess) {
            *sum += u16::from(*excess);
        }
        self.rows += 1;
    }

    /// Moves the counters into the tally before row `y` is judged.
    fn flush(&mut self, y: usize) {
        self.tally.add_cell(Sum::Excess, self.cell, &self.sums);
        self.tally.add_cell(Sum::Strong, self.cell, &self.strongs);
        self.tally.add_cell(Sum::Cuts, self.cell, &self.cuts);
        self.sums.fill(0);
        self.strongs.fill(0);
        self.cuts.fill(0);
        if self.any_left_out {
            self.tally.leave_out(self.cell, &self.left_out);
            self.left_out.fill(0);
            self.any_left_out = false;
        }
        self.rows = 0;
        while self.cell + 1 < self.tally.cells().count() && y >= self.tally.cells().start(self.cell + 1) {
            self.cell += 1;
        }
    }
}
