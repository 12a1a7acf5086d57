//! The smallest repeat as a reading, and as advice where the order sheet asks for another number of blocks.
//!
//! Takes a tile and its lattice. That a tile holds many small repeats is how most regular designs are delivered: the
//! ticket tells it, and only an order that asks for a certain number makes a finding of it, which never holds a tile.

use crate::finding::{Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::lattice::Lattice;
use crate::tile::Tile;

/// How many smallest repeats the tile holds.
pub(super) fn reading(tile: &Tile, lattice: &Lattice) -> Option<Reading> {
    let count = per_tile(tile, lattice)?;
    Some(Reading { kind: Kind::UnitSmaller, at: "the whole tile".into(), measure: measure(count, 1, Bound::Min) })
}

/// Advice, when a tile holds another number of repeats than the `blocks` along each side that are ordered.
pub(super) fn finding(tile: &Tile, lattice: &Lattice, blocks: Option<u32>) -> Option<Finding> {
    let count = per_tile(tile, lattice)?;
    let ordered = blocks.map(|blocks| blocks.saturating_mul(blocks)).filter(|ordered| count > *ordered)?;
    let unit = lattice.unit?;
    let [across, down] = unit.periods();
    Some(Finding {
        kind: Kind::UnitSmaller,
        grade: Grade::Advice,
        silenced: false,
        boxes: Vec::new(),
        measure: Some(measure(count, ordered, Bound::Equal)),
        says: format!(
            "the tile holds {count} repeats, the order sheet asks for {ordered}: the design comes again every {across} px \
             across and every {down} px down"
        ),
        remedy: "nothing if the larger tile is meant; else export fewer repeats".into(),
    })
}

fn per_tile(tile: &Tile, lattice: &Lattice) -> Option<u32> {
    lattice.unit?.per_tile(tile.raster.width(), tile.raster.height())
}

fn measure(count: u32, limit: u32, bound: Bound) -> Measure {
    Measure::new("smallest repeats in the tile", f64::from(count), "", bound, f64::from(limit))
}
