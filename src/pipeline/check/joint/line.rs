//! Lines of pixels as the joint rules look at them: one plane of bytes per channel, and the pixels that do not count.
//!
//! Takes rows and columns of a raster. Knows no statistics and no layouts.

use crate::spec::Ground;
use crate::tile::{Raster, Tile};

/// The direction that the lines of an axis run in; the joint of an axis is the pair of its last and first line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Lines are rows: the joint of top and bottom.
    Rows,
    /// Lines are columns: the joint of left and right.
    Columns,
}

impl Axis {
    /// Both, that of the left and right edge first.
    pub(super) const BOTH: [Self; 2] = [Self::Columns, Self::Rows];

    /// How many lines a raster has along this axis.
    pub(super) fn lines(self, raster: &Raster) -> usize {
        match self {
            Self::Rows => raster.height() as usize,
            Self::Columns => raster.width() as usize,
        }
    }

    /// How many pixels one line has.
    pub(super) fn length(self, raster: &Raster) -> usize {
        match self {
            Self::Rows => raster.width() as usize,
            Self::Columns => raster.height() as usize,
        }
    }
}

/// Which channels steps are measured in, and whether see-through pixels count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct View {
    /// One channel of luma in place of three of color: what a lossy coder keeps at the border.
    luma: bool,
    /// Color multiplied by alpha, and alpha as a channel of its own.
    premultiplied: bool,
    /// Pixels that are not opaque, and their neighbors, are left out.
    masked: bool,
}

impl View {
    /// The view for a tile on a ground.
    ///
    /// JPEG and lossy WebP store color coarser than light and cannot smooth it across the border, so a sound tile shows
    /// color steps there; luma shows none. Where the ground is unclear only what both readings agree on may count: the
    /// opaque pixels.
    pub(super) fn of(tile: &Tile, ground: Ground) -> Self {
        let clear = tile.raster.samples().chunks_exact(4).any(|pixel| pixel[3] != 255);
        let premultiplied = clear && ground == Ground::Transparent;
        Self { luma: tile.meta.lossy, premultiplied, masked: clear && !premultiplied }
    }

    /// The same view of light alone.
    pub(super) fn in_luma(self) -> Self {
        Self { luma: true, ..self }
    }

    /// How many channels a pixel has.
    pub(super) fn channels(self) -> usize {
        let color = if self.luma { 1 } else { 3 };
        color + usize::from(self.premultiplied)
    }

    /// Whether only light is looked at: the tile went through a lossy coder.
    pub(super) fn luma(self) -> bool {
        self.luma
    }

    /// Whether any pixel may be left out.
    pub(super) fn masked(self) -> bool {
        self.masked
    }

    /// A line of `length` pixels to be filled.
    pub(super) fn line(self, length: usize) -> Line {
        Line { channels: vec![vec![0; length]; self.channels()] }
    }

    /// Spreads RGBA samples over the channels of `line`, which has as many pixels.
    pub(super) fn spread(self, rgba: &[u8], line: &mut Line) {
        self.spread_all(rgba.as_chunks::<4>().0.iter(), line);
    }

