//! Rare: how seldom inside a tile the little figures of edges come that stand at a pair of lines.
//!
//! Around every place of a pair lie pixels of the two lines before it and the two after it, and which of them differ is a
//! figure of edges: a flank that crosses, a rounded end, a corner. Art shows some figures everywhere and others hardly
//! ever; a joint that was cut shows flat ends and steps that begin and stop at once. A figure seen with a chance p says
//! log2(1 / p) bits (C. E. Shannon, Bell System Technical Journal 27, 1948). Knows nothing of limits and layouts.

use super::line::{Axis, Line, View};
use super::passage::over;
use super::strip::{STRIP, Strip, strips};
use super::tally::Cells;
use crate::tile::Raster;
use std::rc::Rc;

/// Lines on each side of a pair that a figure takes in.
const DEEP: usize = 2;

/// The two columns of a figure lie so many pixels apart.
const APART: usize = 2;

/// Pixels differ when a channel does by more levels than this, and strongly by more than that.
const DIFFER: u8 = 2;
const STRONGLY: u8 = 24;

/// Relations of pixels in a figure, a bit each.
const BITS: usize = 14;

/// Pixels from which figures are learned, at most.
const MOST_LEARNED: usize = 1_000_000;

/// The parts of a pair over which bits are summed.
pub(super) const PARTS: [usize; 3] = [1, 3, 12];

/// What a figure or two more do by chance, in bits.
pub(super) const FLOOR: f64 = 12.0;

/// Parts of a bit.
const PARTS_OF_BIT: f64 = 256.0;

/// How rare what stands at a pair is, in bits, the most over each of [`PARTS`].
pub(super) type Rarity = [f64; PARTS.len()];

/// The figures inside a tile, and how rare each pair is among them.
pub(super) struct Rare {
    counts: Vec<u32>,
    seen: u32,
    cells: Cells,
    /// By the first line of a pair; nothing where it was not learned from.
    inside: Vec<Option<Rarity>>,
}

impl Rare {
    /// Learns from the whole tile, or from strips spread over a large one, which `strip` yields by their turn; nothing of too
    /// few lines.
    pub(super) fn learned(raster: &Raster, axis: Axis, strip: impl Fn(usize) -> Rc<Strip>) -> Option<Self> {
        let (length, lines) = (axis.length(raster), axis.lines(raster));
        if lines <= 2 * DEEP || length <= APART {
            return None;
        }
        let mut rare =
            Self { counts: vec![0; 1 << BITS], seen: 0, cells: Cells::new(length), inside: vec![None; lines] };
        let mut pairs: Vec<(usize, Vec<u16>)> = Vec::new();
        for turn in 0..strips(lines).min(MOST_LEARNED / (STRIP * length)).max(1) {
            let strip = strip(turn);
            let lines: Vec<&Line> = strip.lines.iter().map(|(line, _)| line).collect();
            for (line, figures) in (strip.first + 1..).zip(figures(&lines)) {
                if rare.inside[line].replace(Rarity::default()).is_none() {
                    figures.iter().for_each(|figure| rare.counts[usize::from(*figure)] += 1);
                    rare.seen += figures.len() as u32;
                    pairs.push((line, figures));
                }
            }
        }
        for (line, figures) in pairs {
            // Against what the others show, not itself.
            figures.iter().for_each(|figure| rare.counts[usize::from(*figure)] -= 1);
            rare.inside[line] = Some(rare.rarity(&figures));
            figures.iter().for_each(|figure| rare.counts[usize::from(*figure)] += 1);
        }
        Some(rare)
    }

    /// How rare the pair inside is whose first line is `line`.
    pub(super) fn inside(&self, line: usize) -> Option<Rarity> {
        *self.inside.get(line)?
    }

    /// How rare the joint is, with the copy moved along it by `moved` pixels.
    pub(super) fn at_joint(&self, view: View, raster: &Raster, axis: Axis, moved: usize) -> Rarity {
        let last = axis.lines(raster).saturating_sub(DEEP);
        let around = [(last, 0), (last + 1, 0), (0, moved), (1, moved)]
            .map(|(line, moved)| view.take(raster, axis, line).rolled(moved));
        figures(&around.each_ref()).next().map_or(Rarity::default(), |figures| self.rarity(&figures))
    }

    fn rarity(&self, figures: &[u16]) -> Rarity {
        let all = log2(2 * self.seen + 2);
        let cells: Vec<u32> = (0..self.cells.count())
            .map(|cell| {
                // A figure lies where the middle of its columns does, so that a mirrored line has the same cells.
                let [from, to] = [cell, cell + 1].map(|cell| self.cells.start(cell).saturating_sub(APART / 2));
                let figures = figures.get(from..to.min(figures.len()));
                let drawn = figures.unwrap_or_default().iter().filter(|figure| **figure > 0);
                drawn.map(|figure| all - log2(2 * self.counts[usize::from(*figure)] + 1)).sum()
            })
            .collect();
        PARTS.map(|part| over(&cells, part).1 / PARTS_OF_BIT)
    }
}

