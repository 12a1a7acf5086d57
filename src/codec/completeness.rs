//! Whether a file looks finished: what its structure promises is there.
//!
//! Takes bytes, unpacks nothing, so that a settling file can be asked again and again. Knows nothing of pixels or limits.

use crate::codec::chunks::{self, Ending};
use crate::codec::ifd::{self, MOST_DIRECTORIES, Tags};
use crate::codec::markers;
use crate::codec::riff;
use crate::codec::signature::{format_of, may_become_image};
use crate::tile::Format;

/// The most strips and tiles of a file that are looked at; a picture of the largest side in strips of one row has 30,000.
const MOST_PIECES: u32 = 10_000_000;

/// What a file's structure says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Completeness {
    /// Everything it promises is there.
    Complete,
    /// It ends early, or parts of it are not written yet.
    Incomplete,
    /// The first bytes are those of no image we read.
    NotAnImage,
}

/// Looks at the structure alone: PNG chunks with their checksums up to IEND, JPEG markers up to EOI, TIFF offsets inside
/// the file, the length in WebP's RIFF head. Never panics, whatever the bytes.
#[must_use]
pub fn completeness(bytes: &[u8]) -> Completeness {
    let complete = match format_of(bytes) {
        Some(Format::Png) => png(bytes),
        Some(Format::Jpeg) => markers::reaches_end(bytes),
        Some(Format::Tiff) => tiff(bytes),
        Some(Format::Webp) => riff::is_whole(bytes),
        None if may_become_image(bytes) => false,
        None => return Completeness::NotAnImage,
    };
    if complete { Completeness::Complete } else { Completeness::Incomplete }
}

/// Checksums count, since a sync client may fill a preallocated file in any order.
fn png(bytes: &[u8]) -> bool {
    let Some(mut walk) = chunks::walk(bytes) else { return false };
    walk.by_ref().all(|chunk| chunk.holds()) && walk.ending() == Ending::Complete
}

/// All directories, all values outside them, all strips and tiles lie inside the file.
pub(crate) fn tiff(bytes: &[u8]) -> bool {
    let Some((tags, mut at)) = Tags::open(bytes) else { return false };
    let mut pieces = 0;
    for _ in 0..MOST_DIRECTORIES {
        let Some(directory) = tags.directory(at) else { return false };
        if directory.entries.iter().any(ifd::Entry::is_cut) {
            return false;
        }
        let compression = directory.first(&tags, 259).unwrap_or(1);
        for (offsets, counts) in [(273, 279), (324, 325)] {
            let (Some(offsets), Some(counts)) = (directory.find(offsets), directory.find(counts)) else { continue };
            for (offset, count) in tags.numbers(offsets).zip(tags.numbers(counts)) {
                pieces += 1;
                if pieces > MOST_PIECES {
                    return false;
                }
                let end = offset.checked_add(count).and_then(|end| usize::try_from(end).ok());
                let Some(piece) = end.and_then(|end| bytes.get(usize::try_from(offset).ok()?..end)) else {
                    return false;
                };
                // No stream of LZW, JPEG or deflate starts with a zero byte; a stretch not yet written does.
                if matches!(compression, 5 | 7 | 8 | 32_946) && piece.first() == Some(&0) {
                    return false;
                }
            }
        }
        if directory.next == 0 {
            return true;
        }
        at = directory.next;
    }
    // More pages than anybody looks at, or a ring of them: what was looked at is there.
    true
}
