//! Sailcloth turned by 45 degrees the way the trade makes it: an opaque square weave, turned with bilinear interpolation,
//! scaled until its corners touch the edges of the canvas, and copies laid into the four corners.
//!
//! Coverage at the rim of each copy is partial, and source-over takes two touching edges for unrelated, so that
//! half-transparent hairlines stay along the joins (Porter and Duff 1984, on coverage). Everything else is opaque.

use super::torus::{Ink, ink, mix, over};
use crate::tile::Raster;
use std::f32::consts::PI;

const NAVY: Ink = ink(0x22_3A_5E);
const SAIL: Ink = ink(0xEE_E4_CF);
const OCHRE: Ink = ink(0xCF_8B_3A);
const SEA: Ink = ink(0x6F_9E_A3);

/// The square weave, upright: `strands` each way, a number that 10 divides; a strand is `pitch` pixels wide.
/// `None` when one of them is zero.
#[must_use]
pub fn square(strands: u32, pitch: u32) -> Option<Raster> {
    let side = strands * pitch;
    let mut samples = Vec::with_capacity(side as usize * side as usize * 4);
    for y in 0..side {
        for x in 0..side {
            samples.extend(thread_at(x, y, pitch));
        }
    }
    Raster::new(side, side, samples)
}

/// One pixel of the weave: which thread lies on top, its color, and the light on it.
fn thread_at(x: u32, y: u32, pitch: u32) -> Ink {
    const WARP: [Ink; 10] = [NAVY, NAVY, SAIL, NAVY, NAVY, SAIL, OCHRE, SAIL, SAIL, SAIL];
    const WEFT: [Ink; 10] = [SAIL, SAIL, SEA, SAIL, SAIL, NAVY, SAIL, NAVY, NAVY, NAVY];
    let (column, row) = (x / pitch, y / pitch);
    let warp_on_top = (column + row).is_multiple_of(2);
    let color = if warp_on_top { WARP[column as usize % 10] } else { WEFT[row as usize % 10] };
    let part = |v: u32| (v as f32 + 0.5) / pitch as f32;
    let (u, v) = (part(x % pitch), part(y % pitch));
    let (across, along) = if warp_on_top { (u, v) } else { (v, u) };
    let round = (PI * across).sin().sqrt();
    let dip = (PI * along).sin().powf(0.35);
    let twist = ((along * 3.0 + across) * 2.0 * PI).sin() * 0.05;
    let light = round * (0.55 + 0.45 * dip) + twist * round;
    mix(mix(color, ink(0x0C_12_1E), 0.72), mix(color, ink(0xFF_FF_FF), 0.10), light)
}

/// Turns a square raster by 45 degrees into a canvas of `side` pixels and lays the four corner copies over it.
///
/// The scale that puts the corners on the edges makes the turn a rational one: a canvas step to the right moves
/// `source / side` pixels right and up on the square, a step down as many right and down.
#[must_use]
pub fn turned(square: &Raster, side: u32) -> Option<Raster> {
    let turn = Turn::new(square, side);
    let (half, last) = (i64::from(side / 2), i64::from(side));
    let mut samples = vec![0; side as usize * side as usize * 4];
    for (center_x, center_y) in [(half, half), (0, 0), (last, 0), (0, last), (last, last)] {
        for (y, row) in (0i64..).zip(samples.chunks_exact_mut(side as usize * 4)) {
            let reach = (half + 2 - (y - center_y).abs()).max(0);
            let (from, to) = ((center_x - reach).clamp(0, last), (center_x + reach).clamp(0, last));
            let pixels = row[from as usize * 4..to as usize * 4].chunks_exact_mut(4);
            for (x, pixel) in (from..).zip(pixels) {
                over(pixel, turn.sample(x - center_x, y - center_y));
            }
        }
    }
    Raster::new(side, side, samples)
}

/// Where each diagonal of the canvas falls on the square: whole source pixels and 256ths.
struct Turn<'a> {
    square: &'a Raster,
    reach: i64,
    places: Vec<(i64, u32)>,
}

impl<'a> Turn<'a> {
    fn new(square: &'a Raster, side: u32) -> Self {
        let (source, side) = (i64::from(square.width()), i64::from(side));
        let reach = side + 4;
        let place = |diagonal: i64| {
            // The center of the canvas pixel is the middle of the square at diagonal 0; samples sit at half pixels.
            let in_256ths = (256 * (2 * source * diagonal + source * side - side)).div_euclid(2 * side);
            (in_256ths.div_euclid(256), in_256ths.rem_euclid(256) as u32)
        };
        Self { square, reach, places: (-reach..=reach).map(place).collect() }
    }

    /// The turned square at a canvas pixel relative to its center: bilinear, see-through beyond the square.
    fn sample(&self, dx: i64, dy: i64) -> Ink {
        let at = |diagonal: i64| self.places.get((diagonal + self.reach) as usize).copied().unwrap_or((-2, 0));
        // Both half-pixel offsets of the center add up on one diagonal and cancel on the other.
        let ((column, right), (row, down)) = (at(dx + dy + 1), at(dy - dx));
        let source = i64::from(self.square.width());
        if !(-1..source).contains(&column) || !(-1..source).contains(&row) {
            return [0; 4];
        }
        let mut sum = [0u32; 4];
        for (x, y, weight) in [
            (column, row, (256 - right) * (256 - down)),
            (column + 1, row, right * (256 - down)),
            (column, row + 1, (256 - right) * down),
            (column + 1, row + 1, right * down),
        ] {
            if (0..source).contains(&x) && (0..source).contains(&y) {
                let [r, g, b, _] = self.square.pixel(x as u32, y as u32);
                for (sum, value) in sum.iter_mut().zip([r, g, b]) {
                    *sum += u32::from(value) * weight;
                }
                sum[3] += weight;
            }
        }
        match sum {
            [_, _, _, 0] => [0; 4],
            [r, g, b, 65536] => {
                let [r, g, b] = [r, g, b].map(|sum| ((sum + 32768) >> 16) as u8);
                [r, g, b, 255]
            }
            [r, g, b, cover] => {
                let [r, g, b] = [r, g, b].map(|sum| ((sum + cover / 2) / cover) as u8);
                [r, g, b, ((cover * 255 + 32768) >> 16) as u8]
            }
        }
    }
}
