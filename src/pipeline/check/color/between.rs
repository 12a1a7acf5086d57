//! Between: whether a pixel smooths an edge, its color lying between two flat ones close by.
//!
//! Takes a raster, the flat colors and a pixel. Every channel is asked for itself, so that light may be mixed in any way; a
//! little more than the span of the two is allowed, since sharp kernels overshoot.

use super::spans::key;
use crate::tile::Raster;

/// How far away a flat color may be, in pixels: edges are smoothed over three at most.
const REACH: i64 = 3;

/// A kernel's overshoot as a part of the step: cubic kernels reach 2/27 (Keys, IEEE Trans. ASSP 29(6), 1981), rounded up.
const OVERSHOOT: i32 = 10;

/// Levels that rounding can add.
const ROUNDING: i32 = 2;

/// The flat colors as a set that fits the nearest cache: it is asked about every pixel around an edge.
pub struct Palette {
    slots: Vec<Option<u32>>,
    shift: u32,
}

impl Palette {
    /// The set of some colors, see [`key`].
    pub fn of(colors: impl Iterator<Item = u32>) -> Self {
        let colors: Vec<u32> = colors.collect();
        let bits = (4 * colors.len()).next_power_of_two().trailing_zeros().max(4);
        let mut palette = Self { slots: vec![None; 1 << bits], shift: 32 - bits };
        for color in colors {
            let slot = palette.slot(color);
            palette.slots[slot] = Some(color);
        }
        palette
    }

    /// The slot of a color: its own, or the empty one where it would go; a quarter is filled at most, so there is one.
    fn slot(&self, color: u32) -> usize {
        // Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4), then the next free one.
        let mut slot = (color.wrapping_mul(0x9E37_79B1) >> self.shift) as usize;
        while self.slots[slot].is_some_and(|other| other != color) {
            slot = (slot + 1) % self.slots.len();
        }
        slot
    }

    /// Whether a pixel has a flat color.
    pub fn holds(&self, pixel: [u8; 4]) -> bool {
        self.slots[self.slot(key(pixel))].is_some()
    }
}

/// What a pixel that has no flat color is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// It smooths an edge.
    Between,
    /// It has a color of its own beside flat ones.
    Beside,
    /// No flat color is near.
    Deep,
}

/// What the pixel at column `x`, row `y` is: between two flat colors on opposite sides of it, or among all those around it.
pub fn place(raster: &Raster, palette: &Palette, x: u32, y: u32) -> Place {
    let pixel = raster.pixel(x, y);
    let reach = REACH as u32;
    let inside = x >= reach && y >= reach && x + reach < raster.width() && y + reach < raster.height();
    let at = |dx: i64, dy: i64| {
        let (x, y) = (i64::from(x) + dx, i64::from(y) + dy);
        if inside { raster.pixel(x as u32, y as u32) } else { raster.wrapped(x, y) }
    };
    let nearest = |dx: i64, dy: i64| (1..=REACH).map(|n| at(n * dx, n * dy)).find(|&other| palette.holds(other));
    for (dx, dy) in [(1, 0), (0, 1), (1, 1), (1, -1)] {
        if let (Some(a), Some(b)) = (nearest(dx, dy), nearest(-dx, -dy))
            && mixes(pixel, a, b)
        {
            return Place::Between;
        }
    }
    // Where three colors meet, or a line is thinner than a pixel, no two opposite ones tell.
    let mut around: Option<[[u8; 4]; 2]> = None;
    for dy in -REACH..=REACH {
        for dx in -REACH..=REACH {
            let other = at(dx, dy);
            if palette.holds(other) {
                let [low, high] = around.unwrap_or([other, other]);
                let of = |choose: fn(u8, u8) -> u8, with: [u8; 4]| std::array::from_fn(|i| choose(with[i], other[i]));
                around = Some([of(u8::min, low), of(u8::max, high)]);
            }
        }
    }
    match around {
        Some([low, high]) if mixes(pixel, low, high) => Place::Between,
        Some(_) => Place::Beside,
        None => Place::Deep,
    }
}

/// Whether every channel of a pixel lies between those of two different colors. The color of a clear one says nothing, and
/// how much a see-through pixel covers is no matter of color.
fn mixes(pixel: [u8; 4], a: [u8; 4], b: [u8; 4]) -> bool {
    let see_through = pixel[3] != 255;
    let channels = match a[3] == 0 || b[3] == 0 {
        true => 3..4,
        false if see_through => 0..3,
        false => 0..4,
    };
    let mut apart = 0;
    for channel in channels {
        let [own, a, b] = [pixel, a, b].map(|pixel| i32::from(pixel[channel]));
        let slack = ROUNDING + (a - b).abs() / OVERSHOOT;
        if own < a.min(b) - slack || own > a.max(b) + slack {
            return false;
        }
        apart = apart.max((a - b).abs());
    }
    see_through || apart > ROUNDING
}
