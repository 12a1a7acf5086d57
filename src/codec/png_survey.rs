//! What a PNG says before any pixel is unpacked: sides, layout, order and checksums of its chunks (PNG third edition).
//!
//! Takes the bytes of a file, yields a survey and refuses what cannot be decoded. Knows nothing of how a PNG is written.

use crate::codec::adam7::unpacked_bytes;
use crate::codec::chunks::{self, Chunk, Ending};
use crate::codec::png_tags::Tags;
use crate::codec::refusal::{Limits, Refusal};
use crate::codec::spread::Layout;
use crate::tile::{Channels, Format, Meta, Profile};
use std::ops::Range;

/// What the chunks say before any pixel is unpacked.
#[derive(Clone, Debug)]
pub(crate) struct Survey<'a> {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) meta: Meta,
    pub(crate) layout: Layout,
    /// The data of PLTE.
    pub(crate) palette: &'a [u8],
    /// The data of tRNS, when it means something.
    pub(crate) clear: Option<&'a [u8]>,
    /// Where the IDAT chunks stand.
    pub(crate) data: Range<usize>,
}

pub(crate) fn damaged(part: impl Into<String>) -> Refusal {
    Refusal::damaged(Format::Png, part)
}

/// Walks the whole file: order, checksums, limits, tags.
///
/// # Errors
/// Every way in which a PNG can be refused without unpacking it.
pub(crate) fn survey<'a>(bytes: &'a [u8], limits: &Limits) -> Result<Survey<'a>, Refusal> {
    let mut walk = chunks::walk(bytes).ok_or(Refusal::NotAnImage)?;
    // Anything else at the start is no chunk list at all, however its bytes read as a length.
    if bytes.get(12..16).is_some_and(|name| name != b"IHDR" && !chunks::only_zeros(name)) {
        return Err(damaged("header"));
    }
    let Some(first) = walk.next() else { return Err(ended(walk.ending())) };
    let mut survey = header(&first, bytes.len() as u64, limits)?;
    let mut tags = Tags::default();
    for chunk in walk.by_ref() {
        if !chunk.holds() {
            // Preallocated files reserve a chunk's room before its bytes arrive.
            let unwritten = chunks::only_zeros(bytes.get(chunk.end().saturating_sub(4)..).unwrap_or_default());
            return Err(if unwritten { ended(Ending::Early) } else { damaged(part(&chunk)) });
        }
        survey.take(&chunk, &mut tags)?;
    }
    if walk.ending() != Ending::Complete {
        return Err(ended(walk.ending()));
    }
    if survey.data.is_empty() {
        return Err(damaged("picture data"));
    }
    // Deflate packs at most 258 bytes into two bits (RFC 1951, 3.2.5), so less than this cannot hold all rows; memory is
    // not asked for on the word of a header alone.
    let needed = unpacked_bytes(survey.layout, survey.width, survey.height, survey.meta.interlaced);
    if needed > (survey.data.len() as u64 + 1) * 1032 {
        return Err(ended(Ending::Early));
    }
    if survey.meta.channels == Channels::Palette && survey.palette.is_empty() {
        return Err(damaged("palette"));
    }
    survey.meta.channels = match (survey.meta.channels, survey.clear) {
        (Channels::Gray, Some(_)) => Channels::GrayAlpha,
        (Channels::Rgb, Some(_)) => Channels::Rgba,
        (Channels::Palette, Some(clear)) if clear.iter().any(|alpha| *alpha < 255) => Channels::PaletteAlpha,
        (channels, _) => channels,
    };
    survey.meta.resolution = tags.resolution();
    survey.meta.profile = tags.profile(limits);
    Ok(survey)
}

/// A chunk in plain words, to follow "the".
fn part(chunk: &Chunk<'_>) -> String {
    match &chunk.name {
        b"IDAT" => "picture data".into(),
        b"PLTE" => "palette".into(),
        _ => format!("part {}", chunk.title()),
    }
}

fn ended(ending: Ending) -> Refusal {
    match ending {
        Ending::Garbled => damaged("part list"),
        Ending::Early | Ending::Complete => Refusal::Truncated { format: Format::Png },
    }
}

/// Reads IHDR (PNG third edition, 11.2.1).
fn header<'a>(chunk: &Chunk<'a>, bytes: u64, limits: &Limits) -> Result<Survey<'a>, Refusal> {
    let data = chunk.data();
    let (Some(sides), &[depth, color, 0, 0, interlace @ 0..=1]) =
        (data.first_chunk::<8>(), data.get(8..).unwrap_or_default())
    else {
        return Err(damaged("header"));
    };
    if &chunk.name != b"IHDR" || !chunk.holds() {
        return Err(damaged("header"));
    }
    let width = u32::from_be_bytes([sides[0], sides[1], sides[2], sides[3]]);
    let height = u32::from_be_bytes([sides[4], sides[5], sides[6], sides[7]]);
    if width == 0 || height == 0 {
        return Err(damaged("header"));
    }
    limits.admit_sides(width, height)?;
    let layout = Layout::new(color, depth).ok_or_else(|| damaged("header"))?;
    let meta = Meta {
        format: Format::Png,
        bytes,
        channels: layout.channels(),
        bit_depth: depth,
        resolution: None,
        profile: Profile::Untagged,
        interlaced: interlace == 1,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Ok(Survey { width, height, meta, layout, palette: &[], clear: None, data: 0..0 })
}

impl<'a> Survey<'a> {
    fn take(&mut self, chunk: &Chunk<'a>, tags: &mut Tags<'a>) -> Result<(), Refusal> {
        let before_data = self.data.is_empty();
        match &chunk.name {
            b"IDAT" if before_data => self.data = chunk.offset..chunk.end(),
            // Image data stands in one run (PNG third edition, 5.6).
            b"IDAT" if self.data.end == chunk.offset => self.data.end = chunk.end(),
            b"IDAT" => return Err(damaged("order of the picture data")),
            b"IHDR" => return Err(damaged("header")),
            b"PLTE" if !chunk.data().len().is_multiple_of(3) || chunk.data().len() > 768 => {
                return Err(damaged("palette"));
            }
            b"PLTE" if before_data => self.palette = chunk.data(),
            b"IEND" | b"PLTE" => {}
            b"tRNS" if before_data && self.layout.takes_clear(chunk.data()) => self.clear = Some(chunk.data()),
            b"acTL" if before_data => {
                if let Some(count) = chunk.data().first_chunk::<4>() {
                    self.meta.frames = u32::from_be_bytes(*count).max(1);
                }
            }
            _ if !chunk.is_ancillary() => {
                return Err(Refusal::unsupported(Format::Png, format!("a part named {}", chunk.title())));
            }
            _ if before_data => tags.take(chunk),
            _ => {}
        }
        Ok(())
    }
}
