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

/// A straight line of kind `what` ("see-through line") by how it runs and where: `angle` in degrees from level, counted from
/// the right upward, 0 up to 180; `area` the pixels around it.
#[must_use]
pub fn line(what: &str, angle: f64, mut area: Area, tile: &Tile) -> String {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let resolution = tile.meta.resolution;
    let level = area.height <= 4 && area.width > area.height;
    let upright = area.width <= 4 && area.height > area.width;
    if level && u64::from(area.width) * 20 >= u64::from(width) * 19 {
        (area.x, area.width) = (0, width);
        return format!("a {what} runs across the tile, {}", place(area, tile));
    }
    if upright && u64::from(area.height) * 20 >= u64::from(height) * 19 {
        (area.y, area.height) = (0, height);
        return format!("a {what} runs down the tile, {}", place(area, tile));
    }
    if level || upright {
        let long = if level {
            length(f64::from(area.width), resolution.map(|r| r.x))
        } else {
            length(f64::from(area.height), resolution.map(|r| r.y))
        };
        let way = if level { "a level" } else { "an upright" };
        return format!("{way} {what}, {long} long, {}", place(area, tile));
    }
    format!("a {what} {}, its middle {}", run_as(angle, "runs", "rises", "falls"), place(middle(area), tile))
}

/// The pixel in the middle of an area, as an area.
#[must_use]
pub fn middle(area: Area) -> Area {
    Area { x: area.x + area.width / 2, y: area.y + area.height / 2, width: 1, height: 1 }
}

/// How a line runs, in words: level, upright, or rising or falling to the right by whole degrees. The three verbs are those
/// for one line or for several.
#[must_use]
pub fn run_as(angle: f64, run: &str, rise: &str, fall: &str) -> String {
    match angle.round() as u32 {
        0 | 180 => format!("{run} level"),
        90 => format!("{run} upright"),
        degrees @ 0..90 => format!("{rise} to the right at {}", degrees_of(degrees)),
        degrees => format!("{fall} to the right at {}", degrees_of(180 - degrees)),
    }
}

fn degrees_of(degrees: u32) -> String {
    if degrees == 1 { "1 degree".into() } else { format!("{degrees} degrees") }
}
