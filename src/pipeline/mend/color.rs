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

/// The four directions of a straight line on the grid.
const DIRECTIONS: [(i64, i64); 4] = [(1, 0), (0, 1), (1, 1), (1, -1)];

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

/// The color a pixel most likely had, within the bounds its storage leaves; `None` to keep what is stored.
///
/// From half coverage up the stored color is within one level and a half, so only a flat neighbor, which restores flat art
/// exactly, is better than keeping it. Below, any near neighbor inside the bounds is; and where none is and the bounds are
/// wider than 2.5 of 255, what lies between the line's two sides.
fn estimated<T: Sample>(view: &View<'_, T>, at: (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let (alpha, most): (u64, u64) = (pixel[3].into(), T::MOST.into());
    let half_covered = alpha * 2 >= most;
    let wide = most + alpha > 5 * alpha * (most / 255);
    neighbor(view, at, pixel, half_covered).or_else(|| if wide { between(view, at, pixel) } else { None })
}

/// An opaque pixel beside a line: how many steps away, and its color.
type Side<T> = (u64, [T; 3]);

/// The color between the two opaque sides of the line at a pixel: of the four directions the one whose sides agree best,
/// weighted by nearness, clipped to what the storage allows. `None` when no direction has two opaque sides near.
fn between<T: Sample>(view: &View<'_, T>, (x, y): (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let side = |dx: i64, dy: i64| {
        (1..=REACH)
            .find_map(|k| view.opaque(i64::from(x) + k * dx, i64::from(y) + k * dy).map(|color| (k as u64, color)))
    };
    let pairs = DIRECTIONS.into_iter().filter_map(|(dx, dy)| Some((side(dx, dy)?, side(-dx, -dy)?)));
    let apart = |&(a, b): &(Side<T>, Side<T>)| {
        a.1.into_iter().zip(b.1).map(|(a, b)| Into::<u64>::into(a).abs_diff(b.into()).pow(2)).sum::<u64>()
    };
    let ((near, a), (far, b)) = pairs.min_by_key(apart)?;
    let mut color = [pixel[0], pixel[1], pixel[2]];
    for ((sample, a), b) in color.iter_mut().zip(a).zip(b) {
        let (a, b): (u64, u64) = (a.into(), b.into());
        // The nearer side weighs more: the weights are the distances to the other side.
        let mixed = (2 * (a * far + b * near) + near + far) / (2 * (near + far));
        *sample = clipped(mixed, *sample, pixel[3]);
    }
    Some(color)
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
