//! Motifs on a ground: on lattices and tossed, bold, dark, two-colored, and on no ground at all.

use super::canvas::Canvas;
use super::chance::Chance;
use super::shape::Shape;

fn anywhere(chance: &mut Chance, canvas: &Canvas) -> (f32, f32) {
    (chance.between(0.0, canvas.width as f32), chance.between(0.0, canvas.height as f32))
}

/// Tosses about one motif per `area` pixels.
fn toss(chance: &mut Chance, canvas: &mut Canvas, area: f32, sizes: [f32; 2], palette: &[[f32; 3]], soft: f32) {
    for _ in 0..(canvas.own_area() / area).max(3.0) as u32 {
        let at = anywhere(chance, canvas);
        let size = canvas.unit * chance.between(sizes[0], sizes[1]);
        let shape = Shape::any(chance, size);
        canvas.stamp(at, shape.reach(), *chance.pick(palette), soft, |x, y| shape.distance(x, y));
    }
}

pub fn tossed(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 6);
    let density = chance.between(900.0, 3500.0);
    toss(chance, canvas, density, [10.0, 34.0], &palette, 1.0);
}

/// Outlines one to three pixels wide: lines that are meant.
pub fn thin(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 4);
    for _ in 0..(canvas.own_area() / 2200.0).max(3.0) as u32 {
        let at = anywhere(chance, canvas);
        let size = canvas.unit * chance.between(10.0, 34.0);
        let (shape, half) = (Shape::any(chance, size), chance.between(0.5, 1.5));
        canvas.stamp(at, shape.reach() + 2.0, *chance.pick(&palette), 1.0, |x, y| shape.distance(x, y).abs() - half);
    }
}

/// A number of equal whole parts of at least `least` pixels into which a side can be cut.
fn parts(chance: &mut Chance, side: usize, least: usize) -> usize {
    let counts: Vec<usize> = (1..=side / least).filter(|count| side.is_multiple_of(*count)).collect();
    if counts.is_empty() { 1 } else { *chance.pick(&counts) }
}

/// A small tile laid exactly, pixel for pixel; in half of the cases it holds itself again half a unit aside.
pub fn small_repeat(chance: &mut Chance, canvas: &mut Canvas) {
    let least = (28.0 * canvas.unit) as usize;
    let (across, down) = (parts(chance, canvas.width, least), parts(chance, canvas.height, least));
    let (wide, high) = (canvas.width / across, canvas.height / down);
    let halves = wide.is_multiple_of(2) && high.is_multiple_of(2) && chance.odds(2);
    let copies = if halves { vec![(0, 0), (wide / 2, high / 2)] } else { vec![(0, 0)] };
    let mut unit = Canvas::with_copies(wide, high, copies);
    unit.unit = canvas.unit;
    let ground = chance.color();
    unit.fill(ground);
    let palette = chance.palette(ground, 4);
    toss(chance, &mut unit, 700.0, [4.0, 16.0], &palette, 1.0);
    canvas.each(|x, y| unit.color(x % wide, y % high));
}

/// Few large motifs, much ground.
pub fn sparse(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 3);
    toss(chance, canvas, 14_000.0, [14.0, 40.0], &palette, 1.0);
}

/// Two colors, no antialiasing.
pub fn two_color(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let ink = chance.color_apart(ground, 60.0);
    toss(chance, canvas, 1800.0, [8.0, 30.0], &[ink], 0.0);
}

/// All within ten levels of black.
pub fn dark(chance: &mut Chance, canvas: &mut Canvas) {
    let shade = |chance: &mut Chance| [0; 3].map(|_| chance.between(4.0, 14.0).round());
    canvas.fill(shade(chance));
    let palette: Vec<[f32; 3]> = (0..5).map(|_| shade(chance)).collect();
    toss(chance, canvas, 1500.0, [10.0, 34.0], &palette, 1.0);
}

/// Bars along both axes, antialiased: straight edges of every length anywhere.
pub fn bars(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 5);
    for _ in 0..(canvas.own_area() / 1600.0) as u32 {
        let (at, size) = (anywhere(chance, canvas), canvas.unit * chance.between(8.0, 45.0));
        let shape = Shape::bar(chance, size);
        canvas.stamp(at, shape.reach(), *chance.pick(&palette), 1.0, |x, y| shape.distance(x, y));
    }
}

