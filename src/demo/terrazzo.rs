//! Shell terrazzo: angular chips of shell, slate and sea glass set close in warm white.

use super::brush::{disc, polar, polygon};
use super::dice::{Dice, Place, wrapped_distance};
use super::torus::{Ink, Torus, ink, mix};
use std::f32::consts::TAU;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xF4_EE_E6);
const INKS: [Ink; 7] = [
    ink(0xE0_7A_5F),
    ink(0x2B_4C_5E),
    ink(0x81_B2_9A),
    ink(0xF2_CC_8F),
    ink(0xC9_AD_A1),
    ink(0x5F_7D_8B),
    ink(0xE8_B4_B0),
];

/// Draws chips of five sizes, the large ones first.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 1260.0;
    let mut dice = Dice::new(55);
    let mut chips: Vec<(Place, f32)> = Vec::new();
    for (radius, tries) in [(88.0, 300), (56.0, 500), (32.0, 900), (17.0, 1600), (7.0, 3000)] {
        for _ in 0..tries {
            let place = (dice.between(0.0, size.0), dice.between(0.0, size.1));
            let free = |&(other, its): &(Place, f32)| {
                wrapped_distance((place.0 - other.0, place.1 - other.1), size) > its + (radius + 5.0) * unit
            };
            if chips.iter().all(free) {
                chips.push((place, radius * unit));
            }
        }
    }
    for (center, radius) in chips {
        chip(torus, &mut dice, center, radius);
    }
}

fn chip(torus: &mut Torus, dice: &mut Dice, center: Place, radius: f32) {
    let (corners, turn) = (dice.pick([4, 5, 5, 6, 7]), dice.angle());
    let outline: Vec<Place> = (0..corners)
        .map(|i| {
            let angle = turn + TAU * (i as f32 + dice.between(-0.28, 0.28)) / corners as f32;
            polar(center, angle, radius * dice.between(0.72, 1.0))
        })
        .collect();
    let ink = dice.pick(INKS);
    torus.fill(polygon(&outline), ink);
    if radius < 30.0 {
        return;
    }
    let middle = polar(center, dice.angle(), radius * 0.15);
    if let [a, b, ..] = outline[..] {
        torus.fill(polygon(&[a, b, middle]), mix(ink, super::torus::ink(0xFF_FF_FF), 0.18));
    }
    if let [.., a, b] = outline[..] {
        torus.fill(polygon(&[a, b, middle]), mix(ink, super::torus::ink(0x20_2A_33), 0.14));
    }
    for _ in 0..(radius / 9.0) as usize {
        let fleck = polar(center, dice.angle(), radius * 0.5 * dice.unit());
        torus.fill(disc(fleck, dice.between(1.2, 2.8)), mix(ink, GROUND, 0.5));
    }
}
