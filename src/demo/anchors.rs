//! Anchors in an ogee trellis of rope, navy and red on sailcloth white.

use super::brush::{cut_stroke, disc, placed, polygon, rounded, stroke, thread};
use super::dice::Place;
use super::rope::{self, Rope};
use super::torus::{Ink, Torus, ink};
use std::f32::consts::{FRAC_PI_2, TAU};

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xF3_EC_DC);
const NAVY: Ink = ink(0x1D_31_55);
const RED: Ink = ink(0xC2_45_3C);
const STRAW: Ink = ink(0xD9_B9_7C);
const STRAW_DARK: Ink = ink(0x7A_55_2E);
const STRAW_LIGHT: Ink = ink(0xF2_E0_B4);

/// Draws three trellis cells across and two down, with half cells between.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let (cell_w, cell_h) = (width / 3.0, height / 2.0);
    let unit = cell_w / 800.0;
    for row in 0..4 {
        for column in 0..3 {
            let shift = if row % 2 == 0 { 0.0 } else { 0.5 };
            let center = ((column as f32 + shift) * cell_w, (row as f32 + 0.28) * cell_h / 2.0);
            let even = row % 2 == 0;
            compass(torus, center, unit);
            anchor(torus, center, unit * 1.12, if even { NAVY } else { RED });
        }
    }
    let trellis =
        Rope { width: 46.0 * unit, dark: STRAW_DARK, body: STRAW, light: STRAW_LIGHT, halo: (9.0 * unit, GROUND) };
    for column in 0..3 {
        for side in [-1.0, 1.0] {
            let middle = (column as f32 + 0.5 + side * 0.25) * cell_w;
            let swing = side * cell_w * 0.217;
            let course: Vec<Place> = (0..=240)
                .map(|i| {
                    let t = i as f32 / 240.0;
                    (middle + swing * ogee(TAU * (t * 2.0 - 0.14)), height * t)
                })
                .collect();
            rope::lay(torus, &course, trellis);
        }
        for row in 0..4 {
            let shift = if row % 2 == 0 { 0.5 } else { 1.0 };
            whipping(torus, ((column as f32 + shift) * cell_w, (row as f32 + 0.28) * cell_h / 2.0), unit);
        }
    }
}

/// A cosine pulled toward a triangle wave, as ropes hang between two ties.
fn ogee(angle: f32) -> f32 {
    -(angle.cos() + 0.11 * (3.0 * angle).cos()) / 1.11
}

/// The red binding where two ropes touch.
fn whipping(torus: &mut Torus, (x, y): Place, unit: f32) {
    let (half_w, half_h) = (56.0 * unit, 62.0 * unit);
    let corner = |sx: f32, sy: f32| (x + sx * half_w, y + sy * half_h);
    let band = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    torus.fill(stroke(polygon(&band), 14.0 * unit), GROUND);
    torus.fill(polygon(&band), NAVY);
    for i in 0..5 {
        let line_y = y + (i as f32 - 2.0) * 24.0 * unit;
        let line = thread(&[(x - half_w, line_y + 5.0 * unit), (x + half_w, line_y - 5.0 * unit)]);
        torus.fill(cut_stroke(line, 9.0 * unit), GROUND);
    }
}

/// A small compass star behind each anchor.
fn compass(torus: &mut Torus, center: Place, unit: f32) {
    for i in 0..16 {
        let angle = TAU * i as f32 / 16.0;
        let reach = if i % 4 == 0 {
            292.0
        } else if i % 2 == 0 {
            246.0
        } else {
            222.0
        } * unit;
        let ray = polygon(&[(0.0, -5.0 * unit), (reach, 0.0), (0.0, 5.0 * unit)]);
        torus.fill(placed(ray, center, angle, 1.0), ink(0xDF_D5_BF));
    }
    torus.fill(stroke(disc(center, 205.0 * unit), 5.0 * unit), ink(0xDF_D5_BF));
}

fn anchor(torus: &mut Torus, center: Place, unit: f32, color: Ink) {
    let at = |x: f32, y: f32| (center.0 + x * unit, center.1 + y * unit);
    torus.fill(stroke(disc(at(0.0, -176.0), 30.0 * unit), 17.0 * unit), color);
    let shank = [at(-11.0, -148.0), at(11.0, -148.0), at(17.0, 150.0), at(-17.0, 150.0)];
    torus.fill(polygon(&shank), color);
    torus.fill(stroke(thread(&[at(-82.0, -104.0), at(82.0, -104.0)]), 24.0 * unit), color);
    for side in [-1.0, 1.0] {
        torus.fill(disc(at(side * 92.0, -104.0), 19.0 * unit), color);
        let arm: Vec<Place> = (0..=12)
            .map(|i| {
                let angle = FRAC_PI_2 - side * 1.28 * i as f32 / 12.0;
                at(150.0 * angle.cos(), 22.0 + 146.0 * angle.sin())
            })
            .collect();
        torus.fill(stroke(thread(&arm), 30.0 * unit), color);
        let fluke = [at(side * 196.0, -14.0), at(side * 176.0, 104.0), at(side * 134.0, 66.0), at(side * 100.0, 44.0)];
        torus.fill(rounded(&fluke), color);
        torus.fill(polygon(&[at(side * 204.0, -28.0), at(side * 182.0, 96.0), at(side * 96.0, 44.0)]), color);
    }
    torus.fill(rounded(&[at(0.0, 206.0), at(-30.0, 160.0), at(0.0, 140.0), at(30.0, 160.0)]), color);
    torus.fill(stroke(thread(&[at(-66.0, -104.0), at(66.0, -104.0)]), 5.0 * unit), GROUND);
    torus.fill(stroke(thread(&[at(0.0, -70.0), at(0.0, 128.0)]), 5.0 * unit), GROUND);
}
