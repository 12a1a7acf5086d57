//! Rope: a line of any course drawn as three twisted strands, with lengths fitted so that a closed rope has no start.
//!
//! Takes a course in pixels, lays it on the canvas. Knows no motifs.

use super::brush::{cut_stroke, polar, ribbon, stroke, thread};
use super::dice::Place;
use super::torus::{Ink, Torus};

/// What a rope looks like.
#[derive(Clone, Copy, Debug)]
pub struct Rope {
    /// Pixels across.
    pub width: f32,
    /// Its outline, and the grooves between strands.
    pub dark: Ink,
    /// Its body.
    pub body: Ink,
    /// The light on each strand.
    pub light: Ink,
    /// A rim in the color of the ground, pixels wide, where it passes over something; 0 for none.
    pub halo: (f32, Ink),
}

/// A place on a course and the direction there.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// Where.
    pub at: Place,
    /// Which way, as an angle.
    pub angle: f32,
}

/// Lays a rope along a course of many places; ends are cut, so that pieces join.
pub fn lay(torus: &mut Torus, course: &[Place], rope: Rope) {
    let half = rope.width / 2.0;
    if rope.halo.0 > 0.0 {
        torus.fill(cut_stroke(thread(course), rope.width + rope.halo.0 * 2.0), rope.halo.1);
    }
    torus.fill(cut_stroke(thread(course), rope.width), rope.dark);
    torus.fill(cut_stroke(thread(course), rope.width * 0.86), rope.body);
    let reach = half * 0.9;
    for step in steps(course, rope.width * 0.52) {
        let mark = |shift: f32| {
            let at = polar(step.at, step.angle, shift);
            let across = step.angle - 1.05;
            let (from, to) = (polar(at, across, -reach), polar(at, across, reach));
            let bulge = half * 0.22;
            let first = polar(polar(at, across, -reach * 0.4), step.angle, -bulge);
            let second = polar(polar(at, across, reach * 0.4), step.angle, bulge);
            [from, first, second, to]
        };
        torus.fill(stroke(thread(&mark(0.0)), rope.width * 0.075), rope.dark);
        torus
            .fill(ribbon(&mark(rope.width * 0.2), |t| rope.width * 0.07 * (1.0 - (2.0 * t - 1.0).powi(2))), rope.light);
    }
}

/// Places along a course about `apart` pixels from one another, a whole number of them.
#[must_use]
pub fn steps(course: &[Place], apart: f32) -> Vec<Step> {
    let pieces = course.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1));
    let length: f32 = pieces.clone().sum();
    let count = (length / apart).round().max(1.0);
    let apart = length / count;
    let (mut found, mut walked, mut next) = (Vec::new(), 0.0, apart * 0.5);
    for (pair, piece) in course.windows(2).zip(pieces) {
        let angle = (pair[1].1 - pair[0].1).atan2(pair[1].0 - pair[0].0);
        while next < walked + piece {
            found.push(Step { at: polar(pair[0], angle, next - walked), angle });
            next += apart;
        }
        walked += piece;
    }
    found
}
