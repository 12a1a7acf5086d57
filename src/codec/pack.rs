//! Which PNG layout a mended picture is written in, and its rows packed in it.
//!
//! Takes a tile and the layout of its original, yields rows of bytes before filtering. Knows nothing of compression or
//! chunks.

use crate::codec::overlay::{Overlay, Scratch};
use crate::codec::spread::Layout;
use crate::tile::{Channels, Tile};
use std::collections::{HashMap, HashSet};

/// The pixels of a picture to come: those of a tile, and what is laid over them.
#[derive(Clone, Copy)]
pub(crate) struct Pixels<'a> {
    pub(crate) tile: &'a Tile,
    pub(crate) overlay: Option<&'a dyn Overlay>,
}

impl<'a> Pixels<'a> {
    /// What is laid over row `y`.
    fn over(&self, y: usize) -> Option<&'a dyn Overlay> {
        self.overlay.filter(|overlay| overlay.touches(y as u32))
    }

    /// Row `y`, either as it lies in the raster or changed in `scratch`.
    fn row<'b>(&'b self, y: usize, scratch: &'b mut Vec<u8>) -> &'b [u8] {
        let row = self.tile.raster.row(y as u32);
        let Some(overlay) = self.over(y) else { return row };
        scratch.clear();
        scratch.extend_from_slice(row);
        overlay.lay(y as u32, scratch);
        scratch
    }

    /// The same of 16 bits; empty when the tile has none.
    fn deep_row<'b>(&'b self, y: usize, scratch: &'b mut Vec<u16>) -> &'b [u16] {
        let long = self.tile.raster.width() as usize * 4;
        let row = self.tile.deep.as_ref().and_then(|deep| deep.0.get(y * long..(y + 1) * long)).unwrap_or_default();
        let Some(overlay) = self.over(y).filter(|_| !row.is_empty()) else { return row };
        scratch.clear();
        scratch.extend_from_slice(row);
        overlay.lay_deep(y as u32, scratch);
        scratch
    }

    /// Whether every pixel is as asked, in 16 bits where the tile has them.
    fn all(&self, shallow: impl Fn(&[u8]) -> bool, deep: impl Fn(&[u16]) -> bool) -> bool {
        let mut scratch = Scratch::default();
        (0..self.tile.raster.height() as usize).all(|y| match self.tile.deep {
            Some(_) => self.deep_row(y, &mut scratch.deep).chunks_exact(4).all(&deep),
            None => self.row(y, &mut scratch.shallow).chunks_exact(4).all(&shallow),
        })
    }
}

/// The layout of a file to come, over the pixels that go into it.
pub(crate) struct Packing<'a> {
    pixels: Pixels<'a>,
    pub(crate) layout: Layout,
    pub(crate) palette: Option<Palette>,
}

/// Colors of a palette picture and where each stands.
#[derive(Debug)]
pub(crate) struct Palette {
    colors: Vec<[u8; 4]>,
    places: HashMap<[u8; 4], u8>,
}

impl Palette {
    /// A palette for `samples`, and its depth: colors of the original that still occur keep their places; new ones are
    /// put behind, then in the places of those that no longer occur, `pinned` excepted. `None` beyond 256.
    fn fitted(origin: &Origin, depth: u8, pixels: &Pixels<'_>) -> Option<(Self, u8)> {
        let mut colors = origin.colors.clone();
        let mut places = HashMap::new();
        for (place, color) in (0..=255u8).zip(&colors) {
            places.entry(*color).or_insert(place);
        }
        let mut occurs = vec![false; colors.len()];
        let mut fresh: Vec<[u8; 4]> = Vec::new();
        let (mut met, mut last) = (HashSet::new(), None);
        let mut scratch = Vec::new();
        for y in 0..pixels.tile.raster.height() as usize {
            for pixel in pixels.row(y, &mut scratch).chunks_exact(4) {
                let color = [pixel[0], pixel[1], pixel[2], pixel[3]];
                if last == Some(color) {
                    continue;
                }
                last = Some(color);
                match places.get(&color) {
                    Some(place) => occurs.get_mut(usize::from(*place)).into_iter().for_each(|occurs| *occurs = true),
                    None if !met.insert(color) => {}
                    None if fresh.len() == 256 => return None,
                    None => fresh.push(color),
                }
            }
        }
        let idle = || (0..=255u8).zip(&occurs).filter(|(place, occurs)| !**occurs && Some(*place) != origin.pinned);
        let room = |depth: u8| (1usize << depth).saturating_sub(colors.len()) + idle().count();
        let depth = [depth, 8].into_iter().find(|depth| fresh.len() <= room(*depth))?;
        let behind = (1usize << depth).saturating_sub(colors.len()).min(fresh.len());
        for (place, color) in idle().zip(fresh.split_off(behind)).map(|((place, _), color)| (place, color)) {
            if let Some(old) = colors.get_mut(usize::from(place)) {
                places.remove(old);
                *old = color;
            }
            places.insert(color, place);
        }
        for color in fresh {
            places.insert(color, u8::try_from(colors.len()).ok()?);
            colors.push(color);
        }
        Some((Self { colors, places }, depth))
    }

