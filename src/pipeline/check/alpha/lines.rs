//! Which straight lines a mask of hairlines is made of, and at which angles they run.
//!
//! Takes a mask, yields its lines and what is left over. Knows no alpha and no words.

use super::strands::{CELL, Moments, Piece, cells, pieces};
use crate::pixel::mask::{Mask, Run, bounds};

/// The most lines looked for: a tile with more of them is told in groups anyway.
const MOST_LINES: usize = 48;

/// The most pieces from which a line is tried to grow.
const MOST_TRIES: usize = 200;

/// The fewest pixels of a line for each pixel of its length; fewer are pieces of other lines that happen to be in a row.
const DENSE: f64 = 0.3;

/// How far, in pixels, the middle of a piece may lie from the line it joins.
const PIECE_OFF: f64 = 2.5;

/// How far, in pixels, a pixel may lie from its line: half the width of a hairline and what drawing it on a grid adds.
const PIXEL_OFF: f64 = 3.5;

/// The fewest pixels of a piece whose direction says something.
const TELLING: i64 = 6;

/// The most variance across a piece of one line, in square pixels: a soft 4 px line has 1.3, two lines in one cell more.
const THIN: f64 = 2.0;

/// The most variance across a whole line, in square pixels: an arc that piece by piece looks straight has more.
const STRAIGHT: f64 = 1.6;

/// A straight line of pixels.
#[derive(Clone, Debug)]
pub struct Line {
    /// Degrees from level, counted from the right upward, 0 up to but not including 180.
    pub angle: f64,
    /// Its pixels.
    pub pixels: Mask,
}

/// A mask taken apart.
#[derive(Clone, Debug, Default)]
pub struct Drawn {
    /// Its straight lines, the one with the most pixels first.
    pub lines: Vec<Line>,
    /// Pixels of no straight line.
    pub rest: Mask,
}

/// Takes a mask apart into straight lines that reach at least `shortest` pixels across or down; the bends of a curve are no
/// lines.
#[must_use]
pub fn drawn(mask: &Mask, shortest: u32) -> Drawn {
    let rules = rules(mask, shortest);
    let mut runs: Vec<Vec<Run>> = vec![Vec::new(); rules.len() + 1];
    for part in mask.runs().iter().flat_map(|run| cells(*run)) {
        let middle = (f64::from(part.start + part.end - 1) / 2.0, f64::from(part.y));
        let (mut to, mut near) = (rules.len(), PIXEL_OFF);
        for (i, rule) in rules.iter().enumerate() {
            let off = rule.off(middle);
            if off < near {
                (to, near) = (i, off);
            }
        }
        runs[to].push(part);
    }
    let mut rest = runs.pop().unwrap_or_default();
    let mut lines = Vec::new();
    for (rule, runs) in rules.iter().zip(runs) {
        if bounds(&runs).is_some_and(|area| area.width.max(area.height) >= shortest) {
            lines.push(Line { angle: rule.angle(), pixels: Mask::of(runs) });
        } else {
            rest.extend(runs);
        }
    }
    lines.sort_by_key(|line| std::cmp::Reverse(line.pixels.count()));
    Drawn { lines, rest: Mask::of(rest) }
}

/// An endless straight line through a middle in a direction.
struct Rule {
    middle: (f64, f64),
    direction: (f64, f64),
}

impl Rule {
    fn of(moments: &Moments) -> Self {
        Self { middle: moments.middle(), direction: moments.direction() }
    }

    /// The distance of a place from the line.
    fn off(&self, (x, y): (f64, f64)) -> f64 {
        ((x - self.middle.0) * self.direction.1 - (y - self.middle.1) * self.direction.0).abs()
    }

    /// Degrees from level, right and up.
    fn angle(&self) -> f64 {
        let angle = (-self.direction.1).atan2(self.direction.0).to_degrees().rem_euclid(180.0);
        if angle >= 179.95 { 0.0 } else { angle }
    }
}

