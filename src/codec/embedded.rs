//! The color profile inside a JPEG, TIFF or WebP, as its own bytes.
//!
//! Takes a file, yields the profile. PNG keeps its profile packed and is carried over packed, so it is not asked here.

use crate::codec::ifd::Tags;
use crate::codec::signature::format_of;
use crate::codec::{markers, riff};
use crate::tile::Format;

/// The embedded profile; `None` when there is none or it is broken.
pub(crate) fn icc_profile(bytes: &[u8]) -> Option<Vec<u8>> {
    match format_of(bytes)? {
        Format::Png => None,
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
