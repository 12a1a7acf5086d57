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
mod known;
mod edges;
mod search;
mod sheet;
mod part;

pub use basis::{Move, area, gcd, holds, shortest};
pub use cells::Count;
pub use known::{Known, Lattice, Unit};
pub use part::{Part, part};
pub use ruled::Ruled;
pub use sheet::Sheet;

use crate::spec::Ground;
use crate::tile::Tile;

/// Finds the lattice of a tile's colors.
#[must_use]
pub fn find(tile: &Tile, ground: Ground) -> Lattice {
    Sheet::colors(tile, ground).find()
}
