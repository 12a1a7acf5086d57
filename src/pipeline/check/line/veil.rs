//! The veil test: whether a line is what lay there, seen through, over one paper color.
//!
//! Takes samples along a line, yields what explains them. A see-through line of opacity a merged onto paper p turns the
//! color s into a s + (1 - a) p (the over operator: Porter and Duff, "Compositing Digital Images", SIGGRAPH 1984), so what
//! it adds, summed across its width w, is w (1 - a) (p - s): for all colors beside it and all channels one slope.
//! Ink drawn on top has a = 0; a thread woven in adds the same to every color.

use super::course::{Course, Sample, median};

/// What explains a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Veil {
    /// The color it was merged onto.
    pub paper: [f64; 3],
    /// How much of the paper shows, summed over the line's width, in pixels.
    pub cover: f64,
    /// How much of the paper shows where most does, 0 to 1.
    pub shows: f64,
    /// How many times its own uncertainty the slope is.
    pub certainty: f64,
    /// How far the colors beside it lie apart, in levels of the channel where they do most.
    pub spread: f64,
    /// The median of what is left unexplained, in levels times pixels.
    pub left: f64,
    /// The share of the places that it explains.
    pub share: f64,
}

/// The least distance of side colors, in levels, from which a slope can be told.
pub const SPREAD: f64 = 12.0;

/// How far colors may lie apart, in levels of each channel, to be much the same.
const CELL: i64 = 16;

/// The fewest samples from which anything is concluded.
const LEAST: usize = 16;

/// Fits the veil that explains a line best, whatever its paper; `None` without a slope toward a paper.
#[must_use]
pub fn fitted(course: &Course) -> Option<Veil> {
    let mut now = Fit::of(&groups(&course.samples).iter().map(|(sample, weight)| (sample, *weight)))?;
    let mut kept = Vec::new();
    let mut fit = None;
    for _ in 0..5 {
        let usual = median(course.samples.iter().map(|sample| now.left(sample)).collect());
        let limit = (3.5 * usual).max(3.0);
        kept = course.samples.iter().filter(|sample| now.left(sample) <= limit).collect();
        if kept.len() < LEAST {
            return None;
        }
        now = Fit::of(&kept.iter().map(|sample| (*sample, 1.0)))?;
        fit = Some((now, usual));
    }
    let (fit, left) = fit?;
    let paper: [f64; 3] = std::array::from_fn(|c| fit.start[c] / fit.slope);
    let spread = spread(&kept);
    let certainty = fit.slope / fit.error(&kept, spread);
    let shows = shows(&kept, paper);
    let share = kept.len() as f64 / course.samples.len() as f64;
    Some(Veil { paper, cover: fit.slope, shows, certainty, spread, left, share })
}

/// The veil of a given paper that explains a line best.
#[must_use]
pub fn with_paper(course: &Course, paper: [f64; 3]) -> Option<Veil> {
    let start = groups(&course.samples);
    let mut kept: Vec<(&Sample, f64)> = start.iter().map(|(sample, weight)| (sample, *weight)).collect();
    let (mut cover, mut usual) = (0.0, 0.0);
    for round in 0..4 {
        let (mut yd, mut dd) = (0.0, 0.0);
        for (sample, weight) in &kept {
            for (paper, (side, sum)) in paper.iter().zip(sample.side.iter().zip(sample.sum)) {
                let toward = paper - side;
                yd += weight * sum * toward;
                dd += weight * toward * toward;
            }
        }
        if dd <= 0.0 || (round > 0 && kept.len() < LEAST) {
            return None;
        }
        cover = yd / dd;
        let left_of = |sample: &Sample| {
            (0..3).map(|c| (sample.sum[c] - cover * (paper[c] - sample.side[c])).abs()).fold(0.0, f64::max)
        };
        usual = median(course.samples.iter().map(left_of).collect());
        let limit = (3.5 * usual).max(3.0);
        kept = course.samples.iter().filter(|sample| left_of(sample) <= limit).map(|sample| (sample, 1.0)).collect();
    }
    let kept: Vec<&Sample> = kept.into_iter().map(|(sample, _)| sample).collect();
    let spread = spread(&kept);
    let share = kept.len() as f64 / course.samples.len() as f64;
    Some(Veil { paper, cover, shows: shows(&kept, paper), certainty: 0.0, spread, left: usual, share })
}

