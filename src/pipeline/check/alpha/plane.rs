//! One bit per pixel, on the endless block repeat: what opening a set with a square leaves, and what lies between opaque
//! pixels, 64 pixels at a time.
//!
//! Takes a raster's alpha or runs, yields planes and masks. Knows no colors and no findings.

use crate::pixel::mask::{Mask, Run};
use crate::tile::Raster;

/// Columns of the neighboring copies kept on each side of a row, so that shifts need no wrapping.
const PAD: usize = 8;

/// How far, in pixels, an opaque pixel may lie from a hairline's pixel.
pub const BETWEEN: usize = 4;

/// A set of pixels, one bit each. Guarantees: the padding of every row repeats its other end.
#[derive(Clone)]
pub struct Plane {
    width: usize,
    height: usize,
    /// Words in one row.
    stride: usize,
    bits: Vec<u64>,
}

/// The see-through pixels of a raster and, of these, the ones without any coverage.
pub struct SeeThrough {
    /// Alpha below 255.
    pub partial: Plane,
    /// Alpha 0; `None` when there are none.
    pub clear: Option<Plane>,
    /// Whether any of them has an alpha of 1 or 2, at which next to no color may be left.
    pub faint: bool,
}

/// The see-through pixels of a raster; `None` when every alpha is full, told in one pass without allocating.
#[must_use]
pub fn see_through(raster: &Raster) -> Option<SeeThrough> {
    let mut found: Option<SeeThrough> = None;
    for y in 0..raster.height() {
        for (i, block) in raster.row(y).chunks(64 * 4).enumerate() {
            if all_opaque(block) {
                continue;
            }
            let empty = || Plane::empty(raster.width(), raster.height());
            let planes = found.get_or_insert_with(|| SeeThrough { partial: empty(), clear: None, faint: false });
            let (mut partial, mut clear) = (0, 0);
            for (part, samples) in block.chunks(16 * 4).enumerate().filter(|(_, samples)| !all_opaque(samples)) {
                for (bit, pixel) in samples.as_chunks::<4>().0.iter().enumerate() {
                    partial |= u64::from(pixel[3] != 255) << (part * 16 + bit);
                    clear |= u64::from(pixel[3] == 0) << (part * 16 + bit);
                    planes.faint |= matches!(pixel[3], 1 | 2);
                }
            }
            planes.partial.put(y as usize, i, partial);
            if clear != 0 {
                planes.clear.get_or_insert_with(empty).put(y as usize, i, clear);
            }
        }
    }
    if let Some(planes) = &mut found {
        planes.partial.wrap();
        if let Some(clear) = &mut planes.clear {
            clear.wrap();
        }
    }
    found
}

/// Whether every alpha of these RGBA samples is full.
fn all_opaque(samples: &[u8]) -> bool {
    let all = samples.as_chunks::<4>().0.iter().fold(u32::MAX, |all, pixel| all & u32::from_le_bytes(*pixel));
    all >> 24 == 255
}

impl Plane {
    /// No pixel of a tile of this size.
    #[must_use]
    pub fn empty(width: u32, height: u32) -> Self {
        let (width, height) = (width as usize, height as usize);
        let stride = (width + 2 * PAD).div_ceil(64);
        Self { width, height, stride, bits: vec![0; stride * height] }
    }

    /// The pixels of a mask of a tile of this size.
    #[must_use]
    pub fn of(mask: &Mask, width: u32, height: u32) -> Self {
        let mut plane = Self::empty(width, height);
        for (x, y) in mask.pixels() {
            let at = x as usize + PAD;
            plane.bits[y as usize * plane.stride + at / 64] |= 1 << (at % 64);
        }
        plane.wrap();
        plane
    }

    /// Sets the bits of columns `64 * block ..` in row `y`.
    fn put(&mut self, y: usize, block: usize, bits: u64) {
        let at = y * self.stride + block;
        self.bits[at] |= bits << PAD;
        let over = bits >> (64 - PAD);
        if over != 0 {
            self.bits[at + 1] |= over;
        }
    }

    /// Renews the padding of every row.
    fn wrap(&mut self) {
        let width = self.width;
        for row in self.bits.chunks_exact_mut(self.stride).filter(|row| row.iter().any(|&word| word != 0)) {
            let mut copy = |from: usize, to: usize| {
                let bit = row[from / 64] >> (from % 64) & 1;
                row[to / 64] = row[to / 64] & !(1 << (to % 64)) | bit << (to % 64);
            };
            for k in 0..PAD {
                copy(PAD + width - 1 - k % width, PAD - 1 - k);
                copy(PAD + k % width, PAD + width + k);
            }
            let used = (width + 2 * PAD) % 64;
            if let (Some(last), true) = (row.last_mut(), used > 0) {
                *last &= (1 << used) - 1;
            }
        }
    }

