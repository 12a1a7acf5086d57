//! PNG to pixels: every color type, depth, interlacing and kind of clear color (PNG third edition).
//!
//! Takes the bytes of a file, yields what its header says and its samples. Only image data reaches the `png` crate, so
//! compressed text and profiles cannot swell here. Knows nothing of how a PNG is written.

use crate::codec::chunks::{self, Chunk, Ending};
use crate::codec::icc;
use crate::codec::ifd;
use crate::codec::refusal::{Limits, Refusal, sized, sized_deep};
use crate::codec::spread::{Layout, Spread};
use crate::tile::{Channels, Format, Meta, Profile, Resolution};
use std::io::{self, BufRead, Read, Seek, SeekFrom};
use std::ops::Range;

/// Inches in one meter (international yard and pound agreement, 1959: one inch is 0.0254 m).
const METER_IN_INCHES: f64 = 1.0 / 0.0254;

/// What the chunks say before any pixel is unpacked.
#[derive(Clone, Debug)]
pub(crate) struct Survey<'a> {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) meta: Meta,
    layout: Layout,
    palette: &'a [u8],
    clear: Option<&'a [u8]>,
    data: Range<usize>,
}

fn damaged(part: impl Into<String>) -> Refusal {
    Refusal::damaged(Format::Png, part)
}

/// Walks the whole file: order, checksums, limits, tags.
///
/// # Errors
/// Every way in which a PNG can be refused without unpacking it.
pub(crate) fn survey<'a>(bytes: &'a [u8], limits: &Limits) -> Result<Survey<'a>, Refusal> {
    let mut walk = chunks::walk(bytes).ok_or(Refusal::NotAnImage)?;
    let Some(first) = walk.next() else { return Err(ended(walk.ending())) };
    let mut survey = header(&first, bytes.len() as u64, limits)?;
    let mut tags = Tags::default();
    for chunk in walk.by_ref() {
        if !chunk.holds() {
            // Preallocated files reserve a chunk's room before its bytes arrive.
            let unwritten = chunks::only_zeros(bytes.get(chunk.end().saturating_sub(4)..).unwrap_or_default());
            return Err(if unwritten { ended(Ending::Early) } else { damaged(format!("{} part", chunk.title())) });
        }
        survey.take(&chunk, &mut tags)?;
    }
    if walk.ending() != Ending::Complete {
        return Err(ended(walk.ending()));
    }
    if survey.data.is_empty() {
        return Err(damaged("picture data"));
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
    survey.meta.resolution = if tags.sized { tags.resolution } else { tags.camera };
    survey.meta.profile = tags.profile(limits);
    Ok(survey)
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

/// What the ancillary chunks before the image data say; the first of a kind counts.
#[derive(Debug, Default)]
struct Tags<'a> {
    resolution: Option<Resolution>,
    /// Whether a pHYs chunk was met; it wins even where it says no size.
    sized: bool,
    /// What Exif says of it, which counts only where the file says nothing itself.
    camera: Option<Resolution>,
    code_points: Option<&'a [u8]>,
    profile: Option<&'a [u8]>,
    srgb: bool,
    gamma: Option<u32>,
    primaries: Option<&'a [u8]>,
}

impl<'a> Tags<'a> {
    fn take(&mut self, chunk: &Chunk<'a>) {
        let data = chunk.data();
        match (&chunk.name, data.len()) {
            (b"pHYs", 9) if !self.sized => (self.resolution, self.sized) = (per_inch(data), true),
            (b"cICP", 4) => self.code_points = self.code_points.or(Some(data)),
            (b"eXIf", _) if self.camera.is_none() => self.camera = ifd::exif(data).and_then(|exif| exif.resolution),
            (b"iCCP", _) => self.profile = self.profile.or(Some(data)),
            (b"sRGB", 1) => self.srgb = true,
            (b"gAMA", 4) => self.gamma = data.first_chunk::<4>().map(|four| u32::from_be_bytes(*four)),
            (b"cHRM", 32) => self.primaries = self.primaries.or(Some(data)),
            _ => {}
        }
    }

