//! The color of mended pixels: kept as stored, and estimated only where multiplied storage had rounded it away.
//!
//! Takes a view of the samples and the mask, yields the pixels whose color changes. Knows no files.

use crate::pixel::mask::Mask;
use crate::pixel::over::Sample;
use crate::pixel::stored::{REACH, Rgba, View, held_multiplied, neighbor, within};

/// A pixel that gets another color.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recolored<T> {
    /// Column.
    pub x: u32,
    /// Row.
    pub y: u32,
    /// Red, green, blue.
    pub color: [T; 3],
}

/// The pixels of the mask whose color changes, in the mask's order. None where the file did not hold color multiplied by
/// alpha: then the stored color is the color.
#[must_use]
pub fn recolored<T: Sample>(view: &View<'_, T>, mask: &Mask) -> Vec<Recolored<T>> {
    if !held_multiplied(view, mask) {
        return Vec::new();
    }
    let pixels = mask.pixels().filter_map(|(x, y)| {
        let pixel = view.at(x.into(), y.into());
        let color = estimated(view, (x, y), pixel)?;
        (color != [pixel[0], pixel[1], pixel[2]]).then_some(Recolored { x, y, color })
    });
    pixels.collect()
}

/// From this alpha up, in 8 and in 16 bits alike, multiplied storage kept color to within one of 255: MOST / (2 x 128).
const SURE: u32 = 128;

/// The color a pixel most likely had, within the bounds its storage leaves; `None` to keep what is stored.
///
/// A flat neighbor restores flat art exactly. From [`SURE`] up nothing else is better than the stored color. Below, soft art
/// is bridged, and what is neither flat nor soft takes its nearest neighbor.
fn estimated<T: Sample>(view: &View<'_, T>, at: (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let alpha: u32 = pixel[3].into();
    let flat = neighbor(view, at, pixel, true);
    if flat.is_some() || alpha >= SURE {
        return flat;
    }
    bridged(view, at, pixel).or_else(|| neighbor(view, at, pixel, false))
}

/// The fewest pairs of opposite neighbors that say something about what lies between them.
const TELLING: u64 = 8;

/// The mean of all pairs of opposite opaque neighbors, clipped to what the storage allows. In soft art each pair's mean is
/// the color in the middle; `None` where the means spread by more than 1.5 of 255 (standard deviation), or pairs are few.
fn bridged<T: Sample>(view: &View<'_, T>, (x, y): (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let (x, y) = (i64::from(x), i64::from(y));
    let half = (0..=REACH).flat_map(|dy| (-REACH..=REACH).map(move |dx| (dx, dy))).filter(|&(dx, dy)| dy > 0 || dx > 0);
    let mut pairs = 0_u64;
    let (mut sums, mut squares) = ([0_u64; 3], [0_u64; 3]);
    for (dx, dy) in half {
        let Some((a, b)) = view.opaque(x + dx, y + dy).zip(view.opaque(x - dx, y - dy)) else { continue };
        pairs += 1;
        for i in 0..3 {
            let twice = Into::<u64>::into(a[i]) + Into::<u64>::into(b[i]);
            sums[i] += twice;
            squares[i] += twice * twice;
        }
    }
    // Sums are of twice the mean, so 1.5 of 255 is 3 of 255 in them.
    let most = (pairs * 3 * u64::from(T::MOST) / 255).pow(2);
    let soft = (0..3).all(|i| pairs * squares[i] - sums[i] * sums[i] <= most);
    let mean = |i: usize| clipped((sums[i] + pairs) / (2 * pairs), pixel[i], pixel[3]);
    (pairs >= TELLING && soft).then(|| [mean(0), mean(1), mean(2)])
}

/// The sample nearest to `wanted` that `stored` under `alpha` allows.
fn clipped<T: Sample>(wanted: u64, stored: T, alpha: T) -> T {
    if within(T::clamped(wanted), stored, alpha) {
        return T::clamped(wanted);
    }
    let (held, alpha, most): (u64, u64, u64) = (stored.into(), alpha.into(), T::MOST.into());
    let slack = (most + alpha) / (2 * alpha);
    T::clamped(if wanted < held { held - slack } else { held + slack })
}