/// One motif on a grid or in alternate rows.
pub fn grid(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let ink = chance.color_apart(ground, 40.0);
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    let about = canvas.unit * chance.between(18.0, 80.0);
    let columns = (w / about).round().max(1.0);
    let rows = (h / about / 2.0).round().max(1.0) * 2.0;
    let size = about * chance.between(0.15, 0.48);
    let shape = if chance.odds(2) { None } else { Some(Shape::any(chance, size)) };
    let start = anywhere(chance, canvas);
    let staggered = chance.odds(2);
    let soft = if chance.odds(3) { 0.0 } else { 1.0 };
    for row in 0..rows as u32 {
        for column in 0..columns as u32 {
            let stagger = if staggered && row % 2 == 1 { 0.5 } else { 0.0 };
            let at = (start.0 + (column as f32 + stagger) * w / columns, start.1 + row as f32 * h / rows);
            match shape {
                Some(shape) => canvas.stamp(at, shape.reach(), ink, soft, |x, y| shape.distance(x, y)),
                None => canvas.stamp(at, size + 2.0, ink, soft, |x, y| x.hypot(y) - size),
            }
        }
    }
}

/// Motifs on no ground.
pub fn clear_motifs(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.clear();
    let palette: Vec<[f32; 3]> = (0..5).map(|_| chance.color()).collect();
    toss(chance, canvas, 2500.0, [10.0, 34.0], &palette, 1.0);
}

/// Wandering ink lines, on paper or on no ground.
fn ink(chance: &mut Chance, canvas: &mut Canvas) {
    let color = chance.color().map(|v| v * 0.4);
    for _ in 0..(canvas.own_area() / 6000.0).max(4.0) as u32 {
        let (mut at, mut turn) = (anywhere(chance, canvas), chance.between(0.0, std::f32::consts::TAU));
        let (bend, wide) = (chance.between(-0.02, 0.02) / canvas.unit, canvas.unit * chance.between(0.6, 2.0));
        for _ in 0..(canvas.unit * chance.whole(40, 160) as f32) as u32 {
            canvas.stamp(at, wide + 2.0, color, 1.0, |x, y| x.hypot(y) - wide);
            at = (at.0 + turn.cos(), at.1 + turn.sin());
            turn += bend;
        }
    }
}

pub fn clear_ink(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.clear();
    ink(chance, canvas);
}

pub fn paper_ink(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.fill([250.0, 246.0, 235.0]);
    ink(chance, canvas);
}

/// Airbrushed glows on no ground: hardly a pixel is opaque.
pub fn glow(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.clear();
    for _ in 0..(canvas.own_area() / 4000.0).max(3.0) as u32 {
        let (at, color, size) = (anywhere(chance, canvas), chance.color(), canvas.unit * chance.between(15.0, 50.0));
        canvas.paint(at, size, |x, y| (color, 0.8 * (1.0 - (x * x + y * y) / (size * size)).max(0.0).powi(2)));
    }
}

/// An opaque print with holes cut out.
pub fn cutout(chance: &mut Chance, canvas: &mut Canvas) {
    tossed(chance, canvas);
    for _ in 0..(canvas.own_area() / 3000.0).max(3.0) as u32 {
        let (at, size) = (anywhere(chance, canvas), canvas.unit * chance.between(8.0, 26.0));
        let (w, h) = (canvas.width as f32, canvas.height as f32);
        canvas.change(|x, y, pixel| {
            let nearest = |delta: f32, side: f32| (delta + side * 1.5).rem_euclid(side) - side / 2.0;
            let distance = nearest(x as f32 + 0.5 - at.0, w).hypot(nearest(y as f32 + 0.5 - at.1, h)) - size;
            let keep = (0.5 + distance).clamp(0.0, 1.0);
            pixel.iter_mut().for_each(|value| *value *= keep);
        });
    }
}

/// One large motif in the middle, nothing near the border.
pub fn lone(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 2);
    let at = (canvas.width as f32 / 2.0, canvas.height as f32 / 2.0);
    let size = canvas.width.min(canvas.height) as f32 * 0.3;
    for part in [1.0, 0.6, 0.3] {
        let shape = Shape::any(chance, size * part);
        canvas.stamp(at, shape.reach(), *chance.pick(&palette), 1.0, |x, y| shape.distance(x, y));
    }
}
