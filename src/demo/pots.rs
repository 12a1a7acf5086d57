//! Lobster pots in pen line: creels with netted hoops, coiled warps and a claw or two, on kraft brown.

use super::brush::{cut_stroke, disc, oval, placed, polar, polygon, ribbon, rounded, spine, stroke, thread};
use super::dice::{Dice, Place, scatter, wrapped_distance};
use super::torus::{Ink, Torus, ink};
use std::f32::consts::{PI, TAU};
use tiny_skia::Path;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xC7_A0_73);
const PEN: Ink = ink(0x2E_22_1C);
const CHALK: Ink = ink(0xF8_EE_DD);
const WOOD: Ink = ink(0xB5_8B_5C);
const BRICK: Ink = ink(0xA8_3E_2B);

/// Draws a toss of pots, coils and lobsters.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let unit = size.0 / 2250.0;
    let mut dice = Dice::new(19);
    let mut taken: Vec<(Place, f32)> = Vec::new();
    let mut room = |dice: &mut Dice, radius: f32, tries: usize| -> Vec<Place> {
        let mut found = Vec::new();
        for place in scatter(dice, size, radius * 2.0, tries) {
            let free = |&(other, its): &(Place, f32)| {
                wrapped_distance((place.0 - other.0, place.1 - other.1), size) >= its + radius
            };
            if taken.iter().all(free) {
                taken.push((place, radius));
                found.push(place);
            }
        }
        found
    };
    for place in room(&mut dice, 262.0 * unit, 60) {
        pot(torus, place, dice.between(-0.35, 0.35), unit * 1.08);
    }
    for place in room(&mut dice, 170.0 * unit, 6000) {
        lobster(torus, place, dice.angle(), unit * 1.15);
    }
    for place in room(&mut dice, 100.0 * unit, 2500) {
        coil(torus, place, dice.angle(), unit);
    }
    for place in room(&mut dice, 26.0 * unit, 4000) {
        torus.fill(stroke(disc(place, dice.between(8.0, 17.0) * unit), 5.0 * unit), CHALK);
    }
}

/// A creel: a half-round cage seen from one end, drawn around its middle and put in place.
fn pot(torus: &mut Torus, center: Place, tilt: f32, unit: f32) {
    let mut draw = |path: Option<Path>, ink: Ink| torus.fill(placed(path, center, tilt, unit), ink);
    // A place on the cage: `u` from the far end to the near one, `angle` over the hoop from the left foot to the right.
    let cage = |u: f32, angle: f32| {
        let (foot_x, foot_y) = (-120.0 + 210.0 * u, 10.0 + 100.0 * u);
        (foot_x - 118.0 * angle.cos(), foot_y - 196.0 * angle.sin().max(0.0).powf(0.6))
    };
    let hoop = |u: f32| -> Vec<Place> { (0..=28).map(|i| cage(u, PI * i as f32 / 28.0)).collect() };
    let mut body = hoop(0.0);
    body.extend(hoop(1.0).into_iter().rev());
    draw(polygon(&body), WOOD);
    for start in -8..=8 {
        for lean in [-1.0, 1.0] {
            let net: Vec<Place> = (0..=16)
                .map(|k| k as f32 / 16.0)
                .map(|u| cage(u, (PI * (start as f32 / 8.0 + 0.5 + lean * (u - 0.5))).clamp(0.0, PI)))
                .collect();
            draw(stroke(thread(&net), 2.6), CHALK);
        }
    }
    for u in [0.0, 0.34, 0.67] {
        draw(stroke(thread(&hoop(u)), 13.0), PEN);
    }
    draw(polygon(&hoop(1.0)), WOOD);
    let mouth = cage(1.0, PI / 2.0);
    let mouth = (mouth.0, mouth.1 + 112.0);
    for i in 0..14 {
        let angle = PI * i as f32 / 13.0;
        draw(stroke(thread(&[cage(1.0, angle), polar(mouth, PI + angle, 46.0)]), 2.8), CHALK);
        draw(stroke(thread(&[cage(1.0, angle), polar(mouth, PI + angle + 0.5, 46.0)]), 2.8), CHALK);
    }
    draw(disc(mouth, 46.0), GROUND);
    draw(stroke(disc(mouth, 46.0), 11.0), PEN);
    draw(stroke(disc((mouth.0 + 6.0, mouth.1 + 4.0), 21.0), 5.0), CHALK);
    draw(stroke(thread(&hoop(1.0)), 17.0), PEN);
    for angle in [0.0, PI * 0.27, PI / 2.0] {
        draw(stroke(thread(&[cage(-0.05, angle), cage(1.06, angle)]), 11.0), PEN);
    }
    draw(stroke(thread(&[cage(1.0, 0.0), cage(1.0, PI)]), 17.0), PEN);
    let handle = cage(0.5, PI / 2.0);
    let line = [
        (handle.0 - 50.0, handle.1 - 24.0),
        (handle.0 - 20.0, handle.1 - 66.0),
        (handle.0 + 34.0, handle.1 - 46.0),
        (handle.0 + 50.0, handle.1 + 24.0),
    ];
    draw(stroke(thread(&line), 10.0), BRICK);
}

