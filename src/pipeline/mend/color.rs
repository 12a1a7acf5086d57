//! The color of mended pixels: kept as stored, and estimated only where multiplied storage had rounded it away.
//!
//! Takes a view of the samples and the mask, yields the pixels whose color changes. Knows no files.

use super::around::{Around, Guess};
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

impl Recolored<u16> {
    /// The pixel in the 8-bit view: 65535 is 257 times 255.
    #[must_use]
    pub fn rounded(&self) -> Recolored<u8> {
        let round = |sample: u16| u8::clamped((u64::from(sample) + 128) / 257);
        Recolored { x: self.x, y: self.y, color: self.color.map(round) }
    }
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

/// From this alpha up, of 255, multiplied storage kept color to less than two thirds of a level: 255 / (2 x 200).
const SURE: f64 = 200.0;

/// Colors this near, in levels of 255, to a flat one are counted against it: a soft wash takes such steps everywhere.
const STEP: f64 = 2.0;

/// A color that so many pixels around have in every sample, and hardly any nearly, is one of the art's own: noise hardly ever
/// repeats one, and gray noise that does has its neighbors all around.
const RECURRING: usize = 3;

/// The color a pixel most likely had, within the bounds its storage leaves; `None` to keep what is stored.
///
/// A color of the art's own that lies on both sides restores it exactly, then a flat neighbor. Else a region of even color that
/// agrees with what is stored is read at the pixel; else a color that recurs nearby counts, then, at an antialiased edge, a
/// mixture of two regions; and in grain what is stored counts for as much as it can tell.
fn estimated<T: Sample>(view: &View<'_, T>, at: (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let around = Around::of(view, at);
    let unit = 255.0 / f64::from(T::MOST);
    let levels = |color: [T; 3]| color.map(|sample| Into::<f64>::into(sample) * unit);
    let stored = levels([pixel[0], pixel[1], pixel[2]]);
    // Half of one step of the storage, in levels.
    let alpha = Into::<f64>::into(pixel[3]) * unit;
    let slack = 127.5 / alpha;
    let known = |color: &[T; 3], least: usize| {
        let (same, close) = around.like(levels(*color), STEP);
        same >= least && close * 8 <= same
    };
    let spanned = spanned(view, at, pixel).filter(|color| known(color, RECURRING));
    let flat = || neighbor(view, at, pixel, true).filter(|color| known(color, 1));
    if let Some(color) = spanned.or_else(flat) {
        return Some(color);
    }
    let back = |color: [f64; 3]| {
        let sample = |i: usize| clipped(((color[i] / unit).max(0.0) + 0.5) as u64, pixel[i], pixel[3]);
        [sample(0), sample(1), sample(2)]
    };
    let regions = around.regions();
    if let Some(guess) = regions.iter().find(|guess| agrees(guess, stored, slack)) {
        return Some(back(weighed(guess, stored, slack)));
    }
    let recurring = neighbor(view, at, pixel, false).filter(|color| known(color, RECURRING));
    if recurring.is_some() || alpha >= SURE {
        return recurring;
    }
    let mixed = mixture(&regions, stored, slack);
    let whole = || around.whole().filter(|guess| agrees(guess, stored, slack));
    mixed.or_else(|| whole().map(|guess| weighed(&guess, stored, slack))).map(back)
}

/// The very color on both sides of the pixel along the shortest of four directions in which both are one that it can have had.
fn spanned<T: Sample>(view: &View<'_, T>, (x, y): (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let (x, y) = (i64::from(x), i64::from(y));
    let first =
        |dx: i64, dy: i64| (1..=REACH).find_map(|step| Some((step, view.opaque(x + step * dx, y + step * dy)?)));
    let across = [(1, 0), (0, 1), (1, 1), (1, -1)].into_iter().filter_map(|(dx, dy)| {
        let ((there, color), (back, other)) = (first(dx, dy)?, first(-dx, -dy)?);
        let fits = (0..3).all(|i| within(color[i], pixel[i], pixel[3]));
        (color == other && fits).then_some(((there + back) * (there + back) * (dx * dx + dy * dy), color))
    });
    across.min_by_key(|(span, _)| *span).map(|(_, color)| color)
}

/// Whether a region's color at the pixel can be what was stored, its own spread allowed for.
fn agrees(guess: &Guess, stored: [f64; 3], slack: f64) -> bool {
    (0..3).all(|i| (guess.color[i] - stored[i]).abs() <= slack + 0.5 + 2.0 * guess.variance(i).sqrt())
}

/// The mean of two tellings, each weighed by how sure it is: the region's, whose channels may rise and fall together, and that
/// of rounding to steps of twice `slack`, whose variance is a third of its square in each channel for itself. With the
/// covariance C of the one and the variance r of the other it is g + C (C + r)^-1 (v - g) (the linear estimate of least
/// square error; Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, 12.3).
fn weighed(guess: &Guess, stored: [f64; 3], slack: f64) -> [f64; 3] {
    let rounding = slack * slack / 3.0;
    let mut both = guess.covariance;
    (0..3).for_each(|i| both[i][i] += rounding);
    let apart = std::array::from_fn(|i| stored[i] - guess.color[i]);
    let Some(solved) = solved(both, apart) else { return guess.color };
    std::array::from_fn(|i| guess.color[i] + (0..3).map(|j| guess.covariance[i][j] * solved[j]).sum::<f64>())
}

/// The solution of three linear equations by Cramer's rule; `None` where there is not one.
fn solved(rows: [[f64; 3]; 3], right: [f64; 3]) -> Option<[f64; 3]> {
    let of = |[a, b, c]: [[f64; 3]; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0]) + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let all = of(rows);
    let with = |column: usize| {
        let mut rows = rows;
        rows.iter_mut().zip(right).for_each(|(row, right)| row[column] = right);
        of(rows) / all
    };
    (all.abs() > 1e-9).then(|| [with(0), with(1), with(2)])
}

