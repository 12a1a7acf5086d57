//! PNG to pixels: every color type, depth, interlacing and kind of clear color (PNG third edition).
//!
//! Takes the bytes of a file and its survey, yields samples. Only image data reaches the `png` crate, so compressed text
//! and profiles cannot swell here.

use crate::codec::adam7::{ADAM7, unpacked_bytes};
use crate::codec::png_survey::{Survey, damaged};
use crate::codec::refusal::{Refusal, sized, sized_deep};
use crate::codec::spread::Spread;
use crate::tile::Format;
use std::io::{self, BufRead, Read, Seek, SeekFrom};

/// Unpacks the pixels into `reuse`.
///
/// # Errors
/// [`Refusal::Truncated`] when the data stops before the last row, [`Refusal::Damaged`] when it cannot be unpacked.
pub(crate) fn pixels(
    bytes: &[u8],
    survey: &Survey<'_>,
    reuse: Vec<u8>,
) -> Result<(Vec<u8>, Option<Vec<u16>>), Refusal> {
    let (mut reader, data) = opened(bytes, survey)?;
    let refused = |_| refused(data, survey);
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

/// The chunk that ends a picture, with its checksum (PNG third edition, 11.2.5).
const END: [u8; 12] = *b"\0\0\0\0IEND\xae\x42\x60\x82";

/// A decoder at the first row, and the image data it reads from.
fn opened<'a>(bytes: &'a [u8], survey: &Survey<'_>) -> Result<(png::Reader<Spliced<'a>>, &'a [u8]), Refusal> {
    let head = bytes.get(..33).ok_or_else(|| damaged("header"))?;
    let data = bytes.get(survey.data.clone()).ok_or_else(|| damaged("picture data"))?;
    let mut options = png::DecodeOptions::default();
    // Checked for every chunk by the walk already.
    options.set_ignore_crc(true);
    // The decoder hands out its last rows only when it sees what follows the image data.
    let stream = Spliced { parts: [head, data, &END] };
    let reader = png::Decoder::new_with_options(stream, options).read_info().map_err(|_| refused(data, survey))?;
    Ok((reader, data))
}

/// Hands on the rows of a picture that is not stored in passes: number, 8 bits, and 16 bits where the file has them.
///
/// # Errors
/// As [`pixels`], a refusal of pictures stored in passes, and what `visit` returns.
pub(crate) fn rows<E: From<Refusal>>(
    bytes: &[u8],
    survey: &Survey<'_>,
    mut visit: impl FnMut(u32, &[u8], Option<&[u16]>) -> Result<(), E>,
) -> Result<(), E> {
    if survey.meta.interlaced {
        return Err(damaged("interlacing").into());
    }
    let (mut reader, data) = opened(bytes, survey)?;
    let refused = |_| refused(data, survey);
    let spread = Spread::new(survey.layout, survey.palette, survey.clear);
    let stride = survey.width as usize * 4;
    let mut shallow = vec![0; stride];
    let mut deep = if survey.layout.is_deep() { vec![0; stride] } else { Vec::new() };
    let mut row = vec![0; survey.layout.row_bytes(survey.width)];
    for y in 0..survey.height {
        if survey.layout.is_rgba8() {
            reader.read_row(&mut shallow).map_err(refused)?;
            visit(y, &shallow, None)?;
            continue;
        }
        reader.read_row(&mut row).map_err(refused)?;
        if survey.layout.is_deep() {
            spread.deep_row(&row, &mut shallow, &mut deep);
            visit(y, &shallow, Some(&deep))?;
        } else {
            spread.row(&row, &mut shallow);
            visit(y, &shallow, None)?;
        }
    }
    Ok(())
}

/// Words for the decoder's refusals: whether the data ends too soon or is broken.
fn refused(data: &[u8], survey: &Survey<'_>) -> Refusal {
    if runs_dry(data, survey) { Refusal::Truncated { format: Format::Png } } else { damaged("picture data") }
}

/// Whether the zlib stream in the image data is sound as far as it goes and holds too few bytes for all rows.
fn runs_dry(data: &[u8], survey: &Survey<'_>) -> bool {
    let needed = unpacked_bytes(survey.layout, survey.width, survey.height, survey.meta.interlaced);
    let mut coder = flate2::Decompress::new(true);
    let mut sink = vec![0; 1 << 16];
    let mut rest = data;
    while let Some((head, body)) = rest.split_first_chunk::<8>() {
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let mut packed = body.get(..length).unwrap_or_default();
        rest = body.get(length.saturating_add(4)..).unwrap_or_default();
        loop {
            let (before_in, before_out) = (coder.total_in(), coder.total_out());
            match coder.decompress(packed, &mut sink, flate2::FlushDecompress::None) {
                Err(_) => return false,
                Ok(flate2::Status::StreamEnd) => return coder.total_out() < needed,
                Ok(_) => {}
            }
            packed = packed.get((coder.total_in() - before_in) as usize..).unwrap_or_default();
            if coder.total_out() >= needed {
                return false;
            }
            if coder.total_in() == before_in && coder.total_out() == before_out {
                break;
            }
        }
    }
    true
}

/// Header, image data and end as one stream.
struct Spliced<'a> {
    parts: [&'a [u8]; 3],
}

impl Spliced<'_> {
    /// The part that is being read.
    fn current(&self) -> usize {
        self.parts.iter().position(|part| !part.is_empty()).unwrap_or(2)
    }
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
        Ok(self.parts[self.current()])
    }

    fn consume(&mut self, count: usize) {
        let part = &mut self.parts[self.current()];
        *part = part.get(count..).unwrap_or_default();
    }
}

impl Seek for Spliced<'_> {
    fn seek(&mut self, _: SeekFrom) -> io::Result<u64> {
        // The decoder asks for the trait and never seeks.
        Err(io::ErrorKind::Unsupported.into())
    }
}
