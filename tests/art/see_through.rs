//! Makers of transparency where none is meant: see-through lines, edges, holes, specks, and a see-through ground.

use super::chance::Chance;
use super::fault::{Case, Faulty, runs};
use burler::finding::{Kind, Verdict};
use burler::spec::{Ground, GroundDemand};
use burler::tile::Raster;

/// A straight line over the canvas.
struct Line {
    sin: f32,
    cos: f32,
    /// From the middle of the canvas along the normal.
    off: f32,
    half: f32,
    /// The stretch that is there, along the line from the middle.
    part: (f32, f32),
}

impl Line {
    /// How much of a pixel the line covers: exact for level lines.
    fn cover(&self, x: f32, y: f32) -> f32 {
        let (along, across) = (x * self.cos - y * self.sin, (x * self.sin + y * self.cos - self.off).abs());
        if along < self.part.0 || along > self.part.1 { 0.0 } else { (self.half + 0.5 - across).clamp(0.0, 1.0) }
    }
}

/// Sets alpha from a rule; half of the files held color multiplied by alpha, which rounds it.
fn with_alpha(sound: &Raster, multiplied: bool, alpha: impl Fn(u32, u32) -> u8) -> Raster {
    let (mut raster, width) = (sound.clone(), sound.width());
    for (at, pixel) in raster.samples_mut().chunks_exact_mut(4).enumerate() {
        let alpha = alpha(at as u32 % width, at as u32 / width);
        if alpha < pixel[3] {
            pixel[3] = alpha;
            if multiplied {
                pixel[..3].iter_mut().for_each(|sample| *sample = through_multiplied(*sample, alpha));
            }
        }
    }
    raster
}

/// A sample through storage multiplied by alpha and back, both rounded to the nearest.
fn through_multiplied(sample: u8, alpha: u8) -> u8 {
    let (sample, alpha) = (u32::from(sample), u32::from(alpha));
    if alpha == 0 {
        return 0;
    }
    let kept = (sample * alpha * 2 + 255) / 510;
    ((kept * 510 + alpha) / (2 * alpha)).min(255) as u8
}

fn see_through(raster: &Raster) -> Vec<burler::finding::Area> {
    runs(raster.width(), raster.height(), |x, y| raster.pixel(x, y)[3] < 255)
}

/// One to four lines of any angle, 1 to 3 px, whole or partial; or the line that two edges leave that meet inside a pixel.
pub fn hairline(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != Ground::Opaque {
        return None;
    }
    let chance = &mut case.chance(0xA1);
    let (width, height) = (case.sound.width(), case.sound.height());
    let reach = (width as f32).hypot(height as f32);
    let turn = match chance.whole(0, 3) {
        0 => *chance.pick(&[0.0, 0.5, 0.25, 0.75]) * std::f32::consts::PI,
        _ => chance.between(0.0, std::f32::consts::PI),
    };
    let span = width.min(height) as f32;
    let lowest = [(240.0, 254.0), (180.0, 240.0), (90.0, 180.0), (20.0, 90.0)][strength];
    let alpha = chance.between(lowest.0, lowest.1);
    let half = [0.5, chance.between(0.5, 1.0), chance.between(0.5, 1.5), chance.between(0.5, 1.5)][strength];
    let count = chance.whole(1, 4);
    let partial = chance.odds(3);
    let lines: Vec<Line> = (0..count)
        .map(|line| {
            // Parallel, as units of a lattice meet, and one across.
            let turn = if line == 3 { turn + std::f32::consts::FRAC_PI_2 } else { turn };
            let (sin, cos) = turn.sin_cos();
            let off = span * (-0.3 + 0.22 * line as f32 + chance.between(0.0, 0.1));
            let part = if partial { (-0.3 * span, chance.between(-0.1, 0.35) * span) } else { (-reach, reach) };
            Line { sin, cos, off, half, part }
        })
        .collect();
    let (middle_x, middle_y) = (width as f32 / 2.0, height as f32 / 2.0);
    let meeting = strength == 1 && chance.odds(2);
    let raster = with_alpha(case.sound, chance.odds(2), |x, y| {
        let (x, y) = (x as f32 + 0.5 - middle_x, y as f32 + 0.5 - middle_y);
        let lost = lines.iter().map(|line| {
            if meeting {
                // Coverage a and 1 - a of two layers leave a (1 - a) clear (Porter and Duff, SIGGRAPH 1984).
                let cover = (x * line.sin + y * line.cos - line.off + 0.5).clamp(0.0, 1.0);
                255.0 * cover * (1.0 - cover) * f32::from(line.cover(x, y) > 0.0)
            } else {
                (255.0 - alpha) * line.cover(x, y)
            }
        });
        (255.0 - lost.fold(0.0, f32::max)).round() as u8
    });
    let truth = see_through(&raster);
    let pixels: u32 = truth.iter().map(|area| area.width).sum();
    if pixels < 12 {
        return None;
    }
    let level = turn.sin().abs() < 0.02 || turn.cos().abs() < 0.02;
    Some(Faulty {
        or: if level { vec![Kind::AlphaFringe] } else { Vec::new() },
        verdicts: vec![Verdict::Mendable],
        ..Faulty::held(raster, Kind::AlphaHairline, truth)
    })
}

