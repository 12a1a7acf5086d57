//! JPEG to pixels: gray, color and inks, plain and progressive (ITU-T T.81; JFIF: ITU-T T.871).
//!
//! Takes the bytes of a file, yields what its segments say and its samples. Knows nothing of other containers.

use crate::codec::embedded;
use crate::codec::icc;
use crate::codec::ifd::{self, Exif};
use crate::codec::inks;
use crate::codec::markers::{self, Segment};
use crate::codec::refusal::{Limits, Refusal, sized};
use crate::codec::surveyed::Survey;
use crate::tile::{Channels, Format, Meta, Profile, Resolution};
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

fn damaged(part: &str) -> Refusal {
    Refusal::damaged(Format::Jpeg, part)
}

/// What a frame header says (T.81, B.2.2).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Frame {
    pub(crate) width: u16,
    pub(crate) height: u16,
    precision: u8,
    components: u8,
}

/// The frame header of a segment, when it is one.
pub(crate) fn frame(segment: &Segment<'_>) -> Option<Frame> {
    // SOF0 to SOF15 without DHT, JPG and DAC (T.81, table B.1).
    if !matches!(segment.marker, 0xc0..=0xcf) || matches!(segment.marker, 0xc4 | 0xc8 | 0xcc) {
        return None;
    }
    let &[precision, a, b, c, d, components] = segment.data.first_chunk::<6>()?;
    Some(Frame { width: u16::from_be_bytes([c, d]), height: u16::from_be_bytes([a, b]), precision, components })
}

/// Walks the segments: sides, kind, tags, and the end of the image.
///
/// # Errors
/// Every way in which a JPEG can be refused without unpacking it.
pub(crate) fn survey(bytes: &[u8], limits: &Limits) -> Result<Survey, Refusal> {
    let mut walk = markers::walk(bytes);
    let mut found: Option<(Frame, u8)> = None;
    let (mut density, mut camera) = (None, Exif::default());
    for segment in walk.by_ref() {
        match segment.marker {
            0xe0 if density.is_none() => density = jfif(segment.data),
            0xe1 if camera.orientation == 0 && segment.data.starts_with(b"Exif\0\0") => {
                camera = ifd::exif(segment.data).unwrap_or_default();
            }
            marker => {
                if let (None, Some(frame)) = (&found, frame(&segment)) {
                    limits.admit_sides(u32::from(frame.width), u32::from(frame.height))?;
                    found = Some((frame, marker));
                }
            }
        }
    }
    if !walk.ended {
        return Err(if walk.is_garbled() { damaged("part list") } else { Refusal::Truncated { format: Format::Jpeg } });
    }
    let (frame, kind) = found.ok_or_else(|| damaged("header"))?;
    let channels = supported(&frame, kind)?;
    // Every block of 8 x 8 takes a bit at least, so less than this cannot hold them all; memory is not asked for on the
    // word of a header alone.
    if (bytes.len() as u64) < u64::from(frame.width.div_ceil(8)) * u64::from(frame.height.div_ceil(8)) / 8 {
        return Err(Refusal::Truncated { format: Format::Jpeg });
    }
    let profile = match embedded::icc_profile(bytes) {
        Some(profile) => Profile::Icc(icc::description(&profile).unwrap_or_else(|| "unnamed profile".into())),
        None => Profile::Untagged,
    };
    let meta = Meta {
        format: Format::Jpeg,
        bytes: bytes.len() as u64,
        channels,
        bit_depth: 8,
        resolution: density.or(camera.resolution),
        profile,
        interlaced: kind == 0xc2,
        frames: 1,
        pages: 1,
        lossy: true,
    };
    let (width, height) = (u32::from(frame.width), u32::from(frame.height));
    Ok(Survey { width, height, meta, orientation: camera.orientation.max(1) })
}

/// The layout of a frame we decode.
fn supported(frame: &Frame, kind: u8) -> Result<Channels, Refusal> {
    let unsupported = |what: &str| Err(Refusal::unsupported(Format::Jpeg, what));
    match kind {
        0xc0..=0xc2 => {}
        0xc3 | 0xc7 | 0xcb | 0xcf => return unsupported("losslessly coded samples"),
        0xc9..=0xca => return unsupported("arithmetic coding"),
        _ => return unsupported("hierarchical coding"),
    }
    if frame.precision != 8 {
        return unsupported("samples of another depth than 8 bits");
    }
    if frame.width == 0 {
        return Err(damaged("header"));
    }
    if frame.height == 0 {
        return unsupported("a height that is told only after the picture");
    }
    match frame.components {
        1 => Ok(Channels::Gray),
        3 => Ok(Channels::Rgb),
        4 => Ok(Channels::Cmyk),
        _ => unsupported("an unusual number of channels"),
    }
}

/// Density of a JFIF segment in pixels per inch: unit 0 is an aspect ratio, 1 inch, 2 centimeter (T.871, 10.1).
fn jfif(data: &[u8]) -> Option<Resolution> {
    let &[_, _, unit, a, b, c, d] = data.strip_prefix(b"JFIF\0")?.first_chunk::<7>()?;
    let (x, y) = (f64::from(u16::from_be_bytes([a, b])), f64::from(u16::from_be_bytes([c, d])));
    // Whole numbers err by half a unit: 118 per cm is as near to 300 per inch as they come.
    let per = match unit {
        1 => 1.0,
        2 => 2.54,
        _ => return None,
    };
    (x > 0.0 && y > 0.0).then_some(Resolution { x: x * per, y: y * per, quantum: 0.5 * per })
}

/// Unpacks the stored pixels into `reuse`, four samples each.
///
/// # Errors
/// [`Refusal::Truncated`] when data stops before the last row, [`Refusal::Damaged`] when it cannot be unpacked.
pub(crate) fn pixels(bytes: &[u8], survey: &Survey, limits: &Limits, reuse: Vec<u8>) -> Result<Vec<u8>, Refusal> {
    let side = limits.max_side as usize;
    // Strict, since the lenient way fills what is missing with gray and calls it fine.
    let options = DecoderOptions::default().set_strict_mode(true).set_max_width(side).set_max_height(side);
    let mut look = zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    look.decode_headers().map_err(|error| refused(&error))?;
    // Inks and plain RGB are taken as stored; everything else is turned to RGBA while it is hot in the cache.
    let wanted = match look.input_colorspace().ok_or_else(|| damaged("header"))? {
        stored @ (ColorSpace::RGB | ColorSpace::CMYK | ColorSpace::YCCK) => stored,
        _ => ColorSpace::RGBA,
    };
    // The way of converting is chosen when a decoder is made, so one is made again.
    let options = options.jpeg_set_out_colorspace(wanted);
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    let samples = survey.width as usize * survey.height as usize * 4;
    let mut rgba = sized(reuse, samples)?;
    decoder.decode_into(&mut rgba).map_err(|error| refused(&error))?;
    match wanted {
        ColorSpace::RGB => inks::widen(&mut rgba),
        ColorSpace::YCCK => inks::stored_luma_to_rgba(&mut rgba),
        ColorSpace::CMYK => inks::stored_inks_to_rgba(&mut rgba),
        _ => {}
    }
    Ok(rgba)
}

fn refused(error: &zune_jpeg::errors::DecodeErrors) -> Refusal {
    use zune_jpeg::errors::DecodeErrors;
    match error {
        DecodeErrors::Unsupported(_) => Refusal::unsupported(Format::Jpeg, "a rare way of coding"),
        DecodeErrors::ExhaustedData | DecodeErrors::IoErrors(_) => Refusal::Truncated { format: Format::Jpeg },
        _ => damaged("picture data"),
    }
}
