//! The eight ways to lay a picture down: turned by quarters, mirrored or not.
//!
//! Knows no pixels; tells places and names.

use super::wave::{SIDE, Spectrum};
use crate::tile::Raster;
use realfft::num_complex::Complex;
use serde::{Deserialize, Serialize};

/// One of the eight: mirrored left to right first, then turned clockwise by quarters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Turn {
    /// Whether it is mirrored left to right.
    pub mirrored: bool,
    /// Quarters clockwise, 0 to 3.
    pub quarters: u8,
}

impl Turn {
    /// All eight, the plainest first.
    #[must_use]
    pub fn all() -> [Self; 8] {
        let turn = |mirrored, quarters| Self { mirrored, quarters };
        [
            turn(false, 0),
            turn(false, 2),
            turn(false, 1),
            turn(false, 3),
            turn(true, 0),
            turn(true, 2),
            turn(true, 1),
            turn(true, 3),
        ]
    }

    /// Whether width and height change places.
    #[must_use]
    pub fn swaps(self) -> bool {
        self.quarters % 2 == 1
    }

    /// The place in a picture of these sides whose pixel lies at `x`, `y` once it is laid down so; the sides are those before.
    #[must_use]
    pub fn source(self, [width, height]: [i64; 2], [x, y]: [i64; 2]) -> [i64; 2] {
        let [u, v] = match self.quarters % 4 {
            0 => [x, y],
            1 => [y, height - 1 - x],
            2 => [width - 1 - x, height - 1 - y],
            _ => [width - 1 - y, x],
        };
        if self.mirrored { [width - 1 - u, v] } else { [u, v] }
    }

    /// A square field laid down so.
    #[must_use]
    pub fn field(self, field: &[f32]) -> Vec<f32> {
        let side = SIDE as i64;
        (0..side)
            .flat_map(|y| (0..side).map(move |x| [x, y]))
            .map(|at| {
                let [x, y] = self.source([side, side], at);
                field[y as usize * SIDE + x as usize]
            })
            .collect()
    }

    /// The waves of the field laid down in one of the eight ways. A place that counts from the other end is one step off:
    /// what is last lies at `SIDE - 1` and not at 0, which turns phases.
    #[must_use]
    pub fn waves(self, waves: &Spectrum) -> Spectrum {
        if self == Self::default() {
            return waves.clone();
        }
        let end = SIDE as i64 - 1;
        let zero = self.source([SIDE as i64; 2], [0, 0]);
        let step = |to: [i64; 2]| {
            let at = self.source([SIDE as i64; 2], to);
            [0, 1].map(|i| (at[i] - zero[i]) as i32)
        };
        let (right, down) = (step([1, 0]), step([0, 1]));
        let from_end = zero.map(|at| i32::from(at == end));
        let angle = -std::f32::consts::TAU / SIDE as f32;
        let phases: Vec<Complex<f32>> = (0..SIDE).map(|at| Complex::from_polar(1.0, angle * at as f32)).collect();
        let mut out = Spectrum::none();
        if self.swaps() {
            out.change(|k, l, wave| {
                let (u, v) = (l * down[0], k * right[1]);
                let back = u * from_end[0] + v * from_end[1];
                *wave = waves.at(u, v) * phases[back.rem_euclid(SIDE as i32) as usize];
            });
            return out;
        }
        // What goes to the right stays in its column, and waves to the left are the conjugates of those to the right.
        for k in 0..=SIDE as i32 / 2 {
            let (u, mirrored) = (k * right[0], k * right[0] < 0);
            let own = waves.column(k as usize);
            for (l, wave) in (0..).zip(out.column_mut(k as usize)) {
                let v = l * down[1];
                let from = own[if mirrored { -v } else { v }.rem_euclid(SIDE as i32) as usize];
                let back = u * from_end[0] + v * from_end[1];
                let phase = phases[back.rem_euclid(SIDE as i32) as usize];
                *wave = if mirrored { from.conj() } else { from } * phase;
            }
        }
        out
    }

    /// A tile laid down so.
    #[must_use]
    pub fn raster(self, raster: Raster) -> Raster {
        if self == Self::default() {
            return raster;
        }
        let before = [i64::from(raster.width()), i64::from(raster.height())];
        let [width, height] = if self.swaps() { [before[1], before[0]] } else { before };
        let mut samples = Vec::with_capacity((width * height * 4) as usize);
        for y in 0..height {
            for x in 0..width {
                let [u, v] = self.source(before, [x, y]);
                samples.extend(raster.pixel(u as u32, v as u32));
            }
        }
        Raster::new(width as u32, height as u32, samples).unwrap_or(raster)
    }

    /// By what the cosine and the sine of twice an edge's angle are multiplied.
    #[must_use]
    pub fn signs(self) -> [f32; 2] {
        let turned = if self.swaps() { -1.0 } else { 1.0 };
        [turned, if self.mirrored { -turned } else { turned }]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_clockwise_brings_the_lower_left_corner_up() {
        let once = Turn { mirrored: false, quarters: 1 };
        assert_eq!(once.source([3, 2], [0, 0]), [0, 1]);
        assert_eq!(once.source([3, 2], [1, 0]), [0, 0]);
        assert_eq!(Turn { mirrored: true, quarters: 0 }.source([3, 2], [0, 0]), [2, 0]);
    }

    #[test]
    fn waves_are_laid_down_as_fields_are() {
        let field: Vec<f32> = (0..SIDE * SIDE).map(|at| (at * at % 251) as f32).collect();
        let waves = Spectrum::of(&field);
        for turn in Turn::all() {
            let (one, other) = (turn.waves(&waves).field(), turn.field(&field));
            let off = one.iter().zip(&other).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            assert!(off < 2e-2, "{turn:?}: {off}");
        }
    }

    #[test]
    fn each_way_shows_every_pixel_once() {
        for turn in Turn::all() {
            let [width, height] = if turn.swaps() { [3, 5] } else { [5, 3] };
            let places: std::collections::BTreeSet<_> =
                (0..width * height).map(|at| turn.source([5, 3], [at % width, at / width])).collect();
            assert_eq!(places.len(), 15, "{turn:?}");
            assert!(places.iter().all(|&[x, y]| (0..5).contains(&x) && (0..3).contains(&y)), "{turn:?}");
        }
    }
}
