//! The course of the art: what a line would be, a few lines beyond those that are known.
//!
//! Takes two lines that follow each other and carries everything on them on along its own slant. Compares with the lines
//! that do follow, at any distance and any shift. Knows no limits.

use super::line::Line;

/// The slant at a place is that of what lies this many pixels around it.
const AROUND: usize = 3;

/// No art is followed that moves further than this many pixels aside from line to line.
const STEEPEST: f32 = 6.0;

/// How far a pixel may be off and still count more, in levels: beyond, it is off.
const MOST_OFF: f32 = 96.0;

/// An edge is looked for with this many pixels on each side of it.
const WINDOW: usize = 4;

/// An edge that can be found again changes by this many levels over two pixels.
const CLEAR: f32 = 8.0;

/// Edges that move less than this many pixels a line aside tell nothing of the number of lines.
const SLIGHTEST: f32 = 0.2;

/// Edges that move further lie along the lines rather than across them.
const STEEP: f32 = 3.0;

/// The most lines an edge is followed over.
const MOST_ADVANCE: f32 = 14.0;

/// Fewer edges than this tell nothing.
const LEAST_VOTES: usize = 5;

/// A line in floating point, channel by channel.
type Guess = Vec<Vec<f32>>;

/// The lines around a joint, from two before to two after it, with the slant on each side.
pub(super) struct Course {
    near: Guess,
    far: Guess,
    /// Pixels to the right for each line on, before the joint and after it.
    slants: [Vec<f32>; 2],
}

impl Course {
    /// From the last two lines before a gap and the first two after it.
    pub(super) fn new([before, near, far, after]: [&Line; 4]) -> Self {
        let (before, near, far, after) = (soft(before), soft(near), soft(far), soft(after));
        let slants = [slant(&before, &near), slant(&far, &after)];
        Self { near, far, slants }
    }

    /// How far the lines are off, in levels, if the art advances by `lines` and comes back `aside` pixels to the right:
    /// carried on from one side and back from the other.
    pub(super) fn off(&self, lines: f32, aside: isize) -> f32 {
        let [before, after] = &self.slants;
        let ahead = distance(&self.near, before, lines, &self.far, aside);
        let back = distance(&self.far, after, -lines, &self.near, -aside);
        (ahead + back) / 2.0
    }
}

impl Course {
    /// How many lines the art advances between the known ones, by the median of the edges that can be found again on the
    /// other side with the same slant, and the share of them that agree; `None` where too few can.
    pub(super) fn advance(&self) -> Option<(f32, f32)> {
        let mut votes = Vec::new();
        for channel in 0..self.near.len() {
            let near = &self.near[channel];
            let change = |at: usize| (near[at + 1] - near[at - 1]).abs();
            for at in WINDOW..near.len().saturating_sub(WINDOW) {
                let own = change(at);
                let peak = own >= CLEAR && own >= change(at - 1) && own > change(at + 1);
                if let Some(vote) = peak.then(|| self.vote(channel, at)).flatten() {
                    votes.push(vote);
                }
            }
        }
        if votes.len() < LEAST_VOTES {
            return None;
        }
        votes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let weight = |votes: &[(f32, f32)]| votes.iter().map(|(_, weight)| f64::from(*weight)).sum::<f64>();
        let total = weight(&votes);
        let mut below = 0.0;
        let median = votes.iter().find(|(_, weight)| {
            below += f64::from(*weight);
            below >= total / 2.0
        })?;
        let (lines, reach) = (median.0, 0.5 + 0.15 * median.0.abs());
        let agree: Vec<(f32, f32)> = votes.iter().copied().filter(|(vote, _)| (vote - lines).abs() <= reach).collect();
        Some((lines, (weight(&agree) / total) as f32))
    }

    /// How many lines one edge says the art advances, and how much that weighs.
    fn vote(&self, channel: usize, at: usize) -> Option<(f32, f32)> {
        let (near, far) = (&self.near[channel], &self.far[channel]);
        let slant = self.slants[0][at];
        if !(SLIGHTEST..=STEEP).contains(&slant.abs()) {
            return None;
        }
        let off = |by: isize| -> Option<f32> {
            let from = (at as isize + by).checked_sub(WINDOW as isize)?;
            let other = far.get(usize::try_from(from).ok()?..)?.get(..2 * WINDOW + 1)?;
            Some(near[at - WINDOW..=at + WINDOW].iter().zip(other).map(|(a, b)| (a - b).abs()).sum())
        };
        let reach = (MOST_ADVANCE * slant.abs()).ceil() as isize + 1;
        let offs = (-reach..=reach).filter_map(|by| Some((by, off(by)?)));
        let (by, least) = offs.min_by(|a, b| a.1.total_cmp(&b.1))?;
        // Between pixels: the vertex of the parabola through the three least.
        let (before, after) = (off(by - 1)?, off(by + 1)?);
        let bend = before + after - 2.0 * least;
        let moved = by as f32 + if bend > 0.0 { (before - after) / (2.0 * bend) } else { 0.0 };
        let found = usize::try_from(at as isize + by).ok()?;
        let beyond = *self.slants[1].get(found)?;
        let same = (beyond - slant).abs() <= 0.3 + 0.3 * slant.abs();
        let mean = (slant + beyond) / 2.0;
        (same && mean.abs() >= SLIGHTEST).then(|| (moved / mean, mean.abs()))
    }
}

