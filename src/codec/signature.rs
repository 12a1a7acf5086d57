//! Which container a file is, by its first bytes and by its name.

use crate::codec::chunks;
use crate::tile::Format;
use std::ffi::OsStr;
use std::path::Path;

/// The container, told by its first bytes.
#[must_use]
pub fn format_of(bytes: &[u8]) -> Option<Format> {
    match bytes {
        _ if bytes.starts_with(&chunks::SIGNATURE) => Some(Format::Png),
        // Start of image and the first byte of the next marker (ITU-T T.81, B.1.1).
        [0xff, 0xd8, 0xff, ..] => Some(Format::Jpeg),
        // Byte order and 42, or 43 for its 64-bit kin (TIFF 6.0, section 2).
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(Format::Tiff),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(Format::Webp),
        _ => None,
    }
}

/// Whether bytes that are no image yet can become one: the start of a signature, or room not yet written.
pub(crate) fn may_become_image(bytes: &[u8]) -> bool {
    let head = bytes.get(..bytes.len().min(12)).unwrap_or_default();
    // Room not yet written reads as zeros.
    let written = head.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    let head = head.get(..written).unwrap_or_default();
    let starts = |signature: &[u8]| signature.starts_with(head);
    starts(&chunks::SIGNATURE)
        || starts(&[0xff, 0xd8, 0xff])
        || [b"II\x2a\0", b"MM\0\x2a", b"II\x2b\0", b"MM\0\x2b"].iter().any(|signature| starts(*signature))
        || (head.len() < 12 && head.iter().zip(b"RIFF").all(|(byte, known)| byte == known) && riff_tail(head))
}

/// Whether the bytes after RIFF's length begin `WEBP`.
fn riff_tail(head: &[u8]) -> bool {
    b"WEBP".starts_with(head.get(8..).unwrap_or_default())
}

/// Whether a file of this name is one that Burler looks at.
#[must_use]
pub fn looks_like_image_name(name: &OsStr) -> bool {
    const EXTENSIONS: [&str; 8] = ["png", "jpg", "jpeg", "jpe", "jfif", "tif", "tiff", "webp"];
    let extension = Path::new(name).extension().map(OsStr::to_ascii_lowercase);
    extension.is_some_and(|extension| EXTENSIONS.iter().any(|known| extension == *known))
}
