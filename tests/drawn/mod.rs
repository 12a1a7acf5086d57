//! Tiles the alpha and mend tests draw: art on a torus in several styles, and see-through faults laid into it.
//!
//! Everything is seeded; the same seed draws the same tile.
#![allow(dead_code, reason = "each test binary uses its own part of the drawing")]

use burler::pixel::mask::{Mask, Run};
use burler::tile::{Channels, Content, Deep, Format, Meta, Profile, Raster, Resolution, Tile};
use std::f64::consts::TAU;

/// A small generator (splitmix64) whose sequence is the same everywhere.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 up to but not including `n`.
    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    /// 0 up to but not including 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub fn color(&mut self) -> [f64; 3] {
        [0; 3].map(|_| self.between(10.0, 245.0).round())
    }

    /// Roughly normal, standard deviation 1.
    pub fn noise(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// A tile of 8 bits around samples.
pub fn tile(raster: Raster) -> Tile {
    let meta = Meta {
        format: Format::Png,
        bytes: 0,
        channels: Channels::Rgba,
        bit_depth: 8,
        resolution: Some(Resolution { x: 299.9994, y: 299.9994, quantum: 0.03 }),
        profile: Profile::Untagged,
        interlaced: false,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Tile { raster, deep: None, meta, content: Content([0; 32]) }
}

/// A tile of 16 bits around samples, with the 8-bit view beside them.
pub fn deep_tile(width: u32, height: u32, samples: Vec<u16>) -> Tile {
    let view = |(i, &sample): (usize, &u16)| {
        let rounded = ((u32::from(sample) + 128) / 257) as u8;
        match (i % 4 == 3, sample) {
            (true, 0) => 0,
            (true, u16::MAX) => 255,
            (true, _) => rounded.clamp(1, 254),
            (false, _) => rounded,
        }
    };
    let raster = Raster::new(width, height, samples.iter().enumerate().map(view).collect()).expect("the size fits");
    let mut tile = tile(raster);
    tile.meta.bit_depth = 16;
    tile.deep = Some(Deep(samples));
    tile
}

/// A raster from a rule for each pixel.
pub fn raster(width: u32, height: u32, mut rule: impl FnMut(u32, u32) -> [u8; 4]) -> Raster {
    let samples = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).flat_map(|(x, y)| rule(x, y)).collect();
    Raster::new(width, height, samples).expect("the size fits")
}

/// The opaque styles.
pub const OPAQUE: [&str; 10] =
    ["weave", "checks", "stripes", "discs", "mosaic", "wash", "grain", "dark", "shaded", "halftone"];

/// Which of them are flat, and which soft.
pub const FLAT: [&str; 5] = ["weave", "checks", "stripes", "mosaic", "dark"];

/// The styles on a transparent ground.
pub const CLEAR: [&str; 8] =
    ["soft disc", "glow", "see-through wash", "ink lines", "doily", "leaves", "cut-outs", "spray"];

/// Draws a style of the given side; the colors are `f64` so that both depths can be had from one drawing.
fn drawn(style: &str, side: u32, dice: &mut Dice) -> Vec<[f64; 4]> {
    let n = f64::from(side);
    let colors: Vec<[f64; 3]> = (0..6).map(|_| dice.color()).collect();
    let stamps: Vec<(f64, f64, f64, usize)> = (0..30)
        .map(|_| (dice.unit() * n, dice.unit() * n, dice.between(0.03, 0.12) * n, dice.below(5) as usize + 1))
        .collect();
    let waves: Vec<(f64, f64, f64, [f64; 3])> = (0..6)
        .map(|_| {
            let (u, v) = (dice.below(5) as f64 - 2.0, dice.below(5) as f64 - 2.0);
            (u, v, dice.unit() * TAU, [0; 3].map(|_| dice.between(-30.0, 30.0)))
        })
        .collect();
    let near = |a: f64, b: f64| {
        let apart = (a - b).abs() % n;
        apart.min(n - apart)
    };
    let wash = |x: f64, y: f64| {
        let mut color = colors[0].map(|sample| 60.0 + sample / 2.0);
        for (u, v, phase, size) in &waves {
            let at = (TAU * (u * x + v * y) / n + phase).sin();
            color.iter_mut().zip(size).for_each(|(sample, size)| *sample += size * at);
        }
        color
    };
    // The nearest stamp's signed distance inside, in pixels, and its color.
    let disc = |x: f64, y: f64| {
        stamps
            .iter()
            .rev()
            .map(|&(cx, cy, r, color)| (r - near(x, cx).hypot(near(y, cy)), color))
            .find(|&(d, _)| d > -0.5)
    };
    let half = side / 2;
    let mut pixels = Vec::with_capacity((side * side) as usize);
    for py in 0..side {
        for px in 0..side {
            let (x, y) = (f64::from(px) + 0.5, f64::from(py) + 0.5);
            let (i, j) = (px * 24 / side, py * 24 / side);
            let opaque = |[r, g, b]: [f64; 3]| [r, g, b, 1.0];
            let clear = |[r, g, b]: [f64; 3], alpha: f64| [r, g, b, alpha.clamp(0.0, 1.0)];
            pixels.push(match style {
                "weave" => opaque(colors[usize::from((i + j / 2 * 3) % 4 < 2)]),
                "checks" => opaque(colors[((i / 3 + j / 3) % 2 + i % 3 % 2) as usize]),
                "stripes" => opaque(colors[[0, 0, 1, 2, 2, 2, 3, 1][(i % 8) as usize]]),
                "dark" => opaque(colors[((i / 2 * 5 + j / 2 * 3) % 4) as usize].map(|sample| (sample / 12.0).round())),
                "mosaic" => {
                    let cell = stamps.iter().enumerate().min_by(|(_, a), (_, b)| {
                        near(x, a.0).hypot(near(y, a.1)).total_cmp(&near(x, b.0).hypot(near(y, b.1)))
                    });
                    opaque(colors[cell.map_or(0, |(_, stamp)| stamp.3)])
                }
                "discs" => {
                    let mut color = colors[0];
                    for &(cx, cy, r, own) in &stamps {
                        let cover = (r - near(x, cx).hypot(near(y, cy)) + 0.5).clamp(0.0, 1.0);
                        color = std::array::from_fn(|c| color[c] + (colors[own][c] - color[c]) * cover);
                    }
                    opaque(color)
                }
                "wash" => opaque(wash(x, y)),
                "grain" => opaque(wash(x, y).map(|sample| sample + 5.0 * dice.noise())),
                "shaded" => {
                    opaque(disc(x, y).map_or(colors[0], |(d, own)| colors[own].map(|c| c * (0.6 + d / n * 3.0))))
                }
                "halftone" => {
                    let at = (
                        (f64::from(px % (half / 15)) / f64::from(half / 15) - 0.5),
                        (f64::from(py % (half / 15)) / f64::from(half / 15) - 0.5),
                    );
                    let cover = ((0.35 - at.0.hypot(at.1)) * 12.0 + 0.5).clamp(0.0, 1.0);
                    opaque(std::array::from_fn(|c| colors[0][c] + (colors[1][c] - colors[0][c]) * cover))
                }
                "soft disc" => clear(colors[1], (0.35 * n - (x - n / 2.0).hypot(y - n / 2.0)) / (0.1 * n)),
                "glow" => clear(colors[1], (-((x - n / 2.0).powi(2) + (y - n / 2.0).powi(2)) / (0.05 * n * n)).exp()),
                "see-through wash" => clear(wash(x, y), 0.55 + 0.1 * (TAU * x / n).sin()),
                "ink lines" => {
                    let line = |at: f64, wide: f64| {
                        ((wide - (at.rem_euclid(n / 12.0) - n / 24.0).abs()) + 0.5).clamp(0.0, 1.0)
                    };
                    clear(
                        colors[1],
                        line(x + 6.0 * (TAU * y / n).sin(), 1.8).max(line(y + 6.0 * (TAU * x / n).sin(), 2.2)),
                    )
                }
                "doily" => {
                    let hole = |period: f64, r: f64| {
                        let (u, v) = (x.rem_euclid(period) - period / 2.0, y.rem_euclid(period) - period / 2.0);
                        (u.hypot(v) - r + 0.5).clamp(0.0, 1.0)
                    };
                    clear(colors[1], hole(n / 25.0, 0.009 * n))
                }
                "leaves" => {
                    let cover = stamps
                        .iter()
                        .map(|&(cx, cy, r, _)| r - near(x, cx).hypot(1.6 * near(y, cy)) + 0.5)
                        .fold(0.0, f64::max);
                    clear(colors[2], cover)
                }
                "cut-outs" => {
                    let open = stamps
                        .iter()
                        .map(|&(cx, cy, r, _)| r - near(x, cx).hypot(near(y, cy)) + 0.5)
                        .fold(0.0, f64::max);
                    clear(colors[2], 1.0 - open)
                }
                "spray" => {
                    let cover = stamps
                        .iter()
                        .map(|&(cx, cy, r, _)| 1.2 - near(x, cx).hypot(near(y, cy)) / r)
                        .fold(0.0, f64::max);
                    clear(colors[2], cover * dice.between(0.7, 1.0))
                }
                other => unreachable!("no style {other}"),
            });
        }
    }
    pixels
}

/// A tile in a style, 8 bits.
pub fn art(style: &str, side: u32, seed: u64) -> Raster {
    let pixels = drawn(style, side, &mut Dice(seed));
    raster(side, side, |x, y| {
        let [r, g, b, a] = pixels[(y * side + x) as usize];
        [r, g, b, a * 255.0].map(|sample| sample.round().clamp(0.0, 255.0) as u8)
    })
}

/// The same in 16 bits.
pub fn deep_art(style: &str, side: u32, seed: u64) -> Vec<u16> {
    let pixels = drawn(style, side, &mut Dice(seed));
    let scaled = pixels.into_iter().flat_map(|[r, g, b, a]| [r / 255.0, g / 255.0, b / 255.0, a]);
    scaled.map(|sample| (sample * 65535.0).round().clamp(0.0, 65535.0) as u16).collect()
}

/// A straight see-through line of the canvas.
#[derive(Clone, Copy, Debug)]
pub struct Thread {
    /// Degrees from level, right and up.
    pub angle: f64,
    /// Distance of the line from the canvas's middle along its normal, in pixels.
    pub off: f64,
    /// Width in pixels.
    pub wide: f64,
    /// Alpha at its core, 0 to 1.
    pub alpha: f64,
    /// The part of the line that is there, along it from the middle, in pixels.
    pub part: (f64, f64),
}

impl Thread {
    /// One at random: any angle, 1 to 3 px, the given range of alpha, whole or partial.
    pub fn cast(dice: &mut Dice, side: u32, alpha: (f64, f64)) -> Self {
        let angle = match dice.below(4) {
            0 => [0.0, 90.0, 45.0, 135.0][dice.below(4) as usize],
            _ => dice.between(0.0, 180.0),
        };
        let n = f64::from(side);
        let part = if dice.below(3) == 0 { (-0.3 * n, dice.between(0.0, 0.3) * n) } else { (-2.0 * n, 2.0 * n) };
        Self {
            angle,
            off: dice.between(-0.3, 0.3) * n,
            wide: dice.between(1.0, 3.0),
            alpha: dice.between(alpha.0, alpha.1),
            part,
        }
    }

    /// How much of the pixel the line covers, 0 to 1 (a box as wide as a pixel across the line: exact for level lines).
    pub fn cover(&self, x: u32, y: u32, side: u32) -> f64 {
        let (rise, run) = self.angle.to_radians().sin_cos();
        let (x, y) = (f64::from(x) + 0.5 - f64::from(side) / 2.0, f64::from(y) + 0.5 - f64::from(side) / 2.0);
        let (along, off) = (x * run - y * rise, (x * rise + y * run - self.off).abs());
        let inside = (self.part.0..=self.part.1).contains(&along);
        if inside { (self.wide / 2.0 + 0.5 - off).clamp(0.0, 1.0) } else { 0.0 }
    }
}

/// Lays threads into an opaque raster: alpha becomes 255 - (255 - A) cover. With `multiplied` the color goes through
/// round(c A / 255) and back, as in a file that held it multiplied. Returns the touched pixels.
pub fn thread_into(raster: &mut Raster, threads: &[Thread], multiplied: bool) -> Mask {
    let side = raster.width();
    let mut runs = Vec::new();
    for y in 0..raster.height() {
        for x in 0..side {
            let alpha =
                threads.iter().map(|thread| 1.0 - (1.0 - thread.alpha) * thread.cover(x, y, side)).fold(1.0, f64::min);
            let alpha = (alpha * 255.0).round() as u8;
            if alpha < 255 {
                let at = (y as usize * side as usize + x as usize) * 4;
                let pixel = &mut raster.samples_mut()[at..at + 4];
                pixel[3] = alpha;
                if multiplied {
                    pixel[..3].iter_mut().for_each(|sample| *sample = through_multiplied(*sample, alpha));
                }
                runs.push(Run { y, start: x, end: x + 1 });
            }
        }
    }
    Mask::of(runs)
}

/// A sample through storage multiplied by alpha and back, both rounded to the nearest.
pub fn through_multiplied(sample: u8, alpha: u8) -> u8 {
    if alpha == 0 {
        return 0;
    }
    let (sample, alpha) = (f64::from(sample), f64::from(alpha));
    let kept = (sample * alpha / 255.0).round();
    (kept * 255.0 / alpha).round().min(255.0) as u8
}
