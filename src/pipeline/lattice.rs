//! The lattice a tile holds: the moves that map the endless design onto itself, found without wrapping.
//!
//! Takes a tile and what lies behind its motifs; yields the smallest repeat inside it, if there is one. A patch that
//! comes again proposes, pixels decide: pairs (q, q + t) both inside the canvas. A wrapped match would hide exactly the
//! tile whose size is no multiple of its unit. All from whole numbers. Knows nothing of joints, layouts or words.

mod basis;
mod cells;
mod witness;
mod anchor;
mod ruled;
mod edges;
mod search;

pub use basis::{Move, area, gcd, holds, shortest};
pub use cells::Count;
pub use ruled::Ruled;

use crate::spec::Ground;
use crate::tile::Tile;
use cells::{Cells, Sight};
use edges::{EdgePicture, edge_picture};

/// The smallest repeat: every move that maps the design onto itself is a whole combination of `a` and `b`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit {
    /// The shortest move, pixels right and down; it goes right, or straight down.
    pub a: Move,
    /// The shortest one in another direction, likewise.
    pub b: Move,
}

impl Unit {
    /// The area of one unit in pixels.
    #[must_use]
    pub fn area(&self) -> u64 {
        area(self.a, self.b).unsigned_abs()
    }

    /// After how many pixels the design comes again straight to the right, and straight down.
    #[must_use]
    pub fn periods(&self) -> [i64; 2] {
        let whole = self.area() as i64;
        [whole / gcd(self.a[1], self.b[1]), whole / gcd(self.a[0], self.b[0])]
    }

    /// Whether a move maps the design onto itself.
    #[must_use]
    pub fn holds(&self, t: Move) -> bool {
        holds([self.a, self.b], t)
    }

    /// How many units a tile of these sides holds, when it is laid edge to edge and the design goes on: a whole number,
    /// or `None` when the sides are no moves of the design.
    #[must_use]
    pub fn per_tile(&self, width: u32, height: u32) -> Option<u32> {
        let fits = self.holds([i64::from(width), 0]) && self.holds([0, i64::from(height)]);
        let count = u64::from(width) * u64::from(height) / self.area().max(1);
        if fits { u32::try_from(count).ok() } else { None }
    }
}

/// A move that maps the design onto itself, and what was counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Known {
    /// The move, pixels right and down.
    pub by: Move,
    /// The pairs inside the canvas, over the rows that were looked at.
    pub count: Count,
}

/// What is known of a tile's lattice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lattice {
    /// The smallest repeat, when two independent moves map the design onto itself; it may not fit the tile's sides.
    pub unit: Option<Unit>,
    /// The shortest independent moves that map the design onto itself, found without wrapping: none, one or two.
    pub moves: Vec<Known>,
    /// Two moves that nearly everything follows, where not everything follows any: one unit may sit aside.
    pub nearly: Option<[Known; 2]>,
    /// A design of straight stripes, which has no unit along them.
    pub ruled: Option<Ruled>,
    /// How many pairs of neighbors differ along the axis that has fewer such pairs, or along the only one that has any:
    /// what a move by one pixel would do, beside which all counts are to be seen.
    pub one_pixel: Count,
}

impl Lattice {
    /// Whether of `count`'s pairs at most one in `part` differs of those that would if everything moved by one pixel.
    #[must_use]
    pub fn below(&self, count: Count, part: u64) -> bool {
        let [differing, pairs] = [self.one_pixel.differing, self.one_pixel.pairs].map(u128::from);
        u128::from(count.differing) * u128::from(part) * pairs <= differing * u128::from(count.pairs)
    }
}

/// What moves are looked at on: the colors of a tile, or its edges.
pub struct Sheet<'a>(Kind<'a>);

enum Kind<'a> {
    Colors(Cells<'a, 4>),
    Edges(EdgePicture),
}

impl<'a> Sheet<'a> {
    /// The colors of a tile on a ground.
    #[must_use]
    pub fn colors(tile: &'a Tile, ground: Ground) -> Self {
        let raster = &tile.raster;
        let sight = match ground {
            _ if tile.meta.lossy => Sight::Lossy,
            Ground::Transparent => Sight::Clear,
            Ground::Opaque | Ground::Unclear => Sight::Opaque,
        };
        Self(Kind::Colors(Cells::new(raster.width() as usize, raster.height() as usize, raster.samples(), sight)))
    }

    /// The edges of a design laid in courses, one column and one row less than the tile; `None` for any other design, and
    /// after a lossy coder, which makes steps waver.
    #[must_use]
    pub fn edges(tile: &Tile) -> Option<Self> {
        if tile.meta.lossy {
            return None;
        }
        edge_picture(&tile.raster).map(|picture| Self(Kind::Edges(picture)))
    }

    /// The lattice.
    #[must_use]
    pub fn find(&self) -> Lattice {
        match &self.0 {
            Kind::Colors(cells) => search::search(cells),
            Kind::Edges(picture) => search::search(&picture.cells()),
        }
    }

    /// The pairs at a move that lie inside the canvas, over the rows that stand for all, and how many differ.
    #[must_use]
    pub fn pairs(&self, t: Move) -> Count {
        match &self.0 {
            Kind::Colors(cells) => cells.count(t, [u64::MAX; 2]),
            Kind::Edges(picture) => picture.cells().count(t, [u64::MAX; 2]),
        }
    }

    /// The pairs of a place in the outermost `depth` lines of a side and the place a move away, forth or back, inside the
    /// canvas: left and right side together, then top and bottom.
    #[must_use]
    pub fn border_pairs(&self, t: Move, depth: usize) -> [Count; 2] {
        match &self.0 {
            Kind::Colors(cells) => cells.count_border(t, depth),
            Kind::Edges(picture) => picture.cells().count_border(t, depth),
        }
    }

    /// Whether only edges are seen: any two that do not meet differ, however little they miss each other by.
    #[must_use]
    pub fn of_edges(&self) -> bool {
        matches!(self.0, Kind::Edges(_))
    }
}

/// Finds the lattice of a tile's colors.
#[must_use]
pub fn find(tile: &Tile, ground: Ground) -> Lattice {
    Sheet::colors(tile, ground).find()
}
