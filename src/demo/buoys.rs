//! Buoys in the manner of cut paper: striped floats bobbing over scalloped water, laid as a brick.

use super::brush::{disc, oval, placed, polygon, rounded, stroke, thread};
use super::dice::Place;
use super::torus::{Ink, Torus, ink, veil};
use std::f32::consts::{PI, TAU};
use tiny_skia::{Path, PathBuilder, Rect};

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xBF_DD_D6);
const WAVE: Ink = ink(0x9C_C8_C2);
const FOAM: Ink = ink(0xF7_F3_E6);
const NAVY: Ink = ink(0x1B_3A_57);
const ORANGE: Ink = ink(0xE9_6B_3C);
const YELLOW: Ink = ink(0xF1_B7_3B);
const ROSE: Ink = ink(0xD9_4F_5C);

/// Draws five buoys to one repeat; the canvas must close as a brick.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let unit = width / 2000.0;
    water(torus, unit);
    let line: Vec<Place> = (0..=120)
        .map(|i| {
            let t = i as f32 / 120.0;
            (width * (t * 1.5), height * (t + 0.10) + 46.0 * unit * (TAU * t * 3.0).sin())
        })
        .collect();
    torus.fill(stroke(thread(&line), 15.0 * unit), NAVY);
    torus.fill(stroke(thread(&line), 5.0 * unit), FOAM);
    let at = |x: f32, y: f32| (x * width, y * height);
    for (x, y, ink) in
        [(0.24, 0.52, ORANGE), (0.49, 0.57, NAVY), (0.74, 0.52, ROSE), (0.99, 0.06, NAVY), (0.52, 0.07, ROSE)]
    {
        gull(torus, at(x, y), unit * 1.25, ink);
    }
    spar(torus, at(0.12, 0.30), -0.16, unit * 1.12);
    bell(torus, at(0.365, 0.26), 0.12, unit * 1.08);
    ball(torus, at(0.615, 0.33), -0.1, unit * 1.06);
    can(torus, at(0.87, 0.27), 0.2, unit * 1.1);
    ball(torus, at(0.115, 0.80), 0.14, unit);
    can(torus, at(0.37, 0.76), -0.17, unit);
    spar(torus, at(0.62, 0.82), 0.1, unit * 1.05);
    bell(torus, at(0.87, 0.77), -0.1, unit * 1.02);
}

/// Rows of scallops, each row moved by half a scallop.
fn water(torus: &mut Torus, unit: f32) {
    // Odd both ways: after one tile down, the rows must have moved by half a scallop as the brick moves by half a tile.
    let (across, down) = (11, 13);
    let (step_x, step_y) = (torus.width() / across as f32, torus.height() / down as f32);
    for row in 0..down {
        for column in 0..across {
            let shift = if row % 2 == 0 { 0.0 } else { 0.5 };
            let center = ((column as f32 + shift) * step_x, (row as f32 + 1.0) * step_y);
            for radius in [0.46, 0.32, 0.18] {
                let arc: Vec<Place> = (0..=16)
                    .map(|i| super::brush::polar(center, PI * (0.93 + 1.14 * i as f32 / 16.0), radius * step_x))
                    .collect();
                torus.fill(stroke(thread(&arc), 7.0 * unit), WAVE);
            }
        }
    }
}

/// A part of a buoy in its own upright coordinates, put in place.
struct Hull<'a> {
    torus: &'a mut Torus,
    center: Place,
    tilt: f32,
    unit: f32,
}

impl Hull<'_> {
    fn part(&mut self, path: Option<Path>, ink: Ink) {
        let path = placed(path, self.center, self.tilt, self.unit);
        self.torus.fill(path, ink);
    }

    fn block(&mut self, (left, top): Place, (right, bottom): Place, ink: Ink) {
        self.part(Rect::from_ltrb(left, top, right, bottom).map(PathBuilder::from_rect), ink);
    }

    /// A band between two heights whose half-widths are `top` and `bottom`.
    fn band(&mut self, (from, to): Place, (top, bottom): Place, ink: Ink) {
        self.part(polygon(&[(-top, from), (top, from), (bottom, to), (-bottom, to)]), ink);
    }

    /// Shadow on the water under it, and a line of light down its left side.
    fn rest(&mut self, reach: f32, bottom: f32) {
        for (dy, grow) in [(0.0, 1.0), (26.0, 0.72)] {
            self.part(oval((0.0, bottom + dy), (reach * grow, 13.0), 0.0), FOAM);
        }
    }
}

