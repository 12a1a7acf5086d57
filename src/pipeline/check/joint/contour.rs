//! Contours: edges that cross a band of lines, followed from line to line.
//!
//! Takes blurred lines in order; yields where edges lie on each, to a fraction of a pixel, and how each came there. All
//! from whole numbers. Knows nothing of pairs and limits.

use super::crossing::{RADIUS, Soft};

/// Positions are in this many parts of a pixel.
pub(super) const PARTS_OF_PIXEL: i32 = 64;

/// An edge changes by this much over two pixels of a blurred line, in 256ths of a level: about four levels in all.
const LEAST_CHANGE: i32 = 512;

/// How far off its expected place an edge may be and still be the same, where its course is known and where it is not.
const NEAR: i32 = 80;
const NEAR_AT_FIRST: i32 = 128;

/// An edge is a contour once it was followed over so many lines; its course is that over these.
pub(super) const KNOWN: usize = 4;

/// Steeper contours, in parts of a pixel a line, lie along the lines rather than across them.
const STEEPEST: i64 = PARTS_OF_PIXEL as i64;

/// No edge.
const NONE: u32 = u32::MAX;

/// An edge on a line.
#[derive(Clone, Copy, Debug)]
struct Edge {
    at: i32,
    /// The same edge on the line before.
    from: u32,
    /// Over how many lines it was followed, at most [`KNOWN`].
    age: u32,
}

/// A contour that arrives at the end of a band of lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Arrival {
    /// Where it is.
    pub(super) here: i32,
    /// Where it would be half a line further.
    pub(super) halfway: i32,
    /// Where it would be on the next line.
    pub(super) next: i32,
}

/// The edges of lines in order, each followed from the line before.
pub(super) struct Contours {
    lines: Vec<Vec<Edge>>,
}

impl Contours {
    /// Follows the edges of lines; `places` are those of [`edges`], line by line.
    pub(super) fn followed<'a>(places: impl Iterator<Item = &'a Vec<i32>>) -> Self {
        let mut lines: Vec<Vec<Edge>> = Vec::new();
        for places in places {
            let before: &[Edge] = lines.last().map_or(&[], Vec::as_slice);
            let earlier = lines.len().checked_sub(2).map_or(&[] as &[Edge], |line| &lines[line]);
            let expected: Vec<(i32, i32)> = before
                .iter()
                .map(|edge| match earlier.get(edge.from as usize) {
                    Some(other) => (2 * edge.at - other.at, NEAR),
                    None => (edge.at, NEAR_AT_FIRST),
                })
                .collect();
            let mut first = 0;
            let line = places.iter().map(|at| {
                let furthest = 4 * PARTS_OF_PIXEL;
                while before.get(first).is_some_and(|edge| edge.at < at - furthest) {
                    first += 1;
                }
                let near =
                    before[first..].iter().zip(&expected[first..]).take_while(|(edge, _)| edge.at <= at + furthest);
                let same = near
                    .enumerate()
                    .map(|(number, (_, (expected, near)))| (number, (at - expected).abs(), *near))
                    .filter(|(_, off, near)| off <= near)
                    .min_by_key(|(_, off, _)| *off);
                let from = same.map_or(NONE, |(number, ..)| (first + number) as u32);
                let age = before.get(from as usize).map_or(0, |edge| (edge.age + 1).min(KNOWN as u32));
                Edge { at: *at, from, age }
            });
            let line = line.collect();
            lines.push(line);
        }
        Self { lines }
    }

    /// The contours that arrive at line `line`, in order.
    pub(super) fn arrivals(&self, line: usize) -> impl Iterator<Item = Arrival> {
        let edges = self.lines.get(line).map_or(&[] as &[Edge], Vec::as_slice);
        edges.iter().filter(|edge| edge.age as usize >= KNOWN).filter_map(move |edge| self.arrival(line, *edge))
    }

    /// The course of an edge by least squares over the lines it was followed; nothing for what lies along the lines.
    fn arrival(&self, line: usize, edge: Edge) -> Option<Arrival> {
        let last = KNOWN as i64;
        let (mut edge, mut sum, mut moment) = (edge, 0i64, 0i64);
        for back in 0..=last {
            sum += i64::from(edge.at);
            moment += (last - 2 * back) * i64::from(edge.at);
            if back < last {
                edge = *self.lines[line - back as usize - 1].get(edge.from as usize)?;
            }
        }
        let count = last + 1;
        // With t from -last to 0, the slope is the sum of (t - mean) x over count (count^2 - 1) / 12.
        let slope = 6 * moment / (count * (count * count - 1));
        let further = |halves: i64| (sum / count + slope * (halves + last) / 2) as i32;
        (slope.abs() <= STEEPEST).then(|| Arrival { here: further(0), halfway: further(1), next: further(2) })
    }
}

/// The places on a line where it changes most along itself, in parts of a pixel, in order.
pub(super) fn edges(line: &Soft) -> Vec<i32> {
    let length = line.channels.first().map_or(0, Vec::len);
    let mut change = vec![0u16; length];
    for channel in &line.channels {
        let further = channel.get(2..).unwrap_or_default();
        for ((change, before), after) in change.iter_mut().skip(1).zip(channel).zip(further) {
            *change = (*change).max(after.abs_diff(*before));
        }
    }
    let mut places = Vec::new();
    for (at, three) in change.windows(3).enumerate().take(length.saturating_sub(RADIUS + 2)).skip(RADIUS) {
        if i32::from(three[1]) < LEAST_CHANGE {
            continue;
        }
        let [before, here, after] = [three[0], three[1], three[2]].map(i32::from);
        if here > before && here >= after && line.counts(at + 1) {
            // The vertex of the parabola through the three.
            let bend = before - 2 * here + after;
            let part = PARTS_OF_PIXEL / 2 * (before - after) / bend.min(-1);
            places.push((at as i32 + 1) * PARTS_OF_PIXEL + part);
        }
    }
    places
}