/// The mixture of two regions nearest to what is stored, when it can be that.
fn mixture(regions: &[Guess], stored: [f64; 3], slack: f64) -> Option<[f64; 3]> {
    let pairs = regions.iter().enumerate().flat_map(|(i, a)| regions[i + 1..].iter().map(move |b| (a, b)));
    pairs.into_iter().find_map(|(a, b)| {
        let along: [f64; 3] = std::array::from_fn(|i| b.color[i] - a.color[i]);
        let long: f64 = along.iter().map(|part| part * part).sum();
        let share: f64 = (0..3).map(|i| (stored[i] - a.color[i]) * along[i]).sum::<f64>() / long;
        let color: [f64; 3] = std::array::from_fn(|i| a.color[i] + share * along[i]);
        let fits = (0..3).all(|i| (color[i] - stored[i]).abs() <= slack + 0.5);
        (long > 0.0 && (0.0..=1.0).contains(&share) && fits).then_some(color)
    })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_that_rise_together_tell_of_each_other() {
        // Gray noise about (100, 60, 30) with a variance of 16; the true color is 3 up in all channels, and storage has moved
        // each for itself, 9 in all.
        let guess = Guess { color: [100.0, 60.0, 30.0], covariance: [[16.0; 3]; 3], count: 100 };
        let told = weighed(&guess, [105.0, 66.0, 31.0], 3.0);
        // 48 of the 51 parts of the mean by which the stored color is up: (5 + 6 + 1) / 3 = 4.
        let up = 4.0 * 48.0 / 51.0;
        for (is, was) in told.iter().zip(guess.color) {
            assert!((is - was - up).abs() < 1e-9, "{told:?}");
        }
        // Channels on their own, and a region that is perfectly even.
        let alone = Guess { covariance: [[3.0, 0.0, 0.0], [0.0, 3.0, 0.0], [0.0, 0.0, 0.0]], ..guess };
        assert_eq!(weighed(&alone, [102.0, 60.0, 33.0], 3.0), [101.0, 60.0, 30.0]);
    }

    #[test]
    fn a_color_on_both_sides_counts_where_the_pixel_can_have_had_it() {
        // Rows of their own colors, with a see-through column: each row's color lies on both sides of its pixel.
        let row = |y: u32| [[90, 60, 30, 255], [99, 60, 30, 255]][y as usize % 2];
        let sample = |(x, y): (u32, u32)| if x == 5 { [96, 60, 30, 20] } else { row(y) };
        let samples: Vec<u8> = (0..12).flat_map(|y| (0..11).map(move |x| (x, y))).flat_map(sample).collect();
        let view = View::new(&samples, 11, 12).unwrap();
        for y in 1..11 {
            let [r, g, b, _] = row(y);
            assert_eq!(spanned(&view, (5, y), view.at(5, y.into())), Some([r, g, b]));
        }
        assert_eq!(spanned(&view, (5, 4), [150, 60, 30, 200]), None, "at alpha 200 it cannot have been 90 nor 99");
    }
}
