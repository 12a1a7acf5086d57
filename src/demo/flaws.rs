//! Flaws, as work and tools make them: each takes a sound picture and gives the flawed one.
//!
//! Knows no checks: what is done here is what happens in a studio, not what a rule looks for.

use super::dice::Dice;
use super::torus::over_255;
use crate::tile::Raster;

/// What went wrong with a piece before it was saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flaw {
    /// Nothing.
    None,
    /// The canvas was moved by part of a pixel: its last column and row are half covered.
    Fringe,
    /// An eraser went through: one clear disc of this radius, its color lost.
    Hole(u32),
    /// A few stray clear pixels, as a slip of a pixel brush leaves them.
    Specks,
    /// Cut out of the middle of a bigger picture: this many columns and rows from this corner.
    Crop([u32; 4]),
}

impl Flaw {
    /// The flawed picture; `None` when a crop leaves nothing.
    #[must_use]
    pub fn spoil(self, mut raster: Raster) -> Option<Raster> {
        match self {
            Self::None => {}
            Self::Fringe => fringe(&mut raster),
            Self::Hole(radius) => hole(&mut raster, radius),
            Self::Specks => specks(&mut raster),
            Self::Crop(area) => return crop(&raster, area),
        }
        Some(raster)
    }
}

/// How much of the last column and row is still covered, of 255.
const COVERED: u8 = 140;

fn fringe(raster: &mut Raster) {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    for (i, pixel) in raster.samples_mut().chunks_exact_mut(4).enumerate() {
        for _ in 0..u32::from(i % width == width - 1) + u32::from(i / width == height - 1) {
            pixel[3] = over_255(u32::from(pixel[3]) * u32::from(COVERED)) as u8;
        }
    }
}

fn hole(raster: &mut Raster, radius: u32) {
    let (width, height) = (raster.width(), raster.height());
    let (center_x, center_y) = (width as f32 * 0.62 + 0.3, height as f32 * 0.41 + 0.6);
    for (y, row) in (0u32..).zip(raster.samples_mut().chunks_exact_mut(width as usize * 4)) {
        for (x, pixel) in (0u32..).zip(row.chunks_exact_mut(4)) {
            let away = (x as f32 + 0.5 - center_x).hypot(y as f32 + 0.5 - center_y) - radius as f32;
            let kept = (away + 0.5).clamp(0.0, 1.0);
            if kept < 1.0 {
                pixel[3] = (kept * 255.0).round() as u8;
            }
            if kept == 0.0 {
                pixel[..3].fill(0);
            }
        }
    }
}

fn specks(raster: &mut Raster) {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let mut dice = Dice::new(88);
    for _ in 0..5 {
        let x = (width as f32 * dice.between(0.1, 0.9)) as usize;
        let y = (height as f32 * dice.between(0.1, 0.9)) as usize;
        for (dx, dy) in [(0, 0), (1, 0), (1, 1)] {
            let at = ((y + dy) * width + x + dx) * 4;
            if let Some(pixel) = raster.samples_mut().get_mut(at..at + 4) {
                pixel[3] = if dx == 0 { 0 } else { 90 };
            }
        }
    }
}

fn crop(raster: &Raster, [left, top, width, height]: [u32; 4]) -> Option<Raster> {
    let rows = (top..top.checked_add(height)?.min(raster.height())).map(|y| raster.row(y));
    let part = left as usize * 4..(left.checked_add(width)? as usize) * 4;
    let samples = rows.filter_map(|row| row.get(part.clone())).flatten().copied().collect();
    Raster::new(width, height, samples)
}
