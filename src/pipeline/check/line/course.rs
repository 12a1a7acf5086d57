//! A line of art looked at closely: its course to a fraction of a pixel, and what it does to the color beside it, place by
//! place.
//!
//! Takes pixels and a stretch, yields samples. Sums across the line are what is compared, since antialiasing spreads a
//! line over its neighbors and keeps the sum.

use super::ridges::View;
use super::trace::Stretch;

/// What one row (or column) across a line shows.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// Where, along the line.
    pub along: i64,
    /// The color beside the line, from the pixels next to it.
    pub side: [f64; 3],
    /// The same from pixels further out: its errors have nothing to do with those of `sum`.
    pub outer: [f64; 3],
    /// The sum over the line's width of what it adds to the color beside it, in levels times pixels.
    pub sum: [f64; 3],
    /// What the pixel adds that differs most.
    pub peak: [f64; 3],
}

/// A line looked at closely.
#[derive(Clone, Debug)]
pub struct Course {
    /// Its refined course.
    pub stretch: Stretch,
    /// How many pixels to each side of the middle belong to it.
    pub half: i64,
    /// Its width across, in pixels.
    pub width: f64,
    /// Root of the mean square of how far its middles lie off the course, in pixels.
    pub wobble: f64,
    /// Where both sides agree.
    pub samples: Vec<Sample>,
    /// The share of places where both sides agree.
    pub agreeing: f64,
    /// The same share beside the line, where nothing runs.
    pub agreeing_beside: f64,
    /// The median of the summed difference of all channels on the line, in levels times pixels.
    pub strength: f64,
    /// The same beside the line: what the art does by itself.
    pub noise: f64,
}

/// The most places looked at along one line.
const MOST_SAMPLES: i64 = 1600;

/// The widest half: three pixels at 45 degrees and their soft edges.
const WIDEST: i64 = 3;

/// The fewest places from which a course is fitted.
const FEWEST: usize = 12;

/// Sides that differ by up to this many levels agree in any art; in rough art twice the usual difference.
const AGREE: i64 = 4;

/// Nothing agrees over more than this.
const ROUGHEST: i64 = 40;

/// The pixels of one place across a line.
struct Across {
    along: i64,
    /// Pixels at -7 to 7 from the rounded middle.
    pixels: [[u8; 4]; ACROSS],
    /// How far the middle lies from the rounded one.
    off: f64,
    opaque: bool,
}

const MIDDLE: i64 = 7;
const ACROSS: usize = 2 * MIDDLE as usize + 1;

impl Across {
    fn at(view: View, along: i64, middle: f64) -> Self {
        let rounded = rounded(middle);
        let pixels: [[u8; 4]; ACROSS] = view.run(along, rounded as i64 - MIDDLE);
        let opaque = pixels.iter().fold(255, |all, pixel| all & pixel[3]) == 255;
        Self { along, pixels, off: middle - rounded, opaque }
    }

    #[inline]
    fn pixel(&self, off: i64) -> [u8; 4] {
        self.pixels[(MIDDLE + off) as usize]
    }

    /// The four pixels that lie `from` and one more to both sides.
    #[inline]
    fn sides(&self, from: i64) -> [[u8; 4]; 4] {
        [self.pixel(-from - 1), self.pixel(-from), self.pixel(from), self.pixel(from + 1)]
    }

    /// Per channel the sum of those four.
    #[inline]
    fn four(&self, from: i64) -> [i16; 4] {
        let [a, b, c, d] = self.sides(from);
        std::array::from_fn(|i| i16::from(a[i]) + i16::from(b[i]) + i16::from(c[i]) + i16::from(d[i]))
    }

    /// The largest difference among those four, over all channels.
    #[inline]
    fn range(&self, from: i64) -> i64 {
        let [a, b, c, d] = self.sides(from);
        let of_channels: [u8; 4] =
            std::array::from_fn(|i| a[i].max(b[i]).max(c[i].max(d[i])) - a[i].min(b[i]).min(c[i].min(d[i])));
        let [r, g, b, _] = of_channels;
        r.max(g).max(b).into()
    }

