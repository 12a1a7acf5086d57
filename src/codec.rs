//! Bytes to pixels and back, under limits read from the header before anything is allocated.
//!
//! The only user of the image crates. Knows no files and judges nothing.

pub mod picture;
pub mod refusal;
pub mod chunks;
mod signature;
mod markers;
mod riff;
mod ifd;
pub mod icc;
mod completeness;
mod spread;
mod from_png;
mod embedded;
mod carry;
mod retag;
mod pack;
mod squeeze;
mod to_png;

pub use carry::metadata_kept;
pub use completeness::{Completeness, completeness};
pub use refusal::{Excess, Limits, Refusal};
pub use retag::retag;
pub use signature::{format_of, looks_like_image_name};
pub use squeeze::SqueezeError;
pub use to_png::{EncodeError, MOST_METADATA, encode_mended};

use crate::tile::{Content, Format, Meta, Tile};

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
        None => Err(Refusal::NotAnImage),
    }
}
