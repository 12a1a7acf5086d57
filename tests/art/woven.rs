//! Woven, laid and striped art: hard straight edges, many of them on the border by intent.

use super::canvas::Canvas;
use super::chance::Chance;
use super::shape::Shape;

/// Units that fit a side a whole number of times, each about `about` pixels; their borders are whole pixels.
struct Units {
    starts: Vec<usize>,
}

impl Units {
    fn new(side: usize, about: f32, multiple: usize) -> Self {
        let count = ((side as f32 / about / multiple as f32).round() as usize).max(1) * multiple;
        Self { starts: (0..=count).map(|unit| unit * side / count).collect() }
    }

    fn count(&self) -> usize {
        self.starts.len() - 1
    }

    /// The unit a pixel lies in, and how far into it.
    fn find(&self, at: usize) -> (usize, usize) {
        let unit = self.starts.partition_point(|start| *start <= at) - 1;
        (unit, at - self.starts[unit])
    }

    fn size(&self, unit: usize) -> usize {
        self.starts[unit + 1] - self.starts[unit]
    }
}

/// Where the pattern begins: usually on the border, as designers draw it.
fn offset(chance: &mut Chance, side: usize) -> usize {
    if chance.odds(2) { 0 } else { chance.whole(0, side as u32 - 1) as usize }
}

pub fn checks(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(8.0, 60.0);
    let (across, down) = (Units::new(canvas.width, about, 2), Units::new(canvas.height, about, 2));
    let first = chance.color();
    let colors = [first, chance.color_apart(first, 30.0)];
    let (w, h) = (canvas.width, canvas.height);
    let (ox, oy) = (offset(chance, w), offset(chance, h));
    canvas.each(|x, y| colors[(across.find((x + ox) % w).0 + down.find((y + oy) % h).0) % 2]);
}

pub fn weave(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(8.0, 40.0);
    let (across, down) = (Units::new(canvas.width, about, 2), Units::new(canvas.height, about, 2));
    let warp = chance.color();
    let weft = chance.color_apart(warp, 30.0);
    let shade = chance.between(0.0, 0.4);
    let (w, h) = (canvas.width, canvas.height);
    let (ox, oy) = (offset(chance, w), offset(chance, h));
    canvas.each(|x, y| {
        let ((i, into_x), (j, into_y)) = (across.find((x + ox) % w), down.find((y + oy) % h));
        let over = (i + j) % 2 == 0;
        // A strand is lighter along its middle and darker where it dives under.
        let (at, size) = if over { (into_x, across.size(i)) } else { (into_y, down.size(j)) };
        let light = 1.0 - shade * (2.0 * (at as f32 + 0.5) / size as f32 - 1.0).abs();
        if over { warp } else { weft }.map(|v| (v * light).round())
    });
}

pub fn bricks(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(12.0, 50.0);
    let (across, down) = (Units::new(canvas.width, about * 2.2, 1), Units::new(canvas.height, about, 2));
    let (w, h) = (canvas.width, canvas.height);
    let mortar = chance.color();
    let base = chance.color_apart(mortar, 40.0);
    let joint = (canvas.unit * chance.whole(1, 4) as f32) as usize;
    let colors: Vec<[f32; 3]> = (0..across.count() * down.count())
        .map(|_| base.map(|v| (v + chance.between(-30.0, 30.0)).round().clamp(0.0, 255.0)))
        .collect();
    let half = w / across.count() / 2;
    let (ox, oy) = (offset(chance, w), offset(chance, h));
    canvas.each(|x, y| {
        let (course, into_y) = down.find((y + oy) % h);
        let (brick, into_x) = across.find((x + ox + course % 2 * half) % w);
        if into_x < joint || into_y < joint { mortar } else { colors[course * across.count() + brick] }
    });
}

