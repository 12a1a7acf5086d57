//! TIFF to pixels: strips and tiles, chunky and planar, 1 to 16 bits, gray to inks (TIFF 6.0).
//!
//! Takes the bytes of a file and its survey, yields samples. The `tiff` crate unpacks; what samples mean is decided here,
//! since it knows neither palettes nor gray with alpha. Knows nothing of other containers.

use crate::codec::inks::{self, Sample};
use crate::codec::refusal::{Limits, Refusal, sized, sized_deep};
use crate::codec::spread::shallow;
use crate::codec::tiff_survey::{Alpha, Ink, Survey};
use crate::tile::Format;
use std::io::{self, Cursor, Read, Seek, SeekFrom};
use tiff::decoder::{Decoder, DecodingResult};

fn damaged(part: &str) -> Refusal {
    Refusal::damaged(Format::Tiff, part)
}

/// Unpacks the stored pixels into `reuse`, four samples each, and in 16 bits when they have those.
///
/// # Errors
/// [`Refusal::Truncated`] when data stops before the last row, others when it cannot be unpacked.
pub(crate) fn pixels(
    bytes: &[u8],
    survey: &Survey,
    limits: &Limits,
    reuse: Vec<u8>,
) -> Result<(Vec<u8>, Option<Vec<u16>>), Refusal> {
    let samples = survey.width as usize * survey.height as usize * 4;
    let mut rgba = sized(reuse, samples)?;
    let mut decoder = open(bytes, survey, limits)?;
    if survey.meta.bit_depth == 16 {
        let mut deep = sized_deep(samples)?;
        unpack(&mut decoder, survey, &mut deep)?;
        finish(&mut deep, survey);
        shallow(&deep, &mut rgba);
        return Ok((rgba, Some(deep)));
    }
    unpack(&mut decoder, survey, &mut rgba)?;
    match survey.ink {
        Ink::Palette => look_up(&mut rgba, survey),
        Ink::Luma => {
            let alphas = survey.alpha != Alpha::None;
            let kept: Vec<u8> = if alphas { rgba.chunks_exact(4).map(|pixel| pixel[3]).collect() } else { Vec::new() };
            inks::luma_to_rgba(&mut rgba);
            rgba.chunks_exact_mut(4).zip(kept).for_each(|(pixel, alpha)| pixel[3] = alpha);
        }
        Ink::Gray { .. } | Ink::Rgb | Ink::Cmyk => finish(&mut rgba, survey),
    }
    Ok((rgba, None))
}

/// A decoder that takes every file for gray with as many samples as it has, so that it hands them over as they are.
fn open<'a>(bytes: &'a [u8], survey: &Survey, limits: &Limits) -> Result<Decoder<Patched<'a>>, Refusal> {
    let gray = if survey.big_endian { [0, 1] } else { [1, 0] };
    let patched = Patched { inner: Cursor::new(bytes), at: survey.interpretation_at, with: gray };
    let mut allowed = tiff::decoder::Limits::default();
    let pixels = usize::try_from(limits.max_pixels).unwrap_or(usize::MAX);
    allowed.decoding_buffer_size = pixels.saturating_mul(survey.samples * 2);
    allowed.intermediate_buffer_size = bytes.len();
    allowed.ifd_value_size = limits.max_metadata;
    Ok(Decoder::new(patched).map_err(refused)?.with_limits(allowed))
}

/// Sample types that a chunk comes in.
trait Unpacked: Sample {
    fn of(result: DecodingResult) -> Option<Vec<Self>>;
}

impl Unpacked for u8 {
    fn of(result: DecodingResult) -> Option<Vec<Self>> {
        if let DecodingResult::U8(samples) = result { Some(samples) } else { None }
    }
}

impl Unpacked for u16 {
    fn of(result: DecodingResult) -> Option<Vec<Self>> {
        if let DecodingResult::U16(samples) = result { Some(samples) } else { None }
    }
}

