//! Sheets: what moves are looked at on.
//!
//! Takes a tile; yields its lattice, and how many pairs differ at any move.

use super::basis::Move;
use super::cells::{Cells, Count, Sight};
use super::edges::{EdgePicture, edge_picture};
use super::known::Lattice;
use super::search;
use crate::spec::Ground;
use crate::tile::{Raster, Tile};

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
            // Demanded opaque and see-through all over: opaque pixels alone would know of nothing that differs.
            Ground::Opaque | Ground::Unclear if mostly_see_through(raster) => Sight::Clear,
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

/// Whether more than half of the pixels of every 16th row are not opaque.
fn mostly_see_through(raster: &Raster) -> bool {
    let rows = || (0..raster.height()).step_by(16).map(|y| raster.row(y).as_chunks::<4>().0);
    let opaque: usize = rows().map(|row| row.iter().filter(|pixel| pixel[3] == 255).count()).sum();
    opaque * 2 < rows().map(<[_]>::len).sum()
}
