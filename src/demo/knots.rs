//! A knot sampler: Turk's heads, mats and trefoils tied in cream and red rope, in staggered rows on denim.

use super::brush::{cut_stroke, polar, stroke, thread};
use super::dice::{Place, Swell};
use super::rope::{self, Rope};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::TAU;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0x3B_56_7D);
const CREAM: [Ink; 3] = [ink(0x5B_4B_38), ink(0xEA_DD_C3), ink(0xFF_FA_EC)];
const MADDER: [Ink; 3] = [ink(0x4E_17_1C), ink(0xC0_46_3E), ink(0xEE_8F_7A)];
const FLAX: [Ink; 3] = [ink(0x5C_3F_17), ink(0xD6_A3_4E), ink(0xF6_DB_9A)];

/// A knot as a closed line in space: x and y on the cloth, z toward the viewer.
type Knot = fn(f32) -> (f32, f32, f32);

fn trefoil(t: f32) -> (f32, f32, f32) {
    ((t.sin() + 2.0 * (2.0 * t).sin()) / 3.0, (t.cos() - 2.0 * (2.0 * t).cos()) / 3.0, -(3.0 * t).sin())
}

/// A flat mat: the Lissajous curve of 3 and 2, woven by the seventh harmonic.
fn mat(t: f32) -> (f32, f32, f32) {
    (1.12 * (2.0 * t + 0.2).cos(), 0.92 * (3.0 * t + 0.7).cos(), (7.0 * t).cos())
}

/// Three strands plaited into a ring of eight bights.
fn turks_head(t: f32) -> (f32, f32, f32) {
    let reach = (2.0 + 0.92 * (8.0 * t / 3.0).cos()) / 2.92;
    (reach * t.cos(), reach * t.sin(), (16.0 * t / 3.0).sin())
}

/// Draws two by three knots with half places between.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 1600.0;
    twill(torus);
    let knots: [(Knot, f32, f32, [Ink; 3]); 3] =
        [(turks_head, 3.0, 218.0, CREAM), (mat, 1.0, 186.0, MADDER), (trefoil, 1.0, 200.0, FLAX)];
    for row in 0..4 {
        for column in 0..3 {
            let shift = if row % 2 == 0 { 0.25 } else { 0.75 };
            let center = (size.0 * (column as f32 + shift) / 3.0, size.1 * (row as f32 + 0.04) / 4.0);
            let (knot, rounds, radius, inks) = knots[(column + row) % 3];
            tie(torus, knot, rounds, (center, radius * unit), inks, unit);
        }
    }
    for row in 0..4 {
        for column in 0..3 {
            let shift = if row % 2 == 0 { 0.75 } else { 0.25 };
            let center = (size.0 * (column as f32 + shift) / 3.0, size.1 * (row as f32 + 0.04) / 4.0);
            stitch(torus, center, unit);
        }
    }
}

/// Ties one knot: the course is cut into short arcs, and arcs farther from the viewer are laid first.
fn tie(torus: &mut Torus, knot: Knot, rounds: f32, (center, radius): (Place, f32), inks: [Ink; 3], unit: f32) {
    const ARCS: usize = 96;
    const STEPS: usize = 8;
    let at = |i: usize| {
        let (x, y, z) = knot(TAU * rounds * i as f32 / (ARCS * STEPS) as f32);
        ((center.0 + x * radius, center.1 + y * radius), z)
    };
    let whole: Vec<Place> = (0..=ARCS * STEPS).map(|i| at(i).0).collect();
    let shade: Vec<Place> = whole.iter().map(|&(x, y)| (x + 9.0 * unit, y + 12.0 * unit)).collect();
    torus.fill(stroke(thread(&shade), 46.0 * unit), veil(ink(0x16_22_3A), 110));
    let [dark, body, light] = inks;
    let look = Rope { width: 42.0 * unit, dark, body, light, halo: (5.0 * unit, mix(dark, GROUND, 0.35)) };
    let mut arcs: Vec<usize> = (0..ARCS).collect();
    arcs.sort_by(|&a, &b| at(a * STEPS + STEPS / 2).1.total_cmp(&at(b * STEPS + STEPS / 2).1));
    for arc in arcs {
        let course: Vec<Place> = (arc * STEPS..=arc * STEPS + STEPS).map(|i| at(i).0).collect();
        rope::lay(torus, &course, look);
    }
}

/// The diagonal rib of the cloth, and its uneven dye.
fn twill(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let dye = Swell::new(33, (width, height), 10, (2.0, 30.0));
    // A rib every 8 px: both sides hold a whole number of them.
    let rib = |x: i64, y: i64| (TAU * ((x + y).rem_euclid(8) as f32) / 8.0).sin();
    torus.wash(|x, y| {
        let light = 0.5 + 0.34 * rib(x, y) + 0.1 * dye.at(x, y);
        mix(ink(0x34_4D_72), ink(0x46_63_8C), light)
    });
}

fn stitch(torus: &mut Torus, center: Place, unit: f32) {
    for i in 0..4 {
        let angle = TAU * (i as f32 + 0.5) / 4.0;
        let line = [polar(center, angle, 14.0 * unit), polar(center, angle, 46.0 * unit)];
        torus.fill(cut_stroke(thread(&line), 9.0 * unit), veil(ink(0xF2_EA_D8), 230));
    }
}