/// The figures along every pair of lines that has a line before and one after: 0 where all pixels are alike.
fn figures(lines: &[&Line]) -> impl Iterator<Item = Vec<u16>> {
    let length = lines.first().and_then(|line| line.channels.first()).map_or(0, Vec::len);
    let places = length.saturating_sub(APART);
    let steps = |a: &Line, from_a: usize, b: &Line, from_b: usize| {
        let mut steps = vec![0u8; length];
        apart(a, from_a, b, from_b, &mut steps);
        steps
    };
    // What a pair has in common with its neighbors is looked at once: steps from line to line, and along each line.
    let down: Vec<Vec<u8>> = lines.windows(2).map(|two| steps(two[0], 0, two[1], 0)).collect();
    let along: Vec<Vec<u8>> = lines.iter().map(|line| steps(line, 0, line, APART)).collect();
    let diagonal = |pair: &[&Line]| [steps(pair[0], 0, pair[1], APART), steps(pair[0], APART, pair[1], 0)];
    let diagonals: Vec<[Vec<u8>; 2]> = lines.windows(2).map(diagonal).collect();
    (0..(lines.len() + 1).saturating_sub(2 * DEEP)).map(move |first| {
        let mut figures = vec![0u16; places];
        let mut bit = 0;
        let mut add = |differ: &[u8], level: u8| {
            for (figure, differ) in figures.iter_mut().zip(differ) {
                *figure |= u16::from(*differ > level) << bit;
            }
            bit += 1;
        };
        for steps in &down[first..first + 3] {
            add(steps, DIFFER);
            add(&steps[APART..], DIFFER);
        }
        add(&down[first + 1], STRONGLY);
        add(&down[first + 1][APART..], STRONGLY);
        along[first..first + 2 * DEEP].iter().for_each(|steps| add(steps, DIFFER));
        diagonals[first + 1].iter().for_each(|steps| add(steps, DIFFER));
        figures
    })
}

/// `out[i]` = at least the largest difference over the channels of pixel `i + from_a` of one line and `i + from_b` of another.
fn apart(a: &Line, from_a: usize, b: &Line, from_b: usize, out: &mut [u8]) {
    for (a, b) in a.channels.iter().zip(&b.channels) {
        for ((out, a), b) in out.iter_mut().zip(&a[from_a..]).zip(&b[from_b..]) {
            *out = (*out).max(a.abs_diff(*b));
        }
    }
}

/// The binary logarithm of a positive number in parts of a bit, rounded down to what its first nine digits say: from whole
/// numbers alone, so the same on every machine.
fn log2(value: u32) -> u32 {
    let whole = value.max(1).ilog2();
    let digits = (u64::from(value) << 8 >> whole) as usize & 255;
    (whole << 8) + LOGARITHMS[digits]
}

/// The binary logarithm of 1 + n / 256 in parts of a bit: each squaring brings one more of its digits.
const LOGARITHMS: [u32; 256] = {
    let mut logarithms = [0; 256];
    let mut n = 0;
    while n < logarithms.len() {
        let mut mantissa = (256 + n as u64) << 23;
        let mut place = 0;
        while place < 8 {
            mantissa = (mantissa * mantissa) >> 31;
            let digit = mantissa >> 32;
            mantissa >>= digit;
            logarithms[n] = logarithms[n] << 1 | digit as u32;
            place += 1;
        }
        n += 1;
    }
    logarithms
};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::check::joint::sample::gray;
    use crate::spec::Ground;

    #[test]
    fn logarithms_agree_with_the_library() {
        for value in (1..5000).chain([65_535, 1 << 20, 7_654_321, u32::MAX]) {
            let off = f64::from(value).log2() - f64::from(log2(value)) / PARTS_OF_BIT;
            // Nine digits of the number, eight of its logarithm.
            assert!((0.0..0.0105).contains(&off), "{value}: {off}");
        }
    }

    #[test]
    fn figures_by_hand() {
        // An edge that crosses two pixels to the right of the first column, and stops below the third line.
        let line = |edge: bool| Line { channels: vec![(0..8).map(|x| if edge && x >= 4 { 90 } else { 10 }).collect()] };
        let lines = [true, true, true, false].map(line);
        let found: Vec<Vec<u16>> = figures(&lines.each_ref()).collect();
        // Columns 0 and 1 see nothing. At columns 2 and 3 the three lines differ along themselves, the diagonals differ, and
        // in the far column the last step does; further on both columns step there.
        let (along, far, both) = (1 << 8 | 1 << 9 | 1 << 10, 1 << 5, 1 << 4 | 1 << 5);
        let diagonals = 1 << 12 | 1 << 13;
        assert_eq!(found, [[0, 0, along | far | diagonals, along | far | diagonals, both, both]]);
    }

    /// Slanted bars of 96 lines; the last and the first line meet where they go on.
    fn bars(aside: u32) -> crate::tile::Tile {
        gray(240, 96, move |x, y| {
            let aside = if y < 2 { aside } else { 0 };
            if (x + 240 + y / 4 - aside) % 24 < 9 { 40 } else { 200 }
        })
    }

    #[test]
    fn what_stands_nowhere_else_is_rare() {
        let rarity = |aside| {
            let tile = bars(aside);
            let view = View::of(&tile, Ground::Opaque);
            let rare = Rare::learned(&tile.raster, Axis::Rows, |turn| {
                Rc::new(Strip::of_turn(view, &tile.raster, Axis::Rows, turn))
            })
            .unwrap();
            let inside = (3..90).filter_map(|line| rare.inside(line)).map(|pair| pair[0]).fold(0.0, f64::max);
            (rare.at_joint(view, &tile.raster, Axis::Rows, 0), inside)
        };
        let (sound, inside) = rarity(0);
        assert!(sound[0] <= inside, "{sound:?}, {inside}");
        let (cut, inside) = rarity(5);
        // Ten bars with two flanks each, over a sixth of them at once.
        assert!(cut[0] > 2.0 * inside && cut[0] > 3.0 * cut[2] && cut[2] > 0.0, "{cut:?}, {inside}");
    }
}
