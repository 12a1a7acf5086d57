//! The canvas the demo draws on: a torus, where what leaves on one side enters on the other.
//!
//! A shape is turned into coverage once, on a scratch mask of its own size, and laid down with its coordinates reduced
//! to the tile, so a joint cannot differ from any other place. Takes paths and inks, yields a raster. Knows no motifs.

use crate::spec::Repeat;
use crate::tile::Raster;
use tiny_skia::{FillRule, IntSize, Mask, Path, Transform};

/// Straight color: red, green, blue, alpha.
pub type Ink = [u8; 4];

/// An opaque ink from `0xRRGGBB`.
#[must_use]
pub const fn ink(rgb: u32) -> Ink {
    [(rgb >> 16) as u8, (rgb >> 8) as u8, rgb as u8, 255]
}

/// The same ink with another alpha.
#[must_use]
pub const fn veil(ink: Ink, alpha: u8) -> Ink {
    [ink[0], ink[1], ink[2], alpha]
}

/// The color between two inks, `t` from 0 to 1.
#[must_use]
pub fn mix(from: Ink, to: Ink, t: f32) -> Ink {
    let t = t.clamp(0.0, 1.0);
    std::array::from_fn(|i| (f32::from(from[i]) + (f32::from(to[i]) - f32::from(from[i])) * t).round() as u8)
}

/// A tile that is being drawn, with the layout it closes in.
#[derive(Debug)]
pub struct Torus {
    width: i64,
    height: i64,
    lay: Repeat,
    origin: (i64, i64),
    samples: Vec<u8>,
    scratch: Vec<u8>,
}

impl Torus {
    /// A canvas of one ink. `lay` is [`Repeat::HalfDrop`], [`Repeat::Brick`] or, for anything else, the block repeat.
    #[must_use]
    pub fn new(width: u32, height: u32, lay: Repeat, ground: Ink) -> Self {
        let samples = ground.repeat(width as usize * height as usize);
        let (width, height) = (i64::from(width), i64::from(height));
        Self { width, height, lay, origin: (0, 0), samples, scratch: Vec::new() }
    }

    /// The same canvas with the drawing's own origin moved to `(x, y)` of the tile: all later shapes come out shifted.
    #[must_use]
    pub fn from_origin(mut self, x: i64, y: i64) -> Self {
        self.origin = (x, y);
        self
    }

    /// Width in pixels.
    #[must_use]
    pub fn width(&self) -> f32 {
        self.width as f32
    }

    /// Height in pixels.
    #[must_use]
    pub fn height(&self) -> f32 {
        self.height as f32
    }

    /// The finished tile; `None` only for an empty canvas.
    #[must_use]
    pub fn into_raster(self) -> Option<Raster> {
        Raster::new(u32::try_from(self.width).ok()?, u32::try_from(self.height).ok()?, self.samples)
    }

    /// Fills a shape with one ink. `None` is the empty shape.
    pub fn fill(&mut self, path: Option<Path>, ink: Ink) {
        self.fill_with(path, |_, _| ink);
    }

    /// Fills a shape with an ink that depends on the place in the drawing's own coordinates.
    pub fn fill_with(&mut self, path: Option<Path>, shade: impl Fn(i64, i64) -> Ink) {
        let Some(path) = path else { return };
        let bounds = path.bounds();
        let (left, top) = (bounds.left().floor() as i64, bounds.top().floor() as i64);
        let wide = (bounds.right().ceil() as i64 - left).max(1) as usize;
        let high = (bounds.bottom().ceil() as i64 - top).max(1) as usize;
        let size = u32::try_from(wide).ok().zip(u32::try_from(high).ok()).and_then(|(w, h)| IntSize::from_wh(w, h));
        let mut coverage = std::mem::take(&mut self.scratch);
        coverage.clear();
        coverage.resize(wide * high, 0);
        let Some(mut mask) = size.and_then(|size| Mask::from_vec(coverage, size)) else { return };
        mask.fill_path(&path, FillRule::Winding, true, Transform::from_translate(-left as f32, -top as f32));
        for (y, row) in (top..).zip(mask.data().chunks_exact(wide)) {
            let Some(first) = row.iter().position(|&c| c > 0) else { continue };
            let last = row.iter().rposition(|&c| c > 0).unwrap_or(first);
            self.lay_row(left + first as i64, y, &row[first..=last], &shade);
        }
        self.scratch = mask.take();
    }

