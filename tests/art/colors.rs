//! Color makers: what makes flat art need more colors than it seems to, at any strength, with the truth beside it.
//!
//! Each takes a sound tile, a seed and a strength from 0 (barely there) to 3 (gross; 4 is taken as 3), and yields the
//! changed tile and the place of the change; `None` where the tile is not made of flat colors.

use super::chance::Chance;
use burler::finding::Area;
use burler::pixel::difference::ciede2000;
use burler::tile::Raster;
use std::collections::BTreeMap;

/// The opaque colors of a tile that fill squares of 2 x 2 pixels, most first, with how many they fill.
pub fn flat_colors(tile: &Raster) -> Vec<([u8; 4], usize)> {
    let mut squares: BTreeMap<[u8; 4], usize> = BTreeMap::new();
    for y in 1..tile.height() {
        for x in 1..tile.width() {
            let own = tile.pixel(x, y);
            let same = [(x - 1, y), (x, y - 1), (x - 1, y - 1)].iter().all(|&(x, y)| tile.pixel(x, y) == own);
            if own[3] == 255 && same {
                *squares.entry(own).or_default() += 1;
            }
        }
    }
    let mut colors: Vec<_> = squares.into_iter().filter(|(_, squares)| *squares >= 4).collect();
    colors.sort_by_key(|&(color, squares)| (std::cmp::Reverse(squares), color));
    colors
}

/// Whether a tile is made of a few flat colors, all of them well apart.
pub fn is_flat(tile: &Raster) -> bool {
    let colors = flat_colors(tile);
    let filled: usize = colors.iter().map(|(_, squares)| squares).sum();
    let apart = |i: usize| colors[i + 1..].iter().all(|(other, _)| difference(colors[i].0, *other) > 2.0);
    (2..=16).contains(&colors.len())
        && filled * 10 > tile.width() as usize * tile.height() as usize * 8
        && (0..colors.len()).all(apart)
}

fn difference(a: [u8; 4], b: [u8; 4]) -> f64 {
    ciede2000([a[0], a[1], a[2]], [b[0], b[1], b[2]])
}

/// The box around the pixels in which two tiles differ.
pub fn changed(before: &Raster, after: &Raster) -> Option<Area> {
    let differs = |&(x, y): &(u32, u32)| before.pixel(x, y) != after.pixel(x, y);
    let all = (0..before.height()).flat_map(|y| (0..before.width()).map(move |x| (x, y))).filter(differs);
    all.fold(None, |area: Option<Area>, (x, y)| {
        let Some(Area { x: left, y: top, width, height }) = area else {
            return Some(Area { x, y, width: 1, height: 1 });
        };
        let (right, bottom) = ((left + width).max(x + 1), (top + height).max(y + 1));
        let (left, top) = (left.min(x), top.min(y));
        Some(Area { x: left, y: top, width: right - left, height: bottom - top })
    })
}

fn step(strength: u32) -> usize {
    strength.min(3) as usize
}

fn set(samples: &mut [u8], width: u32, x: u32, y: u32, color: [u8; 4]) {
    let at = (y as usize * width as usize + x as usize) * 4;
    samples[at..at + 4].copy_from_slice(&color);
}

/// Part of the area of one color in a shade that can hardly be told from it: 0.9, 0.7, 0.5 and 0.3 of a just noticeable
/// difference and less.
pub fn twins(tile: &Raster, seed: u64, strength: u32) -> Option<(Raster, Area)> {
    if !is_flat(tile) {
        return None;
    }
    let mut chance = Chance::new(seed ^ 0x7717);
    let most = [0.9, 0.7, 0.5, 0.3][step(strength)];
    let (color, _) = flat_colors(tile)[0];
    let shades = (0..200).map(|_| {
        let mut shade = color;
        for channel in &mut shade[..3] {
            *channel = channel.saturating_add_signed(chance.whole(0, 6) as i8 - 3);
        }
        shade
    });
    let near = |shade: &[u8; 4]| *shade != color && difference(color, *shade) < most;
    let shade = shades.filter(near).max_by(|a, b| difference(color, *a).total_cmp(&difference(color, *b)))?;
    let (mut out, middle) = (tile.clone(), tile.width() / 2);
    for y in 0..tile.height() {
        for x in 0..middle {
            if tile.pixel(x, y) == color {
                set(out.samples_mut(), tile.width(), x, y, shade);
            }
        }
    }
    let area = changed(tile, &out)?;
    Some((out, area))
}

/// Lone pixels in between colors strewn over the clean edges: 12, 30, 80 or 200 of them, as far as there are edges.
pub fn stray(tile: &Raster, seed: u64, strength: u32) -> Option<(Raster, Area)> {
    if !is_flat(tile) {
        return None;
    }
    let mut chance = Chance::new(seed ^ 0x57_4A);
    let (width, height) = (tile.width(), tile.height());
    let colors = flat_colors(tile);
    let flat = |pixel: [u8; 4]| colors.iter().any(|(color, _)| *color == pixel);
    let mut edges = Vec::new();
    for y in (2..height - 2).step_by(3) {
        for x in 2..width - 2 {
            let (own, next) = (tile.pixel(x, y), tile.pixel(x + 1, y));
            let apart = own.iter().zip(next).any(|(a, b)| a.abs_diff(b) > 24);
            if apart && flat(own) && flat(next) && x % 3 == 0 {
                edges.push((x, y, own, next));
            }
        }
    }
    let smoothed =
        tile.samples().chunks_exact(4).filter(|pixel| !flat([pixel[0], pixel[1], pixel[2], pixel[3]])).count();
    // Where edges are smoothed as a matter of course, a few more smoothed pixels are no fault.
    if smoothed * 4 > edges.len() {
        return None;
    }
    let wanted = [12, 30, 80, 200][step(strength)].min(edges.len() / 8);
    if wanted < 12 {
        return None;
    }
    let mut out = tile.clone();
    for _ in 0..wanted {
        let (x, y, own, next) = edges.swap_remove(chance.whole(0, edges.len() as u32 - 1) as usize);
        let part = chance.between(0.3, 0.7);
        let mix = std::array::from_fn(|c| (f32::from(own[c]) * (1.0 - part) + f32::from(next[c]) * part).round() as u8);
        set(out.samples_mut(), width, x, y, mix);
    }
    let area = changed(tile, &out)?;
    Some((out, area))
}

/// One color more than the tile had, filling a square of 3, 6, 12 or 24 pixels; the number of flat colors before is the
/// limit it breaks.
pub fn extra(tile: &Raster, seed: u64, strength: u32) -> Option<(Raster, Area)> {
    if !is_flat(tile) {
        return None;
    }
    let mut chance = Chance::new(seed ^ 0xEC5A);
    let side = [3, 6, 12, 24][step(strength)];
    let colors = flat_colors(tile);
    let fresh = std::iter::repeat_with(|| {
        let [r, g, b] = chance.color();
        [r as u8, g as u8, b as u8, 255]
    })
    .take(1000)
    .find(|color| colors.iter().all(|(other, _)| difference(*color, *other) > 8.0))?;
    let (left, top) = (chance.whole(0, tile.width() - side), chance.whole(0, tile.height() - side));
    let mut out = tile.clone();
    for y in top..top + side {
        for x in left..left + side {
            set(out.samples_mut(), tile.width(), x, y, fresh);
        }
    }
    Some((out, Area { x: left, y: top, width: side, height: side }))
}
