//! Which pixels of the last few rows count, kept while a raster is read row by row.

use super::line::mask;
use crate::tile::Raster;

/// Which pixels of the last four rows count; a row without holes near it costs nothing.
pub(super) struct Holes {
    /// Opaque pixels whose two neighbors along the row are opaque too: rows y-1, y, y+1.
    opaque: [Vec<u8>; 3],
    with_holes: [bool; 3],
    /// Counted pixels of rows y, y-1, y-2, y-3.
    counted: [Vec<u8>; 4],
    near_holes: [bool; 4],
    scratch: Vec<u8>,
}

impl Holes {
    pub(super) fn new(width: usize) -> Self {
        Self {
            opaque: std::array::from_fn(|_| vec![255; width]),
            with_holes: [false; 3],
            counted: std::array::from_fn(|_| vec![255; width]),
            near_holes: [false; 4],
            scratch: vec![255; width],
        }
    }

    /// Moves on to row `y`.
    pub(super) fn advance(&mut self, raster: &Raster, y: usize) {
        if y == 0 {
            self.load(2, raster.row(0));
        }
        self.opaque.rotate_left(1);
        self.with_holes.rotate_left(1);
        if y + 1 < raster.height() as usize {
            self.load(2, raster.row(y as u32 + 1));
        } else {
            self.with_holes[2] = false;
        }
        self.counted.rotate_right(1);
        self.near_holes.rotate_right(1);
        self.near_holes[0] = self.with_holes.contains(&true);
        if self.near_holes[0] {
            self.counted[0].fill(255);
            for (opaque, with_holes) in self.opaque.iter().zip(self.with_holes) {
                if with_holes {
                    mask(&mut self.counted[0], opaque);
                }
            }
        }
    }

    /// Fills slot `slot` from a row.
    fn load(&mut self, slot: usize, rgba: &[u8]) {
        let alpha = rgba.chunks_exact(4).fold(255, |alpha, pixel| alpha & pixel[3]);
        self.with_holes[slot] = alpha != 255;
        if alpha == 255 {
            return;
        }
        for (opaque, pixel) in self.scratch.iter_mut().zip(rgba.chunks_exact(4)) {
            *opaque = if pixel[3] == 255 { 255 } else { 0 };
        }
        let row = &mut self.opaque[slot];
        row.copy_from_slice(&self.scratch);
        for (row, left) in row.iter_mut().skip(1).zip(&self.scratch) {
            *row &= left;
        }
        for (row, right) in row.iter_mut().zip(self.scratch.iter().skip(1)) {
            *row &= right;
        }
    }

    /// The counted pixels of the last row; `None` when all count.
    pub(super) fn last_row(&self) -> Option<&[u8]> {
        self.row(0)
    }

    fn row(&self, back: usize) -> Option<&[u8]> {
        self.near_holes[back].then(|| self.counted[back].as_slice())
    }

    /// The pixels that count at the middle pair of the last four rows, those that count in all of them, written into
    /// `counted`; false, and nothing written, when all count.
    pub(super) fn of_pair(&self, counted: &mut [u8]) -> bool {
        if !self.near_holes.contains(&true) {
            return false;
        }
        counted.fill(255);
        for row in (0..4).filter_map(|back| self.row(back)) {
            mask(counted, row);
        }
        true
    }
}