    /// The same for pixels from anywhere.
    #[inline]
    fn spread_all<'a>(self, pixels: impl Iterator<Item = &'a [u8; 4]>, line: &mut Line) {
        match (line.channels.as_mut_slice(), self.premultiplied) {
            ([red, green, blue], _) => {
                for (((pixel, red), green), blue) in pixels.zip(red).zip(green).zip(blue) {
                    [*red, *green, *blue] = [pixel[0], pixel[1], pixel[2]];
                }
            }
            ([red, green, blue, alpha], _) => {
                for ((((pixel, red), green), blue), alpha) in pixels.zip(red).zip(green).zip(blue).zip(alpha) {
                    [*red, *green, *blue] = [0, 1, 2].map(|channel| times(pixel[channel], pixel[3]));
                    *alpha = pixel[3];
                }
            }
            ([light], _) => {
                for (pixel, light) in pixels.zip(light) {
                    *light = luma(pixel);
                }
            }
            ([light, alpha], _) => {
                for ((pixel, light), alpha) in pixels.zip(light).zip(alpha) {
                    *light = times(luma(pixel), pixel[3]);
                    *alpha = pixel[3];
                }
            }
            _ => {}
        }
    }

    /// Line `index` along `axis`, counted from the top or the left; beyond the last it is the last.
    pub(super) fn take(self, raster: &Raster, axis: Axis, index: usize) -> Line {
        let mut line = self.line(axis.length(raster));
        let index = index.min(axis.lines(raster).saturating_sub(1));
        match axis {
            Axis::Rows => self.spread(raster.row(index as u32), &mut line),
            Axis::Columns => self.spread_all(column(raster, index), &mut line),
        }
        line
    }

    /// `count` lines along `axis` from line `first` on, fewer where the raster ends, each with the pixels of it that
    /// count, as in [`Self::counted`]. Of columns, those that share a cache line are read one after the other.
    pub(super) fn strip(self, raster: &Raster, axis: Axis, first: usize, count: usize) -> Vec<(Line, Option<Vec<u8>>)> {
        let count = count.min(axis.lines(raster).saturating_sub(first));
        if axis == Axis::Rows {
            return (first..first + count)
                .map(|index| (self.take(raster, axis, index), self.counted(raster, axis, index)))
                .collect();
        }
        let (width, height) = (raster.width() as usize, raster.height() as usize);
        let mut lines: Vec<(Line, Option<Vec<u8>>)> = (first..first + count)
            .map(|index| (self.take(raster, axis, index), self.masked.then(|| vec![255; height])))
            .collect();
        if !self.masked {
            return lines;
        }
        // Holes one column to each side of the strip reach into it.
        let reach = first.saturating_sub(1)..(first + count + 1).min(width);
        for (y, row) in raster.samples().chunks_exact(width * 4).enumerate() {
            let holes = row[reach.start * 4..reach.end * 4].chunks_exact(4).zip(reach.clone());
            for (_, x) in holes.filter(|(pixel, _)| pixel[3] != 255) {
                let near = (x.saturating_sub(1)..x + 2).filter_map(|x| x.checked_sub(first));
                for line in near {
                    if let Some((_, Some(counted))) = lines.get_mut(line) {
                        counted[y.saturating_sub(1)..(y + 2).min(height)].fill(0);
                    }
                }
            }
        }
        lines
    }

    /// Which pixels of line `index` count: 255 where they do, 0 where they or a neighbor on any side are see-through.
    /// `None` when all count.
    pub(super) fn counted(self, raster: &Raster, axis: Axis, index: usize) -> Option<Vec<u8>> {
        if !self.masked {
            return None;
        }
        let last = axis.lines(raster).saturating_sub(1);
        let mut counted = vec![255; axis.length(raster)];
        for near in [index.saturating_sub(1), index, (index + 1).min(last)] {
            spread_holes(&samples(raster, axis, near), &mut counted);
        }
        Some(counted)
    }
}

/// Clears `counted` at every see-through pixel of a line and at its two neighbors along the line.
pub(super) fn spread_holes(rgba: &[u8], counted: &mut [u8]) {
    for (at, pixel) in rgba.chunks_exact(4).enumerate() {
        if pixel[3] != 255 {
            let end = (at + 2).min(counted.len());
            counted[at.saturating_sub(1)..end].fill(0);
        }
    }
}

/// The RGBA samples of one line.
pub(super) fn samples(raster: &Raster, axis: Axis, index: usize) -> Vec<u8> {
    let index = index.min(axis.lines(raster).saturating_sub(1));
    match axis {
        Axis::Rows => raster.row(index as u32).to_vec(),
        Axis::Columns => {
            let mut samples = Vec::with_capacity(raster.height() as usize * 4);
            column(raster, index).for_each(|pixel| samples.extend_from_slice(pixel));
            samples
        }
    }
}

