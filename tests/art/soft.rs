//! Washes, gradients, grain, bristles, cells, leaves: tiny steps, noise, the statistics of photographs.

use super::canvas::Canvas;
use super::chance::Chance;

/// Two to four colors running into each other.
pub fn wash(chance: &mut Chance, canvas: &mut Canvas) {
    let first = chance.color();
    canvas.fill(first);
    let w = canvas.width;
    for _ in 0..chance.whole(1, 3) {
        let radius = chance.whole(6, 30) as usize;
        let field = canvas.noise(chance, radius);
        let color = chance.color_apart(first, 20.0);
        let sharp = chance.between(1.0, 5.0);
        canvas.change(|x, y, pixel| {
            let cover = 1.0 / (1.0 + (-sharp * field[y * w + x]).exp());
            for (channel, color) in pixel.iter_mut().zip(color) {
                *channel += (color - *channel) * cover;
            }
        });
    }
}

/// Slow waves of a few levels.
pub fn gradient(chance: &mut Chance, canvas: &mut Canvas) {
    let base = [0; 3].map(|_| chance.between(60.0, 200.0));
    let waves: Vec<(f32, f32, f32, [f32; 3])> = (0..chance.whole(1, 3))
        .map(|_| {
            let turns = (chance.whole(0, 2) as f32, chance.whole(0, 2) as f32);
            (turns.0, turns.1, chance.between(0.0, std::f32::consts::TAU), [0; 3].map(|_| chance.between(-25.0, 25.0)))
        })
        .collect();
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    canvas.each(|x, y| {
        let mut color = base;
        for (right, down, phase, swing) in &waves {
            let turn = std::f32::consts::TAU * (right * x as f32 / w + down * y as f32 / h) + phase;
            color.iter_mut().zip(swing).for_each(|(c, s)| *c += s * turn.sin());
        }
        color
    });
}

/// Grain over a flat color or a wash.
pub fn grain(chance: &mut Chance, canvas: &mut Canvas) {
    if chance.odds(2) {
        wash(chance, canvas);
    } else {
        canvas.fill([0; 3].map(|_| chance.between(40.0, 215.0)));
    }
    let radius = chance.whole(0, 1) as usize;
    let colored = chance.odds(2);
    let strength = chance.between(1.5, 14.0);
    let fields: Vec<Vec<f32>> = (0..if colored { 3 } else { 1 }).map(|_| canvas.noise(chance, radius)).collect();
    let w = canvas.width;
    canvas.change(|x, y, pixel| {
        for (channel, value) in pixel.iter_mut().take(3).enumerate() {
            *value = (*value + strength * fields[channel % fields.len()][y * w + x]).clamp(0.0, 255.0);
        }
    });
}

/// Noise at every scale, like clouds, stone or turf.
pub fn clouds(chance: &mut Chance, canvas: &mut Canvas) {
    let base = [0; 3].map(|_| chance.between(70.0, 185.0));
    let tint = [0; 3].map(|_| chance.between(0.5, 1.2));
    let falloff = chance.between(0.5, 0.8);
    let mut field = vec![0.0; canvas.width * canvas.height];
    let mut strength = 26.0;
    for radius in [24, 12, 6, 3, 1, 0] {
        let octave = canvas.noise(chance, radius);
        field.iter_mut().zip(&octave).for_each(|(f, o)| *f += strength * o);
        strength *= falloff;
    }
    let w = canvas.width;
    canvas.each(|x, y| [0, 1, 2].map(|c| base[c] + tint[c] * field[y * w + x]));
}

/// Bristled strokes of paint, each of many thin hairs.
pub fn bristles(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 4);
    let unit = canvas.unit;
    for _ in 0..(canvas.own_area() / 1500.0) as u32 {
        let at = (chance.between(0.0, canvas.width as f32), chance.between(0.0, canvas.height as f32));
        let (sin, cos) = chance.between(0.0, std::f32::consts::TAU).sin_cos();
        let (long, wide) = (canvas.unit * chance.between(20.0, 60.0), canvas.unit * chance.between(5.0, 14.0));
        let (color, seed) = (*chance.pick(&palette), chance.next());
        let hair = |v: f32| {
            let mut hairs = Chance::new(seed ^ (((v / unit + 64.0) * 1.5) as u64));
            (hairs.between(0.3, 1.0), hairs.between(0.6, 1.0))
        };
        canvas.paint(at, long + wide, |x, y| {
            let (u, v) = (x * cos + y * sin, y * cos - x * sin);
            let (cover, reach) = hair(v);
            let inside = (wide - v.abs()).min(long * reach - u.abs());
            (color, cover * (0.5 + inside).clamp(0.0, 1.0))
        });
    }
}

