//! Sea lace on a transparent ground: ruffled sheets of sea lettuce in see-through washes, with soft rims and a faint glow.

use super::brush::{disc, polar, rounded, stroke, thread};
use super::dice::{Dice, Place, scatter};
use super::torus::{Ink, Torus, ink, veil};
use std::f32::consts::TAU;

/// The ground of the drawing: nothing.
pub const GROUND: Ink = [0; 4];
const INKS: [[Ink; 2]; 4] = [
    [ink(0x3F_8F_6B), ink(0xA8_D0_8D)],
    [ink(0x2F_7D_86), ink(0x8F_CB_C0)],
    [ink(0x7C_9A_3A), ink(0xD6_DC_8A)],
    [ink(0xA6_4B_6A), ink(0xE8_A9_B0)],
];

/// Draws the sheets.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 2000.0;
    let mut dice = Dice::new(64);
    let places = scatter(&mut dice, size, 300.0 * unit, 1500);
    for (i, &place) in places.iter().enumerate() {
        let radius = dice.between(150.0, 225.0) * unit;
        let [deep, _] = INKS[i % 4];
        let reach = radius * 1.55;
        torus.fill_with(disc(place, reach), |x, y| {
            let far = (x as f32 + 0.5 - place.0).hypot(y as f32 + 0.5 - place.1) / reach;
            let fade = (1.0 - far * far).max(0.0);
            veil(deep, (70.0 * fade * fade).round() as u8)
        });
    }
    for (i, &place) in places.iter().enumerate() {
        let radius = dice.between(160.0, 230.0) * unit;
        sheet(torus, &mut dice, place, radius, INKS[i % 4]);
    }
    for (x, y) in scatter(&mut dice, size, 90.0 * unit, 1200) {
        let [deep, light] = dice.pick(INKS);
        torus.fill(disc((x, y), dice.between(5.0, 13.0) * unit), veil(deep, 110));
        torus.fill(disc((x + 4.0 * unit, y - 3.0 * unit), 4.0 * unit), veil(light, 150));
    }
}

/// One sheet: leaves of a ruffled rosette, each a wash that is dense at its rim and thin inside.
fn sheet(torus: &mut Torus, dice: &mut Dice, center: Place, radius: f32, [deep, light]: [Ink; 2]) {
    let turn = dice.angle();
    for leaf in 0..5 {
        let toward = turn + TAU * leaf as f32 / 5.0;
        let middle = polar(center, toward, radius * 0.46);
        let (phase, folds) = (dice.angle(), dice.pick([7.0, 8.0, 9.0]));
        let outline = |scale: f32| -> Vec<Place> {
            (0..72)
                .map(|i| {
                    let angle = TAU * i as f32 / 72.0;
                    let ruffle =
                        1.0 + 0.10 * (angle * folds + phase).sin() + 0.045 * (angle * folds * 2.0 - phase).sin();
                    polar(middle, angle, radius * 0.62 * ruffle * scale)
                })
                .collect()
        };
        let body = if leaf % 2 == 0 { deep } else { light };
        for (scale, alpha) in [(1.0, 62), (0.93, 34), (0.8, 26), (0.62, 22)] {
            torus.fill(rounded(&outline(scale)), veil(body, alpha));
        }
        torus.fill(stroke(rounded(&outline(0.985)), radius * 0.014), veil(deep, 165));
        for vein in 0..6 {
            let spread = toward + (vein as f32 - 2.5) * 0.33;
            let line = [
                polar(center, toward, radius * 0.05),
                polar(center, spread, radius * 0.42),
                polar(center, spread + 0.07, radius * 0.82),
            ];
            torus.fill(stroke(thread(&line), radius * 0.010), veil(light, 120));
        }
    }
    torus.fill(disc(center, radius * 0.07), veil(deep, 200));
}
