//! The designer's words for colors, and where a color can be seen.
//!
//! Takes swatches, yields text and boxes. Decides nothing.

use super::census::Swatch;
use crate::finding::{Area, Finding, Reading};
use crate::tile::Raster;

/// What a rule has to tell.
pub struct Told {
    /// When it did not pass.
    pub finding: Option<Finding>,
    /// What it measured.
    pub reading: Reading,
}

/// The most swatches spelled out in a sentence.
const MOST_SPELLED: usize = 16;

/// The longest side of a box that shows a color.
const SHOWN: u32 = 96;

/// A color as sRGB hex.
pub fn hex(rgba: [u8; 4]) -> String {
    format!("#{:02x}{:02x}{:02x}", rgba[0], rgba[1], rgba[2])
}

/// Swatches in their order: `#f4e3c2, #1d3b53 and 3 more`.
pub fn list(swatches: &[Swatch]) -> String {
    let spelled: Vec<String> = swatches.iter().take(MOST_SPELLED).map(|swatch| hex(swatch.rgba)).collect();
    match swatches.len() - spelled.len() {
        0 => spelled.join(", "),
        more => format!("{} and {more} more", spelled.join(", ")),
    }
}

/// A place where a color fills the box: the middle of its longest stretch, as far up and down as it goes.
pub fn shown(raster: &Raster, swatch: &Swatch) -> Area {
    let stretch = swatch.stretch;
    let width = (stretch.end - stretch.start).min(SHOWN);
    let x = stretch.start + (stretch.end - stretch.start - width) / 2;
    let fills = |y: u32| (x..x + width).all(|x| raster.pixel(x, y) == swatch.rgba);
    let (mut top, mut bottom) = (stretch.y, stretch.y);
    while top > 0 && stretch.y - top < SHOWN / 2 && fills(top - 1) {
        top -= 1;
    }
    while bottom + 1 < raster.height() && bottom - stretch.y < SHOWN / 2 && fills(bottom + 1) {
        bottom += 1;
    }
    Area { x, y: top, width, height: bottom - top + 1 }
}
