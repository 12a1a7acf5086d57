//! The interior: the excess statistics of every pair of lines inside the tile, rows and columns in one pass over the rows.
//!
//! Left out are the pairs that touch a joint. Keeps three rows of steps, never a picture.

use super::line::{Line, View};
use super::step;
use super::tally::Tally;
use crate::tile::Raster;

/// Rows whose excess fits the counters of a column: 255 rows of strong steps in a byte, 255 x 255 in 16 bits.
const MOST_ROWS: usize = 255;

/// The statistics of the interior pairs on both axes.
pub(super) struct Interior {
    /// Pairs of rows.
    pub(super) rows: Tally,
    /// Pairs of columns.
    pub(super) columns: Tally,
}

/// Surveys all interior pairs: those from lines (1, 2) to (L - 3, L - 2) of an axis of L lines.
pub(super) fn survey(view: View, raster: &Raster) -> Interior {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let mut rows = Tally::new(width, height.saturating_sub(3));
    let mut columns = Columns::new(width, height);
    let mut holes = Holes::new(width);
    let (mut line, mut previous) = (view.line(width), view.line(width));
    // Steps from row y-1 to y, from y-2 to y-1, from y-3 to y-2.
    let mut steps = [vec![0; width], vec![0; width], vec![0; width]];
    let (mut excess, mut counted) = (vec![0; width], vec![0; width]);
    for y in 0..height {
        view.spread(raster.row(y as u32), &mut line);
        if view.masked() {
            holes.advance(raster, y);
        }
        columns.add(y, &line, view.masked().then(|| holes.row(0)).flatten());
        if y > 0 {
            steps.rotate_right(1);
            step::across(&previous, &line, &mut steps[0]);
        }
        if y >= 3 {
            step::excess(&steps[2], &steps[1], &steps[0], &mut excess);
            if view.masked() && holes.any() {
                holes.of_pair(&mut counted);
                mask(&mut excess, &counted);
                rows.add_pair(y - 3, &excess, Some(&counted));
            } else {
                rows.add_pair(y - 3, &excess, None);
            }
        }
        std::mem::swap(&mut line, &mut previous);
    }
    Interior { rows, columns: columns.finish(height) }
}

/// Clears values that do not count.
pub(super) fn mask(values: &mut [u8], counted: &[u8]) {
    for (value, counted) in values.iter_mut().zip(counted) {
        *value &= counted;
    }
}

/// Column statistics, gathered row by row.
struct Columns {
    tally: Tally,
    cell: usize,
    rows: usize,
    steps: Vec<u8>,
    excess: Vec<u8>,
    counted: Vec<u8>,
    sums: Vec<u16>,
    strong: Vec<u8>,
    left_out: Vec<u8>,
    any_left_out: bool,
}

impl Columns {
    fn new(width: usize, height: usize) -> Self {
        let pairs = width.saturating_sub(3);
        Self {
            tally: Tally::new(height, pairs),
            cell: 0,
            rows: 0,
            steps: vec![0; width.saturating_sub(1)],
            excess: vec![0; pairs],
            counted: vec![0; pairs],
            sums: vec![0; pairs],
            strong: vec![0; pairs],
            left_out: vec![0; pairs],
            any_left_out: false,
        }
    }

    /// Adds row `y`; `counted` as in [`View::counted`].
    fn add(&mut self, y: usize, line: &Line, counted: Option<&[u8]>) {
        let Some(pairs) = self.steps.len().checked_sub(2) else { return };
        if self.rows == MOST_ROWS || y == self.tally.cells().start(self.cell + 1) {
            self.flush(y);
        }
        step::along(line, &mut self.steps);
        step::excess(&self.steps[..pairs], &self.steps[1..], &self.steps[2..], &mut self.excess);
        if let Some(counted) = counted {
            for (out, four) in self.counted.iter_mut().zip(counted.windows(4)) {
                *out = four[0] & four[1] & four[2] & four[3];
            }
            mask(&mut self.excess, &self.counted);
            for (out, counted) in self.left_out.iter_mut().zip(&self.counted) {
                *out += u8::from(*counted == 0);
            }
            self.any_left_out = true;
        }
        for ((sum, strong), excess) in self.sums.iter_mut().zip(&mut self.strong).zip(&self.excess) {
            *sum += u16::from(*excess);
            *strong += u8::from(*excess > step::STRONG);
        }
        self.rows += 1;
    }