/// Threads of a palette along both axes; `twill` lets them show through each other in two-pixel diagonals.
fn plaid_of(chance: &mut Chance, canvas: &mut Canvas, twill: bool) {
    let palette: Vec<[f32; 3]> = (0..chance.whole(3, 5)).map(|_| chance.color()).collect();
    let unit = canvas.unit;
    let mut sett = |side: usize| -> Vec<[f32; 3]> {
        let units = Units::new(side, side as f32 / chance.whole(1, 5) as f32, 1);
        let longest = side.div_ceil(units.count()) + 1;
        let mut threads = Vec::new();
        while threads.len() < longest {
            let color = *chance.pick(&palette);
            threads.extend((0..(unit * chance.whole(1, 30) as f32) as usize).map(|_| color));
        }
        (0..side).map(|at| threads[units.find(at).1]).collect()
    };
    let (warp, weft) = (sett(canvas.width), sett(canvas.height));
    if twill {
        canvas.each(|x, y| if (x + y) / 2 % 2 == 0 { warp[x] } else { weft[y] });
    } else {
        canvas.each(|x, y| [0, 1, 2].map(|c| ((warp[x][c] + weft[y][c]) / 2.0).round()));
    }
}

pub fn plaid(chance: &mut Chance, canvas: &mut Canvas) {
    plaid_of(chance, canvas, false);
}

/// Sides must be multiples of 4 for the diagonals to close.
pub fn twill(chance: &mut Chance, canvas: &mut Canvas) {
    plaid_of(chance, canvas, canvas.width.is_multiple_of(4) && canvas.height.is_multiple_of(4));
}

pub fn stripes(chance: &mut Chance, canvas: &mut Canvas) {
    let palette: Vec<[f32; 3]> = (0..chance.whole(2, 6)).map(|_| chance.color()).collect();
    let along = chance.odds(2);
    let side = if along { canvas.height } else { canvas.width };
    let mut colors = Vec::new();
    let mut last = [0.0; 3];
    while colors.len() < side {
        let color = *chance.pick(&palette);
        if color != last {
            let wide = ((canvas.unit * chance.whole(3, 50) as f32) as usize).min(side - colors.len());
            colors.extend((0..wide).map(|_| color));
            last = color;
        }
    }
    canvas.each(|x, y| colors[if along { y } else { x }]);
}

/// Stripes whose pieces are cut across at random and change color there.
pub fn cut_stripes(chance: &mut Chance, canvas: &mut Canvas) {
    let lanes = Units::new(canvas.height, canvas.unit * chance.between(6.0, 40.0), 1);
    let palette: Vec<[f32; 3]> = (0..6).map(|_| chance.color()).collect();
    let w = canvas.width;
    let unit = canvas.unit;
    let rows: Vec<Vec<[f32; 3]>> = (0..lanes.count())
        .map(|_| {
            let mut row = Vec::new();
            while row.len() < w {
                let color = *chance.pick(&palette);
                let long = (unit * chance.whole(10, 90) as f32) as usize;
                row.extend((0..long.min(w - row.len())).map(|_| color));
            }
            row.rotate_left(chance.whole(0, w as u32 - 1) as usize);
            row
        })
        .collect();
    let h = canvas.height;
    let oy = offset(chance, h);
    canvas.each(|x, y| rows[lanes.find((y + oy) % h).0][x]);
}

/// Thin lines, the first of them on the first or the last row or column.
pub fn pinstripes(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    let line = chance.color_apart(ground, 40.0);
    let wide = chance.whole(1, 3) as usize;
    let along = chance.odds(2);
    let side = if along { canvas.height } else { canvas.width };
    let lanes = Units::new(side, canvas.unit * chance.between(12.0, 60.0), 1);
    let last = chance.odds(2);
    let texture = chance.odds(2).then(|| canvas.noise(chance, 6));
    let w = canvas.width;
    canvas.each(|x, y| {
        let at = if along { y } else { x };
        let at = if last { side - 1 - at } else { at };
        let color = if lanes.find(at).1 < wide { line } else { ground };
        texture.as_ref().map_or(color, |noise| color.map(|v| v + 6.0 * noise[y * w + x]))
    });
}

