//! Break makers: what makes a sound tile's edges not meet, at any strength.

use super::chance::Chance;
use super::{Style, canvas_for};
use burler::spec::Repeat;
use burler::tile::Raster;

/// A window cut out of a larger drawing of the style: neither edge meets its copy.
pub fn crop(style: &Style, seed: u64, width: usize, height: usize, unit: f32) -> Raster {
    let mut chance = Chance::new(seed);
    let (wide, high) = (width + width * 2 / 5, height + height * 2 / 5);
    let mut canvas = canvas_for(Repeat::Block, wide, high);
    canvas.unit = unit;
    (style.draw)(&mut chance, &mut canvas);
    let (left, top) = (chance.whole(0, wide as u32 - 1) as usize, chance.whole(0, high as u32 - 1) as usize);
    canvas.cut(left, top, width, height)
}

/// Where a break lies along an edge, as parts of its length; it may wrap.
#[derive(Clone, Copy, Debug)]
pub struct Stretch {
    pub from: f32,
    pub part: f32,
}

impl Stretch {
    /// How far inside the stretch a place is, 0 at its ends or outside, 1 some way in.
    pub fn weight(self, place: usize, length: usize) -> f32 {
        if self.part >= 1.0 {
            return 1.0;
        }
        let at = (place as f32 / length as f32 - self.from).rem_euclid(1.0);
        let inside = at.min(self.part - at);
        (inside * length as f32 / 6.0).clamp(0.0, 1.0)
    }
}

/// A displaced copy of the tile blended in toward the bottom edge over a stretch of it.
pub fn displaced(tile: &Raster, stretch: Stretch, by: (i64, i64)) -> Raster {
    blended(tile, stretch, by, 1.0)
}

/// The same as a layer of which at most a part, `most`, covers.
pub fn blended(tile: &Raster, stretch: Stretch, (right, down): (i64, i64), most: f32) -> Raster {
    let (width, height) = (tile.width() as usize, tile.height() as usize);
    let deep = height / 5;
    change(tile, |x, y, own| {
        let toward = (y as f32 + 1.0 - (height - deep) as f32) / deep as f32;
        let weight = most * stretch.weight(x, width) * (2.0 * toward).clamp(0.0, 1.0);
        if weight <= 0.0 {
            return own;
        }
        let other = tile.wrapped(x as i64 + right, y as i64 + down);
        std::array::from_fn(|c| (f32::from(own[c]) * (1.0 - weight) + f32::from(other[c]) * weight).round() as u8)
    })
}

/// A ramp of `levels` in all channels that rises over the lower half and is cut off at the bottom edge.
pub fn ramp(tile: &Raster, levels: f32) -> Raster {
    let height = tile.height() as f32;
    change(tile, |_, y, own| {
        let rise = levels * (2.0 * (y as f32 + 1.0) / height - 1.0).max(0.0);
        let moved = |v: u8| if f32::from(v) + levels > 255.0 { v } else { (f32::from(v) + rise).round() as u8 };
        [moved(own[0]), moved(own[1]), moved(own[2]), own[3]]
    })
}

/// Every pixel anew from its column, row and color.
pub fn change(tile: &Raster, pixel: impl Fn(usize, usize, [u8; 4]) -> [u8; 4]) -> Raster {
    let mut rgba = Vec::with_capacity(tile.samples().len());
    for y in 0..tile.height() {
        for x in 0..tile.width() {
            rgba.extend(pixel(x as usize, y as usize, tile.pixel(x, y)));
        }
    }
    Raster::new(tile.width(), tile.height(), rgba).expect("as large as before")
}

/// The mean over a stretch of the bottom edge of how much the edge differs from what was sound, in levels of the channel
/// that differs most: what a break is, as pixels.
pub fn strength(sound: &Raster, broken: &Raster, stretch: Stretch) -> f32 {
    let (y, width) = (sound.height() - 1, sound.width() as usize);
    let inside: Vec<u32> = (0..sound.width()).filter(|x| stretch.weight(*x as usize, width) > 0.0).collect();
    let sum: u32 = inside
        .iter()
        .map(|x| {
            let (a, b) = (sound.pixel(*x, y), broken.pixel(*x, y));
            a.iter().zip(b).map(|(a, b)| u32::from(a.abs_diff(b))).max().unwrap_or(0)
        })
        .sum();
    sum as f32 / inside.len().max(1) as f32
}

/// The tile moved on the torus.
pub fn moved(tile: &Raster, right: i64, down: i64) -> Raster {
    change(tile, |x, y, _| tile.wrapped(x as i64 - right, y as i64 - down))
}