/// Cells around seeds, each of one color or shaded.
pub fn cells(chance: &mut Chance, canvas: &mut Canvas) {
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    let about = canvas.unit * chance.between(16.0, 50.0);
    let seeds: Vec<(f32, f32, [f32; 3])> = (0..(w * h / (about * about)) as u32)
        .map(|_| (chance.between(0.0, w), chance.between(0.0, h), chance.color()))
        .collect();
    // Seeds by square of a coarse grid, so that only near ones are asked.
    let (columns, rows) = ((w / about).ceil() as i64, (h / about).ceil() as i64);
    let mut squares = vec![Vec::new(); (columns * rows) as usize];
    for seed in &seeds {
        let (i, j) = ((seed.0 / w * columns as f32) as i64, (seed.1 / h * rows as f32) as i64);
        squares[(j.min(rows - 1) * columns + i.min(columns - 1)) as usize].push(*seed);
    }
    let shaded = chance.odds(2);
    let nearest = |delta: f32, side: f32| (delta + side * 1.5).rem_euclid(side) - side / 2.0;
    canvas.each(|x, y| {
        let (x, y) = (x as f32 + 0.5, y as f32 + 0.5);
        let (i, j) = ((x / w * columns as f32) as i64, (y / h * rows as f32) as i64);
        let mut best = (f32::INFINITY, [0.0; 3]);
        for square in (-3..=3).flat_map(|dj| (-3..=3).map(move |di| (i + di, j + dj))) {
            let at = square.1.rem_euclid(rows) * columns + square.0.rem_euclid(columns);
            for seed in &squares[at as usize] {
                let distance = nearest(x - seed.0, w).hypot(nearest(y - seed.1, h));
                if distance < best.0 {
                    best = (distance, seed.2);
                }
            }
        }
        let light = if shaded { 1.0 - 0.5 * (best.0 / about).min(1.0) } else { 1.0 };
        best.1.map(|v| (v * light).round())
    });
}

/// Discs of all sizes falling on each other, shaded: the statistics of natural pictures.
pub fn leaves(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.fill(chance.color());
    let area = canvas.own_area();
    for _ in 0..(area / 120.0) as u32 {
        let at = (chance.between(0.0, canvas.width as f32), chance.between(0.0, canvas.height as f32));
        // Radii fall off as the cube: every scale covers as much.
        let size = canvas.unit * 3.0 / (1.0 - chance.unit() * 0.985).sqrt();
        let color = chance.color();
        let (tilt, shade) = (chance.between(0.0, std::f32::consts::TAU), chance.between(0.0, 0.5));
        let (sin, cos) = tilt.sin_cos();
        canvas.paint(at, size + 2.0, |x, y| {
            let light = 1.0 + shade * (x * cos + y * sin) / size - shade;
            (color.map(|v| (v * light).clamp(0.0, 255.0)), (0.5 + size - x.hypot(y)).clamp(0.0, 1.0))
        });
    }
}

/// Dots whose size follows a soft field.
pub fn halftone(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    let ink = chance.color_apart(ground, 60.0);
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    let about = canvas.unit * chance.between(5.0, 12.0);
    let (columns, rows) = ((w / about).round().max(1.0), (h / about).round().max(1.0));
    let field = canvas.noise(chance, 20);
    let width = canvas.width;
    canvas.each(|x, y| {
        let (u, v) = ((x as f32 + 0.5) / w * columns, (y as f32 + 0.5) / h * rows);
        let distance = (u.fract() - 0.5).hypot(v.fract() - 0.5) * about;
        let size = about * (0.3 + 0.12 * field[y * width + x]).clamp(0.02, 0.7);
        let cover = (0.5 + size - distance).clamp(0.0, 1.0);
        [0, 1, 2].map(|c| (ground[c] + (ink[c] - ground[c]) * cover).round())
    });
}

/// A wash that is see-through everywhere.
pub fn clear_wash(chance: &mut Chance, canvas: &mut Canvas) {
    wash(chance, canvas);
    let field = canvas.noise(chance, 20);
    let w = canvas.width;
    canvas.change(|x, y, pixel| {
        let alpha = (0.5 + 0.15 * field[y * w + x]).clamp(0.05, 0.95);
        pixel.iter_mut().for_each(|value| *value *= alpha);
    });
}

/// One color.
pub fn plain(chance: &mut Chance, canvas: &mut Canvas) {
    canvas.fill(chance.color());
}