/// Strokes in one direction, closing over the border by whole turns.
pub fn slanted(chance: &mut Chance, canvas: &mut Canvas) {
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    let turns_x = (w / (canvas.unit * chance.between(12.0, 70.0))).round().max(1.0);
    let turns_y =
        (h / (canvas.unit * chance.between(12.0, 70.0))).round().max(1.0) * if chance.odds(2) { 1.0 } else { -1.0 };
    let first = chance.color();
    let second = chance.color_apart(first, 30.0);
    let hard = chance.odds(2);
    let duty = chance.between(0.2, 0.8);
    // Pixels for one turn, measured across the stripes.
    let pitch = 1.0 / (turns_x / w).hypot(turns_y / h);
    canvas.each(|x, y| {
        let phase = ((x as f32 + 0.5) / w * turns_x + (y as f32 + 0.5) / h * turns_y).rem_euclid(1.0);
        let inside = if phase < duty { phase.min(duty - phase) } else { -(phase - duty).min(1.0 - phase) };
        let cover = if hard { f32::from(inside >= 0.0) } else { (0.5 + inside * pitch).clamp(0.0, 1.0) };
        [0, 1, 2].map(|c| (second[c] + (first[c] - second[c]) * cover).round())
    });
}

pub fn chevron(chance: &mut Chance, canvas: &mut Canvas) {
    let across = Units::new(canvas.width, canvas.unit * chance.between(20.0, 90.0), 1);
    let turns = (canvas.height as f32 / (canvas.unit * chance.between(10.0, 50.0))).round().max(1.0);
    let first = chance.color();
    let second = chance.color_apart(first, 30.0);
    let h = canvas.height as f32;
    let slope = chance.between(0.5, 1.5);
    canvas.each(|x, y| {
        let (unit, into) = across.find(x);
        let half = across.size(unit) as f32 / 2.0;
        let rise = (into as f32 + 0.5 - half).abs() * slope;
        let phase = ((y as f32 + rise) / h * turns).rem_euclid(1.0);
        if phase < 0.5 { first } else { second }
    });
}

/// Short strokes of one slant, and some across.
pub fn hatching(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let ink = chance.color_apart(ground, 40.0);
    let straight = chance.odds(3);
    let turn = if straight { 0.0 } else { chance.between(0.0, 3.1) };
    let strokes = (canvas.own_area() / 250.0) as u32;
    for stroke in 0..strokes {
        let at = (chance.between(0.0, canvas.width as f32), chance.between(0.0, canvas.height as f32));
        let turn = turn + if stroke % 4 == 0 { std::f32::consts::FRAC_PI_2 } else { chance.between(-0.06, 0.06) };
        let (sin, cos) = if straight { if stroke % 4 == 0 { (1.0, 0.0) } else { (0.0, 1.0) } } else { turn.sin_cos() };
        let (long, thin) = (canvas.unit * chance.between(6.0, 30.0), canvas.unit * chance.between(0.4, 1.2));
        let at = if straight { (at.0.round(), at.1.round() + 0.5) } else { at };
        canvas.stamp(at, long + 2.0, ink, 1.0, |x, y| {
            ((x * cos + y * sin).abs() - long).max((y * cos - x * sin).abs() - thin)
        });
    }
}

