//! Drift: light or tint that steps evenly along a joint, as a scan, a photograph or a gradient layer leaves it.
//!
//! Takes the four lines around a joint, or blocks of lines there; yields how far light steps, in levels, in CIEDE2000 and,
//! where the step grows with brightness, in percent.

use super::line::Line;
use crate::pixel::difference::ciede2000_between;

/// A drift below this color difference (CIEDE2000) is told and not held: two just noticeable differences.
pub(super) const HELD_FROM: f64 = 2.0;

/// At most this share of the places may step the other way.
const OTHER_WAY: f64 = 0.1;

/// At least this share of the places must step at all.
const SAME_WAY: f64 = 0.6;

/// At least this share must step by a third of the median to three times it: an even step.
const EVEN: f64 = 0.7;

/// The step grows with brightness when that leaves less than this share of what an equal step leaves.
const CLEARLY_LESS: f64 = 0.7;

/// A pixel is quiet if it changes by no more than this many levels before the joint and after it.
const QUIET: u8 = 2;

/// So many quiet pixels are enough.
const LEAST_QUIET: usize = 24;

/// If they are at least one of so many that count.
const QUIET_PART: usize = 8;

/// A step beyond this color difference (CIEDE2000) is a cut: no scan or gradient leaves as much between two edges.
const MOST_DIFFERENCE: f64 = 12.0;
/// Colors along the joint whose differences are averaged.
const PROBES: usize = 192;

/// An even step of light or tint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Drift {
    /// The step from the edge before the joint to the one after it, in levels, in every channel of the view.
    pub(super) levels: [f64; 4],
    /// The mean color difference along the joint, CIEDE2000, rounded to hundredths so that every machine compares alike.
    pub(super) difference: f64,
    /// By how many percent the edge after the joint is lighter, where the step grows with brightness.
    pub(super) percent: Option<f64>,
}

impl Drift {
    /// The largest step over the channels.
    pub(super) fn largest(&self) -> f64 {
        self.levels.iter().map(|step| step.abs()).fold(0.0, f64::max)
    }

    /// `line` without the step: as it would be if light did not drift.
    pub(super) fn undone(&self, line: &Line) -> Line {
        let back = |value: u8, step: f64| {
            let value = f64::from(value);
            let moved = match self.percent {
                Some(percent) => value / (1.0 + percent / 100.0),
                None => value - step,
            };
            (moved + 0.5).clamp(0.0, 255.0) as u8
        };
        let channels = line.channels.iter().zip(self.levels);
        Line {
            channels: channels
                .map(|(channel, step)| channel.iter().map(|value| back(*value, step)).collect())
                .collect(),
        }
    }
}

/// The places along a joint: what each of the four lines, or blocks of lines, holds there, channel by channel.
pub(super) struct Places {
    /// `[channel][place]`, the four values across the joint.
    pub(super) across: Vec<Vec<[f64; 4]>>,
}

impl Places {
    /// Every counted pixel is a place; where enough of the joint is quiet, every quiet pixel: edges that cross would
    /// drown the step.
    pub(super) fn pixels(lines: [&Line; 4], counted: Option<&[u8]>) -> Self {
        let [before, near, far, after] = lines.map(|line| &line.channels);
        let length = near.first().map_or(0, Vec::len);
        let counts = |at: &usize| counted.and_then(|counted| counted.get(*at)).is_none_or(|counted| *counted != 0);
        let still = |at: &usize| {
            let same = |a: &[Vec<u8>], b: &[Vec<u8>]| a.iter().zip(b).all(|(a, b)| a[*at].abs_diff(b[*at]) <= QUIET);
            same(before, near) && same(far, after)
        };
        let all: Vec<usize> = (0..length).filter(counts).collect();
        let quiet: Vec<usize> = all.iter().copied().filter(still).collect();
        let enough = quiet.len() >= LEAST_QUIET && quiet.len() * QUIET_PART >= all.len();
        let places = if enough { quiet } else { all };
        let channel = |number: usize| {
            let value = |line: &[Vec<u8>], at: usize| f64::from(line[number][at]);
            places.iter().map(|at| [before, near, far, after].map(|line| value(line, *at))).collect()
        };
        Self { across: (0..near.len()).map(channel).collect() }
    }

    /// `count` stretches of blocks of lines: the means of each, the blocks from before the joint to after it.
    pub(super) fn stretches(blocks: [&[Line]; 4], count: usize) -> Self {
        let Some(first) = blocks[0].first() else { return Self { across: Vec::new() } };
        let length = first.channels.first().map_or(0, Vec::len);
        let mean = |block: &[Line], channel: usize, place: usize| {
            let range = place * length / count..(place + 1) * length / count;
            let sum: u64 = block
                .iter()
                .flat_map(|line| &line.channels[channel][range.clone()])
                .map(|value| u64::from(*value))
                .sum();
            sum as f64 / (range.len() * block.len()).max(1) as f64
        };
        let channel = |number: usize| {
            (0..count).map(|place| blocks.map(|block| mean(block, number, place))).collect::<Vec<[f64; 4]>>()
        };
        Self { across: (0..first.channels.len()).map(channel).collect() }
    }

