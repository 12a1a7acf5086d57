//! A wrong size at a glance: the tile beside an outline of what was demanded, to one scale.
//!
//! Takes a tile on its plane and its spec, draws in the left column.

use crate::pipeline::check::words;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, WHITE};
use crate::pipeline::mockup::held::page::{COLUMN, MARGIN, SMALL};
use crate::pipeline::mockup::held::{marks, panel};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::Style;
use crate::spec::{Length, MM_PER_INCH, Spec};
use crate::tile::Tile;

/// The demanded sides in pixels; a side that is not demanded is the tile's own.
#[must_use]
pub fn demanded(tile: &Tile, spec: &Spec) -> Option<[f64; 2]> {
    let own = tile.meta.resolution;
    let side = |length: Option<Length>, pixels: u32, per_inch: Option<f64>| {
        match length? {
            Length::Pixels(n) => Some(f64::from(n)),
            Length::Millimeters(mm) => spec.resolution.or(per_inch).map(|per_inch| mm / MM_PER_INCH * per_inch),
        }
        .filter(|side| *side >= 1.0)
        .or(Some(f64::from(pixels)))
    };
    let raster = &tile.raster;
    let width = side(spec.width, raster.width(), own.map(|r| r.x));
    let height = side(spec.height, raster.height(), own.map(|r| r.y));
    width.or(height)?;
    Some([width.unwrap_or(raster.width().into()), height.unwrap_or(raster.height().into())])
}

/// How high the drawing is: the outlines and two lines of text below each, in pixels.
pub const HEIGHT: i64 = MOST + 96;
const MOST: i64 = 240;

/// The tile beside an outline of the demanded size, to one scale.
///
/// # Errors
/// [`MockupError::NoCanvas`], which nothing provokes.
pub fn draw(canvas: &mut Canvas, plane: Plane<'_>, demanded: [f64; 2], top: i64) -> Result<(), MockupError> {
    let own = plane.period().map(|side| side as f64);
    let half = COLUMN / 2;
    let room = (half - 48) as f64;
    let scale = (room / own[0].max(demanded[0])).min(MOST as f64 / own[1].max(demanded[1]));
    for (left, size, word) in [(MARGIN, own, "this tile"), (MARGIN + half, demanded, "wanted")] {
        let [width, height] = size.map(|side| ((side * scale).round() as i64).max(4));
        let outline = Box4::new(left, top + MOST - height, width, height);
        canvas.fill(outline.grown(3), BLACK);
        canvas.fill(outline, WHITE);
        if size == own {
            let whole = marks::view(plane, false);
            let picture = panel::map(plane, whole, [width as u32, height as u32])?;
            canvas.set_down(&picture, outline.left, outline.top, outline);
        }
        let [width, height] = size.map(|side| words::count(side.round() as u64, ""));
        canvas.text(word, Style::regular(SMALL), left as f32, (top + MOST + 44) as f32, GRAY);
        let text = format!("{width} x {height} px");
        canvas.text(&text, Style::regular(SMALL), left as f32, (top + MOST + 84) as f32, BLACK);
    }
    Ok(())
}
