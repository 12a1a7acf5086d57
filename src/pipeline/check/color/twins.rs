//! `color.twins`: two flat colors of a limited palette that can hardly be told apart.
//!
//! Takes the flat colors, yields what is told. A gradient in steps is no palette: there nearly every color has a twin.

use super::census::Swatch;
use super::telling::{Told, hex, shown};
use crate::finding::{Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::check::words::count;
use crate::pixel::difference::ciede2000;
use crate::tile::Tile;

/// The least difference that is told apart side by side: CIEDE2000 1 (common practice).
const JUST_NOTICEABLE: f64 = 1.0;

/// A color must take one in so many pixels to be one that somebody chose.
const LEAST_PART: u64 = 2000;

/// With more pairs than this, or half of the colors in one, nobody chose them: a gradient in steps, or a lossy past.
const MOST_PAIRS: usize = 4;

/// The most colors compared.
const MOST_COMPARED: usize = 64;

/// What the flat colors of `pixels` pixels, largest first, come to; `None` when there are not two.
pub fn told(tile: &Tile, swatches: &[Swatch], pixels: u64) -> Option<Told> {
    let chosen: Vec<&Swatch> =
        swatches.iter().filter(|swatch| swatch.pixels * LEAST_PART >= pixels).take(MOST_COMPARED).collect();
    let mut pairs: Vec<(f64, &Swatch, &Swatch)> = Vec::new();
    for (i, one) in chosen.iter().enumerate() {
        for other in &chosen[i + 1..] {
            pairs.push((ciede2000(rgb(one), rgb(other)), one, other));
        }
    }
    // The sort is stable: of equal differences the larger colors come first.
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let &(least, one, other) = pairs.first()?;
    let measure = Measure::new("color difference", least, "CIEDE2000", Bound::Min, JUST_NOTICEABLE);
    let reading = Reading {
        kind: Kind::ColorTwins,
        at: format!("{} and {}", hex(one.rgba), hex(other.rgba)),
        measure: measure.clone(),
    };
    let twins: Vec<_> = pairs.iter().take_while(|(difference, ..)| *difference < JUST_NOTICEABLE).collect();
    let has_twin = |swatch: &&&Swatch| twins.iter().any(|(_, a, b)| a.rgba == swatch.rgba || b.rgba == swatch.rgba);
    let with_twin = chosen.iter().filter(has_twin).count();
    if twins.is_empty() || twins.len() > MOST_PAIRS || (with_twin > 2 && with_twin * 2 >= chosen.len()) {
        return Some(Told { finding: None, reading });
    }
    let more = match twins.len() - 1 {
        0 => String::new(),
        more => format!(", and {} like them", count(more as u64, if more == 1 { "more pair" } else { "more pairs" })),
    };
    let finding = Finding {
        kind: Kind::ColorTwins,
        grade: Grade::Advice,
        silenced: false,
        boxes: vec![shown(&tile.raster, one), shown(&tile.raster, other)],
        measure: Some(measure),
        says: format!(
            "two of the {} can hardly be told apart: {} and {}, a color difference (CIEDE2000) of {least:.2}{more}",
            count(swatches.len() as u64, "flat colors"),
            hex(one.rgba),
            hex(other.rgba),
        ),
        remedy: "make them one color if they are meant to be; nothing if they go on different screens".into(),
    };
    Some(Told { finding: Some(finding), reading })
}

fn rgb(swatch: &Swatch) -> [u8; 3] {
    [swatch.rgba[0], swatch.rgba[1], swatch.rgba[2]]
}
