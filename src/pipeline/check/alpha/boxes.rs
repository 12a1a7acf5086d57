//! Boxes that hug a set of pixels: one around each part, cut further where most of a box would be empty.
//!
//! Takes runs, yields at most [`MOST_BOXES`] rectangles inside the canvas. Knows no alpha.

use crate::finding::{Area, MOST_BOXES};
use crate::pixel::mask::{Run, bounds};

/// Boxes may cover this many times the pixels they are around without being cut further.
const LOOSE: u64 = 3;

/// Boxes may cover this share of the tile, as one in so many, without being cut further.
const SHARE: u64 = 50;

/// Boxes around `parts` of a tile of `canvas` pixels, sorted; every pixel lies in a box.
#[must_use]
pub fn hugging(mut parts: Vec<Vec<Run>>, canvas: u64) -> Vec<Area> {
    parts.retain(|runs| !runs.is_empty());
    if parts.len() > MOST_BOXES {
        parts = vec![parts.concat()];
    }
    let pixels: u64 = parts.iter().flatten().map(|run| run.count()).sum();
    let enough = (LOOSE * pixels).max(canvas / SHARE);
    let mut boxes: Vec<(Area, u64, Vec<Run>)> = parts.into_iter().filter_map(boxed).collect();
    while boxes.len() < MOST_BOXES && boxes.iter().map(|(area, _, _)| size(*area)).sum::<u64>() > enough {
        let Some(emptiest) = (0..boxes.len()).max_by_key(|&i| size(boxes[i].0) - boxes[i].1) else { break };
        let (area, _, runs) = boxes.swap_remove(emptiest);
        let (near, far) = cut(area, runs);
        boxes.extend([near, far].into_iter().filter_map(boxed));
    }
    let mut areas: Vec<Area> = boxes.into_iter().map(|(area, _, _)| area).collect();
    areas.sort_by_key(|area| (area.y, area.x));
    areas
}

fn size(area: Area) -> u64 {
    u64::from(area.width) * u64::from(area.height)
}

fn boxed(runs: Vec<Run>) -> Option<(Area, u64, Vec<Run>)> {
    let pixels = runs.iter().map(|run| run.count()).sum();
    bounds(&runs).map(|area| (area, pixels, runs))
}

/// Cuts a box in the middle of its longer side.
fn cut(area: Area, runs: Vec<Run>) -> (Vec<Run>, Vec<Run>) {
    if area.height >= area.width {
        let middle = area.y + area.height / 2;
        return runs.into_iter().partition(|run| run.y < middle);
    }
    let middle = area.x + area.width / 2;
    let near =
        runs.iter().map(|run| Run { end: run.end.min(middle), ..*run }).filter(|run| run.start < run.end).collect();
    let far =
        runs.iter().map(|run| Run { start: run.start.max(middle), ..*run }).filter(|run| run.start < run.end).collect();
    (near, far)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn diagonal(side: u32) -> Vec<Run> {
        (0..side).map(|y| Run { y, start: y, end: y + 1 }).collect()
    }

    #[test]
    fn a_level_line_is_one_box() {
        let runs = vec![Run { y: 7, start: 0, end: 100 }, Run { y: 8, start: 0, end: 100 }];
        assert_eq!(hugging(vec![runs], 10_000), [Area { x: 0, y: 7, width: 100, height: 2 }]);
    }

    #[test]
    fn a_slanted_line_is_cut_until_its_boxes_cover_a_fiftieth_of_the_tile() {
        let boxes = hugging(vec![diagonal(3600)], 3600 * 3600);
        assert!(boxes.len() <= MOST_BOXES);
        assert!(boxes.iter().map(|area| size(*area)).sum::<u64>() <= 3600 * 3600 / 50);
        assert!((0..3600).all(|at| boxes.iter().any(|area| {
            (area.x..area.x + area.width).contains(&at) && (area.y..area.y + area.height).contains(&at)
        })));
    }

    #[test]
    fn more_parts_than_boxes_still_lie_in_boxes() {
        let parts: Vec<Vec<Run>> =
            (0..100).map(|i| vec![Run { y: i / 10 * 9, start: i % 10 * 9, end: i % 10 * 9 + 2 }]).collect();
        let boxes = hugging(parts.clone(), 10_000);
        assert!(boxes.len() <= MOST_BOXES && boxes.len() > 32);
        let held =
            |run: &Run| boxes.iter().any(|area| area.y <= run.y && run.y < area.y + area.height && area.x <= run.start);
        assert!(parts.iter().flatten().all(held));
    }
}
