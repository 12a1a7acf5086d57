//! Colors: how many flat ones there are, which of them can hardly be told apart, and stray pixels between them.
//!
//! A flat color is one that fills an area (squares of 2 x 2 pixels), or that is drawn hard in lines and dots. What smooths
//! an edge between two flat colors is none, nor is the clear ground. Takes a tile and its spec, yields findings and what
//! was measured. Art that is not flat is looked at only where the spec limits its colors.

mod spans;
mod tally;
mod between;
mod census;
mod telling;
mod count;
mod twins;
mod stray;

use crate::finding::{Finding, Reading};
use crate::spec::Spec;
use crate::tile::Tile;

/// A mill that counts colors has some dozen screens; above twice that a palette is not limited (common practice).
const LIMITED: usize = 24;

/// What the color rules say.
#[derive(Clone, Debug, Default)]
pub struct Colors {
    /// At most one of each kind.
    pub findings: Vec<Finding>,
    /// What was measured, whether or not it passed.
    pub readings: Vec<Reading>,
    /// How many flat colors the first look saw; `None` in art that is not flat, or lossy. Colorways of one drawing are looked
    /// at in the same places, so that their numbers can be compared.
    pub seen: Option<u32>,
}

impl Colors {
    fn add(&mut self, told: Option<telling::Told>) {
        if let Some(told) = told {
            self.findings.extend(told.finding);
            self.readings.push(told.reading);
        }
    }
}

/// Judges the colors of a tile.
#[must_use]
pub fn judge(tile: &Tile, spec: &Spec) -> Colors {
    let look = census::look(&tile.raster);
    let seen = (look.flat && !tile.meta.lossy).then(|| u32::try_from(look.colors.len()).unwrap_or(u32::MAX));
    let mut colors = Colors { seen, ..Colors::default() };
    // A lossy coder strews colors about of its own. Where the look saw none strewn, there are too few to speak of.
    let can_stray = look.flat && !tile.meta.lossy && look.odd > 0 && look.odd * stray::CLEAN_PER_ODD <= look.clean;
    let sure = spec.colors.filter(|limit| !look.flat && look.colors.len() as u64 > u64::from(*limit));
    if let Some(limit) = sure {
        colors.add(Some(count::beyond_counting(tile, &look.colors, limit)));
        return colors;
    }
    let census = (spec.colors.is_some() || can_stray).then(|| census::census(&tile.raster, can_stray));
    if let (Some(limit), Some(census)) = (spec.colors, &census) {
        colors.add(Some(count::told(tile, census, limit)));
    }
    if look.flat && !tile.meta.lossy {
        let (swatches, pixels) = match &census {
            Some(census) => (&census.colors, census.pixels),
            None => (&look.colors, look.pixels),
        };
        if swatches.len() <= LIMITED || spec.colors.is_some() {
            colors.add(twins::told(tile, swatches, pixels));
        }
        if let (true, Some(census)) = (can_stray, &census) {
            colors.add(stray::told(tile, census));
        }
    }
    colors
}
