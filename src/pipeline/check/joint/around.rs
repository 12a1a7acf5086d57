//! The lines around a joint, and what is measured on them.
//!
//! Takes a raster and how far the copy is moved along the joint. Knows no limits and no layouts.

use super::crossing::{Crossing, Soft, Voting};
use super::cut;
use super::drift::{Drift, Places};
use super::interior::PairOfLines;
use super::light::{self, BLOCKS, Light};
use super::line::{Axis, Line, View, mask, rolled};
use super::step;
use crate::tile::Raster;

/// Stretches of a joint over which grain averages out.
const STRETCHES: usize = 24;

/// The four lines around a joint: the last two, and the first two of the copy, moved.
pub(super) struct Around {
    /// The lines.
    pub(super) lines: [Line; 4],
    counted: [Option<Vec<u8>>; 4],
}

impl Around {
    /// Those around the joint of an axis, with the copy moved along it by `moved` pixels.
    pub(super) fn joint(view: View, raster: &Raster, axis: Axis, moved: usize) -> Self {
        let last = axis.lines(raster).saturating_sub(1);
        let places = [(last.saturating_sub(1), 0), (last, 0), (0, moved), (1, moved)];
        Self {
            lines: places.map(|(index, moved)| view.take(raster, axis, index).rolled(moved)),
            counted: places.map(|(index, moved)| view.counted(raster, axis, index).map(|line| rolled(&line, moved))),
        }
    }

    /// The four lines from line `first` on inside the tile, those of the second pair `gap` lines further than usual.
    pub(super) fn inside(view: View, raster: &Raster, axis: Axis, first: usize, gap: usize) -> Self {
        let places = [first, first + 1, first + 2 + gap, first + 3 + gap];
        Self {
            lines: places.map(|index| view.take(raster, axis, index)),
            counted: places.map(|index| view.counted(raster, axis, index)),
        }
    }

    /// The same joint as if light did not drift across it.
    pub(super) fn without(&self, drift: &Drift) -> Self {
        let [before, near, far, after] = &self.lines;
        Self {
            lines: [before.clone(), near.clone(), drift.undone(far), drift.undone(after)],
            counted: self.counted.clone(),
        }
    }

    /// Whether any pixel may be left out.
    pub(super) fn masked(&self) -> bool {
        self.counted.iter().any(Option::is_some)
    }

    /// How the art crosses.
    pub(super) fn crossing(&self) -> Crossing {
        let soft: Vec<Soft> =
            self.lines.iter().zip(&self.counted).map(|(line, counted)| Soft::new(line, counted.as_deref())).collect();
        match soft.as_slice() {
            [before, near, far, after] => {
                Voting::new(self.lines[0].channels.first().map_or(0, Vec::len)).measure([before, near, far, after])
            }
            _ => Crossing::default(),
        }
    }

    /// Which pixels count on all four lines; `None` when all do.
    pub(super) fn counted_by_all(&self) -> Option<Vec<u8>> {
        let mut lines = self.counted.iter().flatten();
        let mut counted = lines.next()?.clone();
        lines.for_each(|line| mask(&mut counted, line));
        Some(counted)
    }

    /// How far light steps at the joint between blocks of lines; nothing in a tile of too few lines.
    pub(super) fn lights(&self, view: View, raster: &Raster, axis: Axis) -> Option<[f64; BLOCKS.len()]> {
        let lines = end_lines(view, raster, axis, 2 * BLOCKS[BLOCKS.len() - 1])?;
        let lights: Vec<Light> = lines.iter().map(|(line, _)| light::of(line)).collect();
        let middle = lights.len() / 2;
        Some(BLOCKS.map(|block| light::step(&lights[middle - 2 * block..middle + 2 * block], block)))
    }

    /// The even step of light at the joint: pixel by pixel, else over blocks of lines and stretches, where grain averages
    /// out.
    pub(super) fn drift(&self, view: View, raster: &Raster, axis: Axis) -> Option<Drift> {
        let counted = self.counted_by_all();
        let pixels = Places::pixels(self.lines.each_ref(), counted.as_deref());
        pixels.drift().or_else(|| {
            let block = BLOCKS[0];
            let lines: Vec<Line> =
                end_lines(view, raster, axis, 2 * block)?.into_iter().map(|(line, _)| line).collect();
            let blocks: Vec<&[Line]> = lines.chunks_exact(block).collect();
            let [before, near, far, after] = blocks.as_slice() else { return None };
            Places::stretches([before, near, far, after], STRETCHES).drift()
        })
    }

    /// The excess along the joint, and what goes with it.
    pub(super) fn measure(&self) -> PairOfLines {
        let length = self.lines[0].channels.first().map_or(0, Vec::len);
        let mut pair = PairOfLines::new(length);
        let [mut before, mut at, mut after] = [(); 3].map(|()| vec![0; length]);
        step::across(&self.lines[0], &self.lines[1], &mut before);
        step::across(&self.lines[1], &self.lines[2], &mut at);
        step::across(&self.lines[2], &self.lines[3], &mut after);
        let mut wide = [vec![0; length], vec![0; length]];
        cut::widen(&before, &mut wide[0]);
        cut::widen(&after, &mut wide[1]);
        for line in self.counted.iter().flatten() {
            mask(&mut pair.counted, line);
        }
        pair.measure([&before, &at, &after], [&wide[0], &wide[1]], self.masked());
        pair
    }
}

/// The last `count` lines and the first `count`; `None` where they would meet inside the tile.
fn end_lines(view: View, raster: &Raster, axis: Axis, count: usize) -> Option<Vec<(Line, Option<Vec<u8>>)>> {
    let lines = axis.lines(raster);
    if lines < 4 * count {
        return None;
    }
    let last = view.strip(raster, axis, lines - count, count);
    let first = view.strip(raster, axis, 0, count);
    Some(last.into_iter().chain(first).collect())
}
