//! Units: of a design that comes again all over the tile, does one copy sit aside.
//!
//! Takes a tile and the lattice it nearly or wholly follows; yields `unit.stray`. What a pixel should be is the median of
//! its copies one and two moves away; where many differ together and fit when moved by a few pixels, a unit strayed.
//! Knows nothing of joints.

mod copies;
mod odd;
mod moved;

use super::words::{length, place};
use crate::finding::{Area, Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::lattice::{Known, Lattice, Move, Unit, shortest};
use crate::pixel::mask::Mask;
use crate::tile::Tile;
use copies::Copies;

/// With fewer odd pixels nothing can be told.
const LEAST: usize = 8;

/// Where more than one pixel in so many is see-through, the moves themselves were counted on what a mend changes.
const VEILED: u64 = 32;

/// With fewer units on the canvas a majority of copies is soon one by chance.
const FEWEST: u64 = 9;

/// What the unit rule says.
#[derive(Clone, Debug, Default)]
pub struct Units {
    /// At most one fault: the unit with the most to say.
    pub finding: Option<Finding>,
    /// What was measured where a unit looked odd.
    pub readings: Vec<Reading>,
}

/// Looks for a unit that sits aside; a tile that follows its lattice to the pixel costs nothing.
#[must_use]
pub fn judge(tile: &Tile, lattice: &Lattice, mended: &Mask) -> Units {
    let Some([a, b]) = moves(lattice) else { return Units::default() };
    let unit = (a[0] * b[1] - a[1] * b[0]).unsigned_abs();
    if unit * FEWEST > u64::from(tile.raster.width()) * u64::from(tile.raster.height()) {
        return Units::default();
    }
    if mended.count() * VEILED > u64::from(tile.raster.width()) * u64::from(tile.raster.height()) {
        return Units::default();
    }
    // What a mend makes opaque is told as a see-through line, and says nothing of where its unit sits.
    let copies = Copies::new(&tile.raster, a, b, mended);
    let Some(odd) = odd::pixels(&copies) else { return Units::default() };
    if odd.len() < LEAST {
        return Units::default();
    }
    let Some(found) = moved::unit(&copies, &odd) else { return Units::default() };
    let Some(&area) = found.areas.first() else { return Units::default() };
    let measure = Measure::new("sits aside", found.far(), "px", Bound::Max, 0.0);
    let reading = Reading { kind: Kind::UnitStray, at: place(area, tile), measure: measure.clone() };
    let finding = Finding {
        kind: Kind::UnitStray,
        grade: Grade::Fault,
        silenced: false,
        boxes: found.areas,
        measure: Some(measure),
        says: format!("one unit of the design sits {}, {}", aside(found.by), place(middle(area), tile)),
        remedy: format!("move it {} and export the tile again", aside([-found.by[0], -found.by[1]])),
    };
    Units { finding: Some(finding), readings: vec![reading] }
}

/// Two moves that the design follows, when not to the pixel. Long moves can be exact because they leap over a stray unit; then
/// shorter ones follow from them that are not.
fn moves(lattice: &Lattice) -> Option<[Move; 2]> {
    if let Some(nearly) = lattice.nearly {
        return Some(nearly.map(|known| known.by));
    }
    let Unit { a, b } = lattice.unit?;
    let [short, long] = shortest([a, b]);
    let differs = |known: &Known| known.count.differing > 0;
    let leaps = [short, long] != [a, b] && [long, short] != [a, b];
    (leaps || lattice.moves.iter().any(differs)).then_some([short, long])
}

/// The pixel in the middle of an area, as an area.
fn middle(area: Area) -> Area {
    Area { x: area.x + area.width / 2, y: area.y + area.height / 2, width: 1, height: 1 }
}

/// A move in words: `2 px to the right and 1 px up`.
fn aside([right, down]: [i64; 2]) -> String {
    let part = |by: i64, forth: &str, back: &str| {
        (by != 0).then(|| format!("{} {}", length(by.unsigned_abs() as f64, None), if by > 0 { forth } else { back }))
    };
    let parts = [part(right, "to the right", "to the left"), part(down, "down", "up")];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moves_are_told_in_words() {
        assert_eq!(aside([2, -1]), "2 px to the right and 1 px up");
        assert_eq!(aside([0, 3]), "3 px down");
        assert_eq!(aside([-1, 0]), "1 px to the left");
    }
}
