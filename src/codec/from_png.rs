//! PNG to pixels: every color type, depth, interlacing and kind of clear color (PNG third edition).
//!
//! Takes the bytes of a file and its survey, yields samples. Only image data reaches the `png` crate, so compressed text
//! and profiles cannot swell here.

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
