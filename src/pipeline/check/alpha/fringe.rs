//! See-through lines along the tile's border, told apart from lines that merely cross it.
//!
//! Takes the thin see-through lines and all see-through pixels, yields the fringe of each side. Knows no words.

use super::classes::LINE_GAP;
use super::plane::Plane;
use crate::pixel::mask::{Mask, Run};

/// How many of a tile's outermost lines a fringe may take.
const DEEPEST: u32 = 2;

/// The fewest neighboring pixels along a side that look like a fringe rather than a line crossing the border.
const SHORTEST: usize = 12;

/// The stretches of a fringe together take at least one in so many parts of their side.
const SHARE: usize = 8;

/// A side of the tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The first row.
    Top,
    /// The last row.
    Bottom,
    /// The first column.
    Left,
    /// The last column.
    Right,
}

impl Side {
    /// Every side.
    pub const ALL: [Self; 4] = [Self::Top, Self::Bottom, Self::Left, Self::Right];

    /// What the designer calls it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Top => "top",
            Self::Bottom => "bottom",
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// Column and row of the pixel this far along the side and this deep inside a `width` x `height` tile.
    fn place(self, along: u32, depth: u32, width: u32, height: u32) -> (u32, u32) {
        match self {
            Self::Top => (along, depth),
            Self::Bottom => (along, height - 1 - depth),
            Self::Left => (depth, along),
            Self::Right => (width - 1 - depth, along),
        }
    }
}

/// The fringe of one side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edge {
    /// Which side.
    pub side: Side,
    /// Its pixels; a corner pixel may belong to two sides.
    pub pixels: Mask,
}

/// The pixels of `lines` that form fringes: along a side, within the outermost [`DEEPEST`] lines and with an opaque pixel
/// inward, in stretches of at least [`SHORTEST`] that together take one in [`SHARE`] of the side.
#[must_use]
pub fn fringes(lines: &Plane, see_through: &Plane, width: u32, height: u32) -> Vec<Edge> {
    if width.min(height) < 3 * DEEPEST {
        return Vec::new();
    }
    let fringe = |side: Side| {
        let length = if matches!(side, Side::Top | Side::Bottom) { width } else { height };
        let place = |along: u32, depth: u32| side.place(along, depth, width, height);
        let has = |plane: &Plane, (x, y): (u32, u32)| plane.has(x.into(), y.into());
        // In a corner the next pixel inward may belong to the fringe of the other side.
        let corner = |along: u32| along < DEEPEST || along >= length - DEEPEST;
        let at_edge = |along: u32| {
            (0..DEEPEST).any(|depth| has(lines, place(along, depth)))
                && (corner(along) || !has(see_through, place(along, DEEPEST)))
        };
        let along: Vec<bool> = (0..length).map(at_edge).collect();
        let stretches = stretches(&along);
        let long: usize = stretches.iter().map(|(from, to)| to - from).sum();
        if long == 0 || long * SHARE < length as usize {
            return None;
        }
        let deep = |at: usize| (0..DEEPEST).map(move |depth| place(at as u32, depth));
        let places = stretches.into_iter().flat_map(|(from, to)| from..to).filter(|&at| along[at]).flat_map(deep);
        let runs = places.filter(|&place| has(lines, place)).map(|(x, y)| Run { y, start: x, end: x + 1 });
        Some(Edge { side, pixels: Mask::of(runs.collect()) })
    };
    Side::ALL.into_iter().filter_map(fringe).collect()
}

/// The stretches of set places at least [`SHORTEST`] long, where breaks of up to [`LINE_GAP`] count as none.
fn stretches(along: &[bool]) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for at in (0..along.len()).filter(|&at| along[at]) {
        match found.last_mut() {
            Some((_, to)) if at - *to < LINE_GAP as usize => *to = at + 1,
            _ => found.push((at, at + 1)),
        }
    }
    found.retain(|(from, to)| to - from >= SHORTEST);
    found
}
