//! The color of mended pixels: kept as stored, and estimated only where multiplied storage had rounded it away.
//!
//! Takes a view of the samples and the mask, yields the pixels whose color changes. Knows no files.

use super::around::{Around, Guess};
use crate::pixel::mask::Mask;
use crate::pixel::over::Sample;
use crate::pixel::stored::{Rgba, View, held_multiplied, neighbor, within};

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

/// From this alpha up, of 255, multiplied storage kept color to within one of 255: 255 / (2 x 128).
const SURE: f64 = 128.0;

/// Colors this near, in levels of 255, to a flat one are counted against it: a soft wash takes such steps everywhere.
const STEP: f64 = 2.0;

/// A color that so many pixels around have in every sample is one of the art's own: noise hardly ever repeats one.
const RECURRING: usize = 3;

/// The color a pixel most likely had, within the bounds its storage leaves; `None` to keep what is stored.
///
/// A flat neighbor restores flat art exactly. Else a region of even color that agrees with what is stored is read at the
/// pixel; else a color that recurs nearby counts, then, at an antialiased edge, a mixture of two regions; and in grain what
/// is stored counts for as much as it can tell.
fn estimated<T: Sample>(view: &View<'_, T>, at: (u32, u32), pixel: Rgba<T>) -> Option<[T; 3]> {
    let around = Around::of(view, at);
    let unit = 255.0 / f64::from(T::MOST);
    let levels = |color: [T; 3]| color.map(|sample| Into::<f64>::into(sample) * unit);
    let stored = levels([pixel[0], pixel[1], pixel[2]]);
    // Half of one step of the storage, in levels.
    let alpha = Into::<f64>::into(pixel[3]) * unit;
    let slack = 127.5 / alpha;
    let flat = neighbor(view, at, pixel, true).filter(|color| {
        let (same, close) = around.like(levels(*color), STEP);
        close * 8 <= same
    });
    if flat.is_some() {
        return flat;
    }
    let back = |color: [f64; 3]| {
        let sample = |i: usize| clipped(((color[i] / unit).max(0.0) + 0.5) as u64, pixel[i], pixel[3]);
        [sample(0), sample(1), sample(2)]
    };
    let regions = around.regions();
    if let Some(guess) = regions.iter().find(|guess| agrees(guess, stored, slack)) {
        return Some(back(weighed(guess, stored, slack)));
    }
    let recurs = |color: &[T; 3]| around.like(levels(*color), 0.0).0 >= RECURRING;
    let recurring = neighbor(view, at, pixel, false).filter(recurs);
    if recurring.is_some() || alpha >= SURE {
        return recurring;
    }
    let mixed = mixture(&regions, stored, slack);
    let whole = || around.whole().filter(|guess| agrees(guess, stored, slack));
    mixed.or_else(|| whole().map(|guess| weighed(&guess, stored, slack))).map(back)
}

/// Whether a region's color at the pixel can be what was stored, its own spread allowed for.
fn agrees(guess: &Guess, stored: [f64; 3], slack: f64) -> bool {
    (0..3).all(|i| (guess.color[i] - stored[i]).abs() <= slack + 0.5 + 2.0 * guess.variance[i].sqrt())
}

/// The mean of two tellings, each weighed by the other's variance: the region's, and that of rounding to steps of twice
/// `slack`, which is a third of its square.
fn weighed(guess: &Guess, stored: [f64; 3], slack: f64) -> [f64; 3] {
    let rounding = slack * slack / 3.0;
    std::array::from_fn(|i| stored[i] + (guess.color[i] - stored[i]) * rounding / (rounding + guess.variance[i]))
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
