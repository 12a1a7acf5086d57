//! Fog over the islands: a long scarf in watercolor, ranges of land fading into mist, with grain of the paper and gulls.

use super::brush::{ribbon, spine};
use super::dice::{Dice, Place, Swell};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::PI;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xE7_E6_E2);
const MIST: Ink = ink(0xEE_EA_E3);
const BLUSH: Ink = ink(0xEB_C9_BB);
const RANGES: [Ink; 7] = [
    ink(0xB9_C9_CF),
    ink(0x9D_B6_BF),
    ink(0x86_9F_B4),
    ink(0xA6_9F_B8),
    ink(0x6F_93_9B),
    ink(0x5B_7C_92),
    ink(0x47_66_7A),
];

/// Draws the ranges from the far one to the near one, and over again: the nearest sinks into the mist of the farthest.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let (columns, rows) = (width as i64, height as i64);
    let (unit, step) = (width / 1500.0, height / RANGES.len() as f32);
    let ridge = Swell::new(70, (width, height), 26, (1.0, 60.0));
    let bleed = Swell::new(71, (width, height), 16, (2.0, 24.0));
    let crest = |range: i64, x: i64| (range as f32 + 0.5) * step + ridge.at(x, range * rows / 7) * 62.0 * unit;
    let crests: Vec<Vec<f32>> = (0..7).map(|range| (0..columns).map(|x| crest(range, x)).collect()).collect();
    let line = |range: i64, x: i64| {
        let around = range.div_euclid(7) as f32 * height;
        crests[range.rem_euclid(7) as usize][x.rem_euclid(columns) as usize] + around
    };
    let mut dice = Dice::new(2);
    let grain: Vec<u8> = (0..256 * 256).map(|_| (dice.bits() >> 56) as u8).collect();
    torus.wash(|x, y| {
        let (x, y) = (x.rem_euclid(columns), y.rem_euclid(rows));
        let here = y as f32;
        // The range whose crest lies last above this place; its color thins out downward.
        let lowest = (here / step).floor() as i64 + 1;
        let nearest = (0..4).map(|up| lowest - up).find(|&range| line(range, x) <= here).unwrap_or(lowest - 4);
        let depth = here - line(nearest, x);
        let wet = bleed.at(x, y);
        let mist = mix(MIST, BLUSH, 0.25 + 0.25 * wet);
        let pooled = (1.0 - depth / (26.0 * unit)).clamp(0.0, 1.0) * 0.22;
        let color = mix(RANGES[nearest.rem_euclid(7) as usize], ink(0x2C_44_58), pooled);
        let fade = (depth / (step * (0.95 + 0.18 * wet))).clamp(0.0, 1.0);
        let cover = (depth / (3.0 * unit)).clamp(0.0, 1.0) * (1.0 - fade.powf(0.8));
        let tone = mix(mist, color, cover);
        let paper = f32::from(grain[((y & 255) * 256 + (x & 255)) as usize]) / 255.0 - 0.5;
        mix(tone, if paper > 0.0 { ink(0xFF_FF_FF) } else { ink(0x3A_42_4E) }, paper.abs() * 0.07)
    });
    for i in 0..7 {
        let flock = (width * dice.unit(), step * (i as f32 + 0.25));
        for bird in 0..3 {
            let at = (flock.0 + dice.between(-150.0, 150.0) * unit, flock.1 + (bird as f32 * 52.0 - 40.0) * unit);
            gull(torus, at, dice.between(34.0, 74.0) * unit);
        }
    }
}

/// A gull far off: two wings in one stroke of the brush each.
fn gull(torus: &mut Torus, at: Place, span: f32) {
    for (angle, bend) in [(-0.55, 0.95), (PI + 0.45, -0.85)] {
        let wing = spine(at, angle, span, bend, 6);
        torus.fill(ribbon(&wing, |t| span * 0.085 * (1.0 - t * 0.9)), veil(ink(0x2E_42_54), 215));
    }
}
