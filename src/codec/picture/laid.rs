//! A JPEG of a repeat out of the JPEG of one unit. Restart segments are independent of each other (ITU-T T.81, E.1.4
//! and F.1.1.5.1), so the segments of one unit are written as often as the unit is laid.
//!
//! Takes and yields bytes. Knows no pixels and no scale.

/// How copies of a unit are laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Laid {
    /// Copies across and down, at least 1 each.
    pub copies: [u32; 2],
    /// Each column is lowered by this many pixels against the one before.
    pub lowered: u32,
    /// Every second row is moved right by half the unit's width.
    pub slid: bool,
}

/// Sides of a block of an image without chroma subsampling (ITU-T T.81, A.2).
const BLOCK: u32 = 8;

impl Laid {
    /// How many blocks one segment must hold for a unit of these pixels; `None` when copies do not fall on whole blocks.
    #[must_use]
    pub fn interval(&self, width: u32, height: u32) -> Option<u16> {
        let across = if self.slid { 2 * BLOCK } else { BLOCK };
        let whole = width.is_multiple_of(across) && height.is_multiple_of(BLOCK) && self.lowered.is_multiple_of(BLOCK);
        if !whole || self.copies.contains(&0) {
            return None;
        }
        u16::try_from(width / across).ok().filter(|&blocks| blocks > 0)
    }

    /// Lays the copies of `unit`, a baseline JPEG of `width` by `height` pixels whose restart interval is
    /// [`Laid::interval`]. `None` when the bytes are not that, or the whole is over 65535 pixels a side.
    #[must_use]
    pub fn repeat(&self, unit: &[u8], width: u32, height: u32) -> Option<Vec<u8>> {
        self.interval(width, height)?;
        let whole_width = u16::try_from(width.checked_mul(self.copies[0])?).ok()?;
        let whole_height = u16::try_from(height.checked_mul(self.copies[1])?).ok()?;
        let (size_at, scan_at) = header(unit)?;
        let segments = segments(unit.get(scan_at..)?)?;
        let (rows, parts) = (height / BLOCK, if self.slid { 2 } else { 1 });
        if segments.len() != (rows * parts) as usize {
            return None;
        }

        let copies = (self.copies[0] * self.copies[1]) as usize;
        let mut out = Vec::with_capacity(scan_at + (unit.len() - scan_at + 2 * segments.len()) * copies + 2);
        out.extend_from_slice(&unit[..scan_at]);
        out[size_at..size_at + 2].copy_from_slice(&whole_height.to_be_bytes());
        out[size_at + 2..size_at + 4].copy_from_slice(&whole_width.to_be_bytes());
        let mut written = 0_u8;
        for row in 0..rows * self.copies[1] {
            let odd = u32::from(self.slid && (row / rows) % 2 == 1);
            for part in 0..parts * self.copies[0] {
                let lowered = u64::from(part / parts) * u64::from(self.lowered / BLOCK) % u64::from(rows);
                let source = (row + rows - lowered as u32) % rows;
                if row + part > 0 {
                    out.extend_from_slice(&[0xFF, 0xD0 + written % 8]);
                    written = (written + 1) % 8;
                }
                out.extend_from_slice(segments[(source * parts + (part + odd) % parts) as usize]);
            }
        }
        out.extend_from_slice(&[0xFF, 0xD9]);
        Some(out)
    }
}

/// Where the frame header says the height (2 bytes, then the width), and where entropy-coded data start.
fn header(jpeg: &[u8]) -> Option<(usize, usize)> {
    let (mut at, mut size_at) = (2, None);
    loop {
        let &[0xFF, marker, high, low] = jpeg.get(at..at + 4)? else { return None };
        let next = at + 2 + usize::from(u16::from_be_bytes([high, low]));
        match marker {
            // SOF0: length, precision, height, width.
            0xC0 => size_at = Some(at + 5),
            0xDA => return Some((size_at?, next)),
            _ => {}
        }
        at = next;
    }
}

/// Splits entropy-coded data at its restart markers; ends at the end of image.
fn segments(data: &[u8]) -> Option<Vec<&[u8]>> {
    let (mut found, mut from, mut at) = (Vec::new(), 0, 0);
    loop {
        at += data.get(at..)?.iter().position(|&byte| byte == 0xFF)?;
        match data.get(at + 1)? {
            0xD0..=0xD7 => {
                found.push(&data[from..at]);
                from = at + 2;
            }
            0xD9 => {
                found.push(&data[from..at]);
                return Some(found);
            }
            // A stuffed 0xFF.
            0x00 => {}
            _ => return None,
        }
        at += 2;
    }
}