    /// Four times what the pixel at an offset adds to the color beside the line, of which `four` is four times, per channel.
    #[inline]
    fn adds(&self, off: i64, four: [i16; 4]) -> [i16; 4] {
        let pixel = self.pixel(off);
        std::array::from_fn(|c| 4 * i16::from(pixel[c]) - four[c])
    }

    /// What the place shows, if both sides agree. Where the color further out is another one, flat art needs none; noise does.
    fn sample(&self, half: i64, agree: i64) -> Option<Sample> {
        if self.range(half + 1) > agree {
            return None;
        }
        let (near, far) = (self.four(half + 1), self.four(half + 3));
        let alike = self.range(half + 3) <= 2 * agree
            && near.iter().zip(far).all(|(n, f)| i64::from((n - f).abs()) <= 8 * agree);
        if !alike && agree > AGREE {
            return None;
        }
        let mut sum = [0; 4];
        let mut peak = [0; 4];
        for off in -half..=half {
            let adds = self.adds(off, near);
            if size(adds) > size(peak) {
                peak = adds;
            }
            // Seven pixels of four times 255 levels at most.
            sum.iter_mut().zip(adds).for_each(|(sum, adds)| *sum += adds);
        }
        let quarter = |[r, g, b, _]: [i16; 4]| [r, g, b].map(|v| f64::from(v) / 4.0);
        Some(Sample {
            along: self.along,
            side: quarter(near),
            outer: quarter(if alike { far } else { near }),
            sum: quarter(sum),
            peak: quarter(peak),
        })
    }
}

/// The nearest whole number, of two the one further from 0, as `f64::round` does by a call: exact for all that an image holds.
#[inline]
fn rounded(value: f64) -> f64 {
    let whole = value as i64 as f64;
    whole + f64::from(i8::from(value - whole >= 0.5) - i8::from(value - whole <= -0.5))
}

/// The sum over all channels, whatever their sign.
#[inline]
fn size(of: [i16; 4]) -> i16 {
    of[0].abs() + of[1].abs() + of[2].abs()
}

/// All places of a stretch moved aside by some pixels.
fn places(view: View, stretch: &Stretch, asides: &[f64]) -> Vec<Across> {
    let stride = (stretch.to - stretch.from) / MOST_SAMPLES + 1;
    let mut places = Vec::with_capacity(((stretch.to - stretch.from) / stride + 1) as usize * asides.len());
    for aside in asides {
        let mut along = stretch.from;
        while along < stretch.to {
            let across = Across::at(view, along, stretch.middle(along as f64) + aside);
            if across.opaque {
                places.push(across);
            }
            along += stride;
        }
    }
    places
}

/// The middle of sorted numbers.
#[must_use]
pub fn median(mut of: Vec<f64>) -> f64 {
    let middle = of.len() / 2;
    if of.is_empty() { 0.0 } else { *of.select_nth_unstable_by(middle, f64::total_cmp).1 }
}

/// How much the sides may differ to agree, given how much they usually do.
fn tolerance(places: &[Across], half: i64) -> i64 {
    let mut counts = [0usize; 256];
    places.iter().for_each(|across| counts[across.range(half + 1) as usize % 256] += 1);
    // The lower third: where art is busy, most places lie on some edge.
    let mut below = places.len() / 3 + 1;
    let third = counts.iter().position(|count| {
        let found = *count >= below;
        below = below.saturating_sub(*count);
        found
    });
    (2 * third.unwrap_or(0) as i64).clamp(AGREE, ROUGHEST)
}

/// Looks at a stretch closely; `None` when nothing thin and straight lies there. Where art is fine its sides are sought as
/// near to the line as its width allows.
#[must_use]
pub fn course(view: View, stretch: Stretch) -> Option<Course> {
    (1..=WIDEST).rev().find_map(|reach| {
        let (stretch, wobble) = refined(view, stretch, reach)?;
        let across = places(view, &stretch, &[0.0]);
        let (half, width) = width(&across, stretch.slope, reach)?;
        let aside = (2 * half + 7) as f64;
        let beside = places(view, &stretch, &[-aside, aside]);
        Some(closely(stretch, half, width, wobble, &across, &beside))
    })
}