    /// The data of PLTE.
    pub(crate) fn plte(&self) -> Vec<u8> {
        self.colors.iter().flat_map(|[r, g, b, _]| [*r, *g, *b]).collect()
    }

    /// The data of tRNS, without the opaque entries at its end; empty when all are.
    pub(crate) fn trns(&self) -> Vec<u8> {
        let used = self.colors.iter().rposition(|color| color[3] < 255).map_or(0, |last| last + 1);
        self.colors.iter().take(used).map(|color| color[3]).collect()
    }
}

/// What the original's layout asks of the new one.
#[derive(Clone, Debug)]
pub(crate) struct Origin {
    /// The stored layout, clear colors counted as alpha.
    pub(crate) channels: Channels,
    /// Color type and depth of a PNG original.
    pub(crate) layout: Option<Layout>,
    /// Colors and alphas of a palette PNG.
    pub(crate) colors: Vec<[u8; 4]>,
    /// A place of the palette that something beside the pixels names.
    pub(crate) pinned: Option<u8>,
}

impl<'a> Packing<'a> {
    /// Keeps the original's layout where the pixels allow it: gray stays gray while every pixel is, alpha stays, a palette
    /// stays while 256 colors do, 16 bits stay; a clear color becomes alpha.
    pub(crate) fn choose(pixels: Pixels<'a>, origin: &Origin) -> Self {
        let from_palette = matches!(origin.channels, Channels::Palette | Channels::PaletteAlpha);
        if let Some((_, depth)) = origin.layout.filter(|_| from_palette).map(Layout::codes)
            && let Some((palette, depth)) = Palette::fitted(origin, depth, &pixels)
            && let Some(layout) = Layout::new(3, depth)
        {
            return Self { pixels, layout, palette: Some(palette) };
        }
        let gray = matches!(origin.channels, Channels::Gray | Channels::GrayAlpha) && pixels.all(is_gray, is_gray);
        let had_alpha = matches!(origin.channels, Channels::GrayAlpha | Channels::Rgba | Channels::PaletteAlpha);
        let alpha = had_alpha || !pixels.all(|pixel| pixel[3] == 255, |pixel| pixel[3] == u16::MAX);
        let depth = if pixels.tile.deep.is_some() { 16 } else { 8 };
        Self { pixels, layout: Layout::plain(gray, alpha, depth), palette: None }
    }

    /// Pixels across and down.
    pub(crate) fn sides(&self) -> (u32, u32) {
        (self.pixels.tile.raster.width(), self.pixels.tile.raster.height())
    }

    /// Rows.
    pub(crate) fn height(&self) -> usize {
        self.pixels.tile.raster.height() as usize
    }

    /// Bytes of a packed row.
    pub(crate) fn row_bytes(&self) -> usize {
        self.layout.row_bytes(self.pixels.tile.raster.width())
    }

    /// Row `y`, either as it lies in the raster or made in `scratch`.
    pub(crate) fn row<'b>(&'b self, y: usize, scratch: &'b mut Scratch) -> &'b [u8] {
        let Scratch { packed, shallow, deep } = scratch;
        packed.clear();
        if self.palette.is_none() && self.layout.is_deep() {
            let row = self.pixels.deep_row(y, deep);
            pick(row, self.layout, |sample| packed.extend_from_slice(&sample.to_be_bytes()));
            return packed;
        }
        let row = self.pixels.row(y, shallow);
        match &self.palette {
            None if self.layout.is_rgba8() => return row,
            Some(palette) => palette.pack(row, self.layout, packed),
            None => pick(row, self.layout, |sample| packed.push(sample)),
        }
        packed
    }
}

/// Hands on the samples of each pixel that a layout stores.
fn pick<T: Copy>(row: &[T], layout: Layout, mut store: impl FnMut(T)) {
    let (color, alpha) = match layout.samples() {
        1 => (1, false),
        2 => (1, true),
        3 => (3, false),
        _ => (3, true),
    };
    for pixel in row.chunks_exact(4) {
        pixel.iter().take(color).copied().for_each(&mut store);
        if alpha {
            store(pixel[3]);
        }
    }
}

impl Palette {
    fn pack(&self, row: &[u8], layout: Layout, out: &mut Vec<u8>) {
        let (_, depth) = layout.codes();
        let mut last = ([0; 4], self.places.get(&[0; 4]).copied().unwrap_or_default());
        let (mut byte, mut filled) = (0u8, 0);
        for pixel in row.chunks_exact(4) {
            let color = [pixel[0], pixel[1], pixel[2], pixel[3]];
            if last.0 != color {
                last = (color, self.places.get(&color).copied().unwrap_or_default());
            }
            byte = byte.unbounded_shl(u32::from(depth)) | last.1;
            filled += depth;
            if filled == 8 {
                out.push(byte);
                (byte, filled) = (0, 0);
            }
        }
        if filled > 0 {
            out.push(byte << (8 - filled));
        }
    }
}

fn is_gray<T: PartialEq>(pixel: &[T]) -> bool {
    pixel[0] == pixel[1] && pixel[1] == pixel[2]
}
