//! One packed row of any PNG layout to straight RGBA in 8 and 16 bits.
//!
//! Takes rows of samples as PNG packs them, yields rows as [`crate::tile::Raster`] and [`crate::tile::Deep`] hold them.
//! Knows nothing of files.

use crate::tile::Channels;

/// Color type and depth, one of the fifteen allowed pairs (PNG third edition, table 12).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Layout {
    color: Color,
    depth: u8,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Color {
    Gray,
    Rgb,
    Palette,
    GrayAlpha,
    Rgba,
}

impl Layout {
    /// The layout of a header's two bytes; `None` when the standard does not allow the pair.
    pub(crate) fn new(color: u8, depth: u8) -> Option<Self> {
        let color = match (color, depth) {
            (0, 1 | 2 | 4 | 8 | 16) => Color::Gray,
            (2, 8 | 16) => Color::Rgb,
            (3, 1 | 2 | 4 | 8) => Color::Palette,
            (4, 8 | 16) => Color::GrayAlpha,
            (6, 8 | 16) => Color::Rgba,
            _ => return None,
        };
        Some(Self { color, depth })
    }

    /// The layout without palette; `depth` is 8 or 16.
    pub(crate) fn plain(gray: bool, alpha: bool, depth: u8) -> Self {
        let color = match (gray, alpha) {
            (true, false) => Color::Gray,
            (true, true) => Color::GrayAlpha,
            (false, false) => Color::Rgb,
            (false, true) => Color::Rgba,
        };
        Self { color, depth }
    }

    /// The header's two bytes: color type and depth.
    pub(crate) fn codes(self) -> (u8, u8) {
        let color = match self.color {
            Color::Gray => 0,
            Color::Rgb => 2,
            Color::Palette => 3,
            Color::GrayAlpha => 4,
            Color::Rgba => 6,
        };
        (color, self.depth)
    }

    /// The same pair as the `png` crate spells it.
    pub(crate) fn for_crate(self) -> (png::ColorType, png::BitDepth) {
        let color = match self.color {
            Color::Gray => png::ColorType::Grayscale,
            Color::Rgb => png::ColorType::Rgb,
            Color::Palette => png::ColorType::Indexed,
            Color::GrayAlpha => png::ColorType::GrayscaleAlpha,
            Color::Rgba => png::ColorType::Rgba,
        };
        let depth = match self.depth {
            1 => png::BitDepth::One,
            2 => png::BitDepth::Two,
            4 => png::BitDepth::Four,
            8 => png::BitDepth::Eight,
            _ => png::BitDepth::Sixteen,
        };
        (color, depth)
    }

    /// Samples of one pixel.
    pub(crate) fn samples(self) -> usize {
        match self.color {
            Color::Gray | Color::Palette => 1,
            Color::GrayAlpha => 2,
            Color::Rgb => 3,
            Color::Rgba => 4,
        }
    }

    /// Bytes of a packed row.
    pub(crate) fn row_bytes(self, width: u32) -> usize {
        (width as usize * self.samples() * usize::from(self.depth)).div_ceil(8)
    }

    /// Whether samples have 16 bits.
    pub(crate) fn is_deep(self) -> bool {
        self.depth == 16
    }

    /// Whether a packed row is a row of the raster already.
    pub(crate) fn is_rgba8(self) -> bool {
        self == Self { color: Color::Rgba, depth: 8 }
    }

    /// The layout's name without regard to a clear color.
    pub(crate) fn channels(self) -> Channels {
        match self.color {
            Color::Gray => Channels::Gray,
            Color::Rgb => Channels::Rgb,
            Color::Palette => Channels::Palette,
            Color::GrayAlpha => Channels::GrayAlpha,
            Color::Rgba => Channels::Rgba,
        }
    }