fn spar(torus: &mut Torus, center: Place, tilt: f32, unit: f32) {
    let mut hull = Hull { torus, center, tilt, unit };
    hull.rest(86.0, 176.0);
    hull.part(rounded(&[(-62.0, 120.0), (62.0, 120.0), (44.0, 176.0), (-44.0, 176.0)]), NAVY);
    let half = |y: f32| 20.0 + (y + 250.0) * 0.11;
    for i in 0..6 {
        let (top, bottom) = (-230.0 + i as f32 * 60.0, -170.0 + i as f32 * 60.0);
        hull.band((top, bottom), (half(top), half(bottom)), if i % 2 == 0 { ROSE } else { FOAM });
    }
    hull.part(polygon(&[(0.0, -345.0), (52.0, -248.0), (-52.0, -248.0)]), NAVY);
    hull.block((-6.0, -256.0), (6.0, -224.0), NAVY);
}

fn bell(torus: &mut Torus, center: Place, tilt: f32, unit: f32) {
    let mut hull = Hull { torus, center, tilt, unit };
    hull.rest(150.0, 188.0);
    hull.part(rounded(&[(-118.0, 110.0), (118.0, 110.0), (96.0, 186.0), (0.0, 196.0), (-96.0, 186.0)]), ORANGE);
    hull.block((-116.0, 130.0), (116.0, 152.0), FOAM);
    for x in [-1.0, 1.0] {
        hull.part(stroke(thread(&[(x * 88.0, 112.0), (x * 30.0, -170.0)]), 14.0), NAVY);
    }
    for (y, half) in [(20.0, 68.0), (-80.0, 48.0)] {
        hull.part(stroke(thread(&[(-half, y), (half, y)]), 10.0), NAVY);
    }
    hull.part(rounded(&[(0.0, -66.0), (24.0, -30.0), (34.0, 12.0), (-34.0, 12.0), (-24.0, -30.0)]), YELLOW);
    hull.part(disc((0.0, 24.0), 11.0), YELLOW);
    hull.part(disc((0.0, -206.0), 40.0), YELLOW);
    hull.part(disc((0.0, -206.0), 20.0), FOAM);
    for i in 0..8 {
        let ray = polygon(&[(52.0, -7.0), (86.0, 0.0), (52.0, 7.0)]);
        hull.part(placed(ray, (0.0, -206.0), TAU * i as f32 / 8.0, 1.0), YELLOW);
    }
}

fn ball(torus: &mut Torus, center: Place, tilt: f32, unit: f32) {
    let mut hull = Hull { torus, center, tilt, unit };
    hull.rest(120.0, 150.0);
    hull.part(disc((0.0, 20.0), 128.0), YELLOW);
    for (from, to) in [(-1.57, -0.85), (-0.28, 0.28), (0.85, 1.57)] {
        let slice: Vec<Place> = meridian(from).chain(meridian(to).collect::<Vec<_>>().into_iter().rev()).collect();
        hull.part(polygon(&slice), NAVY);
    }
    hull.part(disc((-52.0, -34.0), 17.0), FOAM);
    hull.block((-11.0, -210.0), (11.0, -104.0), NAVY);
    hull.part(polygon(&[(11.0, -210.0), (118.0, -178.0), (11.0, -140.0)]), ROSE);
}

/// A line from pole to pole of the ball, at a turn from the middle.
fn meridian(turn: f32) -> impl Iterator<Item = Place> {
    (0..=16).map(move |i| {
        let t = PI * i as f32 / 16.0;
        (128.0 * t.sin() * turn.sin().clamp(-1.0, 1.0), 20.0 - 128.0 * t.cos())
    })
}

fn can(torus: &mut Torus, center: Place, tilt: f32, unit: f32) {
    let mut hull = Hull { torus, center, tilt, unit };
    hull.rest(112.0, 176.0);
    for i in 0..5 {
        let (top, bottom) = (-170.0 + i as f32 * 68.0, -102.0 + i as f32 * 68.0);
        hull.block((-84.0, top), (84.0, bottom), [NAVY, FOAM, ORANGE, FOAM, NAVY][i as usize]);
    }
    hull.part(oval((0.0, -170.0), (84.0, 22.0), 0.0), veil(ROSE, 255));
    hull.part(stroke(oval((0.0, -206.0), (30.0, 34.0), 0.0), 11.0), NAVY);
    for i in 0..4 {
        hull.part(disc((-54.0 + i as f32 * 36.0, 0.0), 10.0), NAVY);
    }
}

fn gull(torus: &mut Torus, center: Place, unit: f32, ink: Ink) {
    let wing = |side: f32| {
        let place = |x: f32, y: f32| (center.0 + side * x * unit, center.1 + y * unit);
        rounded(&[place(0.0, 8.0), place(38.0, -30.0), place(96.0, -22.0), place(50.0, -12.0)])
    };
    torus.fill(wing(-1.0), FOAM);
    torus.fill(wing(1.0), FOAM);
    torus.fill(disc((center.0, center.1 + 34.0 * unit), 9.0 * unit), ink);
}
