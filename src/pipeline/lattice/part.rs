//! Parts: the lattice that a tile holds but for one side of it.
//!
//! Where a border was painted over, no move maps the whole tile onto itself, and still the rest of it comes again. Takes a
//! tile; yields the unit of the first part that has one.

use super::known::Unit;
use super::sheet::Sheet;
use crate::finding::Area;
use crate::spec::Ground;
use crate::tile::{Raster, Tile};

/// The part that is left when one side is set aside, in fourths.
const KEPT: u32 = 3;
const OF: u32 = 4;

/// A part holds at least so many units: fewer come again by chance.
const UNITS: u64 = 4;

/// The unit of a part of a tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// Where it is known.
    pub area: Area,
    /// What comes again there.
    pub unit: Unit,
}

/// The unit of a tile less a quarter at its bottom, top, right or left; `None` when no part has one.
#[must_use]
pub fn part(tile: &Tile, ground: Ground) -> Option<Part> {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let [wide, high] = [width, height].map(|side| side * KEPT / OF);
    let whole = Area { x: 0, y: 0, width, height };
    let areas = [
        Area { height: high, ..whole },
        Area { y: height - high, height: high, ..whole },
        Area { width: wide, ..whole },
        Area { x: width - wide, width: wide, ..whole },
    ];
    areas.into_iter().find_map(|area| {
        let part =
            Tile { raster: cut(&tile.raster, area)?, deep: None, meta: tile.meta.clone(), content: tile.content };
        let lattice = Sheet::colors(&part, ground).find();
        let unit = lattice.unit.filter(|_| lattice.moves.len() == 2)?;
        (unit.area() * UNITS <= u64::from(area.width) * u64::from(area.height)).then_some(Part { area, unit })
    })
}

/// The pixels of an area.
fn cut(raster: &Raster, area: Area) -> Option<Raster> {
    let mut samples = Vec::with_capacity(area.width as usize * area.height as usize * 4);
    for y in area.y..area.y + area.height {
        samples.extend_from_slice(&raster.row(y)[area.x as usize * 4..][..area.width as usize * 4]);
    }
    Raster::new(area.width, area.height, samples)
}

impl Part {
    /// The place in the middle of the part that shows what `(x, y)` would, were the whole tile of its unit; `None` where the
    /// part does not reach.
    #[must_use]
    pub fn like(&self, x: i64, y: i64) -> Option<(u32, u32)> {
        let Area { x: left, y: top, width, height } = self.area;
        let [a, b] = [self.unit.a, self.unit.b];
        let middle = [left + width / 2, top + height / 2].map(i64::from);
        let from = [x - middle[0], y - middle[1]];
        // By Cramer's rule, to the nearest whole moves.
        let whole = a[0] * b[1] - a[1] * b[0];
        let nearest = |part: i64| (2 * part + whole.abs()).div_euclid(2 * whole.abs()) * whole.signum();
        let (i, j) = (nearest(from[0] * b[1] - from[1] * b[0]), nearest(a[0] * from[1] - a[1] * from[0]));
        let inside =
            |at: i64, first: u32, length: u32| u32::try_from(at).ok().filter(|at| (first..first + length).contains(at));
        let x = inside(x - i * a[0] - j * b[0], left, width)?;
        let y = inside(y - i * a[1] - j * b[1], top, height)?;
        Some((x, y))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tile::{Channels, Content, Format, Meta, Profile};

    /// Checks of 15 px, 300 px each way, that become others over the lowest 60 lines.
    fn painted_over() -> Tile {
        let value = |x: u32, y: u32| if (x / 15 + y / 15).is_multiple_of(2) { 40 } else { 200 };
        let samples = (0..300 * 300_u32).flat_map(|at| {
            let (x, y) = (at % 300, at / 300);
            let part = (y.saturating_sub(240) * 2).min(100);
            let value = (value(x, y) * (100 - part) + value(x + 7, y + 4) * part) / 100;
            [value as u8, value as u8, value as u8, 255]
        });
        let raster = Raster::new(300, 300, samples.collect()).expect("as many samples as pixels");
        let meta = Meta {
            format: Format::Png,
            bytes: 0,
            channels: Channels::Rgba,
            bit_depth: 8,
            resolution: None,
            profile: Profile::Untagged,
            interlaced: false,
            frames: 1,
            pages: 1,
            lossy: false,
        };
        Tile { raster, deep: None, meta, content: Content::of(b"") }
    }

    #[test]
    fn the_unit_is_found_where_the_border_was_not_painted_over() {
        let tile = painted_over();
        assert!(Sheet::colors(&tile, Ground::Opaque).find().moves.len() < 2, "the whole tile has no unit");
        let part = part(&tile, Ground::Opaque).expect("the upper part has one");
        assert_eq!((part.area, part.unit.area()), (Area { x: 0, y: 0, width: 300, height: 225 }, 450));
        // One check further each way, and straight up by two.
        assert!(part.unit.holds([15, 15]) && part.unit.holds([0, 30]) && !part.unit.holds([15, 0]));
        let (x, y) = part.like(7, 292).expect("the part reaches everywhere");
        assert!(part.unit.holds([7 - i64::from(x), 292 - i64::from(y)]) && y < 225, "{x}, {y}");
    }
}
