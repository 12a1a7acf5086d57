//! Which PNG layout a mended picture is written in, and its rows packed in it.
//!
//! Takes a tile and the layout of its original, yields rows of bytes before filtering. Knows nothing of compression or
//! chunks.

use crate::codec::spread::Layout;
use crate::tile::{Channels, Tile};
use std::collections::{HashMap, HashSet};

/// The layout of a file to come, over the pixels that go into it.
#[derive(Debug)]
pub(crate) struct Packing<'a> {
    tile: &'a Tile,
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
    fn fitted(origin: &Origin, depth: u8, samples: &[u8]) -> Option<(Self, u8)> {
        let mut colors = origin.colors.clone();
        let mut places = HashMap::new();
        for (place, color) in (0..=255u8).zip(&colors) {
            places.entry(*color).or_insert(place);
        }
        let mut occurs = vec![false; colors.len()];
        let mut fresh: Vec<[u8; 4]> = Vec::new();
        let (mut met, mut last) = (HashSet::new(), None);
        for pixel in samples.chunks_exact(4) {
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
    pub(crate) fn choose(tile: &'a Tile, origin: &Origin) -> Self {
        let samples = tile.raster.samples();
        let from_palette = matches!(origin.channels, Channels::Palette | Channels::PaletteAlpha);
        if let Some((_, depth)) = origin.layout.filter(|_| from_palette).map(Layout::codes)
            && let Some((palette, depth)) = Palette::fitted(origin, depth, samples)
            && let Some(layout) = Layout::new(3, depth)
        {
            return Self { tile, layout, palette: Some(palette) };
        }
        let gray = matches!(origin.channels, Channels::Gray | Channels::GrayAlpha) && tile_is(tile, is_gray, is_gray);
        let had_alpha = matches!(origin.channels, Channels::GrayAlpha | Channels::Rgba | Channels::PaletteAlpha);
        let alpha = had_alpha || !tile_is(tile, |pixel| pixel[3] == 255, |pixel| pixel[3] == u16::MAX);
        let depth = if tile.deep.is_some() { 16 } else { 8 };
        Self { tile, layout: Layout::plain(gray, alpha, depth), palette: None }
    }

    /// Pixels across and down.
    pub(crate) fn sides(&self) -> (u32, u32) {
        (self.tile.raster.width(), self.tile.raster.height())
    }

    /// Rows.
    pub(crate) fn height(&self) -> usize {
        self.tile.raster.height() as usize
    }

    /// Bytes of a packed row.
    pub(crate) fn row_bytes(&self) -> usize {
        self.layout.row_bytes(self.tile.raster.width())
    }

    /// All rows as they are, when the raster's memory is already packed right.
    pub(crate) fn whole(&self) -> Option<&'a [u8]> {
        self.layout.is_rgba8().then(|| self.tile.raster.samples())
    }

    /// Row `y`, either as it lies in the raster or packed into `scratch`.
    pub(crate) fn row<'b>(&'b self, y: usize, scratch: &'b mut Vec<u8>) -> &'b [u8] {
        let row = self.tile.raster.row(y as u32);
        if self.layout.is_rgba8() {
            return row;
        }
        scratch.clear();
        match (&self.palette, &self.tile.deep) {
            (Some(palette), _) => palette.pack(row, self.layout, scratch),
            (None, Some(deep)) if self.layout.is_deep() => {
                let deep = deep.0.chunks_exact(row.len()).nth(y).unwrap_or_default();
                pick(deep, self.layout, |sample| scratch.extend_from_slice(&sample.to_be_bytes()));
            }
            (None, _) => pick(row, self.layout, |sample| scratch.push(sample)),
        }
        scratch
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

/// Whether every pixel passes, asked of the deepest samples there are.
fn tile_is(tile: &Tile, of_8: impl Fn(&[u8]) -> bool, of_16: impl Fn(&[u16]) -> bool) -> bool {
    match &tile.deep {
        Some(deep) => deep.0.chunks_exact(4).all(of_16),
        None => tile.raster.samples().chunks_exact(4).all(of_8),
    }
}
