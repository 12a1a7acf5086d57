//! The designer's words for places and lengths, so that every rule speaks alike.

use crate::finding::Area;
use crate::tile::Tile;

/// A length along an axis in print: inches with one decimal where the resolution is known, else pixels.
#[must_use]
pub fn length(pixels: f64, per_inch: Option<f64>) -> String {
    match per_inch {
        Some(per_inch) if per_inch > 0.0 && pixels / per_inch < 0.05 => count(pixels.round() as u64, "px"),
        Some(per_inch) if per_inch > 0.0 => format!("{:.1} in", pixels / per_inch),
        _ => count(pixels.round() as u64, "px"),
    }
}

/// `n unit`, with thousands set apart as `1,234`.
#[must_use]
pub fn count(n: u64, unit: &str) -> String {
    let digits = n.to_string();
    let mut grouped = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if unit.is_empty() { grouped } else { format!("{grouped} {unit}") }
}

/// Where an area lies: `"6.1 in from the top, 2.0 in from the left"`; an area that spans a whole side leaves that axis out.
#[must_use]
pub fn place(area: Area, tile: &Tile) -> String {
    let resolution = tile.meta.resolution;
    let down = length(f64::from(area.y), resolution.map(|r| r.y));
    let right = length(f64::from(area.x), resolution.map(|r| r.x));
    let (wide, high) = (area.width >= tile.raster.width(), area.height >= tile.raster.height());
    match (wide, high) {
        (true, true) => "all over the tile".into(),
        (true, false) => format!("{down} from the top"),
        (false, true) => format!("{right} from the left"),
        (false, false) => format!("{down} from the top, {right} from the left"),
    }
}
