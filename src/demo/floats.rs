//! Net floats: glass balls shaded to roundness, each in a knotted net, on a faded storm blue.

use super::brush::{disc, oval, polar, stroke, thread};
use super::dice::{Dice, Place, wrapped_distance};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::{PI, TAU};

/// The ground of the drawing.
pub const GROUND: Ink = ink(0x3C_55_63);
const MESH: Ink = ink(0x52_6D_7A);
const TWINE: Ink = ink(0xE9_DC_C0);
const GLASS: [Ink; 5] = [ink(0x2E_8C_77), ink(0x5F_B0_9A), ink(0xC7_8B_3B), ink(0x3F_7C_A8), ink(0x8A_6C_A0)];

/// Draws the floats over a slack net.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 1400.0;
    net(torus, unit);
    let mut dice = Dice::new(101);
    let mut floats: Vec<(Place, f32)> = Vec::new();
    for radius in [172.0, 118.0, 78.0, 46.0] {
        for _ in 0..700 {
            let place = (dice.between(0.0, size.0), dice.between(0.0, size.1));
            let free = |&(other, its): &(Place, f32)| {
                wrapped_distance((place.0 - other.0, place.1 - other.1), size) > its + (radius + 14.0) * unit
            };
            if floats.iter().all(free) {
                floats.push((place, radius * unit));
            }
        }
    }
    for (i, &(center, radius)) in floats.iter().enumerate() {
        float(torus, center, radius, GLASS[(i * 2 + i / 5) % 5], dice.angle());
    }
}

fn net(torus: &mut Torus, unit: f32) {
    let (width, height) = (torus.width(), torus.height());
    for i in 0..14 {
        for lean in [-1.0, 1.0] {
            let line: Vec<Place> = (0..=112)
                .map(|k| {
                    let t = k as f32 / 112.0;
                    let x = width * (i as f32 / 14.0 + lean * t) + 9.0 * unit * (TAU * t * 14.0).sin();
                    (x, height * t)
                })
                .collect();
            torus.fill(super::brush::cut_stroke(thread(&line), 4.0 * unit), MESH);
        }
    }
}

fn float(torus: &mut Torus, center: Place, radius: f32, glass: Ink, turn: f32) {
    torus.fill(disc((center.0 + radius * 0.10, center.1 + radius * 0.14), radius), veil(ink(0x14_22_2B), 90));
    let (dark, pale) = (mix(glass, ink(0x0B_1B_22), 0.62), mix(glass, ink(0xFF_FF_FF), 0.45));
    torus.fill_with(disc(center, radius), |x, y| {
        let (dx, dy) = ((x as f32 + 0.5 - center.0) / radius, (y as f32 + 0.5 - center.1) / radius);
        let height = (1.0 - dx * dx - dy * dy).max(0.0).sqrt();
        let light = (-0.5 * dx - 0.6 * dy + 0.62 * height).max(0.0);
        let glow = ((0.55 * dx + 0.6 * dy).max(0.0) * height * 1.3).min(1.0);
        let body = mix(dark, glass, 0.35 + light * 0.75);
        mix(body, pale, (light.powi(3) * 0.7 + glow * 0.55).min(1.0))
    });
    for side in [1.0, -1.0] {
        for i in 0..6 {
            // A line of the net runs round the ball from knot to knot; seen from above it is a spiral.
            let start = turn + TAU * i as f32 / 6.0;
            let line: Vec<Place> = (0..=20)
                .map(|k| {
                    let t = k as f32 / 20.0;
                    polar(center, start + side * t * PI * 0.62, radius * (0.16 + 0.84 * (t * PI / 2.0).sin()))
                })
                .collect();
            torus.fill(stroke(thread(&line), radius * 0.038), veil(TWINE, 235));
        }
    }
    torus.fill(stroke(disc(center, radius * 0.16), radius * 0.05), TWINE);
    torus.fill(stroke(disc(center, radius * 0.985), radius * 0.045), TWINE);
    let shine = polar(center, -2.3, radius * 0.58);
    torus.fill(oval(shine, (radius * 0.17, radius * 0.08), -0.75), veil(ink(0xFF_FF_FF), 165));
}
