//! What a half-transparent pixel's stored color can still tell, and the neighbor whose color it may have lost.
//!
//! Takes straight RGBA samples of 8 or 16 bits as a view of the endless block repeat. Knows no rules and changes nothing.
//! The bounds follow from rounding alone: a file that held color times alpha kept color only to half a step of MOST / alpha.

use super::mask::Mask;
use super::over::{Sample, times};
use std::sync::LazyLock;

/// One pixel, straight: red, green, blue, alpha.
pub type Rgba<T> = [T; 4];

/// How far, in pixels along each axis, a neighbor may lie whose color a pixel may take.
pub const REACH: i64 = 5;

/// Straight RGBA samples of a tile, seen as its endless block repeat.
#[derive(Clone, Copy)]
pub struct View<'a, T> {
    pixels: &'a [Rgba<T>],
    width: u32,
    height: u32,
}

impl<'a, T: Sample> View<'a, T> {
    /// A view of `width * height * 4` samples; `None` when the length does not fit or a side is zero.
    #[must_use]
    pub fn new(samples: &'a [T], width: u32, height: u32) -> Option<Self> {
        let need = u64::from(width) * u64::from(height) * 4;
        let pixels = samples.as_chunks::<4>().0;
        (need > 0 && need == samples.len() as u64).then_some(Self { pixels, width, height })
    }

    /// The pixel at any coordinates.
    #[must_use]
    pub fn at(&self, x: i64, y: i64) -> Rgba<T> {
        let inside = |at: i64, side: u32| {
            if (0..i64::from(side)).contains(&at) { at as usize } else { at.rem_euclid(i64::from(side)) as usize }
        };
        self.pixels[inside(y, self.height) * self.width as usize + inside(x, self.width)]
    }

    /// The pixels of row `y` from column `from` to before `to`, which must lie inside.
    #[must_use]
    pub fn span(&self, y: u32, from: u32, to: u32) -> &'a [Rgba<T>] {
        let row = y as usize * self.width as usize;
        &self.pixels[row + from as usize..row + to as usize]
    }

    /// The color at any coordinates where the pixel is opaque.
    #[must_use]
    pub fn opaque(&self, x: i64, y: i64) -> Option<[T; 3]> {
        let [r, g, b, a] = self.at(x, y);
        (a == T::FULL).then_some([r, g, b])
    }

    /// Whether at least 3 of the 4 neighbors are opaque and have the very same color.
    fn flat(&self, x: i64, y: i64, color: [T; 3]) -> bool {
        let sides = [(x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1)];
        sides.iter().filter(|&&(x, y)| self.opaque(x, y) == Some(color)).count() >= 3
    }
}

/// Whether a pixel looks as if its color had been stored multiplied by its alpha: every sample is the nearest one to some
/// multiple of MOST / alpha (either neighbor where it lies halfway).
#[must_use]
pub fn on_levels<T: Sample>([r, g, b, a]: Rgba<T>) -> bool {
    let alpha: u64 = a.into();
    [r, g, b].into_iter().all(|sample| {
        let kept: u64 = times(sample, a).into();
        2 * (Into::<u64>::into(sample) * alpha).abs_diff(kept * u64::from(T::MOST)) <= alpha
    })
}

/// Whether the pixels of `mask` held color multiplied by alpha: 98 % of those that are partly covered and below 250 of 255
/// are [`on_levels`]. Above 250 nearly every color is, so nothing can be told there, nor is anything lost.
#[must_use]
pub fn held_multiplied<T: Sample>(view: &View<'_, T>, mask: &Mask) -> bool {
    let limit = T::clamped(u64::from(T::MOST / 255) * 250);
    let (mut told, mut off) = (0_u64, 0_u64);
    // Once more are off than a mask of this size may have, the rest need not be asked.
    let most_off = mask.count() * 2 / 100;
    for (x, y) in mask.pixels() {
        let pixel = view.at(x.into(), y.into());
        let alpha: u64 = pixel[3].into();
        if alpha > 0 && pixel[3] < limit {
            told += 1;
            off += u64::from(!on_levels(pixel));
            if off > most_off {
                return false;
            }
        }
    }
    told > 0 && off * 100 <= told * 2
}

/// Whether `sample` can be what was stored as `stored` under `alpha`: at most MOST / (2 alpha) + 1/2 away.
#[must_use]
pub fn within<T: Sample>(sample: T, stored: T, alpha: T) -> bool {
    let (sample, stored, alpha): (u64, u64, u64) = (sample.into(), stored.into(), alpha.into());
    2 * alpha * sample.abs_diff(stored) <= u64::from(T::MOST) + alpha
}

/// All steps of up to [`REACH`] along each axis, the nearest first, and in the order of rows where equally near.
static NEARBY: LazyLock<Vec<(i64, i64)>> = LazyLock::new(|| {
    let steps = (-REACH..=REACH).flat_map(|dy| (-REACH..=REACH).map(move |dx| (dx, dy)));
    let mut steps: Vec<_> = steps.filter(|&step| step != (0, 0)).collect();
    steps.sort_by_key(|(dx, dy)| dx * dx + dy * dy);
    steps
});

/// The color of the nearest opaque neighbor that `pixel` (at column `x`, row `y`) can have had: one inside its bounds. With
/// `only_flat` a neighbor counts only in a flat place.
#[must_use]
pub fn neighbor<T: Sample>(view: &View<'_, T>, (x, y): (u32, u32), pixel: Rgba<T>, only_flat: bool) -> Option<[T; 3]> {
    let [r, g, b, alpha] = pixel;
    NEARBY.iter().find_map(|(dx, dy)| {
        let (x, y) = (i64::from(x) + dx, i64::from(y) + dy);
        let color = view.opaque(x, y)?;
        let fits = color.into_iter().zip([r, g, b]).all(|(sample, stored)| within(sample, stored, alpha));
        (fits && (!only_flat || view.flat(x, y, color))).then_some(color)
    })
}