/// Samples beside which the color is much the same, as their medians and their number: places where something else runs
/// through the line are few among them and leave the medians alone.
fn groups(samples: &[Sample]) -> Vec<(Sample, f64)> {
    let key = |sample: &Sample| sample.outer.map(|v| v as i64 / CELL);
    let mut sorted: Vec<&Sample> = samples.iter().collect();
    sorted.sort_by_key(|sample| key(sample));
    let mut groups = Vec::new();
    for group in sorted.chunk_by(|a, b| key(a) == key(b)).filter(|group| group.len() >= 3) {
        let middle = |of: &dyn Fn(&Sample) -> [f64; 3]| -> [f64; 3] {
            std::array::from_fn(|c| median(group.iter().map(|sample| of(sample)[c]).collect()))
        };
        let sample = Sample {
            along: group[0].along,
            side: middle(&|s| s.side),
            outer: middle(&|s| s.outer),
            sum: middle(&|s| s.sum),
            peak: middle(&|s| s.peak),
        };
        groups.push((sample, group.len() as f64));
    }
    groups
}

/// One slope for three channels, each with a start of its own.
#[derive(Clone, Copy)]
struct Fit {
    slope: f64,
    start: [f64; 3],
    /// Sums of products of the outer color with itself and with the side color, about their means.
    outer_outer: f64,
    outer_side: f64,
}

impl Fit {
    /// The outer color stands in for the side color where errors matter, since noise in a side enters the sum as well and
    /// would pass for a slope (an instrumental variable: Wright, "The Tariff on Animal and Vegetable Oils", 1928, app. B).
    fn of<'a>(samples: &(impl Iterator<Item = (&'a Sample, f64)> + Clone)) -> Option<Self> {
        let n: f64 = samples.clone().map(|(_, weight)| weight).sum();
        let mean = |of: fn(&Sample) -> [f64; 3]| {
            let mut sum = [0.0; 3];
            for (sample, weight) in samples.clone() {
                sum.iter_mut().zip(of(sample)).for_each(|(sum, v)| *sum += weight * v);
            }
            sum.map(|v| v / n)
        };
        let (side, outer, sum) = (mean(|s| s.side), mean(|s| s.outer), mean(|s| s.sum));
        let (mut outer_outer, mut outer_side, mut outer_sum) = (0.0, 0.0, 0.0);
        for (sample, weight) in samples.clone() {
            for c in 0..3 {
                let off = weight * (sample.outer[c] - outer[c]);
                outer_outer += off * (sample.outer[c] - outer[c]);
                outer_side += off * (sample.side[c] - side[c]);
                outer_sum += off * (sample.sum[c] - sum[c]);
            }
        }
        let slope = -outer_sum / outer_side;
        let start = std::array::from_fn(|c| sum[c] + slope * side[c]);
        (outer_side > 0.0 && slope > 0.0).then_some(Self { slope, start, outer_outer, outer_side })
    }

    /// The most that a sample leaves unexplained in any channel.
    fn left(&self, sample: &Sample) -> f64 {
        (0..3).map(|c| (sample.sum[c] - self.start[c] + self.slope * sample.side[c]).abs()).fold(0.0, f64::max)
    }

    /// The standard error of the slope: of scatter, and of rounding, which errs alike wherever colors are alike.
    fn error(&self, samples: &[&Sample], spread: f64) -> f64 {
        let mut squares = 0.0;
        for sample in samples {
            for c in 0..3 {
                squares += (sample.sum[c] - self.start[c] + self.slope * sample.side[c]).powi(2);
            }
        }
        let variance = squares / (3.0 * samples.len() as f64);
        // Neighbors along a line see much the same art: a third of them counts.
        let scatter = 3.0 * variance * self.outer_outer / (self.outer_side * self.outer_side);
        (scatter + (1.0 / spread.max(1.0)).powi(2)).sqrt()
    }
}

/// How far the side colors lie apart, in the channel where they do most; a color counts from so many places on.
fn spread(samples: &[&Sample]) -> f64 {
    let enough = (samples.len() / 50).max(8);
    (0..3)
        .map(|c| {
            let mut values: Vec<f64> = samples.iter().map(|sample| (sample.side[c] + sample.outer[c]) / 2.0).collect();
            if values.len() <= 2 * enough {
                return 0.0;
            }
            let high = values.len() - enough;
            let (below, high, _) = values.select_nth_unstable_by(high, f64::total_cmp);
            *high - *below.select_nth_unstable_by(enough - 1, f64::total_cmp).1
        })
        .fold(0.0, f64::max)
}

/// How much of the paper shows in the pixel that shows most, in the upper tenth of the places.
fn shows(samples: &[&Sample], paper: [f64; 3]) -> f64 {
    let mut shares: Vec<f64> = samples
        .iter()
        .filter_map(|sample| {
            let toward: [f64; 3] = std::array::from_fn(|c| paper[c] - sample.side[c]);
            let length: f64 = toward.iter().map(|v| v * v).sum();
            let along: f64 = toward.iter().zip(sample.peak).map(|(t, p)| t * p).sum();
            (length >= 900.0).then(|| along / length)
        })
        .collect();
    let upper = shares.len() * 9 / 10;
    if shares.is_empty() { 1.0 } else { *shares.select_nth_unstable_by(upper, f64::total_cmp).1 }
}
