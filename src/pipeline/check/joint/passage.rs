//! Passages: which contours go on over a pair of lines, which end there, and whether many go on equally far aside.
//!
//! Takes the edges of the lines around a pair. Where art goes on, contours that arrive at a pair from both sides meet;
//! where it was cut, they end all on one line. Knows nothing of limits.

use super::contour::{Arrival, Contours, KNOWN, PARTS_OF_PIXEL, edges};
use super::crossing::Soft;
use super::line::{Axis, View, rolled};
use super::tally::Cells;
use crate::tile::Raster;

/// Lines on each side of a pair that tell the course of what arrives there.
pub(super) const DEEP: usize = KNOWN + 1;

/// A contour goes on where an edge lies within this distance of its course on the next line.
const GOES_ON: i32 = 112;

/// Two contours meet halfway within this distance.
const MEETS: i32 = 32;

/// How far aside contours are looked for.
const FURTHEST: i32 = 10 * PARTS_OF_PIXEL;

/// Bins of a vote for a distance aside, in parts of a pixel.
const BIN: i32 = 16;
const BINS: usize = (2 * FURTHEST / BIN) as usize + 1;

/// Votes within this many bins agree.
const AGREE: usize = 1;

/// Votes nearer than this many bins are for no distance.
const STRAIGHT: usize = 3;

/// Standard deviations of chance that votes for a distance must exceed.
const CHANCE: f64 = 3.0;

/// The parts of a pair over which ends are counted.
pub(super) const PARTS: [usize; 4] = [1, 3, 12, 24];

/// What passes a pair of lines.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Passage {
    /// The most contours that end there over each of [`PARTS`].
    pub(super) ends: [f64; PARTS.len()],
    /// How many contours pass, and how few over a third.
    pub(super) pass: [f64; 2],
    /// How many more contours go on equally far aside than straight, beyond what chance does.
    pub(super) aside: f64,
    /// How far aside they go, in pixels.
    pub(super) distance: f64,
}

/// The value of two contours fewer than pass at `few`, a value of the kind that [`Passage::values`] gives for them; beyond every
/// value where not even two pass.
pub(super) fn two_fewer(few: f64) -> f64 {
    let pass = few.recip() - 2.0;
    if pass > 0.0 { pass.recip() } else { f64::INFINITY }
}

impl Passage {
    /// In the order of `Statistic::OF_CONTOURS`.
    pub(super) fn values(&self) -> [f64; 7] {
        let [whole, third, twelfth, twenty_fourth] = self.ends;
        let [few, few_over_third] = self.pass.map(|pass| 1.0 / (pass + 2.0));
        [whole, third, twelfth, twenty_fourth, few, few_over_third, self.aside.max(0.0)]
    }

    /// What passes the joint of an axis, with the copy moved along it by `moved` pixels; nothing in a tile of too few lines.
    pub(super) fn at_joint(view: View, raster: &Raster, axis: Axis, moved: usize) -> Option<Self> {
        let lines = axis.lines(raster);
        if lines < 2 * DEEP {
            return None;
        }
        let last = view.strip(raster, axis, lines - DEEP, DEEP).into_iter().map(|line| (line, 0));
        let first = view.strip(raster, axis, 0, DEEP).into_iter().map(|line| (line, moved));
        let soft: Vec<Soft> = last
            .chain(first)
            .map(|((line, counted), moved)| {
                Soft::new(&line.rolled(moved), counted.map(|counted| rolled(&counted, moved)).as_deref())
            })
            .collect();
        Some(Band::new(&soft).passage(DEEP - 1, &soft))
    }
}

/// The lines of a band, with their edges.
pub(super) struct Band {
    cells: Cells,
    length: usize,
    places: Vec<Vec<i32>>,
    down: Contours,
    /// From the last line up.
    up: Contours,
}

impl Band {
    /// Of lines in order.
    pub(super) fn new(lines: &[Soft]) -> Self {
        let length = lines.first().and_then(|line| line.channels.first()).map_or(0, Vec::len);
        let places: Vec<Vec<i32>> = lines.iter().map(edges).collect();
        let (down, up) = (Contours::followed(places.iter()), Contours::followed(places.iter().rev()));
        Self { cells: Cells::new(length), length, places, down, up }
    }

    /// What passes between line `line` and the next; [`DEEP`] lines lie on each side.
    pub(super) fn passage(&self, line: usize, lines: &[Soft]) -> Passage {
        let from_before: Vec<Arrival> = self.down.arrivals(line).collect();
        let from_after: Vec<Arrival> = self.up.arrivals(self.places.len() - 2 - line).collect();
        let mut ends = vec![0u32; self.cells.count()];
        for (arrivals, next) in [(&from_before, line + 1), (&from_after, line)] {
            for arrival in arrivals {
                // What lies further on, on the two lines beyond the pair.
                let further = if next > line { next + 1 } else { next.wrapping_sub(1) };
                let step = arrival.next - arrival.here;
                let near = |line: usize, at: i32| {
                    self.places.get(line).is_some_and(|places| {
                        let first = places.partition_point(|place| *place < at - GOES_ON);
                        places.get(first).is_some_and(|place| *place <= at + GOES_ON)
                    })
                };
                let goes_on = near(next, arrival.next) || near(further, arrival.next + step);
                let at = (arrival.next / PARTS_OF_PIXEL) as usize;
                let seen = (2 * DEEP..self.length.saturating_sub(2 * DEEP)).contains(&at) && lines[next].counts(at);
                if !goes_on && seen {
                    ends[self.cells.of(at)] += 1;
                }
            }
        }
        let mut pass = vec![0u32; self.cells.count()];
        let mut votes = vec![0u32; BINS];
        let mut first = 0;
        for before in &from_before {
            while from_after.get(first).is_some_and(|after| after.halfway < before.halfway - FURTHEST) {
                first += 1;
            }
            let mut meets = false;
            for after in &from_after[first..] {
                let aside = after.halfway - before.halfway;
                if aside > FURTHEST {
                    break;
                }
                meets |= aside.abs() <= MEETS;
                votes[((aside + FURTHEST + BIN / 2) / BIN) as usize % BINS] += 1;
            }
            if meets {
                let at = (before.halfway / PARTS_OF_PIXEL).max(0) as usize;
                pass[self.cells.of(at.min(self.length - 1))] += 1;
            }
        }
        let (aside, bin) = aside(&votes);
        Passage {
            ends: PARTS.map(|part| over(&ends, part).1),
            pass: [over(&pass, 1).0, over(&pass, 3).0],
            aside,
            distance: f64::from(bin as i32 * BIN - FURTHEST) / f64::from(PARTS_OF_PIXEL),
        }
    }
}