/// The pixels of column `index`, which is inside, from the top.
pub(super) fn column(raster: &Raster, index: usize) -> impl Iterator<Item = &[u8; 4]> + Clone {
    raster.samples().as_chunks::<4>().0[index..].iter().step_by(raster.width() as usize)
}

/// One line of pixels, a plane of bytes per channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Line {
    /// The channels, all of the same length.
    pub(super) channels: Vec<Vec<u8>>,
}

impl Line {
    /// The same line moved forward by `by` pixels, cyclically.
    pub(super) fn rolled(&self, by: usize) -> Self {
        Self { channels: self.channels.iter().map(|channel| rolled(channel, by)).collect() }
    }
}

/// `values` moved forward by `by` places, cyclically: what was first is at `by`.
pub(super) fn rolled(values: &[u8], by: usize) -> Vec<u8> {
    let mut rolled = values.to_vec();
    if !rolled.is_empty() {
        let by = by % rolled.len();
        rolled.rotate_right(by);
    }
    rolled
}

/// Clears values that do not count.
pub(super) fn mask(values: &mut [u8], counted: &[u8]) {
    for (value, counted) in values.iter_mut().zip(counted) {
        *value &= counted;
    }
}

/// Luma of an RGBA pixel: the weights .299, .587, .114 (ITU-R BT.601, JFIF) in 256ths.
pub(super) fn luma(pixel: &[u8]) -> u8 {
    let sum = 77 * u32::from(pixel[0]) + 150 * u32::from(pixel[1]) + 29 * u32::from(pixel[2]);
    ((sum + 128) >> 8) as u8
}

/// `round(value * alpha / 255)`, exactly.
fn times(value: u8, alpha: u8) -> u8 {
    let product = u32::from(value) * u32::from(alpha) + 128;
    ((product + (product >> 8)) >> 8) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_rounds_to_the_nearest_for_all_pairs() {
        for value in 0..=255u8 {
            for alpha in 0..=255u8 {
                let exact = (f64::from(value) * f64::from(alpha) / 255.0).round() as u8;
                assert_eq!(times(value, alpha), exact, "{value} x {alpha}");
            }
        }
    }

    #[test]
    fn luma_of_gray_is_the_gray() {
        assert!((0..=255u8).all(|gray| luma(&[gray, gray, gray, 255]) == gray));
    }

    #[test]
    fn rolling_moves_forward_and_wraps() {
        assert_eq!(rolled(&[1, 2, 3, 4], 1), [4, 1, 2, 3]);
        assert_eq!(rolled(&[], 3), [0u8; 0]);
    }

    #[test]
    fn holes_take_a_neighbor_along_on_every_side() {
        // 5 x 3, one see-through pixel in the middle of the first row.
        let mut rgba = vec![255; 5 * 3 * 4];
        rgba[2 * 4 + 3] = 254;
        let raster = Raster::new(5, 3, rgba).unwrap();
        let view = View { luma: false, premultiplied: false, masked: true };
        let hole = vec![255, 0, 0, 0, 255];
        assert_eq!(view.counted(&raster, Axis::Rows, 0), Some(hole.clone()));
        assert_eq!(view.counted(&raster, Axis::Rows, 1), Some(hole));
        assert_eq!(view.counted(&raster, Axis::Rows, 2), Some(vec![255; 5]));
        assert_eq!(view.counted(&raster, Axis::Columns, 1), Some(vec![0, 0, 255]));
        assert_eq!(view.counted(&raster, Axis::Columns, 0), Some(vec![255; 3]));
        for axis in [Axis::Rows, Axis::Columns] {
            for first in 0..3 {
                for (at, (line, counted)) in view.strip(&raster, axis, first, 3).into_iter().enumerate() {
                    assert_eq!(line, view.take(&raster, axis, first + at));
                    assert_eq!(counted, view.counted(&raster, axis, first + at), "{axis:?} {first} {at}");
                }
            }
        }
    }
}