    /// The color tag by PNG's own order of precedence: cICP, iCCP, sRGB, cHRM with gAMA (third edition, 4.3).
    fn profile(&self, limits: &Limits) -> Profile {
        if let Some(&[primaries, transfer, _, _]) = self.code_points {
            // Primaries 1 and transfer 13 are those of sRGB (ITU-T H.273, tables 2 and 3).
            return if (primaries, transfer) == (1, 13) {
                Profile::Srgb
            } else {
                Profile::Other(format!("code points {primaries} and {transfer}"))
            };
        }
        if let Some(name) = self.profile.and_then(|data| embedded_name(data, limits)) {
            return Profile::Icc(name);
        }
        if self.srgb {
            return Profile::Srgb;
        }
        match (self.gamma.filter(|gamma| *gamma > 0), self.primaries) {
            (Some(gamma), primaries) => {
                let exponent = 100_000.0 / f64::from(gamma);
                let with = match primaries {
                    Some(data) if data == SRGB_PRIMARIES => " with sRGB primaries",
                    Some(_) => " with primaries of its own",
                    None => "",
                };
                Profile::Other(format!("gamma {exponent:.2}{with}"))
            }
            (None, Some(_)) => Profile::Other("primaries of its own".into()),
            (None, None) => Profile::Untagged,
        }
    }
}

/// White point and primaries that go with an sRGB chunk, times 100,000 (PNG third edition, 11.3.2.5): 31270, 32900,
/// 64000, 33000, 30000, 60000, 15000, 6000.
const SRGB_PRIMARIES: [u8; 32] = [
    0, 0, 0x7a, 0x26, 0, 0, 0x80, 0x84, 0, 0, 0xfa, 0, 0, 0, 0x80, 0xe8, 0, 0, 0x75, 0x30, 0, 0, 0xea, 0x60, 0, 0,
    0x3a, 0x98, 0, 0, 0x17, 0x70,
];

/// pHYs in pixels per inch; unit 0 is an aspect ratio and says no size (PNG third edition, 11.3.4.3).
fn per_inch(data: &[u8]) -> Option<Resolution> {
    let (&x, rest) = data.split_first_chunk::<4>()?;
    let (&y, unit) = rest.split_first_chunk::<4>()?;
    let (x, y) = (u32::from_be_bytes(x), u32::from_be_bytes(y));
    if unit != [1] || x == 0 || y == 0 {
        return None;
    }
    // One stored unit is 0.0254 per inch; a writer that cuts instead of rounding is off by almost one.
    Some(Resolution { x: f64::from(x) / METER_IN_INCHES, y: f64::from(y) / METER_IN_INCHES, quantum: 0.03 })
}

/// The name of the profile in an iCCP chunk: its own description, else the chunk's name for it.
fn embedded_name(data: &[u8], limits: &Limits) -> Option<String> {
    let end = data.iter().take(80).position(|byte| *byte == 0)?;
    let (keyword, rest) = data.split_at_checked(end)?;
    let unpacked = match rest {
        [0, 0, packed @ ..] => inflate_at_most(packed, limits.max_metadata),
        _ => return None,
    };
    // A profile that swells past the limit or does not unpack is still named by its keyword.
    let fallback = || Some(icc::latin(keyword)).filter(|name| !name.is_empty());
    unpacked.as_deref().and_then(icc::description).or_else(fallback)
}

/// Unpacks a zlib stream of at most `limit` bytes; `None` when it is longer or broken.
fn inflate_at_most(packed: &[u8], limit: usize) -> Option<Vec<u8>> {
    let mut unpacked = Vec::new();
    let stream = flate2::read::ZlibDecoder::new(packed);
    stream.take(limit as u64 + 1).read_to_end(&mut unpacked).ok()?;
    (unpacked.len() <= limit).then_some(unpacked)
}