/// The least and the largest sum over 1/`part` of the cells, around the end.
pub(super) fn over(cells: &[u32], part: usize) -> (f64, f64) {
    let (count, width) = (cells.len(), (cells.len() / part).max(1));
    let mut sum: u32 = cells[..width].iter().sum();
    let (mut least, mut most) = (sum, sum);
    if part > 1 {
        let entering = cells[width..].iter().chain(cells);
        for (leaves, enters) in cells[..count].iter().zip(entering) {
            sum = sum + enters - leaves;
            (least, most) = (least.min(sum), most.max(sum));
        }
    }
    (f64::from(least), f64::from(most))
}

/// How many more votes agree on a distance than go straight, beyond what chance does, and the bin of that distance.
///
/// Where hardly a contour goes on, straight or aside, votes fall anywhere, m to a distance in the mean. Of as many distances as
/// there are, one has about 3 sqrt(m) more by chance: three standard deviations of a Poisson distribution.
fn aside(votes: &[u32]) -> (f64, usize) {
    let middle = votes.len() / 2;
    let around = |bin: usize, reach: usize| -> u32 {
        votes[bin.saturating_sub(reach)..(bin + reach + 1).min(votes.len())].iter().sum()
    };
    let best = (0..votes.len())
        .filter(|bin| bin.abs_diff(middle) >= STRAIGHT)
        .max_by_key(|bin| (around(*bin, AGREE), votes[*bin]));
    let bin = best.unwrap_or(middle);
    let all: u32 = votes.iter().sum();
    let usual = f64::from(all) * (2 * AGREE + 1) as f64 / votes.len().max(1) as f64;
    (f64::from(around(bin, AGREE)) - f64::from(around(middle, AGREE)) - CHANCE * usual.sqrt(), bin)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::check::joint::line::Line;

    /// Ten lines of upright and slanted edges; those after the fifth lie `aside` pixels further right, and only the first
    /// `kept` of the edges are on them.
    fn lines(aside: f32, kept: usize) -> Vec<Soft> {
        (0..10)
            .map(|line| {
                let (moved, edges) = if line < DEEP { (0.0, 18) } else { (aside, kept) };
                let values = (0..800).map(|x| {
                    let mut value = 100.0f32;
                    for edge in 0..edges {
                        let slant = 0.3 * ((edge * 5 % 7) as f32 - 3.0);
                        let place = 40.0 + 41.0 * edge as f32 + slant * line as f32 + moved;
                        let sign = if edge % 2 == 0 { 60.0 } else { -60.0 };
                        value += sign * (x as f32 - place + 0.5).clamp(0.0, 1.0);
                    }
                    value.round() as u8
                });
                Soft::new(&Line { channels: vec![values.collect()] }, None)
            })
            .collect()
    }

    fn passage(aside: f32, kept: usize) -> Passage {
        let lines = lines(aside, kept);
        Band::new(&lines).passage(DEEP - 1, &lines)
    }

    #[test]
    fn contours_that_go_on_pass_and_do_not_end() {
        let sound = passage(0.0, 18);
        assert_eq!((sound.ends, sound.pass[0]), ([0.0; PARTS.len()], 18.0), "{sound:?}");
        assert!(sound.aside <= 0.0, "{sound:?}");
    }

    #[test]
    fn contours_that_stop_are_counted() {
        let cut = passage(0.0, 10);
        assert_eq!((cut.ends[0], cut.pass), (8.0, [10.0, 0.0]), "{cut:?}");
    }

    #[test]
    fn votes_that_fall_anywhere_are_for_no_distance() {
        let mut votes: Vec<u32> = (0..BINS).map(|bin| u32::from(bin % 3 == 0)).collect();
        votes[61..63].fill(1);
        // Three agree where one goes straight, as one does everywhere.
        assert!(aside(&votes).0 < 0.0, "{:?}", aside(&votes));
        votes[62] += 20;
        let (lead, bin) = aside(&votes);
        assert!(lead > 15.0 && (61..=63).contains(&bin), "{lead}, {bin}");
    }

    #[test]
    fn contours_that_go_on_equally_far_aside_agree_on_the_distance() {
        for by in [-3.0, -1.0, 1.0, 2.0, 7.0] {
            let moved = passage(by, 18);
            assert!(moved.aside >= 12.0 && moved.pass[0] <= 1.0, "{by}: {moved:?}");
            assert!((moved.distance - f64::from(by)).abs() <= 0.25, "{by}: {moved:?}");
        }
    }
}
