//! Any container to a tile, and to what it says of itself.
//!
//! Takes the bytes of a file, asks the reader of its container, and turns the picture as its orientation tag asks.

use crate::codec::refusal::{Limits, Refusal};
use crate::codec::signature::{self, format_of};
use crate::codec::{from_jpeg, from_png, from_tiff, from_webp, orient, png_survey, tiff_survey};
use crate::tile::{Content, Deep, Format, Meta, Raster, Tile};

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
    let shown = |width, height, orientation, meta| {
        let (width, height) = orient::shown(width, height, orientation);
        Header { width, height, meta: turned(meta, orientation) }
    };
    Ok(match admitted(bytes, limits)? {
        Format::Png => {
            let survey = png_survey::survey(bytes, limits)?;
            shown(survey.width, survey.height, 1, survey.meta)
        }
        Format::Jpeg => {
            let survey = from_jpeg::survey(bytes, limits)?;
            shown(survey.width, survey.height, survey.orientation, survey.meta)
        }
        Format::Tiff => {
            let survey = tiff_survey::survey(bytes, limits)?;
            shown(survey.width, survey.height, survey.orientation, survey.meta)
        }
        Format::Webp => {
            let survey = from_webp::survey(bytes, limits)?;
            shown(survey.width, survey.height, survey.orientation, survey.meta)
        }
    })
}

/// Unpacks the first picture of a file; the memory of `reuse` is used again for the samples.
///
/// Pixels are turned as the orientation tag of a JPEG, TIFF or WebP asks. A PNG's are not: its readers show them as they
/// are stored, and its Exif data, which a mend carries over, may be stale (PNG third edition, 11.3.4.5).
///
/// # Errors
/// When the bytes are no image we read, are broken, end early, or are over the limits.
pub fn decode(bytes: &[u8], limits: &Limits, reuse: Vec<u8>) -> Result<Tile, Refusal> {
    let (rgba, deep, (width, height), orientation, meta) = match admitted(bytes, limits)? {
        Format::Png => {
            let survey = png_survey::survey(bytes, limits)?;
            let (rgba, deep) = from_png::pixels(bytes, &survey, reuse)?;
            (rgba, deep, (survey.width, survey.height), 1, survey.meta)
        }
        Format::Jpeg => {
            let survey = from_jpeg::survey(bytes, limits)?;
            let rgba = from_jpeg::pixels(bytes, &survey, limits, reuse)?;
            (rgba, None, (survey.width, survey.height), survey.orientation, survey.meta)
        }
        Format::Tiff => {
            let survey = tiff_survey::survey(bytes, limits)?;
            let (rgba, deep) = from_tiff::pixels(bytes, &survey, limits, reuse)?;
            (rgba, deep, (survey.width, survey.height), survey.orientation, survey.meta)
        }
        Format::Webp => {
            let survey = from_webp::survey(bytes, limits)?;
            let rgba = from_webp::pixels(bytes, &survey, reuse)?;
            (rgba, None, (survey.width, survey.height), survey.orientation, survey.meta)
        }
    };
    let rgba = orient::apply(rgba, width, orientation);
    let deep = deep.map(|deep| Deep(orient::apply(deep, width, orientation)));
    let (width, height) = orient::shown(width, height, orientation);
    let meta = turned(meta, orientation);
    let raster = Raster::new(width, height, rgba).ok_or_else(|| Refusal::damaged(meta.format, "header"))?;
    Ok(Tile { raster, deep, meta, content: Content::of(bytes) })
}

/// Unpacks the rows of a PNG one by one, from the top: `visit` gets the row's number, its straight RGBA of 8 bits, and of
/// 16 bits when the file has them. Nothing of the size of the picture is allocated.
///
/// # Errors
/// As [`decode`]; also when the file is no PNG or is stored in passes, so that no row is whole before the last pass; and
/// what `visit` returns.
pub fn each_row<E: From<Refusal>>(
    bytes: &[u8],
    limits: &Limits,
    visit: impl FnMut(u32, &[u8], Option<&[u16]>) -> Result<(), E>,
) -> Result<Header, E> {
    if admitted(bytes, limits)? != Format::Png {
        return Err(Refusal::NotAnImage.into());
    }
    let survey = png_survey::survey(bytes, limits)?;
    from_png::rows(bytes, &survey, visit)?;
    Ok(Header { width: survey.width, height: survey.height, meta: survey.meta })
}

/// What a file says of its directions, for the picture as shown.
fn turned(mut meta: Meta, orientation: u8) -> Meta {
    if orientation >= 5
        && let Some(resolution) = &mut meta.resolution
    {
        std::mem::swap(&mut resolution.x, &mut resolution.y);
    }
    meta
}

fn admitted(bytes: &[u8], limits: &Limits) -> Result<Format, Refusal> {
    if bytes.is_empty() {
        return Err(Refusal::Empty);
    }
    limits.admit_bytes(bytes.len() as u64)?;
    match format_of(bytes) {
        Some(format) => Ok(format),
        None if signature::may_become_image(bytes) => Err(Refusal::Unfinished),
        None => Err(Refusal::NotAnImage),
    }
}
