//! The color profile inside a file, as its own bytes.
//!
//! Takes a file, yields the profile. Knows nothing of what it says but its color space.

use crate::codec::chunks;
use crate::codec::ifd::Tags;
use crate::codec::refusal::Limits;
use crate::codec::signature::format_of;
use crate::codec::{markers, riff};
use crate::tile::Format;
use std::io::Read;

/// The embedded profile; `None` when there is none or it is broken.
pub(crate) fn icc_profile(bytes: &[u8]) -> Option<Vec<u8>> {
    match format_of(bytes)? {
        Format::Png => {
            let chunk = chunks::walk(bytes)?.find(|chunk| &chunk.name == b"iCCP")?;
            let name = chunk.data().iter().position(|byte| *byte == 0)?;
            // The name's end and the one method of compression (PNG third edition, 11.3.2.3).
            inflate_at_most(chunk.data().get(name..)?.strip_prefix(&[0, 0])?, Limits::default().max_metadata)
        }
        Format::Jpeg => from_segments(bytes),
        Format::Tiff => {
            let (tags, first) = Tags::open(bytes)?;
            // Tag 34675 (ICC.1:2022, annex B.4).
            Some(tags.directory(first)?.find(34_675)?.bytes()?.to_vec()).filter(|profile| !profile.is_empty())
        }
        Format::Webp => riff::walk(bytes).find(|piece| &piece.name == b"ICCP").map(|piece| piece.data.to_vec()),
    }
}

/// The profile's parts from APP2 segments, in the order of their numbers (ICC.1:2022, annex B.5).
fn from_segments(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut parts: Vec<(u8, u8, &[u8])> = Vec::new();
    for segment in markers::walk(bytes).filter(|segment| segment.marker == 0xe2) {
        if let Some([number, count, data @ ..]) = segment.data.strip_prefix(b"ICC_PROFILE\0") {
            parts.push((*number, *count, data));
        }
    }
    parts.sort_by_key(|(number, ..)| *number);
    let (_, count, _) = *parts.first()?;
    let in_order = parts.iter().zip(1u8..).all(|((number, of, _), expected)| *number == expected && *of == count);
    (in_order && parts.len() == usize::from(count))
        .then(|| parts.iter().flat_map(|(.., data)| *data).copied().collect())
}

/// Unpacks a zlib stream of at most `limit` bytes; `None` when it is longer or broken.
pub(crate) fn inflate_at_most(packed: &[u8], limit: usize) -> Option<Vec<u8>> {
    let mut unpacked = Vec::new();
    let stream = flate2::read::ZlibDecoder::new(packed);
    stream.take(limit as u64 + 1).read_to_end(&mut unpacked).ok()?;
    (unpacked.len() <= limit).then_some(unpacked)
}

/// Whether a profile may stand in a PNG of this color type: gray for gray, RGB for the others (PNG third edition,
/// 11.3.2.3).
pub(crate) fn suits(profile: &[u8], color: u8) -> bool {
    let wanted: &[u8] = if matches!(color, 0 | 4) { b"GRAY" } else { b"RGB " };
    // The profile's own color space, bytes 16 to 19 (ICC.1:2022, 7.2.6).
    profile.get(16..20) == Some(wanted)
}
