//! Between: whether a pixel smooths an edge, its color lying between two flat ones close by.
//!
//! Takes a raster, the palette and a pixel. Every channel is asked for itself, so that light may be mixed in any way; a
//! little more than the span of the two is allowed, since sharp kernels overshoot.

use super::spans::key;
use super::tally::Tally;
use crate::tile::Raster;

/// How far away a flat color may be, in pixels: edges are smoothed over three at most.
const REACH: i64 = 3;

/// A kernel's overshoot as a part of the step: cubic kernels reach 2/27 (Keys, IEEE Trans. ASSP 29(6), 1981), rounded up.
const OVERSHOOT: i32 = 10;

/// Levels that rounding can add.
const ROUNDING: i32 = 2;

/// The flat colors among those tallied.
pub struct Palette<'a> {
    /// All colors.
    pub tally: &'a Tally,
    /// Which of them are flat, in the tally's order.
    pub flat: Vec<bool>,
}

impl Palette<'_> {
    /// Whether a pixel has a flat color.
    pub fn holds(&self, pixel: [u8; 4]) -> bool {
        self.tally.find(key(pixel)).is_some_and(|entry| self.flat[entry])
    }
}

/// Whether the pixel at column `x`, row `y` lies between two flat colors near it: on two opposite sides of it, else
/// anywhere around it.
pub fn between(raster: &Raster, palette: &Palette<'_>, x: u32, y: u32) -> bool {
    let pixel = raster.pixel(x, y);
    let at = |dx: i64, dy: i64| raster.wrapped(i64::from(x) + dx, i64::from(y) + dy);
    let nearest = |dx: i64, dy: i64| (1..=REACH).map(|n| at(n * dx, n * dy)).find(|&other| palette.holds(other));
    for (dx, dy) in [(1, 0), (0, 1), (1, 1), (1, -1)] {
        if let (Some(a), Some(b)) = (nearest(dx, dy), nearest(-dx, -dy))
            && mixes(pixel, a, b)
        {
            return true;
        }
    }
    let mut around: Vec<[u8; 4]> = Vec::new();
    for dy in -REACH..=REACH {
        for dx in -REACH..=REACH {
            let other = at(dx, dy);
            if !around.contains(&other) && palette.holds(other) {
                around.push(other);
            }
        }
    }
    around.iter().enumerate().any(|(i, &a)| around[i + 1..].iter().any(|&b| mixes(pixel, a, b)))
}

/// Whether every channel of a pixel lies between those of two different colors. The color of a clear one says nothing.
fn mixes(pixel: [u8; 4], a: [u8; 4], b: [u8; 4]) -> bool {
    let clear = a[3] == 0 || b[3] == 0;
    let channels = if clear { 3..4 } else { 0..4 };
    let mut apart = 0;
    for channel in channels {
        let [own, a, b] = [pixel, a, b].map(|pixel| i32::from(pixel[channel]));
        let slack = ROUNDING + (a - b).abs() / OVERSHOOT;
        if own < a.min(b) - slack || own > a.max(b) + slack {
            return false;
        }
        apart = apart.max((a - b).abs());
    }
    apart > ROUNDING
}
