//! Bytes to pixels and back, under limits read from the header before anything is allocated.
//!
//! The only user of the image crates. Knows no files and judges nothing.

pub mod picture;
pub mod refusal;
pub mod chunks;
pub mod icc;
mod spread;
mod from_png;

pub use refusal::{Excess, Limits, Refusal};

use crate::tile::{Content, Format, Meta, Tile};
use std::ffi::OsStr;
use std::path::Path;

/// What a file says of itself before its pixels are unpacked.
#[derive(Clone, Debug, PartialEq)]
pub struct Header {
    /// Pixels across, as shown.
    pub width: u32,
    /// Pixels down, as shown.
    pub height: u32,
    /// Everything else.
    pub meta: Meta,
}

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

/// Whether a file of this name is one that Burler looks at.
#[must_use]
pub fn looks_like_image_name(name: &OsStr) -> bool {
    const EXTENSIONS: [&str; 8] = ["png", "jpg", "jpeg", "jpe", "jfif", "tif", "tiff", "webp"];
    let extension = Path::new(name).extension().map(OsStr::to_ascii_lowercase);
    extension.is_some_and(|extension| EXTENSIONS.iter().any(|known| extension == *known))
}

/// Reads what the file says of itself, and refuses what [`decode`] would refuse without unpacking a pixel.
///
/// # Errors
/// When the bytes are no image we read, are broken, or over the limits.
pub fn header(bytes: &[u8], limits: &Limits) -> Result<Header, Refusal> {
    match admitted(bytes, limits)? {
        Format::Png => {
            let survey = from_png::survey(bytes, limits)?;
            Ok(Header { width: survey.width, height: survey.height, meta: survey.meta })
        }
        format => Err(Refusal::unsupported(format, "another container than PNG")),
    }
}

/// Unpacks the first picture of a file; the memory of `reuse` is used again for the samples.
///
/// # Errors
/// When the bytes are no image we read, are broken, end early, or are over the limits.
pub fn decode(bytes: &[u8], limits: &Limits, reuse: Vec<u8>) -> Result<Tile, Refusal> {
    let (raster, deep, meta) = match admitted(bytes, limits)? {
        Format::Png => {
            let survey = from_png::survey(bytes, limits)?;
            let (raster, deep) = from_png::pixels(bytes, &survey, reuse)?;
            (raster, deep, survey.meta)
        }
        format => return Err(Refusal::unsupported(format, "another container than PNG")),
    };
    Ok(Tile { raster, deep, meta, content: Content::of(bytes) })
}

fn admitted(bytes: &[u8], limits: &Limits) -> Result<Format, Refusal> {
    if bytes.is_empty() {
        return Err(Refusal::Empty);
    }
    limits.admit_bytes(bytes.len() as u64)?;
    match format_of(bytes) {
        Some(format) => Ok(format),
        // A copy that has only just begun.
        None if bytes.len() < chunks::SIGNATURE.len() && chunks::SIGNATURE.starts_with(bytes) => {
            Err(Refusal::Truncated { format: Format::Png })
        }
        None => Err(Refusal::NotAnImage),
    }
}
