//! A canvas without borders: what leaves on one side comes in on the other.

use super::chance::Chance;
use burler::tile::Raster;

/// Premultiplied float pixels on a torus; everything drawn is drawn once per copy.
pub struct Canvas {
    pub width: usize,
    pub height: usize,
    /// How many pixels a length of one takes: a large tile holds larger motifs, not only more of them.
    pub unit: f32,
    pixels: Vec<[f32; 4]>,
    copies: Vec<(usize, usize)>,
}

impl Canvas {
    /// An opaque canvas of one color.
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            unit: 1.0,
            pixels: vec![[255.0, 255.0, 255.0, 1.0]; width * height],
            copies: vec![(0, 0)],
        }
    }

    /// A canvas on which everything appears again, moved by each of `copies`.
    pub fn with_copies(width: usize, height: usize, copies: Vec<(usize, usize)>) -> Self {
        Self { copies, ..Self::new(width, height) }
    }

    pub fn fill(&mut self, color: [f32; 3]) {
        self.pixels.fill([color[0], color[1], color[2], 1.0]);
    }

    pub fn clear(&mut self) {
        self.pixels.fill([0.0; 4]);
    }

    /// How much of the canvas belongs to one copy, in square units.
    pub fn own_area(&self) -> f32 {
        (self.width * self.height) as f32 / self.copies.len() as f32 / (self.unit * self.unit)
    }

    /// Sets every pixel from its column and row.
    pub fn each(&mut self, mut color: impl FnMut(usize, usize) -> [f32; 3]) {
        for y in 0..self.height {
            for x in 0..self.width {
                let [r, g, b] = color(x, y);
                self.pixels[y * self.width + x] = [r, g, b, 1.0];
            }
        }
    }

    /// The color of a pixel, premultiplied.
    pub fn color(&self, x: usize, y: usize) -> [f32; 3] {
        let [r, g, b, _] = self.pixels[y * self.width + x];
        [r, g, b]
    }

    /// Changes every pixel's color (premultiplied) and alpha.
    pub fn change(&mut self, mut change: impl FnMut(usize, usize, &mut [f32; 4])) {
        for y in 0..self.height {
            for x in 0..self.width {
                change(x, y, &mut self.pixels[y * self.width + x]);
            }
        }
    }

    /// Lays a shape over the canvas around (x, y): `distance` is the signed distance from its edge at an offset from the
    /// center, negative inside; edges are `soft` pixels wide, 0 for a hard one.
    pub fn stamp(
        &mut self,
        (x, y): (f32, f32),
        reach: f32,
        color: [f32; 3],
        soft: f32,
        distance: impl Fn(f32, f32) -> f32,
    ) {
        self.paint((x, y), reach, |dx, dy| {
            let distance = distance(dx, dy);
            let cover = if soft <= 0.0 { f32::from(distance < 0.0) } else { (0.5 - distance / soft).clamp(0.0, 1.0) };
            (color, cover)
        });
    }

    /// Lays colors over the canvas around (x, y): `brush` gives color and coverage at an offset from the center.
    pub fn paint(&mut self, (x, y): (f32, f32), reach: f32, brush: impl Fn(f32, f32) -> ([f32; 3], f32)) {
        for (right, down) in self.copies.clone() {
            let (x, y) = (x + right as f32, y + down as f32);
            let rows = (y - reach).floor() as i64..=(y + reach).ceil() as i64;
            for row in rows {
                let start = row.rem_euclid(self.height as i64) as usize * self.width;
                for column in (x - reach).floor() as i64..=(x + reach).ceil() as i64 {
                    let (color, cover) = brush(column as f32 + 0.5 - x, row as f32 + 0.5 - y);
                    if cover > 0.0 {
                        let pixel = &mut self.pixels[start + column.rem_euclid(self.width as i64) as usize];
                        for (channel, color) in pixel.iter_mut().zip(color) {
                            *channel = *channel * (1.0 - cover) + color * cover;
                        }
                        pixel[3] = pixel[3] * (1.0 - cover) + cover;
                    }
                }
            }
        }
    }

    /// A field that wraps, mean 0 and deviation 1: white noise blurred three times over `radius` units.
    pub fn noise(&self, chance: &mut Chance, radius: usize) -> Vec<f32> {
        let radius = (radius as f32 * self.unit).round() as usize;
        let (width, height) = (self.width, self.height);
        let white: Vec<f32> = (0..width * height).map(|_| chance.unit() - 0.5).collect();
        let mut field = vec![0.0; width * height];
        for &(right, down) in &self.copies {
            for y in 0..height {
                for x in 0..width {
                    field[(y + down) % height * width + (x + right) % width] += white[y * width + x];
                }
            }
        }
        for _ in 0..if radius > 0 { 3 } else { 0 } {
            blur(&mut field, width, height, radius);
        }
        let mean = field.iter().sum::<f32>() / field.len() as f32;
        let spread = (field.iter().map(|v| (v - mean) * (v - mean)).sum::<f32>() / field.len() as f32).sqrt().max(1e-9);
        field.iter().map(|v| (v - mean) / spread).collect()
    }

    /// The canvas in 8 bits, straight alpha.
    pub fn raster(&self) -> Raster {
        self.cut(0, 0, self.width, self.height)
    }

    /// A window of the canvas in 8 bits; it may wrap.
    pub fn cut(&self, left: usize, top: usize, width: usize, height: usize) -> Raster {
        let mut rgba = Vec::with_capacity(width * height * 4);
        for y in 0..height {
            for x in 0..width {
                let [r, g, b, a] = self.pixels[(y + top) % self.height * self.width + (x + left) % self.width];
                let straight = if a > 0.0 { 1.0 / a } else { 0.0 };
                rgba.extend([r, g, b].map(|v| (v * straight).round().clamp(0.0, 255.0) as u8));
                rgba.push((a * 255.0).round().clamp(0.0, 255.0) as u8);
            }
        }
        Raster::new(width as u32, height as u32, rgba).expect("the canvas has pixels")
    }
}

/// A wrapping box blur of `2 radius + 1` pixels along both axes.
fn blur(field: &mut [f32], width: usize, height: usize, radius: usize) {
    let mut line = vec![0.0; width.max(height)];
    let mut pass = |start: usize, stride: usize, length: usize| {
        for (i, value) in line[..length].iter_mut().enumerate() {
            *value = field[start + i * stride];
        }
        let span = 2 * radius + 1;
        let mut sum: f64 = (0..span).map(|i| f64::from(line[(i + length * span - radius) % length])).sum();
        for i in 0..length {
            field[start + i * stride] = (sum / span as f64) as f32;
            let (enter, leave) = ((i + radius + 1) % length, (i + length * span - radius) % length);
            sum += f64::from(line[enter]) - f64::from(line[leave]);
        }
    };
    (0..height).for_each(|y| pass(y * width, 1, width));
    (0..width).for_each(|x| pass(x, width, height));
}