fn closely(stretch: Stretch, half: i64, width: f64, wobble: f64, across: &[Across], beside: &[Across]) -> Course {
    let agree = tolerance(across, half);
    let sampled =
        |of: &[Across]| -> Vec<Sample> { of.iter().filter_map(|across| across.sample(half, agree)).collect() };
    let (samples, quiet) = (sampled(across), sampled(beside));
    let share = |count: usize, of: usize| count as f64 / of.max(1) as f64;
    let size = |samples: &[Sample]| median(samples.iter().map(|s| s.sum.iter().map(|v| v.abs()).sum()).collect());
    Course {
        stretch,
        half,
        width,
        wobble,
        agreeing: share(samples.len(), across.len()),
        agreeing_beside: share(quiet.len(), beside.len()),
        strength: size(&samples),
        noise: size(&quiet),
        samples,
    }
}

/// Fits the course through the middles of what stands out.
fn refined(view: View, mut stretch: Stretch, reach: i64) -> Option<(Stretch, f64)> {
    let mut wobble = 0.0;
    for trust in [2.5, 1.5, 1.0] {
        let across = places(view, &stretch, &[0.0]);
        let agree = tolerance(&across, reach);
        let mut middles = Vec::new();
        for across in across.iter().filter(|across| across.range(reach + 1) <= agree) {
            let (mut weight, mut moment) = (0, 0);
            let (four, faint) = (across.four(reach + 1), (4 * agree / 2) as i16);
            for off in -reach..=reach {
                let [r, g, b, _] = across.adds(off, four).map(|v| (v.abs() - faint).max(0));
                let adds = i64::from(r + g + b);
                weight += adds;
                moment += off * adds;
            }
            let middle = moment as f64 / weight.max(1) as f64 - across.off;
            if weight > 8 && middle.abs() <= trust {
                middles.push((across.along as f64, middle, weight as f64));
            }
        }
        if middles.len() < FEWEST.max(across.len() / 5) {
            return None;
        }
        let n = middles.len() as f64;
        let (u, v) = middles.iter().fold((0.0, 0.0), |(u, v), m| (u + m.0 / n, v + m.1 / n));
        let (mut uu, mut uv) = (0.0, 0.0);
        for m in &middles {
            uu += (m.0 - u) * (m.0 - u);
            uv += (m.0 - u) * (m.1 - v);
        }
        let turn = if uu > 0.0 { uv / uu } else { 0.0 };
        stretch.slope += turn;
        stretch.at += v - turn * u;
        let squares: f64 = middles.iter().map(|m| (m.1 - v - turn * (m.0 - u)).powi(2)).sum();
        wobble = (squares / n).sqrt();
    }
    (stretch.slope.abs() <= 1.1).then_some((stretch, wobble))
}

/// How many pixels to each side of the middle belong to the line, and its width across; `None` when it is wider than three
/// pixels.
fn width(across: &[Across], slope: f64, reach: i64) -> Option<(i64, f64)> {
    let agree = tolerance(across, reach);
    let mut profile = [0.0; 2 * WIDEST as usize + 1];
    let profile = &mut profile[..2 * reach as usize + 1];
    for across in across.iter().filter(|across| across.range(reach + 1) <= agree) {
        let four = across.four(reach + 1);
        for (value, off) in profile.iter_mut().zip(-reach..=reach) {
            *value += f64::from(size(across.adds(off, four)));
        }
    }
    let floor = profile[0].min(profile[2 * reach as usize]);
    profile.iter_mut().for_each(|value| *value = (*value - floor).max(0.0));
    let peak = profile.iter().copied().fold(0.0, f64::max);
    let sum: f64 = profile.iter().sum();
    if peak <= 0.0 || floor > 0.35 * (peak + floor) {
        return None;
    }
    // The width of a bar of the same sum and height.
    let width = sum / peak / (1.0 + slope * slope).sqrt();
    let edge = |half: i64| profile[(reach + half) as usize].max(profile[(reach - half) as usize]);
    let half = (1..reach).find(|half| edge(half + 1) <= 0.04 * peak).unwrap_or(reach);
    (width <= 3.8).then_some((half, width))
}