    /// The drift over the places; `None` where light does not step evenly in one direction.
    pub(super) fn drift(&self) -> Option<Drift> {
        let steps: Vec<Vec<f64>> = self
            .across
            .iter()
            .map(|places| places.iter().map(|[a, b, c, d]| (3.0 * (c - b) + a - d) / 2.0).collect())
            .collect();
        let mut levels = [0.0; 4];
        for (level, steps) in levels.iter_mut().zip(&steps) {
            *level = median(steps);
        }
        let largest = (0..steps.len().min(4)).max_by(|a, b| levels[*a].abs().total_cmp(&levels[*b].abs()))?;
        let (step, of) = (levels[largest], &steps[largest]);
        if step.abs() < 0.5 {
            return None;
        }
        let share = |holds: &dyn Fn(f64) -> bool| {
            of.iter().filter(|value| holds(**value / step)).count() as f64 / of.len().max(1) as f64
        };
        let even = share(&|part| part < -0.34) <= OTHER_WAY
            && share(&|part| part > 0.0) >= SAME_WAY
            && share(&|part| (0.33..=3.0).contains(&part)) >= EVEN;
        if !even {
            return None;
        }
        let percent = self.percent(&steps, &levels);
        let difference = self.difference(&levels, percent);
        (difference <= MOST_DIFFERENCE).then_some(Drift { levels, difference, percent })
    }

    /// The part of its brightness by which light steps, in percent, if steps follow brightness better than they are equal.
    fn percent(&self, steps: &[Vec<f64>], levels: &[f64; 4]) -> Option<f64> {
        let (mut products, mut squares) = (0.0, 0.0);
        let usable = || {
            self.across.iter().zip(steps).zip(levels).flat_map(|((places, steps), level)| {
                let near = |step: &f64| step.abs() <= 4.0 * level.abs().max(0.5);
                places
                    .iter()
                    .zip(steps)
                    .filter(move |(_, step)| near(step))
                    .map(move |(place, step)| ((place[1] + place[2]) / 2.0, *step, *level))
            })
        };
        for (light, step, _) in usable() {
            products += light * step;
            squares += light * light;
        }
        let part = if squares > 0.0 { products / squares } else { return None };
        let (mut following, mut equal) = (0.0, 0.0);
        for (light, step, level) in usable() {
            following += (step - part * light) * (step - part * light);
            equal += (step - level) * (step - level);
        }
        // From the mean of both edges to the edge before the joint.
        let percent = 100.0 * part / (1.0 - part / 2.0);
        (following < CLEARLY_LESS * equal).then_some((percent * 100.0).round() / 100.0)
    }

    /// The mean CIEDE2000 difference (CIE 142:2001) between the colors before the joint and the same after the step.
    fn difference(&self, levels: &[f64; 4], percent: Option<f64>) -> f64 {
        let count = self.across.first().map_or(0, Vec::len);
        let stride = count.div_ceil(PROBES).max(1);
        let (mut sum, mut number) = (0.0, 0.0);
        for place in (0..count).step_by(stride) {
            let mut colors = [[0.0; 4]; 2];
            for (channel, places) in self.across.iter().enumerate().take(4) {
                let value = places[place][1];
                let stepped = percent.map_or(value + levels[channel], |percent| value * (1.0 + percent / 100.0));
                colors[0][channel] = value;
                colors[1][channel] = stepped;
            }
            let [before, after] = colors.map(|color| self.color(color));
            sum += ciede2000_between(before, after);
            number += 1.0;
        }
        (100.0 * sum / f64::max(number, 1.0)).round() / 100.0
    }

    /// The color of channels of a view; premultiplied color lies on white.
    fn color(&self, channels: [f64; 4]) -> [f64; 3] {
        match self.across.len() {
            1 => [channels[0]; 3],
            2 => [channels[0] + 255.0 - channels[1]; 3],
            3 => [channels[0], channels[1], channels[2]],
            _ => [0, 1, 2].map(|channel| channels[channel] + 255.0 - channels[3]),
        }
    }
}

fn median(values: &[f64]) -> f64 {
    let mut values = values.to_vec();
    values.sort_unstable_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(step: impl Fn(usize, f64) -> f64) -> Places {
        let light = |place: usize| 40.0 + 1.5 * (place % 100) as f64;
        let channel = |_| {
            (0..200)
                .map(|place| {
                    let near = light(place);
                    let far = near + step(place, near);
                    [near, near, far, far]
                })
                .collect()
        };
        Places { across: (0..3).map(channel).collect() }
    }

    #[test]
    fn an_even_step_is_drift_and_others_are_none() {
        let even = places(|_, _| 4.0).drift().unwrap();
        assert_eq!((even.levels[..3].to_vec(), even.percent), (vec![4.0; 3], None));
        let lighter = places(|_, light| 0.05 * light).drift().unwrap();
        assert!((lighter.percent.unwrap() - 5.0).abs() < 0.2, "{lighter:?}");
        assert_eq!(places(|_, _| 0.0).drift(), None);
        assert_eq!(places(|place, _| if place % 5 == 0 { -6.0 } else { 4.0 }).drift(), None, "a fifth the other way");
        assert_eq!(places(|place, _| if place < 120 { 4.0 } else { 0.0 }).drift(), None, "part of the joint");
        assert_eq!(places(|place, _| ((place * 37 % 200) as f64).powi(2) / 400.0).drift(), None, "uneven");
    }

    #[test]
    fn the_difference_is_that_of_the_colors() {
        // From gray 119 (L* 50.03) four levels up: CIEDE2000 by the formula with S_L = 1 at L* 50 is the step in L*.
        let flat = Places { across: vec![vec![[119.0, 119.0, 123.0, 123.0]; 50]; 3] };
        let lightness = |gray: f64| {
            let linear = ((gray / 255.0 + 0.055) / 1.055).powf(2.4);
            116.0 * linear.cbrt() - 16.0
        };
        let drift = flat.drift().unwrap();
        assert!((drift.difference - (lightness(123.0) - lightness(119.0))).abs() < 0.03, "{drift:?}");
        let line = Line { channels: vec![vec![123; 5]; 3] };
        assert_eq!(drift.undone(&line).channels[0], [119; 5]);
    }
}
