//! WebP to pixels: lossy and lossless, with and without alpha (the WebP container specification).
//!
//! Takes the bytes of a file, yields what its chunks say and its samples; of an animation the first frame. Knows nothing
//! of other containers.

use crate::codec::icc;
use crate::codec::ifd::{self, Exif};
use crate::codec::inks;
use crate::codec::refusal::{Limits, Refusal, sized};
use crate::codec::riff::{self, Piece};
use crate::codec::surveyed::Survey;
use crate::tile::{Channels, Format, Meta, Profile};
use image::codecs::webp::WebPDecoder;
use image::{ImageDecoder, ImageError};
use std::io::Cursor;

fn damaged(part: &str) -> Refusal {
    Refusal::damaged(Format::Webp, part)
}

/// Walks the chunks: sides, kind, tags.
///
/// # Errors
/// Every way in which a WebP can be refused without unpacking it.
pub(crate) fn survey(bytes: &[u8], limits: &Limits) -> Result<Survey, Refusal> {
    let (mut canvas, mut picture) = (None, None);
    let (mut alpha, mut lossy, mut frames) = (false, false, 0u32);
    let (mut camera, mut profile) = (Exif { orientation: 1, ..Exif::default() }, Profile::Untagged);
    let mut walk = riff::walk(bytes);
    for piece in walk.by_ref() {
        match &piece.name {
            b"VP8X" => {
                let (sides, has_alpha) = extended(&piece).ok_or_else(|| damaged("header"))?;
                limits.admit_sides(sides.0, sides.1)?;
                canvas = Some(sides);
                alpha |= has_alpha;
            }
            b"VP8 " | b"VP8L" => {
                let (sides, has_alpha) = coded(&piece).ok_or_else(|| damaged("header"))?;
                limits.admit_sides(sides.0, sides.1)?;
                lossy |= &piece.name == b"VP8 ";
                // Inside an extended file its own flag decides.
                alpha |= has_alpha && canvas.is_none();
                picture = Some(sides);
            }
            b"ANMF" => {
                frames += 1;
                // A frame's head has 16 bytes, then come chunks of its own.
                lossy |= piece.data.get(16..20).is_some_and(|name| name == b"VP8 " || name == b"ALPH");
            }
            b"EXIF" => camera = ifd::exif(piece.data).unwrap_or(camera),
            b"ICCP" => {
                profile = Profile::Icc(icc::description(piece.data).unwrap_or_else(|| "unnamed profile".into()));
            }
            _ => {}
        }
    }
    if walk.cut {
        return Err(Refusal::Truncated { format: Format::Webp });
    }
    if picture.is_none() && frames == 0 {
        return Err(damaged("picture data"));
    }
    let (width, height) = canvas.or(picture).ok_or_else(|| damaged("header"))?;
    if width == 0 || height == 0 {
        return Err(damaged("header"));
    }
    let meta = Meta {
        format: Format::Webp,
        bytes: bytes.len() as u64,
        channels: if alpha { Channels::Rgba } else { Channels::Rgb },
        bit_depth: 8,
        resolution: camera.resolution,
        profile,
        interlaced: false,
        frames: frames.max(1),
        pages: 1,
        lossy,
    };
    Ok(Survey { width, height, meta, orientation: camera.orientation })
}

/// Sides and alpha flag of a VP8X chunk: sides less one in three bytes each.
fn extended(piece: &Piece<'_>) -> Option<((u32, u32), bool)> {
    let &[flags, _, _, _, a, b, c, d, e, f] = piece.data.first_chunk::<10>()?;
    let sides = (u32::from_le_bytes([a, b, c, 0]) + 1, u32::from_le_bytes([d, e, f, 0]) + 1);
    Some((sides, flags & 0x10 != 0))
}

/// Sides and alpha flag at the start of coded data (RFC 6386, 9.1; the WebP lossless specification, section 3).
fn coded(piece: &Piece<'_>) -> Option<((u32, u32), bool)> {
    if &piece.name == b"VP8L" {
        let &[0x2f, a, b, c, d] = piece.data.first_chunk::<5>()? else { return None };
        let bits = u32::from_le_bytes([a, b, c, d]);
        return Some((((bits & 0x3fff) + 1, (bits >> 14 & 0x3fff) + 1), bits >> 28 & 1 == 1));
    }
    let &[_, _, _, 0x9d, 0x01, 0x2a, a, b, c, d] = piece.data.first_chunk::<10>()? else { return None };
    let side = |low, high| u32::from(u16::from_le_bytes([low, high]) & 0x3fff);
    Some(((side(a, b), side(c, d)), false))
}

/// Unpacks the stored pixels into `reuse`, four samples each.
///
/// # Errors
/// [`Refusal::Truncated`] when data stops before the last row, [`Refusal::Damaged`] when it cannot be unpacked.
pub(crate) fn pixels(bytes: &[u8], survey: &Survey, reuse: Vec<u8>) -> Result<Vec<u8>, Refusal> {
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(|error| refused(&error))?;
    let samples = survey.width as usize * survey.height as usize * 4;
    if decoder.dimensions() != (survey.width, survey.height) {
        return Err(damaged("header"));
    }
    let mut allowed = image::Limits::no_limits();
    allowed.max_alloc = Some(samples.max(1 << 20) as u64);
    decoder.set_limits(allowed).map_err(|error| refused(&error))?;
    let mut rgba = sized(reuse, samples)?;
    let needed = usize::try_from(decoder.total_bytes()).map_err(|_| damaged("header"))?;
    let target = rgba.get_mut(..needed).ok_or_else(|| damaged("header"))?;
    decoder.read_image(target).map_err(|error| refused(&error))?;
    if needed < samples {
        inks::widen(&mut rgba);
    }
    Ok(rgba)
}

fn refused(error: &ImageError) -> Refusal {
    match error {
        ImageError::IoError(_) => Refusal::Truncated { format: Format::Webp },
        ImageError::Unsupported(_) => Refusal::unsupported(Format::Webp, "a rare way of coding"),
        _ => damaged("picture data"),
    }
}