    /// Replaces every pixel by what `shade` says at that place of the drawing; `shade` itself must repeat with the tile.
    pub fn wash(&mut self, shade: impl Fn(i64, i64) -> Ink) {
        let (left, top) = (-self.origin.0, -self.origin.1);
        for (y, row) in (top..).zip(self.samples.chunks_exact_mut(self.width as usize * 4)) {
            for (x, pixel) in (left..).zip(row.chunks_exact_mut(4)) {
                pixel.copy_from_slice(&shade(x, y));
            }
        }
    }

    /// Lays one row of coverage down, in as many pieces as the tile's edge cuts it into.
    fn lay_row(&mut self, left: i64, y: i64, coverage: &[u8], shade: &impl Fn(i64, i64) -> Ink) {
        let mut done = 0;
        while done < coverage.len() {
            let x = left + done as i64;
            let (to_x, to_y) = self.reduce(x, y);
            let run = (coverage.len() - done).min((self.width - to_x) as usize);
            let at = ((to_y * self.width + to_x) * 4) as usize;
            let pixels = self.samples[at..at + run * 4].chunks_exact_mut(4);
            for ((x, pixel), &part) in (x..).zip(pixels).zip(&coverage[done..done + run]) {
                if part > 0 {
                    let ink = shade(x, y);
                    let alpha = over_255(u32::from(part) * u32::from(ink[3]));
                    over(pixel, veil(ink, alpha as u8));
                }
            }
            done += run;
        }
    }

    /// Where a place of the endless repeat lies on the tile.
    fn reduce(&self, x: i64, y: i64) -> (i64, i64) {
        let (x, y) = (x + self.origin.0, y + self.origin.1);
        let (column, row) = (x.div_euclid(self.width), y.div_euclid(self.height));
        let (x, y) = match self.lay {
            Repeat::HalfDrop => (x, y - column * (self.height / 2)),
            Repeat::Brick => (x - row * (self.width / 2), y),
            _ => (x, y),
        };
        (x.rem_euclid(self.width), y.rem_euclid(self.height))
    }
}

/// `round(product / 255)` for a product of two samples, exactly.
pub fn over_255(product: u32) -> u32 {
    let t = product + 128;
    (t + (t >> 8)) >> 8
}

/// Source-over on a straight pixel in place, rounded once (Porter and Duff 1984; W3C Compositing and Blending Level 1, 5.1).
pub fn over(under: &mut [u8], top: Ink) {
    let &mut [_, _, _, below] = under else { return };
    let alpha = u32::from(top[3]);
    if alpha == 255 || below == 0 {
        under.copy_from_slice(&top);
        return;
    }
    if below == 255 {
        for (value, &ink) in under.iter_mut().zip(&top[..3]) {
            *value = over_255(u32::from(ink) * alpha + u32::from(*value) * (255 - alpha)) as u8;
        }
        return;
    }
    let kept = u32::from(below) * (255 - alpha);
    let sum = alpha * 255 + kept;
    for (value, &ink) in under.iter_mut().zip(&top[..3]) {
        *value = ((u32::from(ink) * alpha * 255 + u32::from(*value) * kept + sum / 2) / sum.max(1)) as u8;
    }
    under[3] = over_255(sum) as u8;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_half_drop_lowers_each_column_and_a_brick_moves_each_row() {
        let drop = Torus::new(10, 8, Repeat::HalfDrop, ink(0));
        assert_eq!(drop.reduce(12, 5), (2, 1));
        assert_eq!(drop.reduce(-1, 0), (9, 4));
        let brick = Torus::new(10, 8, Repeat::Brick, ink(0));
        assert_eq!(brick.reduce(7, 9), (2, 1));
        assert_eq!(brick.reduce(0, -1), (5, 7));
    }

    #[test]
    fn blending_agrees_with_the_worked_example_of_the_compositing_standard() {
        // W3C Compositing and Blending Level 1, 5.1: blue at one half over red at one half is (1/3, 0, 2/3) at 0.75.
        let mut pixel = [255, 0, 0, 128];
        over(&mut pixel, veil(ink(0x00_00_FF), 128));
        assert_eq!(pixel, [85, 0, 170, 192]);
        let mut pixel = [255, 0, 0, 255];
        over(&mut pixel, veil(ink(0x00_00_FF), 128));
        assert_eq!(pixel, [127, 0, 128, 255]);
    }
}
