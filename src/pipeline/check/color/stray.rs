//! `color.stray`: flat art with clean edges and a few scattered pixels in between colors.
//!
//! Takes a census, yields what is told. Smoothed edges are ordinary and come in chains; only where the clean edges are by
//! far in the majority do lone pixels look like leftovers.

use super::census::Census;
use super::telling::Told;
use crate::finding::{Area, Bound, Finding, Grade, Kind, MOST_BOXES, Measure, Reading};
use crate::pipeline::check::alpha::classes::parts_on_canvas;
use crate::pipeline::check::words::{count, place};
use crate::pixel::mask::{Mask, bounds};
use crate::tile::Tile;

/// So many places where flat colors meet cleanly for each pixel in between them.
pub const CLEAN_PER_ODD: u64 = 4;

/// The most pixels of a lone leftover.
const LONE: u64 = 3;

/// Fewer leftovers are not worth a word.
const LEAST: u64 = 8;

/// The most boxes; each holds the leftovers of one part of the tile.
const PARTS: u32 = 4;

/// What a counted tile comes to.
pub fn told(tile: &Tile, census: &Census) -> Option<Told> {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let pixels = census.between.count();
    let odd = pixels + census.other;
    if odd * CLEAN_PER_ODD > census.clean {
        return None;
    }
    let parts: Vec<_> = parts_on_canvas(&census.between, width, height)
        .into_iter()
        .filter(|runs| runs.iter().map(|run| run.count()).sum::<u64>() <= LONE)
        .collect();
    let lone: u64 = parts.iter().flatten().map(|run| run.count()).sum();
    let measure = Measure::new("stray pixels", lone as f64, "px", Bound::Max, 0.0);
    let reading = Reading { kind: Kind::ColorStray, at: "the whole tile".into(), measure: measure.clone() };
    if lone < LEAST || (odd - lone) * 2 > lone {
        return Some(Told { finding: None, reading });
    }
    let first = bounds(parts.first()?)?;
    let finding = Finding {
        kind: Kind::ColorStray,
        grade: Grade::Advice,
        silenced: false,
        boxes: boxes(&Mask::of(parts.concat()), width, height),
        measure: Some(measure),
        says: format!(
            "{} in between colors are scattered over art whose edges are clean else, the first {}",
            count(lone, "pixels"),
            place(first, tile)
        ),
        remedy: "clean them up where a mill counts colors; nothing if they are meant".into(),
    };
    Some(Told { finding: Some(finding), reading })
}

/// One box around the strays of each cell of a coarse grid.
fn boxes(strays: &Mask, width: u32, height: u32) -> Vec<Area> {
    let cells = PARTS * 2;
    let mut found: Vec<Option<[u32; 4]>> = vec![None; (cells * cells) as usize];
    let cell = |at: u32, side: u32| (u64::from(at) * u64::from(cells) / u64::from(side)) as usize;
    for (x, y) in strays.pixels() {
        let own = &mut found[cell(y, height) * cells as usize + cell(x, width)];
        let [left, top, right, bottom] = own.unwrap_or([x, y, x, y]);
        *own = Some([left.min(x), top.min(y), right.max(x), bottom.max(y)]);
    }
    let area = |[left, top, right, bottom]: [u32; 4]| Area {
        x: left,
        y: top,
        width: right - left + 1,
        height: bottom - top + 1,
    };
    found.into_iter().flatten().map(area).take(MOST_BOXES).collect()
}
