//! Resampling: one unit of the turned cloth, each pixel the mean of light over the area that it covers.
//!
//! Takes the cloth and the exact way back to it, yields straight samples of the unit. Every place is a fraction of whole
//! numbers, so that what repeats on the cloth repeats bit for bit; order and arithmetic are fixed, whatever the threads.

use super::footprint::{Footprint, Share};
use super::surface::{Lanes, Surface, surface};
use super::tone::{Tone, premultiplied, straight};
use crate::pipeline::cloth::Cloth;
use rayon::prelude::*;

/// The way from a pixel of the turned cloth back: its column and row times `(e + i f) / d`, plus half a cell both ways.
#[derive(Clone, Copy, Debug)]
pub struct Back {
    /// e and f.
    pub step: [i64; 2],
    /// d, positive.
    pub divisor: i64,
}

impl Back {
    /// The cell in which the center of a pixel lies, and where in it, both in twice `divisor` parts of a cell.
    #[inline]
    fn center(&self, x: i64, y: i64) -> ([i64; 2], [i64; 2]) {
        let ([e, f], d) = (self.step, self.divisor);
        let at = [2 * (x * e - y * f) + d, 2 * (x * f + y * e) + d];
        (at.map(|part| part.div_euclid(2 * d)), at.map(|part| part.rem_euclid(2 * d)))
    }

    fn shares(&self, footprint: &Footprint, part: [i64; 2], out: &mut Vec<Share>) {
        footprint.shares(part.map(|part| part as f64 / (2 * self.divisor) as f64), out);
    }
}

/// How a turned pixel gets its color.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// The mean of light over its area.
    Mean,
    /// The color that covers most of it; of equal ones that of the cell in which its center lies, else the first.
    Majority,
}

/// Places repeat after this many pixels at most for all footprints to be kept.
const MOST_KEPT: i64 = 128;

/// Footprints by the place of the pixel, as far as they repeat.
struct Kept {
    period: i64,
    shares: Vec<Vec<Share>>,
}

impl Kept {
    fn of(back: &Back, footprint: &Footprint) -> Option<Self> {
        let period = back.divisor;
        if period > MOST_KEPT {
            return None;
        }
        let places: Vec<[i64; 2]> = (0..period).flat_map(|y| (0..period).map(move |x| [x, y])).collect();
        let shares = places.into_par_iter().map(|[x, y]| {
            let mut out = Vec::new();
            back.shares(footprint, back.center(x, y).1, &mut out);
            out
        });
        Some(Self { period, shares: shares.collect() })
    }

    fn at(&self, x: i64, y: i64) -> &[Share] {
        &self.shares[(y % self.period * self.period + x % self.period) as usize]
    }
}

/// What is known of a cell's surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Known {
    /// Nothing yet.
    Nothing,
    /// It is flat, as all around it.
    Flat,
    /// It is worked out.
    Curved,
}

/// A rectangle of cells; their surfaces are worked out when they are needed.
struct Patch<T> {
    left: i64,
    top: i64,
    width: usize,
    codes: Vec<[T; 4]>,
    light: Vec<Lanes>,
    known: Vec<Known>,
    surfaces: Vec<Surface>,
}

/// Surfaces look at two cells on each side.
const RIM: i64 = 2;

impl<T: Tone> Patch<T> {
    fn empty() -> Self {
        let (codes, light, known, surfaces) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self { left: 0, top: 0, width: 0, codes, light, known, surfaces }
    }

    /// Loads the cells from `low` to `high`, both inside, and a rim. Whether all are of one color.
    fn load(&mut self, cloth: &Cloth<'_, T>, low: [i64; 2], high: [i64; 2]) -> bool {
        self.left = low[0] - RIM;
        self.top = low[1] - RIM;
        self.width = (high[0] - low[0] + 1 + 2 * RIM) as usize;
        let height = (high[1] - low[1] + 1 + 2 * RIM) as usize;
        self.codes.clear();
        self.codes.resize(self.width * height, [T::FULL; 4]);
        for (row, y) in self.codes.chunks_exact_mut(self.width).zip(self.top..) {
            cloth.copy_row(self.left, y, row);
        }
        let first = self.codes[0];
        if self.codes.iter().all(|code| *code == first) {
            return true;
        }
        let lights = T::lights();
        self.light.clear();
        self.light.extend(self.codes.iter().map(|code| premultiplied(*code, lights)));
        self.known.clear();
        self.known.resize(self.codes.len(), Known::Nothing);
        self.surfaces.resize(self.codes.len(), [[0.0; 4]; 6]);
        false
    }

    /// Works out the surface of a cell that is no rim.
    fn learn(&mut self, at: usize) -> Known {
        let row = |at: usize| &self.codes[at - 1..at + 2];
        let (width, code) = (self.width, self.codes[at]);
        // In flat surroundings the surface is flat: most of flat art is left here.
        let flat = [row(at - width), row(at), row(at + width)].iter().all(|row| row.iter().all(|near| *near == code));
        self.known[at] = if flat {
            self.surfaces[at] = [self.light[at], [0.0; 4], [0.0; 4], [0.0; 4], [0.0; 4], [0.0; 4]];
            Known::Flat
        } else {
            self.surfaces[at] = surface(|dx, dy| self.light[at.wrapping_add_signed(dy * width as isize + dx)]);
            Known::Curved
        };
        self.known[at]
    }