    /// Moves the counters into the tally before row `y` is added.
    fn flush(&mut self, y: usize) {
        self.tally.add_cell(self.cell, &self.sums, &self.strong);
        self.sums.fill(0);
        self.strong.fill(0);
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

    fn finish(mut self, height: usize) -> Tally {
        self.flush(height);
        self.tally
    }
}

/// Which pixels of the last four rows count; a row without holes near it is not stored.
struct Holes {
    /// Opaque pixels whose two neighbors along the row are opaque too: rows y-1, y, y+1.
    opaque: [Vec<u8>; 3],
    with_holes: [bool; 3],
    /// Counted pixels of rows y, y-1, y-2, y-3.
    counted: [Vec<u8>; 4],
    near_holes: [bool; 4],
    scratch: Vec<u8>,
}

impl Holes {
    fn new(width: usize) -> Self {
        Self {
            opaque: std::array::from_fn(|_| vec![255; width]),
            with_holes: [false; 3],
            counted: std::array::from_fn(|_| vec![255; width]),
            near_holes: [false; 4],
            scratch: vec![255; width],
        }
    }

    /// Moves on to row `y`.
    fn advance(&mut self, raster: &Raster, y: usize) {
        if y == 0 {
            self.load(2, raster.row(0));
        }
        self.opaque.rotate_left(1);
        self.with_holes.rotate_left(1);
        if y + 1 < raster.height() as usize {
            self.load(2, raster.row(y as u32 + 1));
        } else {
            self.with_holes[2] = false;
        }
        self.counted.rotate_right(1);
        self.near_holes.rotate_right(1);
        self.near_holes[0] = self.with_holes.contains(&true);
        if self.near_holes[0] {
            self.counted[0].fill(255);
            for (opaque, with_holes) in self.opaque.iter().zip(self.with_holes) {
                if with_holes {
                    mask(&mut self.counted[0], opaque);
                }
            }
        }
    }

    /// Fills slot `slot` from a row.
    fn load(&mut self, slot: usize, rgba: &[u8]) {
        let alpha = rgba.chunks_exact(4).fold(255, |alpha, pixel| alpha & pixel[3]);
        self.with_holes[slot] = alpha != 255;
        if alpha == 255 {
            return;
        }
        for (opaque, pixel) in self.scratch.iter_mut().zip(rgba.chunks_exact(4)) {
            *opaque = if pixel[3] == 255 { 255 } else { 0 };
        }
        let row = &mut self.opaque[slot];
        row.copy_from_slice(&self.scratch);
        for (row, left) in row.iter_mut().skip(1).zip(&self.scratch) {
            *row &= left;
        }
        for (row, right) in row.iter_mut().zip(self.scratch.iter().skip(1)) {
            *row &= right;
        }
    }

    /// The counted pixels of the row `back` rows ago; `None` when all count.
    fn row(&self, back: usize) -> Option<&[u8]> {
        self.near_holes[back].then(|| self.counted[back].as_slice())
    }

    /// Whether any of the last four rows has pixels that do not count.
    fn any(&self) -> bool {
        self.near_holes.contains(&true)
    }

    /// The pixels that count at the middle pair of the last four rows: those that count in all of them.
    fn of_pair(&self, counted: &mut [u8]) {
        counted.fill(255);
        for row in (0..4).filter_map(|back| self.row(back)) {
            mask(counted, row);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::check::joint::line::Axis;
    use crate::pipeline::check::joint::sample::{gray, noise};
    use crate::spec::Ground;

    /// The same by the plain way: line by line, each taken from the raster.
    fn plainly(view: View, raster: &Raster, axis: Axis) -> Tally {
        let (lines, length) = (axis.lines(raster), axis.length(raster));
        let mut tally = Tally::new(length, lines - 3);
        let steps = |index| {
            let mut out = vec![0; length];
            step::across(&view.take(raster, axis, index), &view.take(raster, axis, index + 1), &mut out);
            out
        };
        for pair in 1..lines - 2 {
            let mut excess = vec![0; length];
            step::excess(&steps(pair - 1), &steps(pair), &steps(pair + 1), &mut excess);
            let mut counted = vec![255; length];
            for line in pair - 1..pair + 3 {
                if let Some(line) = view.counted(raster, axis, line) {
                    mask(&mut counted, &line);
                }
            }
            mask(&mut excess, &counted);
            tally.add_pair(pair - 1, &excess, Some(&counted));
        }
        tally
    }

    #[test]
    fn one_pass_finds_what_line_by_line_finds() {
        for (width, height, holes) in [(40, 300, 0), (150, 30, 0), (16, 16, 3), (40, 300, 9), (150, 60, 40), (4, 5, 0)]
        {
            let mut tile = gray(width, height, noise);
            for hole in 0..holes {
                let at = (hole * 7919 + 13) % (width * height) as usize;
                tile.raster.samples_mut()[at * 4 + 3] = 40;
            }
            let view = View::of(&tile, Ground::Opaque);
            let found = survey(view, &tile.raster);
            assert_eq!(found.rows.values(), plainly(view, &tile.raster, Axis::Rows).values(), "{width} {height}");
            assert_eq!(found.columns.values(), plainly(view, &tile.raster, Axis::Columns).values(), "{width} {height}");
        }
    }
}
