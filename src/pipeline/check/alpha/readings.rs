//! What was measured of transparency, for those who want to argue with the verdict.
//!
//! Takes a survey; counts what it holds and says how the ground was decided.

use super::survey::{OPAQUE_UP_TO, Survey, TRANSPARENT_ABOVE};
use crate::finding::{Bound, Kind, Measure, Reading};
use crate::spec::{Ground, GroundDemand};
use crate::tile::Tile;

/// The readings of a survey of `tile`; on a ground that is see-through nothing but the ground is judged.
#[must_use]
pub fn readings(survey: &Survey, tile: &Tile, demand: GroundDemand) -> Vec<Reading> {
    let canvas = u64::from(tile.raster.width()) * u64::from(tile.raster.height());
    let reading = |kind, measure| Reading { kind, at: "the whole tile".into(), measure };
    let percent = |pixels: u64, of: u64| 100.0 * pixels as f64 / of as f64;
    let mut out = Vec::new();
    if matches!(demand, GroundDemand::Infer | GroundDemand::Either) {
        let (bound, limit) = match survey.ground {
            Ground::Transparent => (Bound::Min, percent(TRANSPARENT_ABOVE, 1000)),
            Ground::Opaque | Ground::Unclear => (Bound::Max, percent(OPAQUE_UP_TO, 1000)),
        };
        let name = "see-through places wider than a line, part of the tile";
        out.push(reading(Kind::AlphaGround, Measure::new(name, percent(survey.wide, canvas), "%", bound, limit)));
    }
    if survey.ground == Ground::Transparent {
        return out;
    }
    let none = |name, pixels: u64| Measure::new(name, pixels as f64, "px", Bound::Max, 0.0);
    out.extend([
        reading(Kind::AlphaHairline, none("see-through lines", survey.hairline.count())),
        reading(Kind::AlphaFringe, none("see-through edges", survey.fringed().count())),
        reading(Kind::AlphaGap, none("holes", survey.gap.count() + survey.lost.count())),
        reading(Kind::AlphaSpeck, none("specks", survey.speck.count())),
    ]);
    out
}