/// A line lightly blurred along itself.
fn soft(line: &Line) -> Guess {
    line.channels
        .iter()
        .map(|channel| {
            let value = |at: usize| f32::from(channel[at]);
            let last = channel.len().saturating_sub(1);
            (0..channel.len())
                .map(|at| (value(at.saturating_sub(1)) + 2.0 * value(at) + value((at + 1).min(last))) / 4.0)
                .collect()
        })
        .collect()
}

/// How many pixels to the right the art moves from one line to the next, place by place: least squares over a window.
fn slant(from: &Guess, to: &Guess) -> Vec<f32> {
    let length = from.first().map_or(0, Vec::len);
    let (mut moved, mut along) = (vec![0.0f32; length], vec![0.0f32; length]);
    for (from, to) in from.iter().zip(to) {
        for at in 1..length.saturating_sub(1) {
            let change = (from[at + 1] - from[at - 1] + to[at + 1] - to[at - 1]) / 4.0;
            moved[at] -= (to[at] - from[at]) * change;
            along[at] += change * change;
        }
    }
    let around = |values: &[f32], at: usize| {
        values[at.saturating_sub(AROUND)..(at + AROUND + 1).min(length)].iter().sum::<f32>()
    };
    (0..length).map(|at| (around(&moved, at) / (around(&along, at) + 1.0)).clamp(-STEEPEST, STEEPEST)).collect()
}

/// The mean difference between a line carried on by `lines` along its slant and another read `aside` pixels further right.
fn distance(line: &Guess, slant: &[f32], lines: f32, other: &Guess, aside: isize) -> f32 {
    let length = slant.len() as isize;
    let (mut sum, mut count) = (0.0f64, 0u32);
    for (line, other) in line.iter().zip(other) {
        for at in aside.max(-aside)..length - aside.abs() {
            let from = at as f32 - lines * slant[at as usize];
            let whole = from.floor();
            let part = from - whole;
            let read = |place: isize| line[place.clamp(0, length - 1) as usize];
            let carried = read(whole as isize) * (1.0 - part) + read(whole as isize + 1) * part;
            sum += f64::from((carried - other[(at + aside) as usize]).abs().min(MOST_OFF));
            count += 1;
        }
    }
    (sum / f64::from(count.max(1))) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(number: f32, aside: f32) -> Line {
        let values = (0..400).map(|x| {
            let mut value = 100.0f32;
            for edge in 0..15 {
                let place = 10.0 + 26.0 * edge as f32 + 0.3 * number * ((edge * 5 % 7) as f32 - 3.0) + aside;
                let sign = if edge % 2 == 0 { 50.0 } else { -50.0 };
                value += sign * ((x as f32 - place) / 2.0 + 0.5).clamp(0.0, 1.0);
            }
            value.round() as u8
        });
        Line { channels: vec![values.collect()] }
    }

    #[test]
    fn the_true_distance_and_shift_are_least_off() {
        for lines in [1i32, 3, 6] {
            let course = Course::new([
                &line(-1.0, 0.0),
                &line(0.0, 0.0),
                &line(lines as f32, 0.0),
                &line(lines as f32 + 1.0, 0.0),
            ]);
            let best = (-3..10).min_by(|a, b| course.off(*a as f32, 0).total_cmp(&course.off(*b as f32, 0)));
            assert_eq!(best, Some(lines));
        }
        for aside in [-9i32, -1, 2, 5] {
            let a = aside as f32;
            let course = Course::new([&line(-1.0, 0.0), &line(0.0, 0.0), &line(1.0, a), &line(2.0, a)]);
            let best = (-20..20).min_by(|a, b| course.off(1.0, *a).total_cmp(&course.off(1.0, *b)));
            assert_eq!(best, Some(aside as isize));
        }
    }
}
