//! A line along the tile's border, seen from inside only: art that ends in blocks or stripes on the border has another color
//! on the other side.
//!
//! Takes pixels, yields the same samples as a line inside. Knows no papers.

use super::course::{Course, Sample, median};
use super::ridges::View;
use super::trace::Stretch;

/// The most places looked at.
const MOST_SAMPLES: i64 = 1600;

/// Colors inside that differ by up to this many levels are one.
const AGREE: i64 = 4;

/// The least median that is worth more looking, in levels summed over three channels.
const WORTH: f64 = 4.0;

/// Lines inside that are looked at as if the border were there: what the art does at any of them is no line of the border's.
const INSIDE: std::ops::RangeInclusive<i64> = 4..=64;

/// Both borders along a scan, each as a line of one to three pixels if anything stands out there.
#[must_use]
pub fn borders(view: View) -> Vec<Course> {
    [false, true].into_iter().filter_map(|far| (1..=3).find_map(|width| border(view, far, width))).collect()
}

/// A border line of a width, `far` at the end of the scanned lines: `None` when nothing stands out or it is wider.
fn border(view: View, far: bool, width: i64) -> Option<Course> {
    let stride = (view.along / MOST_SAMPLES + 1) as usize;
    let at = |off: i64| if far { view.across - 1 - off } else { off };
    let sampled = |start: i64, stride: usize| -> (Vec<Sample>, usize) {
        let along = (0..view.along).step_by(stride);
        let count = along.clone().count();
        (along.filter_map(|along| sample(view, along, &|off| at(start + off), width)).collect(), count)
    };
    let (samples, places) = sampled(0, stride);
    let size = |samples: &[Sample]| median(samples.iter().map(|s| s.sum.iter().map(|v| v.abs()).sum()).collect());
    let strength = size(&samples);
    if strength < WORTH {
        return None;
    }
    let (quiet, quiet_places) = sampled(8, stride);
    let share = |count: usize, of: usize| count as f64 / of.max(1) as f64;
    // The pixel next to the line belongs to it when it still stands out from those further in.
    let beyond: Vec<Sample> =
        (0..view.along).step_by(stride).filter_map(|along| sample(view, along, &|off| at(width + off), 1)).collect();
    if size(&beyond) > 0.1 * strength + 2.0 {
        return None;
    }
    // Where at least half as many places agree as at the border.
    let often = |(inside, _): &(Vec<Sample>, usize)| inside.len() * 8 >= samples.len();
    let inside = INSIDE.take_while(|start| start + width + 3 < view.across).map(|start| sampled(start, 4 * stride));
    let noise = inside.filter(often).map(|(inside, _)| size(&inside)).fold(size(&quiet), f64::max);
    let middle = (at(0) + at(width - 1)) as f64 / 2.0;
    Some(Course {
        stretch: Stretch { from: 0, to: view.along, at: middle, slope: 0.0 },
        half: width / 2,
        width: width as f64,
        wobble: 0.0,
        agreeing: share(samples.len(), places),
        agreeing_beside: share(quiet.len(), quiet_places),
        strength,
        noise,
        samples,
    })
}

fn sample(view: View, along: i64, at: &impl Fn(i64) -> i64, width: i64) -> Option<Sample> {
    let pixel = |off: i64| {
        let [r, g, b, a] = view.inside(along, at(off));
        (a == 255).then(|| [r, g, b].map(f64::from))
    };
    let [a, b, c, d] = [pixel(width)?, pixel(width + 1)?, pixel(width + 2)?, pixel(width + 3)?];
    let near = |p: [f64; 3], q: [f64; 3]| p.iter().zip(q).all(|(p, q)| (p - q).abs() <= AGREE as f64);
    if !near(a, b) || !near(a, c) {
        return None;
    }
    let half = |p: [f64; 3], q: [f64; 3]| -> [f64; 3] { std::array::from_fn(|i| (p[i] + q[i]) / 2.0) };
    let side = half(a, b);
    let outer = if near(a, d) { half(c, d) } else { c };
    let (mut sum, mut peak) = ([0.0; 3], [0.0; 3]);
    let size = |of: [f64; 3]| of.iter().map(|v| v.abs()).sum::<f64>();
    for off in 0..width {
        let pixel = pixel(off)?;
        let adds: [f64; 3] = std::array::from_fn(|i| pixel[i] - side[i]);
        sum.iter_mut().zip(adds).for_each(|(sum, adds)| *sum += adds);
        if size(adds) > size(peak) {
            peak = adds;
        }
    }
    Some(Sample { along, side, outer, sum, peak })
}