/// The straight lines that the elongated pieces of a mask lie on: each grows from a piece outward, nearest pieces first, so
/// that its direction is known ever better the farther it reaches.
fn rules(mask: &Mask, shortest: u32) -> Vec<Rule> {
    let groups = vec![0; mask.runs().len()];
    let telling = |piece: &Piece| piece.moments.n >= TELLING && piece.moments.elongated();
    let mut thin: Vec<(f64, Moments)> = pieces(mask, &groups)
        .into_iter()
        .filter(telling)
        .map(|piece| (piece.moments.variances(), piece.moments))
        .filter(|((_, across), _)| *across <= THIN)
        .map(|((along, _), moments)| (along, moments))
        .collect();
    // The longest first: they know their direction best.
    thin.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut left: Vec<(Moments, Rule)> = thin.into_iter().map(|(_, moments)| (moments, Rule::of(&moments))).collect();
    let mut found = Vec::new();
    let mut tries = 0;
    while found.len() < MOST_LINES && tries < MOST_TRIES && !left.is_empty() {
        tries += 1;
        let (mut line, seed) = left.remove(0);
        let mut rule = Rule::of(&line);
        let apart = |other: &Rule| (other.middle.0 - seed.middle.0).powi(2) + (other.middle.1 - seed.middle.1).powi(2);
        // Only what can lie on the line at all: a piece of a cell tells its direction to within some 15 degrees.
        let may = |other: &Rule| seed.off(other.middle) <= f64::from(CELL) + apart(other).sqrt() * 0.27;
        let mut near: Vec<(f64, usize)> = left
            .iter()
            .enumerate()
            .filter(|(_, (_, other))| may(other))
            .map(|(i, (_, other))| (apart(other), i))
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (_, i) in near {
            let (moments, other) = &left[i];
            let turned = (rule.direction.0 * other.direction.1 - rule.direction.1 * other.direction.0).abs();
            if turned < 0.35 && rule.off(other.middle) <= PIECE_OFF {
                line.join(moments);
                rule = Rule::of(&line);
            }
        }
        // Pixels spread evenly over a length have a variance of a twelfth of its square.
        let (along, across) = line.variances();
        let length = (12.0 * along).sqrt();
        if length < 0.8 * f64::from(shortest) || (line.n as f64) < DENSE * length || across > STRAIGHT {
            continue;
        }
        // Whatever lies on the finished line is done with, short bits of uncertain direction among it.
        left.retain(|(_, other)| rule.off(other.middle) > PIXEL_OFF);
        found.push(rule);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(angle: f64, thick: f64, side: u32) -> Vec<Run> {
        let (rise, run) = angle.to_radians().sin_cos();
        let middle = f64::from(side) / 2.0;
        (0..side)
            .flat_map(|y| (0..side).map(move |x| (x, y)))
            .filter(|&(x, y)| ((f64::from(x) - middle) * rise + (f64::from(y) - middle) * run).abs() <= thick / 2.0)
            .map(|(x, y)| Run { y, start: x, end: x + 1 })
            .collect()
    }

    #[test]
    fn a_line_is_one_line_at_its_own_angle() {
        for angle in [0.0, 1.0, 7.0, 30.0, 45.0, 60.5, 90.0, 91.0, 135.0, 178.0] {
            for thick in [1.0, 2.0, 3.0] {
                let mask = Mask::of(line(angle, thick, 400));
                let drawn = drawn(&mask, 40);
                assert_eq!(drawn.lines.len(), 1, "{angle} degrees, {thick} px");
                assert!((drawn.lines[0].angle - angle).abs() < 0.3, "{angle} degrees told as {}", drawn.lines[0].angle);
                assert_eq!(drawn.lines[0].pixels, mask);
            }
        }
    }

    #[test]
    fn a_circle_is_no_line() {
        let ring = (0..3600).map(|i| {
            let (down, right) = (f64::from(i) * 0.1).to_radians().sin_cos();
            let at = |along: f64| (300.0 + 200.0 * along).round() as u32;
            Run { y: at(down), start: at(right), end: at(right) + 1 }
        });
        let mask = Mask::of(ring.collect());
        let drawn = drawn(&mask, 100);
        assert_eq!((drawn.lines.len(), drawn.rest), (0, mask));
    }

    #[test]
    fn crossing_lines_are_told_apart_and_share_no_pixel() {
        let both = [line(45.0, 2.0, 600), line(120.0, 2.0, 600)].concat();
        let mask = Mask::of(both);
        let drawn = drawn(&mask, 40);
        let angles: Vec<f64> = drawn.lines.iter().map(|line| line.angle.round()).collect();
        assert!(angles == [45.0, 120.0] || angles == [120.0, 45.0], "{angles:?}");
        let parts: u64 = drawn.lines.iter().map(|line| line.pixels.count()).sum();
        assert_eq!(parts + drawn.rest.count(), mask.count());
        assert!(drawn.rest.count() < 10);
    }
}
