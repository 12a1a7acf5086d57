//! The edge picture: where a design steps, whatever its colors. In courses of bricks each brick has a color of its own, and
//! still the edges come again.
//!
//! Takes a raster; yields a code per pixel, and only for designs that have straight edges from side to side, since no
//! others are laid in courses.

use super::cells::{Cells, Sight, spread};
use crate::tile::Raster;

/// Lines along each axis that are read to learn what a design's edges are like.
const PROBES: usize = 16;
/// A step of so many levels can be seen.
const VISIBLE: u8 = 3;
/// Between two lines runs a straight edge when at least so many of the probes step there.
const STRAIGHT: usize = 12;
/// So many straight edges make courses, and no more than one pair of lines in so many has one.
const LEAST_EDGES: usize = 3;
const MOST_PART: usize = 4;

/// A code per pixel that has a next one to the right and below: 1 for a step to the right, 2 for one down, 3 for both.
pub(super) struct EdgePicture {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) codes: Vec<u8>,
}

impl EdgePicture {
    /// The codes as cells.
    pub(super) fn cells(&self) -> Cells<'_, 1> {
        Cells::new(self.width, self.height, &self.codes, Sight::Codes)
    }
}

/// The edge picture of a design laid in courses.
pub(super) fn edge_picture(raster: &Raster) -> Option<EdgePicture> {
    let (width, height) = (raster.width() as usize - 1, raster.height() as usize - 1);
    let mut steps = Vec::new();
    let mut probe = |lines: usize, length: usize, step: &dyn Fn(usize, usize) -> u8| {
        let probes: Vec<usize> = spread(length, PROBES).collect();
        let straight = |line: &usize| {
            let seen = probes.iter().map(|place| step(*line, *place)).filter(|step| *step >= VISIBLE);
            let before = steps.len();
            steps.extend(seen);
            probes.len() == PROBES && steps.len() - before >= STRAIGHT
        };
        let edges = (0..lines).filter(straight).count();
        edges >= LEAST_EDGES && edges * MOST_PART <= lines
    };
    let down = |y: usize, x: usize| step(&raster.pixel(x as u32, y as u32), &raster.pixel(x as u32, y as u32 + 1));
    let across = |x: usize, y: usize| step(&raster.pixel(x as u32, y as u32), &raster.pixel(x as u32 + 1, y as u32));
    // Both are asked, so that the steps of both are known.
    let courses = [probe(height, width, &down), probe(width, height, &across)];
    if courses == [false, false] {
        return None;
    }
    steps.sort_unstable();
    let limit = (steps.get(steps.len() / 2)? / 2).max(VISIBLE);
    let mut codes = Vec::with_capacity(width * height);
    for y in 0..height as u32 {
        let (row, below) = (raster.row(y).as_chunks::<4>().0, raster.row(y + 1).as_chunks::<4>().0);
        codes.extend(row.windows(2).zip(below).map(|(pair, under)| {
            u8::from(step(&pair[0], &pair[1]) >= limit) | u8::from(step(&pair[0], under) >= limit) << 1
        }));
    }
    Some(EdgePicture { width, height, codes })
}

/// The largest difference of a channel.
fn step(p: &[u8; 4], q: &[u8; 4]) -> u8 {
    p.iter().zip(q).map(|(p, q)| p.abs_diff(*q)).max().unwrap_or(0)
}