    /// Whether a tRNS chunk with this data means something here (PNG third edition, 11.3.1.1).
    pub(crate) fn takes_clear(self, data: &[u8]) -> bool {
        match self.color {
            Color::Gray => data.len() == 2,
            Color::Rgb => data.len() == 6,
            Color::Palette => !data.is_empty() && data.len() <= 256,
            Color::GrayAlpha | Color::Rgba => false,
        }
    }
}

/// How rows of one picture are spread.
#[derive(Debug)]
pub(crate) struct Spread {
    layout: Layout,
    /// What every sample below 16 bits of a gray or palette picture becomes.
    table: Box<[[u8; 4]; 256]>,
    /// The one clear color in the file's own depth, gray in all three.
    clear: Option<[u16; 3]>,
}

impl Spread {
    /// Prepares the tables; `palette` and `clear` are the data of PLTE and tRNS.
    pub(crate) fn new(layout: Layout, palette: &[u8], clear: Option<&[u8]>) -> Self {
        let mut table = Box::new([[0, 0, 0, 255]; 256]);
        // Only the low bits of a tRNS sample count (PNG third edition, 11.3.1.1).
        let mask = ((1u32 << layout.depth) - 1) as u16;
        let sample = |at: usize| {
            let pair = clear.and_then(|data| data.get(at..at + 2)).unwrap_or_default();
            pair.iter().fold(0u16, |value, byte| value << 8 | u16::from(*byte)) & mask
        };
        let single = match (layout.color, clear) {
            (Color::Gray, Some(_)) => Some([sample(0); 3]),
            (Color::Rgb, Some(_)) => Some([sample(0), sample(2), sample(4)]),
            _ => None,
        };
        match layout.color {
            Color::Palette => {
                // An index past the palette is shown black, as the usual readers do.
                let alphas = clear.unwrap_or_default().iter().copied().chain(std::iter::repeat(255));
                for ((entry, color), alpha) in table.iter_mut().zip(palette.chunks_exact(3)).zip(alphas) {
                    *entry = [color[0], color[1], color[2], alpha];
                }
            }
            Color::Gray if layout.depth <= 8 => {
                // 1, 2 and 4 bits scale exactly: 255 is a multiple of 1, 3 and 15 (PNG third edition, 13.12).
                let scale = 255 / mask;
                for (value, entry) in (0..=mask).zip(table.iter_mut()) {
                    let gray = (value * scale) as u8;
                    let alpha = if single.is_some_and(|[clear, ..]| clear == value) { 0 } else { 255 };
                    *entry = [gray, gray, gray, alpha];
                }
            }
            Color::Gray | Color::Rgb | Color::GrayAlpha | Color::Rgba => {}
        }
        Self { layout, table, clear: single }
    }

    /// Spreads a packed row of up to 8 bits a sample into `out`, four samples a pixel.
    pub(crate) fn row(&self, packed: &[u8], out: &mut [u8]) {
        let pixels = out.chunks_exact_mut(4);
        match (self.layout.color, self.layout.depth) {
            (Color::Gray | Color::Palette, 8) => {
                for (pixel, index) in pixels.zip(packed) {
                    pixel.copy_from_slice(&self.table[usize::from(*index)]);
                }
            }
            (Color::Gray | Color::Palette, depth) => {
                let mask = ((1u16 << depth) - 1) as u8;
                // The leftmost pixel is in the high bits (PNG third edition, 7.2).
                let indices = packed.iter().flat_map(|byte| {
                    (0..8 / depth).rev().map(move |place| byte.unbounded_shr(u32::from(place * depth)) & mask)
                });
                for (pixel, index) in pixels.zip(indices) {
                    pixel.copy_from_slice(&self.table[usize::from(index)]);
                }
            }
            (Color::Rgb, _) => match self.clear {
                None => {
                    for (pixel, color) in pixels.zip(packed.chunks_exact(3)) {
                        pixel.copy_from_slice(&[color[0], color[1], color[2], 255]);
                    }
                }
                Some(clear) => {
                    for (pixel, color) in pixels.zip(packed.chunks_exact(3)) {
                        let alpha = if [color[0], color[1], color[2]].map(u16::from) == clear { 0 } else { 255 };
                        pixel.copy_from_slice(&[color[0], color[1], color[2], alpha]);
                    }
                }
            },
            (Color::GrayAlpha, _) => {
                for (pixel, pair) in pixels.zip(packed.chunks_exact(2)) {
                    pixel.copy_from_slice(&[pair[0], pair[0], pair[0], pair[1]]);
                }
            }
            (Color::Rgba, _) => {
                for (pixel, color) in pixels.zip(packed.chunks_exact(4)) {
                    pixel.copy_from_slice(color);
                }
            }
        }
    }

