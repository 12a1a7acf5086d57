//! Urchin shells in dotwork: rows of beads on ten double ribs, packed close on indigo.

use super::brush::{disc, polar};
use super::dice::{Dice, Place, wrapped_distance};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::TAU;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0x26_23_4F);
const INKS: [[Ink; 2]; 5] = [
    [ink(0xF4_B8_A6), ink(0xE8_72_6B)],
    [ink(0xF6_EB_DA), ink(0xC9_B6_D8)],
    [ink(0xB9_A4_D6), ink(0x84_6B_B8)],
    [ink(0xA8_D4_C4), ink(0x5B_A6_A0)],
    [ink(0xF3_D0_8B), ink(0xE2_A2_4E)],
];

/// Draws the shells, large ones first and small ones in what room is left.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 1500.0;
    let mut dice = Dice::new(77);
    let mut shells: Vec<(Place, f32)> = Vec::new();
    for radius in [205.0, 150.0, 105.0, 68.0, 40.0, 22.0, 11.0] {
        let radius = radius * unit;
        for _ in 0..900 {
            let place = (dice.between(0.0, size.0), dice.between(0.0, size.1));
            let room = |&(other, its): &(Place, f32)| {
                wrapped_distance((place.0 - other.0, place.1 - other.1), size) - its - radius >= 9.0 * unit
            };
            if shells.iter().all(room) {
                shells.push((place, radius));
            }
        }
    }
    for (i, &(center, radius)) in shells.iter().enumerate() {
        let inks = INKS[(i * 3 + i / 5) % INKS.len()];
        if radius < 60.0 * unit {
            torus.fill(disc(center, radius), veil(inks[1], 255));
            torus.fill(disc(center, radius * 0.72), GROUND);
            torus.fill(disc(center, radius * 0.4), inks[0]);
        } else {
            shell(torus, center, radius, inks, dice.angle());
        }
    }
}

fn shell(torus: &mut Torus, center: Place, radius: f32, inks: [Ink; 2], turn: f32) {
    torus.fill(disc(center, radius), mix(GROUND, inks[1], 0.28));
    let eye = radius * 0.13;
    let rings = (radius / 16.0).round().max(6.0);
    // A dome seen from above: rows stand closer toward the rim.
    let row = |ring: f32| eye + (radius * 0.98 - eye) * (ring / rings * 1.2).sin() / 1.2_f32.sin();
    for ring in 0..rings as usize {
        let (at, gap) = (row(ring as f32 + 0.5), row(ring as f32 + 1.0) - row(ring as f32));
        let swell = (gap * 0.46 / radius / 0.052).min(at / radius * 1.5);
        for rib in 0..10 {
            let angle = turn + TAU * rib as f32 / 10.0;
            for (offset, size, ink) in [(0.085, 0.052, inks[0]), (0.187, 0.034, inks[1]), (0.262, 0.022, inks[0])] {
                for side in [-1.0, 1.0] {
                    torus.fill(disc(polar(center, angle + side * offset, at), radius * size * swell), ink);
                }
            }
            torus.fill(disc(polar(center, angle, at), radius * 0.014 * swell), inks[1]);
        }
    }
    torus.fill(disc(center, eye * 0.95), inks[1]);
    torus.fill(disc(center, eye * 0.6), GROUND);
    for i in 0..5 {
        torus.fill(disc(polar(center, turn + TAU * i as f32 / 5.0, eye * 0.78), eye * 0.14), inks[0]);
    }
}