/// The outermost one or two lines of one or more sides.
pub fn fringe(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != Ground::Opaque {
        return None;
    }
    let chance = &mut case.chance(0xA2);
    let (width, height) = (case.sound.width(), case.sound.height());
    let only = chance.whole(0, 3);
    let sides = match chance.whole(0, 2) {
        0 => [true; 4],
        1 => [0, 1, 2, 3].map(|side| side == only),
        _ => [0, 1, 2, 3].map(|side| side == only || side == (only + 1) % 4),
    };
    let deep = chance.whole(1, 2);
    let lost = [0.02, 0.2, 0.6, 0.9][strength];
    let alpha = (255.0_f32 * (1.0 - lost)).round() as u8;
    let raster = with_alpha(case.sound, chance.odds(2), |x, y| {
        let on = [x < deep, y < deep, x + deep >= width, y + deep >= height];
        if on.iter().zip(sides).any(|(on, side)| *on && side) { alpha } else { 255 }
    });
    let truth = see_through(&raster);
    Some(Faulty { verdicts: vec![Verdict::Mendable], ..Faulty::held(raster, Kind::AlphaFringe, truth) })
}

fn spot(chance: &mut Chance, width: u32, height: u32, margin: u32) -> (u32, u32) {
    (chance.whole(margin, width - 1 - margin), chance.whole(margin, height - 1 - margin))
}

/// An erased disc with a soft rim, or an erased line.
pub fn gap(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != Ground::Opaque {
        return None;
    }
    let chance = &mut case.chance(0xA3);
    let (width, height) = (case.sound.width(), case.sound.height());
    let most = (0.003 * (width * height) as f32 / std::f32::consts::PI).sqrt();
    let radius = [2.6, 4.0, 8.0, most][strength].min(most);
    let (x0, y0) = spot(chance, width, height, 30);
    let soft = if chance.odds(2) { 1.0 } else { 0.0 };
    let erased_line = chance.odds(4);
    let (long, turn) = (radius * 6.0, chance.between(0.0, std::f32::consts::PI));
    let (sin, cos) = turn.sin_cos();
    let raster = with_alpha(case.sound, false, |x, y| {
        let (dx, dy) = (x as f32 - x0 as f32, y as f32 - y0 as f32);
        let inside = if erased_line {
            (long - (dx * cos + dy * sin).abs()).min(1.0 - (dy * cos - dx * sin).abs())
        } else {
            radius - dx.hypot(dy)
        };
        let cover = if soft > 0.0 { (inside + 0.5).clamp(0.0, 1.0) } else { f32::from(inside > 0.0) };
        (255.0 * (1.0 - cover)).round() as u8
    });
    let truth = see_through(&raster);
    Some(Faulty::held(raster, Kind::AlphaGap, truth))
}

/// Single pixels and groups of up to nine.
pub fn speck(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != Ground::Opaque {
        return None;
    }
    let chance = &mut case.chance(0xA4);
    let (width, height) = (case.sound.width(), case.sound.height());
    let count = [1, 1, 5, 20][strength];
    let alpha = [250, 128, chance.whole(1, 200) as u8, 0][strength];
    let side = [1, chance.whole(1, 2), chance.whole(1, 3), chance.whole(1, 3)][strength];
    // One to a cell of a coarse grid, so that no two grow together.
    let spots: Vec<(u32, u32)> = (0..count)
        .map(|spot| {
            let (cell_w, cell_h) = (width / 5, height / 4);
            let (i, j) = (spot % 5, spot / 5);
            (i * cell_w + chance.whole(4, cell_w - 8), j * cell_h + chance.whole(4, cell_h - 8))
        })
        .collect();
    let raster = with_alpha(case.sound, false, |x, y| {
        let on = spots.iter().any(|(i, j)| (*i..i + side).contains(&x) && (*j..j + side).contains(&y));
        if on { alpha } else { 255 }
    });
    let truth = see_through(&raster);
    Some(Faulty::held(raster, Kind::AlphaSpeck, truth))
}

/// No ground where the order demands one: art on nothing, or a whole print that was made see-through.
pub fn ground(case: &Case, strength: usize) -> Option<Faulty> {
    let alpha = [250, 200, 100, 20][strength];
    let raster = if case.style.ground == Ground::Opaque {
        with_alpha(case.sound, false, |_, _| alpha)
    } else {
        case.sound.clone()
    };
    let mut faulty = Faulty::held(raster, Kind::AlphaGround, Vec::new());
    faulty.spec.ground = GroundDemand::Opaque;
    Some(faulty)
}