    /// Spreads a packed row of 16 bits a sample into both views.
    pub(crate) fn deep_row(&self, packed: &[u8], out: &mut [u8], deep: &mut [u16]) {
        let stored = packed.chunks_exact(self.layout.samples() * 2);
        let sample = |pixel: &[u8], at: usize| u16::from_be_bytes([pixel[at * 2], pixel[at * 2 + 1]]);
        for (pixel, stored) in deep.chunks_exact_mut(4).zip(stored) {
            let [r, g, b, a] = match self.layout.color {
                Color::Gray | Color::Palette => [sample(stored, 0), sample(stored, 0), sample(stored, 0), u16::MAX],
                Color::GrayAlpha => [sample(stored, 0), sample(stored, 0), sample(stored, 0), sample(stored, 1)],
                Color::Rgb => [sample(stored, 0), sample(stored, 1), sample(stored, 2), u16::MAX],
                Color::Rgba => [sample(stored, 0), sample(stored, 1), sample(stored, 2), sample(stored, 3)],
            };
            let a = if self.clear == Some([r, g, b]) { 0 } else { a };
            pixel.copy_from_slice(&[r, g, b, a]);
        }
        shallow(deep, out);
    }
}

/// The 8-bit view of 16-bit samples: color rounded, alpha kept in its class.
pub(crate) fn shallow(deep: &[u16], out: &mut [u8]) {
    for (pixel, deep) in out.chunks_exact_mut(4).zip(deep.chunks_exact(4)) {
        let [r, g, b] = [deep[0], deep[1], deep[2]].map(round_to_8);
        pixel.copy_from_slice(&[r, g, b, alpha_to_8(deep[3])]);
    }
}

/// The nearest 8-bit code, floor(v * 255 / 65535 + 0.5) (PNG third edition, 13.12), in integers.
pub(crate) fn round_to_8(value: u16) -> u8 {
    ((u32::from(value) * 255 + 32_895) >> 16) as u8
}

/// The nearest 8-bit alpha that is full only for full and none only for none.
pub(crate) fn alpha_to_8(value: u16) -> u8 {
    match value {
        0 => 0,
        u16::MAX => 255,
        partial => round_to_8(partial).clamp(1, 254),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_every_16_bit_code_to_its_nearest() {
        for value in 0..=u16::MAX {
            let exact = (f64::from(value) * 255.0 / 65535.0 + 0.5).floor() as u8;
            assert_eq!(round_to_8(value), exact, "{value}");
        }
    }

    #[test]
    fn alpha_keeps_its_class() {
        let read: Vec<u8> = [0, 1, 128, 129, 32768, 65406, 65534, 65535].into_iter().map(alpha_to_8).collect();
        assert_eq!(read, [0, 1, 1, 1, 128, 254, 254, 255]);
    }

    #[test]
    fn knows_the_fifteen_allowed_pairs() {
        let allowed = (0..=255u8).flat_map(|color| (0..=255u8).map(move |depth| (color, depth)));
        assert_eq!(allowed.filter(|(color, depth)| Layout::new(*color, *depth).is_some()).count(), 15);
    }
}
