//! Which chunks of a PNG outlive a change of its pixels, and the proof that they did (PNG third edition, 5.4 and 14.2).
//!
//! Takes chunks and whole files. Knows nothing of pixels.

use crate::codec::chunks::{self, Chunk};

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

/// Whether every chunk of `original` that should survive stands in `written` byte for byte, in the same order, but for
/// the kinds in `except`. For an original that is no PNG there is nothing to compare here.
///
/// # Errors
/// A sentence naming the first chunk that is missing or changed.
pub fn metadata_kept(original: &[u8], written: &[u8], except: &[[u8; 4]]) -> Result<(), String> {
    let Some(originals) = chunks::walk(original) else { return Ok(()) };
    let Some(mut kept) = chunks::walk(written) else { return Err("the written file is no PNG".into()) };
    let layout = |bytes: &[u8]| bytes.get(24..26).map(<[u8]>::to_vec);
    let same_layout = layout(original) == layout(written);
    let mut expected = originals.filter(|chunk| survives(chunk, same_layout) && !except.contains(&chunk.name));
    for chunk in expected.by_ref() {
        if !kept.any(|candidate| candidate.whole == chunk.whole) {
            return Err(format!(
                "the part {} of the original is missing or changed in the written file",
                chunk.title()
            ));
        }
    }
    Ok(())
}