/// Unpacks the pixels into `reuse`.
///
/// # Errors
/// [`Refusal::Truncated`] when the data stops before the last row, [`Refusal::Damaged`] when it cannot be unpacked.
pub(crate) fn pixels(
    bytes: &[u8],
    survey: &Survey<'_>,
    reuse: Vec<u8>,
) -> Result<(Vec<u8>, Option<Vec<u16>>), Refusal> {
    let head = bytes.get(..33).ok_or_else(|| damaged("header"))?;
    let data = bytes.get(survey.data.clone()).ok_or_else(|| damaged("picture data"))?;
    let mut options = png::DecodeOptions::default();
    // Checked for every chunk by the walk already.
    options.set_ignore_crc(true);
    let mut reader = png::Decoder::new_with_options(Spliced { head, data }, options).read_info().map_err(refused)?;

    let spread = Spread::new(survey.layout, survey.palette, survey.clear);
    let stride = survey.width as usize * 4;
    let mut rgba = sized(reuse, stride * survey.height as usize)?;
    let mut deep = if survey.layout.is_deep() { sized_deep(rgba.len())? } else { Vec::new() };
    let mut row = vec![0; survey.layout.row_bytes(survey.width)];

    if survey.meta.interlaced {
        let mut line8 = vec![0; stride];
        let mut line16 = if survey.layout.is_deep() { vec![0; stride] } else { Vec::new() };
        for pass in &ADAM7 {
            let (columns, rows) = pass.size(survey.width, survey.height);
            for line in 0..if columns == 0 { 0 } else { rows } {
                reader.read_row(&mut row).map_err(refused)?;
                let samples = columns as usize * 4;
                let packed = row.get(..survey.layout.row_bytes(columns)).unwrap_or_default();
                let y = (pass.y + line * pass.down) as usize;
                if survey.layout.is_deep() {
                    spread.deep_row(packed, &mut line8[..samples], &mut line16[..samples]);
                    pass.scatter(&line16[..samples], &mut deep[y * stride..][..stride]);
                } else {
                    spread.row(packed, &mut line8[..samples]);
                }
                pass.scatter(&line8[..samples], &mut rgba[y * stride..][..stride]);
            }
        }
    } else if survey.layout.is_deep() {
        for (target, target16) in rgba.chunks_exact_mut(stride).zip(deep.chunks_exact_mut(stride)) {
            reader.read_row(&mut row).map_err(refused)?;
            spread.deep_row(&row, target, target16);
        }
    } else if survey.layout.is_rgba8() {
        for target in rgba.chunks_exact_mut(stride) {
            reader.read_row(target).map_err(refused)?;
        }
    } else {
        for target in rgba.chunks_exact_mut(stride) {
            reader.read_row(&mut row).map_err(refused)?;
            spread.row(&row, target);
        }
    }
    Ok((rgba, survey.layout.is_deep().then_some(deep)))
}

/// One pass of interlacing: first column and row, and the steps from one pixel to the next.
struct Pass {
    x: u32,
    y: u32,
    across: u32,
    down: u32,
}

/// The seven passes (PNG third edition, 8.1).
const ADAM7: [Pass; 7] = [
    Pass { x: 0, y: 0, across: 8, down: 8 },
    Pass { x: 4, y: 0, across: 8, down: 8 },
    Pass { x: 0, y: 4, across: 4, down: 8 },
    Pass { x: 2, y: 0, across: 4, down: 4 },
    Pass { x: 0, y: 2, across: 2, down: 4 },
    Pass { x: 1, y: 0, across: 2, down: 2 },
    Pass { x: 0, y: 1, across: 1, down: 2 },
];

impl Pass {
    /// Columns and rows of the pass in a picture of these sides.
    fn size(&self, width: u32, height: u32) -> (u32, u32) {
        (width.saturating_sub(self.x).div_ceil(self.across), height.saturating_sub(self.y).div_ceil(self.down))
    }

    /// Puts a pass's pixels in their places in a row of the picture.
    fn scatter<T: Copy>(&self, line: &[T], row: &mut [T]) {
        let places = row.chunks_exact_mut(4).skip(self.x as usize).step_by(self.across as usize);
        for (place, pixel) in places.zip(line.chunks_exact(4)) {
            place.copy_from_slice(pixel);
        }
    }
}

/// Words for the decoder's refusals. It sees no bytes after the image data, so running dry always means that the data
/// itself ends too soon.
#[allow(clippy::needless_pass_by_value, reason = "the shape that map_err takes")]
fn refused(error: png::DecodingError) -> Refusal {
    match error {
        png::DecodingError::IoError(_) => Refusal::Truncated { format: Format::Png },
        png::DecodingError::Format(_) | png::DecodingError::Parameter(_) | png::DecodingError::LimitsExceeded => {
            damaged("picture data")
        }
    }
}

/// Header and image data as one stream.
struct Spliced<'a> {
    head: &'a [u8],
    data: &'a [u8],
}

impl Read for Spliced<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let count = self.fill_buf()?.read(out)?;
        self.consume(count);
        Ok(count)
    }
}

impl BufRead for Spliced<'_> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        Ok(if self.head.is_empty() { self.data } else { self.head })
    }

    fn consume(&mut self, count: usize) {
        let part = if self.head.is_empty() { &mut self.data } else { &mut self.head };
        *part = part.get(count..).unwrap_or_default();
    }
}

impl Seek for Spliced<'_> {
    fn seek(&mut self, _: SeekFrom) -> io::Result<u64> {
        // The decoder asks for the trait and never seeks.
        Err(io::ErrorKind::Unsupported.into())
    }
}
