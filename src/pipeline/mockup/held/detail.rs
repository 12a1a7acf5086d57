//! One place of a finding in detail: enlarged over a checker, and beside it at print size on white.
//!
//! Takes a tile on its plane and a place, draws a row on a canvas. Judges nothing.

use crate::finding::Finding;
use crate::pipeline::check::words;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, LIGHT};
use crate::pipeline::mockup::held::focus;
use crate::pipeline::mockup::held::marks::Place;
use crate::pipeline::mockup::held::page::{BADGE, COLUMN, MARGIN, PER_INCH, RIGHT, SMALL};
use crate::pipeline::mockup::held::panel::{self, Zoom};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::Style;
use crate::tile::Tile;

/// How high a place is with its caption and the white below it, in pixels.
pub const HEIGHT: i64 = 56 + PANEL + 36;

/// How high its panels are.
const PANEL: i64 = 400;

/// One place to be drawn.
#[derive(Clone, Copy)]
pub struct Detail<'a> {
    /// The finding's number on the map.
    pub number: usize,
    /// The finding.
    pub finding: &'a Finding,
    /// The place.
    pub place: &'a Place,
}

/// Which panel of a place that is drawn from row `top` on tells most: what is thin shows enlarged, a cut at print size.
#[must_use]
pub fn telling(detail: &Detail<'_>, top: i64) -> Box4 {
    let left = if detail.finding.kind.at_joint() { RIGHT } else { MARGIN };
    Box4::new(left, top + 56, COLUMN, PANEL)
}

/// Draws a place from row `top` on: its caption, the enlarged panel, and the same place at print size.
///
/// # Errors
/// [`MockupError::NoCanvas`], which nothing provokes.
pub fn draw(
    canvas: &mut Canvas,
    tile: &Tile,
    plane: Plane<'_>,
    detail: &Detail<'_>,
    top: i64,
) -> Result<(), MockupError> {
    let &Detail { number, finding, place } = detail;
    let size = [COLUMN as u32, PANEL as u32];
    let center = focus::point(plane, finding.kind, place.spot);
    let left = Box4::new(MARGIN, top + 56, COLUMN, PANEL);
    let right = Box4::new(RIGHT, top + 56, COLUMN, PANEL);

    let zoom = if focus::is_thin(finding.kind) { Zoom::MOST } else { Zoom::onto(place.spot, [COLUMN, PANEL]) };
    let covered = [zoom.covers(COLUMN), zoom.covers(PANEL)];
    let start = [center[0] - covered[0] / 2, center[1] - covered[1] / 2];
    let enlarged = panel::enlarged(plane, start, zoom, size)?;
    canvas.fill(left.grown(1), LIGHT);
    canvas.set_down(&enlarged, left.left, left.top, left);
    // Two pixels of the surroundings stay in sight inside the frame.
    let frames: Vec<Box4> = place
        .boxes
        .iter()
        .map(|seen| {
            let seen = seen.grown(if matches!(zoom, Zoom::Part(_)) { 0 } else { 2 });
            Box4 {
                left: left.left + zoom.onto_panel(seen.left - start[0]),
                top: left.top + zoom.onto_panel(seen.top - start[1]),
                right: left.left + zoom.onto_panel(seen.right - start[0]),
                bottom: left.top + zoom.onto_panel(seen.bottom - start[1]),
            }
        })
        .collect();
    canvas.frame(&frames, &enlarged, left.left, left.top, left);
    canvas.badge(number, (MARGIN + BADGE as i64) as f32, (top + 28) as f32, BADGE - 2.0);
    let resolution = tile.meta.resolution.map(|resolution| [resolution.x, resolution.y]);
    let step = resolution.map_or([(1, 1); 2], |per_inch| {
        per_inch.map(|per_inch| ((per_inch.clamp(1.0, 10_000.0) * 1000.0).round() as u32, (PER_INCH * 1000.0) as u32))
    });
    let tile_pixels = [0, 1].map(|i| f64::from(size[i]) * f64::from(step[i].0) / f64::from(step[i].1));
    let from = [0, 1].map(|i| center[i] - (tile_pixels[i] / 2.0) as i64);
    let printed = panel::printed(plane, from, step, size)?;
    canvas.fill(right.grown(1), LIGHT);
    canvas.set_down(&printed, right.left, right.top, right);
    // The part that is enlarged on the left.
    let onto = |at: i64, i: usize| ((at - from[i]) as f64 * f64::from(step[i].1) / f64::from(step[i].0)).round() as i64;
    let same = Box4 {
        left: right.left + onto(start[0], 0),
        top: right.top + onto(start[1], 1),
        right: right.left + onto(start[0] + covered[0], 0),
        bottom: right.top + onto(start[1] + covered[1], 1),
    };
    canvas.frame(&[same], &printed, right.left, right.top, right);
    let beside = if resolution.is_some() { "at print size on white" } else { "pixel for pixel on white" };
    let caption = format!("{}: {}, and {beside}", whereabouts(tile, plane, finding, place, center), zoom.says());
    canvas.text(&caption, Style::regular(SMALL), (MARGIN + 62) as f32, (top + 38) as f32, BLACK);
    Ok(())
}

/// Where a place is, in the designer's words; of a joint the point looked at, on the edge of the tile left of it or above it.
fn whereabouts(tile: &Tile, plane: Plane<'_>, finding: &Finding, place: &Place, [x, y]: [i64; 2]) -> String {
    if !finding.kind.at_joint() {
        return words::place(place.area, tile);
    }
    let resolution = tile.meta.resolution;
    let [width, height] = plane.period();
    if place.spot.height() >= place.spot.width() {
        let lowered = plane.moved((x - 1).div_euclid(width), 0)[1];
        let down = (y - lowered).rem_euclid(height) as f64;
        format!("left meets right, {} from the top", words::length(down, resolution.map(|r| r.y)))
    } else {
        let slid = plane.moved(0, (y - 1).div_euclid(height))[0];
        let right = (x - slid).rem_euclid(width) as f64;
        format!("top meets bottom, {} from the left", words::length(right, resolution.map(|r| r.x)))
    }
}
