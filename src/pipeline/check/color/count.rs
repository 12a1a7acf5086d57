//! `color.count`: more flat colors than the order takes, or colors that are not flat at all.
//!
//! Takes a census and the limit, yields what is told. Art that is not flat is a fault here too: an order that limits colors
//! cannot print it.

use super::census::{Census, Swatch};
use super::telling::{Told, list, shown};
use crate::finding::{Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::check::words::count;
use crate::tile::Tile;

/// A tile is painted rather than flat when more than one in so many pixels has no flat color near, or more than one in so
/// many neither is flat nor smooths an edge, as where slivers of overlapping motifs are thinner than a pixel.
const DEEP_PART: u64 = 5000;
const OTHER_PART: u64 = 40;

/// The most colors beyond the limit that get a box.
const MOST_SHOWN: usize = 16;

/// What a counted tile comes to.
pub fn told(tile: &Tile, census: &Census, limit: u32) -> Told {
    let painted = census.deep * DEEP_PART > census.pixels || census.other * OTHER_PART > census.pixels;
    let found = if painted { census.distinct } else { census.colors.len() as u64 };
    let reading = reading(found, limit);
    if found <= u64::from(limit) {
        return Told { finding: None, reading };
    }
    let least = if painted && census.more { "more than " } else { "" };
    let says = if painted {
        let flat = match census.colors.len() {
            0 => "none of them flat".into(),
            _ => format!("the flat ones among them {}", list(&census.colors)),
        };
        format!("{least}{} different colors, {flat}, and the order takes at most {limit}", count(found, "").trim())
    } else {
        format!("{} and the order takes at most {limit}: {}", count(found, "flat colors"), list(&census.colors))
    };
    let remedy = if painted || tile.meta.lossy {
        lossless(tile, "reduce the tile to flat colors and export it again, or choose an order that takes any colors")
    } else {
        "merge or replace colors until the number fits, and export it again without dithering".into()
    };
    let beyond = if painted { &[] } else { census.colors.get(limit as usize..).unwrap_or_default() };
    Told { finding: Some(finding(tile, beyond, &reading, says, remedy)), reading }
}

/// What a tile comes to of which a first look saw more flat colors than the limit, and no end of them.
pub fn beyond_counting(tile: &Tile, seen: &[Swatch], limit: u32) -> Told {
    let found = seen.len() as u64;
    let reading = reading(found, limit);
    let says = format!("at least {} and the order takes at most {limit}: {}", count(found, "flat colors"), list(seen));
    let remedy =
        lossless(tile, "reduce the tile to flat colors and export it again, or choose an order that takes any");
    Told { finding: Some(finding(tile, &[], &reading, says, remedy)), reading }
}

fn reading(found: u64, limit: u32) -> Reading {
    let measure = Measure::new("colors", found as f64, "", Bound::Max, limit.into());
    Reading { kind: Kind::ColorCount, at: "the whole tile".into(), measure }
}

fn lossless(tile: &Tile, remedy: &str) -> String {
    if tile.meta.lossy {
        format!("export it as PNG, since this format blurs flat colors; else {remedy}")
    } else {
        remedy.into()
    }
}

fn finding(tile: &Tile, beyond: &[Swatch], reading: &Reading, says: String, remedy: String) -> Finding {
    Finding {
        kind: Kind::ColorCount,
        grade: Grade::Fault,
        silenced: false,
        boxes: beyond.iter().take(MOST_SHOWN).map(|swatch| shown(&tile.raster, swatch)).collect(),
        measure: Some(reading.measure.clone()),
        says,
        remedy,
    }
}