fn coil(torus: &mut Torus, center: Place, turn: f32, unit: f32) {
    let course: Vec<Place> = (0..=160)
        .map(|i| {
            let t = i as f32 / 160.0;
            polar(center, turn + TAU * 3.6 * t, (16.0 + 58.0 * t) * unit)
        })
        .chain((1..=8).map(|i| {
            let t = i as f32 / 8.0;
            polar(center, turn + TAU * 3.6 + 0.5 * t, (74.0 + 26.0 * t) * unit)
        }))
        .collect();
    torus.fill(stroke(thread(&course), 13.0 * unit), PEN);
    torus.fill(stroke(thread(&course), 7.5 * unit), CHALK);
    for step in super::rope::steps(&course, 9.0 * unit) {
        let mark = [polar(step.at, step.angle - 1.0, -4.6 * unit), polar(step.at, step.angle - 1.0, 4.6 * unit)];
        torus.fill(cut_stroke(thread(&mark), 2.2 * unit), PEN);
    }
}

fn lobster(torus: &mut Torus, center: Place, turn: f32, unit: f32) {
    let mut part = |path: Option<Path>, ink: Ink| torus.fill(placed(path, center, turn, unit), ink);
    for side in [-1.0, 1.0] {
        for (i, y) in [-18.0, 2.0, 22.0, 40.0].into_iter().enumerate() {
            let leg =
                [(side * 18.0, y), (side * 58.0, y - 10.0 + i as f32 * 6.0), (side * 74.0, y + 18.0 + i as f32 * 5.0)];
            part(stroke(thread(&leg), 6.5), BRICK);
        }
        part(stroke(thread(&[(side * 14.0, -42.0), (side * 48.0, -66.0), (side * 46.0, -98.0)]), 14.0), BRICK);
        let claw = [
            (side * 40.0, -92.0),
            (side * 72.0, -108.0),
            (side * 66.0, -146.0),
            (side * 52.0, -124.0),
            (side * 36.0, -142.0),
            (side * 28.0, -112.0),
        ];
        part(rounded(&claw), BRICK);
        part(stroke(thread(&spine((side * 8.0, -62.0), -PI / 2.0 + side * 0.25, 120.0, side * 1.3, 8)), 3.0), BRICK);
        part(polygon(&[(side * 3.0, 112.0), (side * 40.0, 130.0), (side * 26.0, 158.0), (side * 4.0, 146.0)]), BRICK);
    }
    part(ribbon(&[(0.0, -76.0), (0.0, -50.0), (0.0, -10.0), (0.0, 40.0)], |t| 12.0 + 20.0 * (t * 2.4).sin()), BRICK);
    for i in 0..5 {
        let y = 42.0 + i as f32 * 17.0;
        part(oval((0.0, y), (27.0 - i as f32 * 3.0, 11.5), 0.0), BRICK);
        part(
            stroke(
                thread(&[(-20.0 + i as f32 * 2.0, y + 8.0), (0.0, y + 11.0), (20.0 - i as f32 * 2.0, y + 8.0)]),
                2.4,
            ),
            CHALK,
        );
    }
    part(rounded(&[(-12.0, 120.0), (12.0, 120.0), (14.0, 156.0), (0.0, 164.0), (-14.0, 156.0)]), BRICK);
    part(stroke(thread(&[(0.0, -58.0), (0.0, 22.0)]), 2.6), CHALK);
    for side in [-1.0, 1.0] {
        part(disc((side * 9.0, -68.0), 4.6), CHALK);
    }
}
