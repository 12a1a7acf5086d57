//! The interior: the statistics of every pair of lines inside the tile, rows and columns in one pass over the rows.
//!
//! Left out are the pairs that touch a joint. Keeps a few rows of steps, never a picture.

use super::columns::Columns;
use super::cut;
use super::holes::Holes;
use super::limit::{Limit, limit};
use super::line::{Axis, View, mask};
use super::step;
use super::tally::{Statistic, TALLIED, Tally};
use crate::tile::Raster;
use std::cell::OnceCell;

/// The statistics of the interior pairs on both axes.
pub(super) struct Interior {
    /// Pairs of rows.
    pub(super) rows: Tally,
    /// Pairs of columns.
    pub(super) columns: Tally,
}

/// The limits that the whole interior sets, drawn when a joint first needs them.
pub(super) struct Survey<'a> {
    pub(super) view: View,
    pub(super) raster: &'a Raster,
    limits: OnceCell<[[Limit; TALLIED]; 2]>,
}

impl<'a> Survey<'a> {
    pub(super) fn new(view: View, raster: &'a Raster) -> Self {
        Self { view, raster, limits: OnceCell::new() }
    }

    pub(super) fn limits(&self, axis: Axis) -> &[Limit; TALLIED] {
        let [rows, columns] = self.limits.get_or_init(|| {
            let Interior { rows, columns } = survey(self.view, self.raster);
            [(Axis::Rows, rows), (Axis::Columns, columns)].map(|(axis, tally)| {
                let (mut values, lines) = (tally.values(), axis.lines(self.raster));
                std::array::from_fn(|at| limit(&mut values[at], lines, Statistic::TALLIED[at].floor()))
            })
        });
        if axis == Axis::Rows { rows } else { columns }
    }
}

/// Surveys all interior pairs: those from lines (1, 2) to (L - 3, L - 2) of an axis of L lines.
pub(super) fn survey(view: View, raster: &Raster) -> Interior {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let mut rows = Tally::new(width, height.saturating_sub(3));
    let mut columns = Columns::new(width, height);
    let mut holes = Holes::new(width);
    let (mut line, mut previous) = (view.line(width), view.line(width));
    // Steps from row y-1 to y, from y-2 to y-1, from y-3 to y-2; and the same widened.
    let mut steps = [vec![0; width], vec![0; width], vec![0; width]];
    let mut wide = steps.clone();
    let mut pair = PairOfLines::new(width);
    for y in 0..height {
        view.spread(raster.row(y as u32), &mut line);
        if view.masked() {
            holes.advance(raster, y);
        }
        columns.add(y, &line, if view.masked() { holes.last_row() } else { None });
        if y > 0 {
            steps.rotate_right(1);
            wide.rotate_right(1);
            step::across(&previous, &line, &mut steps[0]);
            cut::widen(&steps[0], &mut wide[0]);
        }
        if y >= 3 {
            let some_left_out = view.masked() && holes.of_pair(&mut pair.counted);
            pair.measure([&steps[2], &steps[1], &steps[0]], [&wide[2], &wide[0]], some_left_out);
            rows.add_pair(y - 3, &pair.excess, &pair.places, some_left_out.then_some(&pair.counted));
        }
        std::mem::swap(&mut line, &mut previous);
    }
    Interior { rows, columns: columns.finish() }
}

/// What is measured along one pair of lines.
pub(super) struct PairOfLines {
    /// How far each step stands out; 0 where a pixel does not count.
    pub(super) excess: Vec<u8>,
    /// 1 at each pixel of a place that is cut.
    pub(super) places: Vec<u8>,
    /// 255 where a pixel counts, 0 where not.
    pub(super) counted: Vec<u8>,
    strong: Vec<u8>,
}

impl PairOfLines {
    pub(super) fn new(length: usize) -> Self {
        let [excess, places, strong] = [(); 3].map(|()| vec![0; length]);
        Self { excess, places, counted: vec![255; length], strong }
    }

    /// Measures a pair from the steps before, at and after it, and the widened steps before and after it; with `masked`,
    /// what does not count is cleared.
    pub(super) fn measure(&mut self, [before, at, after]: [&[u8]; 3], wide: [&[u8]; 2], masked: bool) {
        step::excess(wide[0], at, wide[1], &mut self.excess);
        if masked {
            mask(&mut self.excess, &self.counted);
        }
        cut::strong(&self.excess, &mut self.strong);
        cut::places(&self.strong, &mut self.places);
        step::excess(before, at, after, &mut self.excess);
        if masked {
            mask(&mut self.excess, &self.counted);
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
            let (mut steps, mut wide) = (vec![0; length], vec![0; length]);
            step::across(&view.take(raster, axis, index), &view.take(raster, axis, index + 1), &mut steps);
            cut::widen(&steps, &mut wide);
            (steps, wide)
        };
        for number in 1..lines - 2 {
            let mut pair = PairOfLines::new(length);
            for line in number - 1..number + 3 {
                if let Some(line) = view.counted(raster, axis, line) {
                    mask(&mut pair.counted, &line);
                }
            }
            let [before, at, after] = [number - 1, number, number + 1].map(steps);
            pair.measure([&before.0, &at.0, &after.0], [&before.1, &after.1], true);
            tally.add_pair(number - 1, &pair.excess, &pair.places, Some(&pair.counted));
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
            let same = |found: &Tally, axis| found.values() == plainly(view, &tile.raster, axis).values();
            assert!(same(&found.rows, Axis::Rows), "rows of {width} x {height}, {holes} holes");
            assert!(same(&found.columns, Axis::Columns), "columns of {width} x {height}, {holes} holes");
        }
    }
}