    /// The words of the row at any height.
    fn row(&self, y: isize) -> &[u64] {
        let y = y.rem_euclid(self.height as isize) as usize;
        &self.bits[y * self.stride..][..self.stride]
    }

    /// A plane made row by row: `word` is handed the rows from `reach` above to `reach` below, the row itself in the middle.
    fn made(&self, reach: isize, word: impl Fn(&[&[u64]], usize) -> u64) -> Self {
        let mut made = Self { bits: Vec::with_capacity(self.bits.len()), ..*self };
        let mut rows = Vec::new();
        for y in 0..self.height as isize {
            rows.clear();
            rows.extend((y - reach..=y + reach).map(|y| self.row(y)));
            made.bits.extend((0..self.stride).map(|i| word(&rows, i)));
        }
        made.wrap();
        made
    }

    /// The pixels of which the whole `2 r + 1` square around them is in the set (erosion), `r` at most 8.
    #[must_use]
    pub fn eroded(&self, r: isize) -> Self {
        // Most words are empty and need no look around.
        let across = self.made(0, |rows, i| match rows[0][i] {
            0 => 0,
            own => (-r..=r).fold(own, |all, k| all & shifted(rows[0], i, k)),
        });
        across.made(r, |rows, i| match rows[r as usize][i] {
            0 => 0,
            own => rows.iter().fold(own, |all, row| all & row[i]),
        })
    }

    /// The pixels that have one of the set in the `2 r + 1` square around them (dilation), `r` at most 8.
    #[must_use]
    pub fn dilated(&self, r: isize) -> Self {
        let across = self.made(0, |rows, i| (-r..=r).fold(0, |any, k| any | shifted(rows[0], i, k)));
        across.made(r, |rows, i| rows.iter().fold(0, |any, row| any | row[i]))
    }

    /// The pixels that lie in some `2 r + 1` square wholly in the set (opening): what is wide survives.
    #[must_use]
    pub fn opened(&self, r: isize) -> Self {
        let core = self.eroded(r);
        if core.is_empty() { core } else { core.dilated(r) }
    }

    /// The pixels of this set that reach one outside of it within [`BETWEEN`] steps both ways along one of the four
    /// directions across, down and the two diagonals.
    #[must_use]
    pub fn between(&self) -> Self {
        let steps = BETWEEN as isize;
        self.made(steps, |rows, i| {
            let all = rows[BETWEEN][i];
            if all == 0 {
                return 0;
            }
            let one_way = |dx: isize, dy: isize| {
                (1..=steps).fold(0, |any, k| any | !shifted(rows[(steps + k * dy) as usize], i, k * dx))
            };
            let mut left = all;
            for (dx, dy) in [(1, 0), (0, 1), (1, 1), (1, -1)] {
                if left != 0 {
                    left &= !(one_way(dx, dy) & one_way(-dx, -dy));
                }
            }
            all & !left
        })
    }

    /// This set with the pixels of another. Like the next two it keeps its memory: a fresh plane costs more than filling it.
    #[must_use]
    pub fn with(mut self, other: &Self) -> Self {
        self.bits.iter_mut().zip(&other.bits).for_each(|(word, other)| *word |= other);
        self
    }

    /// The pixels of this set that are in another.
    #[must_use]
    pub fn within(mut self, other: &Self) -> Self {
        self.bits.iter_mut().zip(&other.bits).for_each(|(word, other)| *word &= other);
        self
    }

    /// The pixels of this set that are not in another.
    #[must_use]
    pub fn without(mut self, other: &Self) -> Self {
        self.bits.iter_mut().zip(&other.bits).for_each(|(word, other)| *word &= !other);
        self
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.bits.iter().all(|&word| word == 0)
    }

    /// How many pixels, each counted once.
    #[must_use]
    pub fn count(&self) -> u64 {
        (0..self.height as isize)
            .map(|y| (0..self.stride).map(|i| u64::from(self.inner(y, i).count_ones())).sum::<u64>())
            .sum()
    }

    /// Whether the pixel at any coordinates is in the set.
    #[must_use]
    pub fn has(&self, x: i64, y: i64) -> bool {
        let at = x.rem_euclid(self.width as i64) as usize + PAD;
        self.row(y.rem_euclid(self.height as i64) as isize)[at / 64] >> (at % 64) & 1 == 1
    }

