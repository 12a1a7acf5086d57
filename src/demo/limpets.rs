//! Limpets on slate: ribbed cones in chalk pastels, drawn wedge by wedge, with growth rings.

use super::brush::{disc, polar, polygon, rounded, stroke};
use super::dice::{Dice, Place, Swell, wrapped_distance};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::TAU;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0x4A_51_5E);
const INKS: [[Ink; 3]; 4] = [
    [ink(0xF0_D9_C0), ink(0xC9_8F_6E), ink(0x7A_4B_3E)],
    [ink(0xE9_E3_DA), ink(0xA9_B3_B8), ink(0x5D_6B_78)],
    [ink(0xF3_C9_C4), ink(0xC7_7B_84), ink(0x7B_3F_55)],
    [ink(0xDF_E3_C4), ink(0x9C_A8_77), ink(0x54_62_47)],
];

/// Draws the shells on a mottled rock.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 1800.0;
    let rock = Swell::new(15, size, 14, (4.0, 40.0));
    torus.wash(|x, y| mix(GROUND, ink(0x5C_65_73), (rock.at(x, y) * 0.9).clamp(-1.0, 1.0).floor().abs()));
    let mut dice = Dice::new(6);
    let mut shells: Vec<(Place, f32)> = Vec::new();
    for radius in [190.0, 140.0, 96.0, 60.0, 34.0] {
        for _ in 0..900 {
            let place = (dice.between(0.0, size.0), dice.between(0.0, size.1));
            let free = |&(other, its): &(Place, f32)| {
                wrapped_distance((place.0 - other.0, place.1 - other.1), size) > its + (radius + 16.0) * unit
            };
            if shells.iter().all(free) {
                shells.push((place, radius * unit));
            }
        }
    }
    for (i, &(center, radius)) in shells.iter().enumerate() {
        limpet(torus, &mut dice, center, radius, INKS[(i + i / 3) % 4]);
    }
}

fn limpet(torus: &mut Torus, dice: &mut Dice, center: Place, radius: f32, [pale, warm, dark]: [Ink; 3]) {
    let ribs = dice.pick([18, 22, 26]);
    let turn = dice.angle();
    let squash = dice.between(0.82, 0.95);
    // The top of the cone sits off the middle, toward the head.
    let top = polar(center, turn, radius * 0.2);
    let rim = |angle: f32, scale: f32| {
        let (x, y) = (radius * angle.cos(), radius * squash * angle.sin());
        let edge = (center.0 + x * turn.cos() - y * turn.sin(), center.1 + x * turn.sin() + y * turn.cos());
        (top.0 + (edge.0 - top.0) * scale, top.1 + (edge.1 - top.1) * scale)
    };
    let rib = |i: usize| TAU * i as f32 / ribs as f32;
    let outline: Vec<Place> =
        (0..ribs * 2).map(|i| rim(TAU * i as f32 / (ribs * 2) as f32, if i % 2 == 0 { 1.045 } else { 0.97 })).collect();
    let shadow: Vec<Place> = outline.iter().map(|&(x, y)| (x + radius * 0.07, y + radius * 0.09)).collect();
    torus.fill(rounded(&shadow), veil(ink(0x1D_21_2A), 110));
    torus.fill(rounded(&outline), warm);
    for i in 0..ribs {
        let (from, to) = (rib(i) - TAU * 0.3 / ribs as f32, rib(i) + TAU * 0.3 / ribs as f32);
        let lit = ((rib(i) + turn + 2.3).cos() * 0.5 + 0.5).clamp(0.0, 1.0);
        torus
            .fill(polygon(&[top, rim(from, 1.0), rim(rib(i), 1.04), rim(to, 1.0)]), mix(warm, pale, 0.25 + 0.75 * lit));
        torus.fill(
            polygon(&[top, rim(to, 0.99), rim(to + TAU * 0.14 / ribs as f32, 0.985)]),
            mix(dark, warm, lit * 0.7),
        );
    }
    for scale in [0.86, 0.68, 0.5, 0.33] {
        let ring: Vec<Place> = (0..ribs * 2)
            .map(|i| rim(TAU * i as f32 / (ribs * 2) as f32, scale + if i % 2 == 0 { 0.02 } else { -0.015 }))
            .collect();
        torus.fill(stroke(rounded(&ring), radius * 0.022), veil(dark, 130));
    }
    torus.fill(disc(top, radius * 0.12), dark);
    torus.fill(disc(polar(top, -2.3, radius * 0.03), radius * 0.06), pale);
}
