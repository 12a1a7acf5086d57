//! Glare: strong regular stripes that may be hard on the eyes at print scale and viewing distance.
//!
//! A caution about comfort and no statement about safety. Takes a tile with a resolution and its spec; yields at most one
//! advice. Sources: Harding, Wilkins, Erba, Barkley and Fisher, "Photic- and pattern-induced seizures: expert consensus",
//! Epilepsia 46(9):1423-1425, 2005 (more than five pairs of stripes, field over 0.006 sr at the least expected distance,
//! lightest stripe over 50 cd/m2); Wilkins and others, "A neurological basis for visual discomfort", Brain 107:989-1017,
//! 1984 (worst near 3 cycles per degree, even bars and high contrast; stripes about twice as bad as checks).

pub mod sight;
pub mod stripes;

use super::words::count;
use crate::finding::{Bound, Finding, Grade, Kind, Measure, Reading};
use crate::spec::{MM_PER_INCH, Repeat, Spec, VIEWING_MM};
use crate::tile::Tile;
use sight::{cycles_per_degree, luminance, michelson, solid_angle};
use stripes::Stripes;

/// Cycles per degree between which stripes disturb most: the effect falls off below 1 and above 8 (Wilkins and others, 1984).
const COARSEST: f64 = 1.0;
const FINEST: f64 = 8.0;

/// Michelson contrast from which stripes are told. The sources say "high" and draw no line; this one is ours.
const CONTRAST: f64 = 0.4;

/// Part of a period that is light, in percent, within which bars are even enough.
const EVEN: std::ops::RangeInclusive<u32> = 30..=70;

/// Pairs of stripes that a field must exceed, its solid angle, and the luminance of its lightest stripe (Harding and others).
const PAIRS: f64 = 5.0;
const FIELD_SR: f64 = 0.006;
const LUMINANCE: f64 = 50.0;

/// An ordinarily lit room in lux (common practice).
const ROOM_LUX: f64 = 500.0;

/// What the glare rule says.
#[derive(Clone, Debug, Default)]
pub struct Glare {
    /// At most one advice.
    pub finding: Option<Finding>,
    /// What was measured of stripes, if the tile has them.
    pub readings: Vec<Reading>,
}

/// Looks for stripes; without a resolution nothing is known of their size.
#[must_use]
pub fn judge(tile: &Tile, spec: &Spec) -> Glare {
    let Some(resolution) = tile.meta.resolution.filter(|found| found.x > 0.0 && found.y > 0.0) else {
        return Glare::default();
    };
    let Some(found) = stripes::stripes(&tile.raster) else { return Glare::default() };
    let size = [
        f64::from(tile.raster.width()) / resolution.x * MM_PER_INCH,
        f64::from(tile.raster.height()) / resolution.y * MM_PER_INCH,
    ];
    let distance = spec.viewing.unwrap_or(VIEWING_MM);
    // Stripes per millimeter at a right angle to them.
    let [across, down] = [f64::from(found.across) / size[0], f64::from(found.down) / size[1]];
    let period = 1.0 / (across * across + down * down).sqrt();
    let frequency = cycles_per_degree(period, distance);
    let contrast = michelson(found.light, found.dark);
    let measures = [
        Measure::new("contrast of the stripes", contrast, "(Michelson, in light)", Bound::Max, CONTRAST),
        Measure::new("stripes", frequency, "cycles per degree", Bound::Min, FINEST),
    ];
    let readings = measures
        .iter()
        .map(|measure| Reading { kind: Kind::GlareStripes, at: "the whole tile".into(), measure: measure.clone() })
        .collect();
    let strong = contrast >= CONTRAST
        && (COARSEST..=FINEST).contains(&frequency)
        && EVEN.contains(&found.duty)
        && luminance(found.light, ROOM_LUX) > LUMINANCE
        && fills(spec, found, size, distance);
    let [contrast_of, _] = measures;
    let finding = strong.then(|| Finding {
        kind: Kind::GlareStripes,
        grade: Grade::Advice,
        silenced: false,
        boxes: Vec::new(),
        measure: Some(contrast_of),
        says: format!(
            "strong regular stripes that may be hard on the eyes: {frequency:.1} cycles per degree from {} away, a contrast of \
             {contrast:.2} and {} % of it light",
            told(distance),
            found.duty
        ),
        remedy: "a caution and no statement about safety: look at it at its final scale and distance, soften the contrast or vary \
                 the stripes if it disturbs, and follow local codes and the advice of licensed practice"
            .into(),
    });
    Glare { finding, readings }
}

/// Whether the print is a large enough field of enough stripes. What repeats covers whatever it is laid on.
fn fills(spec: &Spec, found: Stripes, [width, height]: [f64; 2], distance: f64) -> bool {
    let [across, down] = [f64::from(found.across), f64::from(found.down)];
    spec.repeat != Some(Repeat::None)
        || solid_angle(width * height, distance) > FIELD_SR && (across * across + down * down).sqrt() > PAIRS
}

/// A distance in words.
fn told(millimeters: f64) -> String {
    if millimeters >= 1000.0 {
        format!("{:.1} m", millimeters / 1000.0)
    } else {
        count((millimeters / 10.0).round() as u64, "cm")
    }
}
