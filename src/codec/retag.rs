//! A new resolution tag in an otherwise untouched PNG.
//!
//! Takes a file and pixels per inch, yields the file with one chunk set. Knows nothing of pixels.

use crate::codec::chunks::{self, Ending};
use crate::codec::picture::per_meter;

/// The data of a pHYs chunk for pixels per inch, unit meter (PNG third edition, 11.3.4.3); `None` for what it cannot say.
pub(crate) fn dimensions(per_inch: f64) -> Option<[u8; 9]> {
    if !per_inch.is_finite() || per_inch <= 0.0 {
        return None;
    }
    let unit = per_meter(per_inch);
    // PNG integers end at 2^31 - 1 (third edition, 7.1).
    if unit == 0 || unit > 0x7fff_ffff {
        return None;
    }
    let [a, b, c, d] = unit.to_be_bytes();
    Some([a, b, c, d, a, b, c, d, 1])
}

/// The file with pHYs saying `per_inch` both ways: in the place of an old one, else right before the image data. All
/// other bytes stay, those after IEND too; a second or misplaced pHYs, which no reader may heed, goes.
///
/// `None` when the bytes are no whole PNG or the resolution cannot be said.
#[must_use]
pub fn retag(original: &[u8], per_inch: f64) -> Option<Vec<u8>> {
    let tag = chunks::build(*b"pHYs", &dimensions(per_inch)?);
    let mut walk = chunks::walk(original)?;
    let before_data = walk.clone().take_while(|chunk| &chunk.name != b"IDAT");
    let has_old = before_data.filter(|chunk| &chunk.name == b"pHYs").count() > 0;
    let mut written = Vec::with_capacity(original.len() + tag.len());
    written.extend_from_slice(&chunks::SIGNATURE);
    let (mut tagged, mut end) = (false, chunks::SIGNATURE.len());
    for chunk in walk.by_ref() {
        let place = match &chunk.name {
            b"pHYs" => has_old,
            b"IDAT" => !has_old,
            _ => false,
        };
        if place && !tagged {
            written.extend_from_slice(&tag);
            tagged = true;
        }
        if &chunk.name != b"pHYs" {
            written.extend_from_slice(chunk.whole);
        }
        end = chunk.end();
    }
    written.extend_from_slice(original.get(end..)?);
    (walk.ending() == Ending::Complete && tagged).then_some(written)
}
