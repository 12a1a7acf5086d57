//! The tile at a glance: the whole view in one column, with numbered frames around what was found.
//!
//! Takes the plane, the view and places, draws on a canvas. Knows no text.

use crate::pipeline::mockup::canvas::{Box4, Canvas, LIGHT, LINE};
use crate::pipeline::mockup::held::marks::Place;
use crate::pipeline::mockup::held::page::{BADGE, COLUMN};
use crate::pipeline::mockup::held::panel;
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;

/// How high the tile is shown at most, in pixels.
const HEIGHT: i64 = 760;

/// The smallest frame, so that a speck is found.
const LEAST_FRAME: i64 = 36;

/// How far a badge's center lies from its frame's corner, so that it does not cover what is framed.
pub const AWAY: i64 = 22;

/// Most badges of one finding.
const MOST_BADGES: usize = 6;

/// How large the map is: as large as its column allows, and in whole multiples when it is enlarged.
#[must_use]
pub fn size(shown: Box4) -> [u32; 2] {
    let (width, height) = (shown.width() as f64, shown.height() as f64);
    let scale = (COLUMN as f64 / width).min(HEIGHT as f64 / height);
    let scale = if scale >= 1.0 { scale.floor() } else { scale };
    [width, height].map(|side| (side * scale).round().max(1.0) as u32)
}

/// Draws the view at `area` and marks the places of each finding, the first one's with a 1.
///
/// # Errors
/// [`MockupError::NoCanvas`] when the area is empty.
pub fn draw(
    canvas: &mut Canvas,
    plane: Plane<'_>,
    shown: Box4,
    area: Box4,
    findings: &[&[Place]],
) -> Result<(), MockupError> {
    let size = [area.width(), area.height()];
    let picture = panel::map(plane, shown, size.map(|side| side as u32))?;
    canvas.fill(area.grown(1), LIGHT);
    canvas.set_down(&picture, area.left, area.top, area);
    // A box on the plane as the frame around it on the canvas.
    let onto = |seen: &Box4| {
        let low = |at: i64, axis: usize, whole: i64| (at * size[axis]).div_euclid(whole);
        let high = |at: i64, axis: usize, whole: i64| -(-at * size[axis]).div_euclid(whole);
        let mut frame = Box4 {
            left: low(seen.left - shown.left, 0, shown.width()),
            top: low(seen.top - shown.top, 1, shown.height()),
            right: high(seen.right - shown.left, 0, shown.width()),
            bottom: high(seen.bottom - shown.top, 1, shown.height()),
        };
        let wider = (LEAST_FRAME - frame.width()).max(0);
        let higher = (LEAST_FRAME - frame.height()).max(0);
        frame.left += area.left - wider / 2;
        frame.right += area.left + wider - wider / 2;
        frame.top += area.top - higher / 2;
        frame.bottom += area.top + higher - higher / 2;
        frame
    };
    let frames: Vec<Box4> = findings.iter().copied().flatten().flat_map(|place| &place.boxes).map(onto).collect();
    let inside: Vec<Box4> = frames.iter().filter_map(|frame| frame.within(area)).collect();
    canvas.frame(&inside, &picture, area.left, area.top, area.grown(2 * LINE));
    for (number, places) in (1..).zip(findings) {
        for place in places.iter().take(MOST_BADGES) {
            let Some(first) = place.boxes.iter().map(onto).min_by_key(|frame| (frame.top + frame.left, frame.top))
            else {
                continue;
            };
            // Beside the frame's corner, but on the paper.
            let room = area.grown(BADGE as i64);
            let x = (first.left - AWAY).clamp(room.left, room.right);
            let y = (first.top - AWAY).clamp(room.top + 10, room.bottom);
            canvas.badge(number, x as f32, y as f32, BADGE);
        }
    }
    Ok(())
}
