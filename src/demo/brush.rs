//! Shapes: discs, polygons, smooth outlines, tapering ribbons, leaves and strokes, as paths in pixels.
//!
//! Takes places and widths, yields paths; a degenerate shape is `None` and draws nothing. Knows no canvas and no inks.

use super::dice::Place;
use std::f32::consts::{PI, TAU};
use tiny_skia::{LineCap, LineJoin, Path, PathBuilder, Stroke, Transform};

/// The point at a distance and an angle from another; angles run clockwise from the right, as y runs down.
#[must_use]
pub fn polar((x, y): Place, angle: f32, distance: f32) -> Place {
    (x + distance * angle.cos(), y + distance * angle.sin())
}

/// A disc.
#[must_use]
pub fn disc((x, y): Place, radius: f32) -> Option<Path> {
    PathBuilder::from_circle(x, y, radius)
}

/// An upright or turned ellipse with two half-axes.
#[must_use]
pub fn oval(center: Place, (a, b): Place, angle: f32) -> Option<Path> {
    placed(PathBuilder::from_circle(0.0, 0.0, 1.0)?.transform(Transform::from_scale(a, b)), center, angle, 1.0)
}

/// A shape drawn around the origin, turned, scaled and moved.
#[must_use]
pub fn placed(path: Option<Path>, (x, y): Place, angle: f32, scale: f32) -> Option<Path> {
    let (sin, cos) = (angle.sin() * scale, angle.cos() * scale);
    path?.transform(Transform::from_row(cos, sin, -sin, cos, x, y))
}

/// A closed shape with straight sides.
#[must_use]
pub fn polygon(corners: &[Place]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (i, &(x, y)) in corners.iter().enumerate() {
        if i == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
    }
    path.close();
    path.finish()
}

/// A closed outline that passes smoothly through its places (Catmull-Rom, as cubic curves).
#[must_use]
pub fn rounded(places: &[Place]) -> Option<Path> {
    curve(places, true)
}

/// An open line that passes smoothly through its places.
#[must_use]
pub fn thread(places: &[Place]) -> Option<Path> {
    curve(places, false)
}

fn curve(places: &[Place], closed: bool) -> Option<Path> {
    let n = places.len();
    let at = |i: isize| {
        let n = n as isize;
        places[if closed { i.rem_euclid(n) } else { i.clamp(0, n - 1) } as usize]
    };
    let &(x, y) = places.first()?;
    let mut path = PathBuilder::new();
    path.move_to(x, y);
    for i in 0..(if closed { n } else { n - 1 }) as isize {
        let (before, from, to, after) = (at(i - 1), at(i), at(i + 1), at(i + 2));
        path.cubic_to(
            from.0 + (to.0 - before.0) / 6.0,
            from.1 + (to.1 - before.1) / 6.0,
            to.0 - (after.0 - from.0) / 6.0,
            to.1 - (after.1 - from.1) / 6.0,
            to.0,
            to.1,
        );
    }
    if closed {
        path.close();
    }
    path.finish()
}

/// The outline of a line drawn with a pen of a width and round ends.
#[must_use]
pub fn stroke(path: Option<Path>, width: f32) -> Option<Path> {
    pen(path, width, LineCap::Round)
}

/// The outline of a line drawn with a pen of a width and cut ends.
#[must_use]
pub fn cut_stroke(path: Option<Path>, width: f32) -> Option<Path> {
    pen(path, width, LineCap::Butt)
}

fn pen(path: Option<Path>, width: f32, line_cap: LineCap) -> Option<Path> {
    path?.stroke(&Stroke { width, line_cap, line_join: LineJoin::Round, ..Stroke::default() }, 1.0)
}

/// A closed band along a spine, `half(t)` pixels to either side, where `t` runs from 0 to 1.
#[must_use]
pub fn ribbon(spine: &[Place], half: impl Fn(f32) -> f32) -> Option<Path> {
    let last = spine.len().checked_sub(1).filter(|&last| last > 0)?;
    let side = |sign: f32| {
        let half = &half;
        (0..=last).map(move |i| {
            let (from, to) = (spine[i.saturating_sub(1)], spine[(i + 1).min(last)]);
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let reach = sign * half(i as f32 / last as f32) / dx.hypot(dy).max(1e-6);
            (spine[i].0 - dy * reach, spine[i].1 + dx * reach)
        })
    };
    let outline: Vec<Place> = side(1.0).chain(side(-1.0).rev()).collect();
    rounded(&outline)
}

/// A spine from a place in a direction, bending evenly by `bend` radians over its length.
#[must_use]
pub fn spine(from: Place, angle: f32, length: f32, bend: f32, steps: usize) -> Vec<Place> {
    let mut at = from;
    let mut places = vec![at];
    for i in 0..steps {
        let angle = angle + bend * (i as f32 + 0.5) / steps as f32;
        at = polar(at, angle, length / steps as f32);
        places.push(at);
    }
    places
}

/// The half-width of a leaf along its length: narrow at both ends, widest at a third.
#[must_use]
pub fn leaf_half(t: f32, half: f32) -> f32 {
    half * (PI * t.powf(0.75)).sin().max(0.0)
}

/// A regular star or polygon outline: `corners` at one radius, the valleys between at another.
#[must_use]
pub fn star(center: Place, corners: usize, (outer, inner): Place, angle: f32) -> Vec<Place> {
    (0..corners * 2)
        .map(|i| {
            let radius = if i % 2 == 0 { outer } else { inner };
            polar(center, angle + TAU * i as f32 / (corners * 2) as f32, radius)
        })
        .collect()
}
