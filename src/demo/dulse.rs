//! Dulse as a block print: broad forked fronds cut out of chattered rose, one dark ink and cream, laid as a half-drop.

use super::brush::{disc, polar, ribbon, spine};
use super::dice::{Dice, Place, Swell, scatter};
use super::torus::{Ink, Torus, ink};
use std::f32::consts::{FRAC_PI_2, PI, TAU};

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xE0_93_90);
const PAPER: Ink = ink(0xF9_EE_DC);
const DULSE: Ink = ink(0x78_1B_3A);

/// One piece of a frond between two forks: its middle line and its half-widths at both ends.
struct Piece {
    spine: Vec<Place>,
    half: Place,
    tip: bool,
}

/// A plant: where it holds on, which way it grows, how tall, how many fronds.
struct Plant {
    root: Place,
    angle: f32,
    size: f32,
    fronds: u32,
}

/// Draws the plants; the canvas must close as a half-drop.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let unit = width / 1800.0;
    chatter(torus, unit);
    let mut dice = Dice::new(21);
    let plants = [
        Plant { root: (width * 0.28, height * 0.50), angle: -FRAC_PI_2 + 0.1, size: 400.0 * unit, fronds: 5 },
        Plant { root: (width * 0.36, height * 0.58), angle: FRAC_PI_2 - 0.1, size: 262.0 * unit, fronds: 4 },
        Plant { root: (width * 0.79, height * 0.76), angle: FRAC_PI_2 + 0.12, size: 390.0 * unit, fronds: 5 },
        Plant { root: (width * 0.72, height * 0.69), angle: -FRAC_PI_2 - 0.2, size: 255.0 * unit, fronds: 4 },
    ];
    for plant in &plants {
        let pieces = grow(plant, &mut dice);
        for piece in &pieces {
            lay(torus, piece, 15.0 * unit, PAPER);
        }
        torus.fill(disc(plant.root, plant.size * 0.16 + 15.0 * unit), PAPER);
        for piece in &pieces {
            lay(torus, piece, 0.0, DULSE);
        }
        torus.fill(disc(plant.root, plant.size * 0.16), DULSE);
        for piece in &pieces {
            cut_veins(torus, piece, plant.size);
        }
        for i in 0..7 {
            torus.fill(disc(polar(plant.root, TAU * i as f32 / 7.0, plant.size * 0.09), plant.size * 0.022), PAPER);
        }
    }
}

fn grow(plant: &Plant, dice: &mut Dice) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for i in 0..plant.fronds {
        let fan = (i as f32 / (plant.fronds - 1) as f32 - 0.5) * 2.1;
        let length = plant.size * (1.0 - 0.16 * fan.abs()) * dice.between(0.9, 1.1);
        let half = (plant.size * 0.075, plant.size * 0.19);
        fork(&mut pieces, dice, (plant.root, plant.angle + fan), (length, half), 2);
    }
    pieces
}

/// Grows a piece and, at its end, two more; `from` is place and direction, `size` length and half-widths.
fn fork(into: &mut Vec<Piece>, dice: &mut Dice, from: (Place, f32), size: (f32, Place), forks: u32) {
    let ((root, angle), (length, half)) = (from, size);
    let bend = dice.between(-0.3, 0.3);
    let line = spine(root, angle, length, bend, 9);
    let end = line.last().copied().unwrap_or(root);
    into.push(Piece { spine: line, half, tip: forks == 0 });
    if forks == 0 {
        return;
    }
    let spread = dice.between(0.36, 0.5);
    for side in [-1.0, 1.0] {
        let next = length * dice.between(0.6, 0.82);
        let start = polar(end, angle + bend + side * FRAC_PI_2, half.1 * 0.42);
        let halves = (half.1 * 0.62, half.1 * dice.between(0.72, 0.86));
        fork(into, dice, (start, angle + bend + side * spread), (next, halves), forks - 1);
    }
}

/// Lays one piece down, `rim` pixels wider all round, with round ends and a softly waved edge.
fn lay(torus: &mut Torus, piece: &Piece, rim: f32, ink: Ink) {
    let (from, to) = piece.half;
    let half = |t: f32| from + (to - from) * t * t.sqrt() + 0.05 * to * (t * 4.0 * PI).sin() + rim;
    torus.fill(ribbon(&piece.spine, half), ink);
    for (place, t) in piece.spine.first().zip(Some(0.0)).into_iter().chain(piece.spine.last().zip(Some(1.0))) {
        torus.fill(disc(*place, half(t)), ink);
    }
}

/// The cream lines a knife leaves along a frond, fanning out in a tip.
fn cut_veins(torus: &mut Torus, piece: &Piece, size: f32) {
    let (Some(&root), Some(&end)) = (piece.spine.first(), piece.spine.last()) else { return };
    let angle = (end.1 - root.1).atan2(end.0 - root.0);
    let half = size * 0.0165;
    if piece.tip {
        for i in 0..5 {
            let fan = (i as f32 - 2.0) * 0.3;
            let from = polar(piece.spine[3], angle + fan * 2.0, piece.half.1 * 0.35);
            let cut = spine(from, angle + fan, piece.half.1 * (2.1 - fan.abs()), -fan * 0.5, 5);
            torus.fill(ribbon(&cut, |t| half * (1.0 - t) * (t * 8.0).min(1.0)), PAPER);
        }
        return;
    }
    for side in [-1.0, 0.0, 1.0] {
        let line: Vec<Place> = piece.spine[1..]
            .iter()
            .enumerate()
            .map(|(i, &p)| {
                let t = i as f32 / piece.spine.len() as f32;
                polar(p, angle + FRAC_PI_2, side * (piece.half.0 + (piece.half.1 - piece.half.0) * t) * 0.5)
            })
            .collect();
        let line = if side == 0.0 { &line[..] } else { &line[2..] };
        torus.fill(ribbon(line, |t| half * 0.8 * (1.0 - t * t) * (t * 6.0).min(1.0)), PAPER);
    }
}

/// The short cuts a gouge leaves where a block was cleared, following a slow swirl.
fn chatter(torus: &mut Torus, unit: f32) {
    let size = (torus.width(), torus.height());
    let swirl = Swell::new(5, size, 8, (1.0, 4.0));
    let mut dice = Dice::new(8);
    for (x, y) in scatter(&mut dice, size, 38.0 * unit, 9000) {
        let angle = swirl.at(x as i64, y as i64) * 1.2 + 0.5;
        let length = dice.between(34.0, 78.0) * unit;
        let half = dice.between(3.0, 6.2) * unit;
        let cut = spine(polar((x, y), angle, -length / 2.0), angle, length, dice.between(-0.25, 0.25), 5);
        torus.fill(ribbon(&cut, |t| half * (1.0 - (2.0 * t - 0.7).powi(2) / 1.7).max(0.0)), PAPER);
    }
}