    #[inline]
    fn index(&self, cell: [i64; 2]) -> usize {
        (cell[1] - self.top) as usize * self.width + (cell[0] - self.left) as usize
    }

    /// Whether all cells up to so many away, at most [`RIM`] beyond what was loaded, are of one color: then the footprint need
    /// not be worked out.
    #[inline]
    fn plain_around(&self, center: usize, away: usize) -> bool {
        let code = self.codes[center];
        let top = center - away * self.width - away;
        (0..=2 * away).all(|row| self.codes[top + row * self.width..][..=2 * away].iter().all(|near| *near == code))
    }

    fn mean(&mut self, center: usize, shares: &[Share]) -> [T; 4] {
        let first = self.codes[center];
        let mut plain = true;
        for share in shares {
            let at = self.near(center, share.cell);
            let known = match self.known[at] {
                Known::Nothing => self.learn(at),
                known => known,
            };
            plain &= known == Known::Flat && self.codes[at] == first;
        }
        if plain {
            return first;
        }
        let mut sum = [0.0_f32; 4];
        for share in shares {
            let surface = &self.surfaces[self.near(center, share.cell)];
            for (terms, moment) in surface.iter().zip(share.moments) {
                for (sum, term) in sum.iter_mut().zip(terms) {
                    *sum += moment * term;
                }
            }
        }
        straight(sum)
    }

    fn majority(&self, center: usize, shares: &[Share]) -> [T; 4] {
        let mut votes: Vec<([T; 4], f32)> = Vec::with_capacity(8);
        for share in shares {
            let code = self.codes[self.near(center, share.cell)];
            match votes.iter_mut().find(|(known, _)| *known == code) {
                Some((_, area)) => *area += share.moments[0],
                None => votes.push((code, share.moments[0])),
            }
        }
        // Halves that rounding made unequal are equal.
        let most = votes.iter().fold(0.0_f32, |most, (_, area)| most.max(*area)) - 1e-5;
        let middle = self.codes[center];
        let winners = || votes.iter().filter(|(_, area)| *area >= most).map(|(code, _)| *code);
        if winners().any(|code| code == middle) { middle } else { winners().next().unwrap_or(middle) }
    }

    #[inline]
    fn near(&self, center: usize, [x, y]: [i32; 2]) -> usize {
        center.wrapping_add_signed(y as isize * self.width as isize + x as isize)
    }
}

/// The samples of the rectangle `0..width` by `0..height` of the turned cloth.
#[must_use]
pub fn resampled<T: Tone>(cloth: &Cloth<'_, T>, back: Back, width: usize, height: usize, manner: Manner) -> Vec<T> {
    let footprint = Footprint::new(back.step, back.divisor);
    let kept = Kept::of(&back, &footprint);
    // About as many cells under a square of pixels whatever the scale.
    let cells = footprint.reach() as usize;
    let side = (64 / cells.max(1)).max(8);
    let mut out = vec![T::FULL; width * height * 4];
    out.par_chunks_mut(width * 4 * side).enumerate().for_each_init(
        || (Patch::<T>::empty(), Vec::new()),
        |(patch, scratch), (band, rows)| {
            let y0 = (band * side) as i64;
            let high = (rows.len() / (width * 4)) as i64;
            for x0 in (0..width as i64).step_by(side) {
                let wide = (width as i64 - x0).min(side as i64);
                let corners = [(0, 0), (wide - 1, 0), (0, high - 1), (wide - 1, high - 1)];
                let centers = corners.map(|(x, y)| back.center(x0 + x, y0 + y).0);
                let reach = footprint.reach();
                let low = [0, 1].map(|axis| centers.iter().map(|center| center[axis]).min().unwrap_or(0) - reach);
                let top = [0, 1].map(|axis| centers.iter().map(|center| center[axis]).max().unwrap_or(0) + reach);
                let plain = patch.load(cloth, low, top);
                for (row, y) in rows.chunks_exact_mut(width * 4).zip(y0..) {
                    let row = &mut row.as_chunks_mut::<4>().0[x0 as usize..(x0 + wide) as usize];
                    if plain {
                        row.fill(patch.codes[0]);
                        continue;
                    }
                    for (pixel, x) in row.iter_mut().zip(x0..) {
                        let (cell, part) = back.center(x, y);
                        let center = patch.index(cell);
                        if kept.is_none() && patch.plain_around(center, reach as usize + 1) {
                            *pixel = patch.codes[center];
                            continue;
                        }
                        let shares = match &kept {
                            Some(kept) => kept.at(x, y),
                            None => {
                                back.shares(&footprint, part, scratch);
                                scratch.as_slice()
                            }
                        };
                        *pixel = match manner {
                            Manner::Mean => patch.mean(center, shares),
                            Manner::Majority => patch.majority(center, shares),
                        };
                    }
                }
            }
        },
    );
    out
}