/// Rows of overlapping round scales, every other row half a scale aside.
pub fn scallops(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(16.0, 60.0);
    let (across, down) = (Units::new(canvas.width, about, 1), Units::new(canvas.height, about / 2.0, 2));
    let first = chance.color();
    let colors = [first, chance.color_apart(first, 30.0), chance.color_apart(first, 50.0)];
    let rings = chance.between(2.0, 4.0);
    let (w, h) = (canvas.width, canvas.height);
    let (ox, oy) = (offset(chance, w), offset(chance, h));
    let (wide, high) = (w as f32 / across.count() as f32, h as f32 / down.count() as f32);
    canvas.each(|x, y| {
        let (u, v) = (((x + ox) % w) as f32 / wide, ((y + oy) % h) as f32 / high);
        // A scale's center lies on its row's upper line and the scale hangs down; the uppermost that covers wins.
        let row = v.floor();
        for up in [0.0, 1.0, 2.0] {
            let shift = if (row - up).rem_euclid(2.0) < 0.5 { 0.0 } else { 0.5 };
            let (dx, dy) = (((u - shift).rem_euclid(1.0) - 0.5) * 2.0, (v - row + up) / 2.0);
            let reach = dx.hypot(dy);
            if reach < 1.0 {
                return colors[(reach * rings) as usize % 2];
            }
        }
        colors[2]
    });
}

/// Broken checks: four dark and four light threads both ways in a two-and-two twill.
pub fn houndstooth(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(1.5, 8.0);
    let (across, down) = (Units::new(canvas.width, about, 8), Units::new(canvas.height, about, 8));
    let first = chance.color();
    let colors = [first, chance.color_apart(first, 30.0)];
    let (w, h) = (canvas.width, canvas.height);
    let (ox, oy) = (offset(chance, w), offset(chance, h));
    canvas.each(|x, y| {
        let (i, j) = (across.find((x + ox) % w).0, down.find((y + oy) % h).0);
        let thread = if (i + j) % 4 < 2 { i } else { j };
        colors[thread / 4 % 2]
    });
}

/// Patches sewn edge to edge, each of its own color or little print.
pub fn patchwork(chance: &mut Chance, canvas: &mut Canvas) {
    let about = canvas.unit * chance.between(40.0, 120.0);
    let (across, down) = (Units::new(canvas.width, about, 1), Units::new(canvas.height, about, 1));
    let patches: Vec<([f32; 3], [f32; 3], u32, f32)> = (0..across.count() * down.count())
        .map(|_| (chance.color(), chance.color(), chance.whole(0, 3), canvas.unit * chance.between(3.0, 9.0)))
        .collect();
    canvas.each(|x, y| {
        let ((i, into_x), (j, into_y)) = (across.find(x), down.find(y));
        let (ground, print, kind, pitch) = patches[j * across.count() + i];
        let (u, v) = ((into_x as f32 / pitch) as u32, (into_y as f32 / pitch) as u32);
        let printed = match kind {
            0 => false,
            1 => u % 2 == 0,
            2 => (u + v) % 2 == 0,
            _ => u % 3 == 1 && v % 3 == 1,
        };
        if printed { print } else { ground }
    });
}

/// A line of 1 to 8 pixels along one or four sides, over scattered motifs.
pub fn frame(chance: &mut Chance, canvas: &mut Canvas) {
    let ground = chance.color();
    canvas.fill(ground);
    let palette = chance.palette(ground, 4);
    for _ in 0..(canvas.own_area() / 2500.0) as u32 {
        let at = (chance.between(0.0, canvas.width as f32), chance.between(0.0, canvas.height as f32));
        let size = canvas.unit * chance.between(8.0, 28.0);
        let shape = Shape::any(chance, size);
        canvas.stamp(at, shape.reach(), *chance.pick(&palette), 1.0, |x, y| shape.distance(x, y));
    }
    let line = chance.color_apart(ground, 40.0);
    let wide = chance.whole(1, 8) as usize;
    let only = chance.whole(0, 3);
    let sides = if chance.odds(2) { [true; 4] } else { [0, 1, 2, 3].map(|side| side == only) };
    let (w, h) = (canvas.width, canvas.height);
    canvas.change(|x, y, pixel| {
        let on = [x < wide, y < wide, x + wide >= w, y + wide >= h];
        if on.iter().zip(sides).any(|(on, drawn)| *on && drawn) {
            *pixel = [line[0], line[1], line[2], 1.0];
        }
    });
}
