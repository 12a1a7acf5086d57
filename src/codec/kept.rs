//! The proof that a written file says about itself what its original said.
//!
//! Takes the bytes of both, compares. Knows nothing of pixels.

use crate::codec::carry::survives;
use crate::codec::chunks;
use crate::codec::embedded::{self, icc_profile};
use crate::codec::read::header;
use crate::codec::refusal::Limits;

/// Whether `written`, a PNG, holds everything that `original` says beside its pixels, but for the kinds in `except`.
///
/// Of a PNG original: every chunk that outlives a change of pixels, byte for byte and in the same order. Of another
/// original: its color profile, byte for byte, unless the written layout cannot carry it, and its resolution within the
/// original's own unit.
///
/// # Errors
/// A sentence naming the first thing that is missing or changed.
pub fn metadata_kept(original: &[u8], written: &[u8], except: &[[u8; 4]]) -> Result<(), String> {
    let mut kept = chunks::walk(written).ok_or("the written file is no PNG")?;
    let Some(originals) = chunks::walk(original) else { return tags_kept(original, written, except) };
    let layout = |bytes: &[u8]| bytes.get(24..26).map(<[u8]>::to_vec);
    let same_layout = layout(original) == layout(written);
    for chunk in originals.filter(|chunk| survives(chunk, same_layout) && !except.contains(&chunk.name)) {
        if !kept.any(|candidate| candidate.whole == chunk.whole) {
            return Err(format!(
                "the part {} of the original is missing or changed in the written file",
                chunk.title()
            ));
        }
    }
    Ok(())
}

/// The same for an original of another container.
fn tags_kept(original: &[u8], written: &[u8], except: &[[u8; 4]]) -> Result<(), String> {
    let limits = Limits::default();
    if !except.contains(b"iCCP") {
        let color = written.get(25).copied().unwrap_or_default();
        let profile = icc_profile(original).filter(|profile| embedded::suits(profile, color));
        if profile.is_some() && profile != icc_profile(written) {
            return Err("the color profile of the original is missing or changed in the written file".into());
        }
    }
    if !except.contains(b"pHYs") {
        let resolution = |bytes| header(bytes, &limits).map(|header| header.meta.resolution);
        let before = resolution(original).map_err(|refusal| refusal.says())?;
        let after = resolution(written).map_err(|refusal| refusal.says())?;
        // PNG's own unit errs by up to half of 0.0254 per inch beside the original's.
        let agree = match (before, after) {
            (Some(a), Some(b)) => (a.x - b.x).abs() < a.quantum + 0.013 && (a.y - b.y).abs() < a.quantum + 0.013,
            (before, after) => before == after,
        };
        if !agree {
            return Err("the resolution of the original is missing or changed in the written file".into());
        }
    }
    Ok(())
}
