//! PNG's interlacing: where the pixels of each pass belong, and how many bytes all rows take (PNG third edition, 8).
//!
//! Takes sides and rows of samples. Knows nothing of files.

use crate::codec::spread::Layout;

/// One pass of interlacing: first column and row, and the steps from one pixel to the next.
pub(crate) struct Pass {
    x: u32,
    pub(crate) y: u32,
    across: u32,
    pub(crate) down: u32,
}

/// The seven passes (PNG third edition, 8.1).
pub(crate) const ADAM7: [Pass; 7] = [
    Pass { x: 0, y: 0, across: 8, down: 8 },
    Pass { x: 4, y: 0, across: 8, down: 8 },
    Pass { x: 0, y: 4, across: 4, down: 8 },
    Pass { x: 2, y: 0, across: 4, down: 4 },
    Pass { x: 0, y: 2, across: 2, down: 4 },
    Pass { x: 1, y: 0, across: 2, down: 2 },
    Pass { x: 0, y: 1, across: 1, down: 2 },
];

impl Pass {
    /// Columns and rows of the pass in a picture of these sides.
    pub(crate) fn size(&self, width: u32, height: u32) -> (u32, u32) {
        (width.saturating_sub(self.x).div_ceil(self.across), height.saturating_sub(self.y).div_ceil(self.down))
    }

    /// Puts a pass's pixels in their places in a row of the picture.
    pub(crate) fn scatter<T: Copy>(&self, line: &[T], row: &mut [T]) {
        let places = row.chunks_exact_mut(4).skip(self.x as usize).step_by(self.across as usize);
        for (place, pixel) in places.zip(line.chunks_exact(4)) {
            place.copy_from_slice(pixel);
        }
    }
}

/// Bytes of all rows, each with its filter byte, before they are packed.
pub(crate) fn unpacked_bytes(layout: Layout, width: u32, height: u32, interlaced: bool) -> u64 {
    let size = |(columns, rows): (u32, u32)| match columns {
        0 => 0,
        _ => (layout.row_bytes(columns) as u64 + 1) * u64::from(rows),
    };
    if interlaced { ADAM7.iter().map(|pass| size(pass.size(width, height))).sum() } else { size((width, height)) }
}
