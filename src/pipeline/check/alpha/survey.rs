//! What transparency a tile has: its ground, and on an opaque ground where which kind of see-through place lies.
//!
//! Takes a tile and what its spec demands of the ground, yields a [`Survey`]. Knows no words and changes nothing.

use super::classes::{Classes, classes};
use super::fringe::{Edge, fringes};
use super::lost::lost;
use super::plane::{Plane, see_through};
use crate::pixel::mask::Mask;
use crate::spec::{Ground, GroundDemand};
use crate::tile::Tile;

/// Of pixels that survive opening with a 5 x 5 square, at most this share of the tile leaves the ground opaque, in 1/1000.
/// Hairlines, fringes and specks leave none and accidental holes under 1; art on a clear ground leaves 140 and more.
/// This and the next limit cut that gulf in thirds on a logarithmic scale.
pub(super) const OPAQUE_UP_TO: u64 = 5;

/// Above this share the ground is transparent, in 1/1000; between the two it is honestly unclear.
pub(super) const TRANSPARENT_ABOVE: u64 = 50;

/// From this many small holes on, which together are more than [`OPAQUE_UP_TO`], they look like lace rather than accidents.
const LACE: u64 = 50;

/// Lines that take more than this share of the tile, in 1/1000, are a net or a texture rather than hairlines.
const LINES_UP_TO: u64 = 200;

/// What transparency a tile has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Survey {
    /// What lies behind the motifs: as the spec says, else as the pixels do.
    pub ground: Ground,
    /// Pixels with alpha below full.
    pub see_through: u64,
    /// Of these, the pixels in places at least 5 px wide both ways, but for those where lines meet.
    pub wide: u64,
    /// Thin see-through lines between opaque pixels, with their color left.
    pub hairline: Mask,
    /// The same along the outermost lines, side by side.
    pub fringe: Vec<Edge>,
    /// Holes: clear, or wider than a hairline.
    pub gap: Mask,
    /// Lines without color left.
    pub lost: Mask,
    /// A few stray pixels.
    pub speck: Mask,
    /// What mending may touch: hairline and fringe, and nothing unless the ground is opaque.
    pub mask: Mask,
}

impl Survey {
    /// A survey of nothing but a ground.
    fn of_ground(ground: Ground, see_through: u64, wide: u64) -> Self {
        let none = Mask::default;
        Self {
            ground,
            see_through,
            wide,
            hairline: none(),
            fringe: Vec::new(),
            gap: none(),
            lost: none(),
            speck: none(),
            mask: none(),
        }
    }

    /// Whether so much of a tile of `canvas` pixels is see-through that its ground is.
    #[must_use]
    pub fn bare(&self, canvas: u64) -> bool {
        self.wide * 1000 > canvas * TRANSPARENT_ABOVE
    }

    /// The pixels of all fringes.
    #[must_use]
    pub fn fringed(&self) -> Mask {
        Mask::of(self.fringe.iter().flat_map(|edge| edge.pixels.runs()).copied().collect())
    }

    /// The same survey with hairlines or fringes taken out of the mask, for a spec that silences them.
    #[must_use]
    pub fn leaving(mut self, hairlines: bool, fringes: bool) -> Self {
        let opaque = self.ground == Ground::Opaque;
        let lines = if opaque && !hairlines { self.hairline.runs() } else { &[] };
        let fringed = if opaque && !fringes { self.fringed() } else { Mask::default() };
        self.mask = Mask::of([lines, fringed.runs()].concat());
        self
    }
}

/// Surveys a tile. A tile without see-through pixels costs one pass over its samples and no memory.
///
/// Where the spec wants an opaque ground and the tile's is clearly not (see [`Survey::bare`]), or where the ground is
/// transparent, the see-through places are meant or of one kind, and are not told apart.
#[must_use]
pub fn survey(tile: &Tile, demand: GroundDemand) -> Survey {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let canvas = u64::from(width) * u64::from(height);
    let named = match demand {
        GroundDemand::Opaque => Some(Ground::Opaque),
        GroundDemand::Transparent => Some(Ground::Transparent),
        GroundDemand::Infer | GroundDemand::Either => None,
    };
    let Some(planes) = see_through(&tile.raster) else {
        return Survey::of_ground(named.unwrap_or(Ground::Opaque), 0, 0);
    };
    let wide = planes.partial.opened(2);
    let mut survey = Survey::of_ground(named.unwrap_or(Ground::Transparent), planes.partial.count(), wide.count());
    if survey.ground == Ground::Transparent && named.is_some() || survey.bare(canvas) {
        return survey;
    }
    let Classes { lines, gap, speck, strewn, wide } = classes(&planes, &wide, width, height);
    survey.wide = wide;
    survey.ground = named.unwrap_or(match strewn {
        (LACE.., pixels) if pixels * 1000 > canvas * TRANSPARENT_ABOVE => Ground::Transparent,
        (LACE.., pixels) if pixels * 1000 >= canvas * OPAQUE_UP_TO => Ground::Unclear,
        _ if wide * 1000 >= canvas * OPAQUE_UP_TO => Ground::Unclear,
        _ if survey.see_through * 1000 > canvas * LINES_UP_TO => Ground::Unclear,
        _ => Ground::Opaque,
    });
    if survey.ground == Ground::Transparent {
        return survey;
    }
    survey.lost = if planes.faint { lost(tile, &lines) } else { Mask::default() };
    survey.hairline = if survey.lost.is_empty() { lines } else { lines.without(&survey.lost) };
    survey.fringe = fringes(&Plane::of(&survey.hairline, width, height), &planes.partial, width, height);
    survey.hairline = survey.hairline.without(&survey.fringed());
    survey.gap = gap;
    survey.speck = speck;
    survey.leaving(false, false)
}