    /// The set as runs.
    #[must_use]
    pub fn mask(&self) -> Mask {
        let mut runs = Vec::new();
        for y in 0..self.height {
            for i in 0..self.stride {
                let mut word = self.inner(y as isize, i);
                while word != 0 {
                    let from = word.trailing_zeros();
                    let length = (!(word >> from)).trailing_zeros();
                    let start = (i * 64) as u32 + from - PAD as u32;
                    runs.push(Run { y: y as u32, start, end: start + length });
                    word = if from + length >= 64 { 0 } else { word >> (from + length) << (from + length) };
                }
            }
        }
        Mask::of(runs)
    }

    /// A word of a row without the padding.
    fn inner(&self, y: isize, i: usize) -> u64 {
        let below = |end: usize| match end.saturating_sub(i * 64) {
            bits @ 0..64 => (1_u64 << bits) - 1,
            _ => u64::MAX,
        };
        self.row(y)[i] & below(PAD + self.width) & !below(PAD)
    }
}

/// Word `i` of a row moved so that each bit is the one `k` columns to its right; `k` is -8 to 8, and beyond the row is 0.
fn shifted(row: &[u64], i: usize, k: isize) -> u64 {
    let bits = k.unsigned_abs();
    match k {
        0 => row[i],
        1.. => row[i] >> bits | row.get(i + 1).map_or(0, |next| next << (64 - bits)),
        _ => row[i] << bits | i.checked_sub(1).map_or(0, |before| row[before] >> (64 - bits)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A set by rule, and the same operation pixel by pixel.
    fn by_rule(width: u32, height: u32, seed: u64, share: u64) -> Plane {
        let mut state = seed;
        let mut runs = Vec::new();
        for y in 0..height {
            for x in 0..width {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                if (state >> 33) % 100 < share {
                    runs.push(Run { y, start: x, end: x + 1 });
                }
            }
        }
        Plane::of(&Mask::of(runs), width, height)
    }

    fn agrees(made: &Plane, width: u32, height: u32, rule: impl Fn(i64, i64) -> bool) {
        for y in 0..i64::from(height) {
            for x in 0..i64::from(width) {
                assert_eq!(made.has(x, y), rule(x, y), "at {x},{y} of {width} x {height}");
            }
        }
        let mask = made.mask();
        assert_eq!(mask.count(), made.count());
        assert!(mask.pixels().all(|(x, y)| rule(x.into(), y.into())));
    }

    #[test]
    fn planes_do_pixel_by_pixel_what_they_say_on_any_width() {
        for (seed, (width, height)) in
            [(1, 1), (2, 5), (3, 3), (40, 7), (47, 9), (48, 9), (49, 9), (63, 4), (64, 8), (65, 12), (130, 11)]
                .into_iter()
                .enumerate()
        {
            for share in [5, 50, 95] {
                let set = by_rule(width, height, seed as u64, share);
                let square = |x: i64, y: i64, r: i64| (-r..=r).flat_map(move |b| (-r..=r).map(move |a| (x + a, y + b)));
                agrees(&set.eroded(2), width, height, |x, y| square(x, y, 2).all(|(x, y)| set.has(x, y)));
                agrees(&set.dilated(3), width, height, |x, y| square(x, y, 3).any(|(x, y)| set.has(x, y)));
                agrees(&set.opened(1), width, height, |x, y| {
                    square(x, y, 1).any(|(x, y)| square(x, y, 1).all(|(x, y)| set.has(x, y)))
                });
                agrees(&set.between(), width, height, |x, y| {
                    set.has(x, y)
                        && [(1, 0), (0, 1), (1, 1), (1, -1)].into_iter().any(|(a, b)| {
                            [1, -1].into_iter().all(|way| (1..=4).any(|k| !set.has(x + way * k * a, y + way * k * b)))
                        })
                });
            }
        }
    }

    #[test]
    fn see_through_pixels_are_found_wherever_they_lie_in_a_row() {
        for width in [1, 47, 48, 63, 64, 65, 120, 129] {
            for x in 0..width {
                let mut samples = vec![255; width as usize * 8];
                samples[x as usize * 4 + 3] = if x % 2 == 0 { 0 } else { 254 };
                let raster = Raster::new(width, 2, samples).expect("the size fits");
                let planes = see_through(&raster).expect("one pixel is see-through");
                assert_eq!(planes.partial.mask().runs(), [Run { y: 0, start: x, end: x + 1 }]);
                assert_eq!(planes.clear.is_some_and(|clear| clear.count() == 1), x % 2 == 0);
            }
        }
        assert!(see_through(&Raster::new(2, 1, vec![255; 8]).expect("the size fits")).is_none());
        let color_is_not_alpha = Raster::new(2, 1, vec![0, 0, 0, 255, 1, 2, 3, 255]).expect("the size fits");
        assert!(see_through(&color_is_not_alpha).is_none());
    }
}
