//! Where a see-through line has no color left: alpha so low that storage multiplied by it kept next to nothing.
//!
//! Takes a tile and its hairlines, yields the pixels that nothing can restore. Knows no words and changes nothing.

use super::classes::{LINE_GAP, MOST_OF_A_SPECK};
use super::link::linked;
use crate::pixel::mask::{Mask, Run};
use crate::pixel::over::Sample;
use crate::pixel::stored::{View, neighbor, on_levels};
use crate::tile::Tile;

/// The lowest alpha, in the file's own depth, that still leaves color: at 1 and 2 only 2 and 3 levels of it are left.
pub const LEAST_WITH_COLOR: u32 = 3;

/// The pixels of `lines` whose color is lost: alpha below [`LEAST_WITH_COLOR`], stored as multiplied color would be, and no
/// flat neighbor it can have had. Only where they make a line: fewer are a dip that its surroundings bridge.
#[must_use]
pub fn lost(tile: &Tile, lines: &Mask) -> Mask {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let pixels = match &tile.deep {
        Some(deep) => View::new(&deep.0, width, height).map(|view| without_color(&view, lines)),
        None => View::new(tile.raster.samples(), width, height).map(|view| without_color(&view, lines)),
    };
    let pixels = Mask::of(pixels.unwrap_or_default());
    let groups = linked(&pixels, width, height, LINE_GAP);
    groups.picked(&pixels, |group| groups.sizes[group as usize] > MOST_OF_A_SPECK)
}

fn without_color<T: Sample>(view: &View<'_, T>, lines: &Mask) -> Vec<Run> {
    let gone = |&(x, y): &(u32, u32)| {
        let pixel = view.at(x.into(), y.into());
        Into::<u32>::into(pixel[3]) < LEAST_WITH_COLOR
            && on_levels(pixel)
            && neighbor(view, (x, y), pixel, true).is_none()
    };
    lines.pixels().filter(gone).map(|(x, y)| Run { y, start: x, end: x + 1 }).collect()
}
