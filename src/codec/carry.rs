//! Which chunks of a PNG outlive a change of its pixels (PNG third edition, 5.4 and 14.2).
//!
//! Takes chunks. Knows nothing of pixels.

use crate::codec::chunks::Chunk;

/// Chunks that describe the picture as a whole and stay true when single pixels are mended, though PNG does not mark all
/// of them safe to copy: color, size, text, time, camera data.
const KNOWN: [&[u8; 4]; 14] = [
    b"pHYs", b"iCCP", b"sRGB", b"gAMA", b"cHRM", b"cICP", b"mDCV", b"cLLI", b"sPLT", b"eXIf", b"tEXt", b"zTXt",
    b"iTXt", b"tIME",
];

/// Chunks whose content is spelled in the file's own color type and depth, so that they stay only while those do.
const BOUND_TO_LAYOUT: [&[u8; 4]; 2] = [b"sBIT", b"bKGD"];

/// Whether an ancillary chunk outlives a change of pixels; `same_layout` when color type and depth stay.
pub(crate) fn survives(chunk: &Chunk<'_>, same_layout: bool) -> bool {
    if !chunk.is_ancillary() || &chunk.name == b"tRNS" {
        return false;
    }
    KNOWN.contains(&&chunk.name)
        || if BOUND_TO_LAYOUT.contains(&&chunk.name) { same_layout } else { chunk.is_safe_to_copy() }
}