/// Unpacks all strips or tiles; color stands in the first places of each pixel and alpha in the last.
fn unpack<T: Unpacked>(decoder: &mut Decoder<Patched<'_>>, survey: &Survey, target: &mut [T]) -> Result<(), Refusal> {
    let of_color = match survey.ink {
        Ink::Gray { .. } | Ink::Palette => 1,
        Ink::Rgb | Ink::Luma => 3,
        Ink::Cmyk => 4,
    };
    let mut places: Vec<(usize, usize)> = (0..of_color).map(|sample| (sample, sample)).collect();
    if survey.alpha != Alpha::None {
        places.push((of_color, 3));
    }
    let (across, down) = decoder.chunk_dimensions();
    if across == 0 || down == 0 {
        return Err(damaged("header"));
    }
    let (columns, rows) = (survey.width.div_ceil(across), survey.height.div_ceil(down));
    let planes = if survey.planar { survey.samples } else { 1 };
    for plane in 0..planes {
        // Of a plane there is one sample a pixel.
        let (step, taken): (usize, Vec<(usize, usize)>) = if survey.planar {
            (1, places.iter().filter(|(from, _)| *from == plane).map(|(_, to)| (0, *to)).collect())
        } else {
            (survey.samples, places.clone())
        };
        if taken.is_empty() {
            continue;
        }
        for chunk in 0..rows * columns {
            let index = plane as u32 * rows * columns + chunk;
            // A chunk may come with the padding that its tile is stored with.
            let (width, _) = decoder.chunk_data_dimensions(index);
            let (x, y) = (chunk % columns * across, chunk / columns * down);
            let (wanted, height) = (across.min(survey.width - x), down.min(survey.height - y));
            if width < wanted {
                return Err(damaged("picture data"));
            }
            let data = T::of(decoder.read_chunk(index).map_err(refused)?).ok_or_else(|| damaged("picture data"))?;
            let data = if survey.meta.bit_depth < 8 { unpacked_bits(&data, survey, width) } else { data };
            let stride = survey.width as usize * 4;
            let lines = data.chunks_exact(width as usize * step);
            if lines.len() < height as usize {
                return Err(Refusal::Truncated { format: Format::Tiff });
            }
            for (line, row) in lines.zip(target.chunks_exact_mut(stride).skip(y as usize).take(height as usize)) {
                let row = &mut row[x as usize * 4..][..wanted as usize * 4];
                for (pixel, stored) in row.chunks_exact_mut(4).zip(line.chunks_exact(step)) {
                    taken.iter().for_each(|(from, to)| pixel[*to] = stored[*from]);
                }
            }
        }
    }
    Ok(())
}

/// Samples of fewer than 8 bits, one in each; gray ones spread over the full range.
fn unpacked_bits<T: Sample>(data: &[T], survey: &Survey, width: u32) -> Vec<T> {
    let depth = u32::from(survey.meta.bit_depth);
    let mask = (1u64 << depth) - 1;
    let scale = if survey.ink == Ink::Palette { 1 } else { 255 / mask };
    let row_bytes = (width * depth).div_ceil(8) as usize;
    let mut samples = Vec::with_capacity(data.len() * (8 / depth as usize));
    for row in data.chunks_exact(row_bytes) {
        let places = row.iter().flat_map(|byte| (0..8 / depth).rev().map(move |place| byte.wide() >> (place * depth)));
        samples.extend(places.take(width as usize).map(|value| T::narrow((value & mask) * scale)));
    }
    samples
}

/// Turns samples in their places into straight RGBA.
fn finish<T: Sample>(samples: &mut [T], survey: &Survey) {
    let full = T::narrow(T::FULL);
    if let Ink::Gray { reversed } = survey.ink {
        for pixel in samples.chunks_exact_mut(4) {
            let gray = if reversed { T::narrow(T::FULL - pixel[0].wide()) } else { pixel[0] };
            pixel[..3].fill(gray);
        }
    }
    if survey.ink == Ink::Cmyk {
        inks::inks_to_rgba(samples);
    } else if survey.alpha == Alpha::None {
        samples.chunks_exact_mut(4).for_each(|pixel| pixel[3] = full);
    }
    if survey.alpha == Alpha::Associated {
        inks::unmultiply(samples);
    }
}

/// Places in the color map to its colors, which have 16 bits (TIFF 6.0, section 5). Writers fill them from 8 bits by
/// times 257 or times 256; the high byte is right for both.
fn look_up(samples: &mut [u8], survey: &Survey) {
    let size = 1usize << survey.meta.bit_depth;
    let color = |channel: usize, place: u8| {
        let color = survey.colors.get(channel * size + usize::from(place));
        color.map_or(0, |color| (color >> 8) as u8)
    };
    for pixel in samples.chunks_exact_mut(4) {
        let place = pixel[0];
        pixel.copy_from_slice(&[color(0, place), color(1, place), color(2, place), 255]);
    }
}

fn refused(error: tiff::TiffError) -> Refusal {
    match error {
        tiff::TiffError::IoError(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
            Refusal::Truncated { format: Format::Tiff }
        }
        tiff::TiffError::UnsupportedError(_) => Refusal::unsupported(Format::Tiff, "a rare way of coding"),
        tiff::TiffError::LimitsExceeded => Refusal::unsupported(Format::Tiff, "pieces of unusual size"),
        _ => damaged("picture data"),
    }
}

/// A file in which one 16-bit number reads differently.
struct Patched<'a> {
    inner: Cursor<&'a [u8]>,
    at: u64,
    with: [u8; 2],
}

impl Read for Patched<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let from = self.inner.position();
        let count = self.inner.read(out)?;
        for (place, byte) in (self.at..).zip(self.with) {
            let inside = place.checked_sub(from).and_then(|place| usize::try_from(place).ok());
            if let Some(target) = inside.filter(|place| *place < count).and_then(|place| out.get_mut(place)) {
                *target = byte;
            }
        }
        Ok(count)
    }
}

impl Seek for Patched<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.inner.seek(to)
    }
}
