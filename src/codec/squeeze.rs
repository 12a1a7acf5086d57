//! Packed rows to the image data of a PNG: filter and effort chosen by trial on a few bands.
//!
//! Flat art goes through deflate in strips of fixed height, which threads share and whose bytes do not depend on them;
//! noisy art goes through the `png` crate's fast coder, where effort buys nothing. Knows nothing of other chunks.

use crate::codec::chunks;
use crate::codec::overlay::Scratch;
use crate::codec::pack::Packing;
use flate2::{Compress, Compression, FlushCompress, Status};
use rayon::prelude::*;
use std::io::Write;
use std::ops::Range;
use thiserror::Error;
use zlib_rs::adler32::{adler32, adler32_combine};

/// Why pixels could not be squeezed.
#[derive(Debug, Error)]
pub enum SqueezeError {
    /// Deflate refused.
    #[error("cannot compress the picture: {0}")]
    Deflate(#[from] flate2::CompressError),
    /// The PNG encoder refused.
    #[error("cannot compress the picture: {0}")]
    Png(#[from] png::EncodingError),
}

/// Raw bytes of one strip: enough that starting afresh costs next to nothing, small enough for several threads.
const STRIP: usize = 4 << 20;

/// Level of deflate in strips. Past it, on flat art, a kilobyte saved takes longer than it takes to send at 20 Mbit/s.
const LEVEL: u32 = 4;

/// Bytes of image data in a chunk of the `png` crate's.
const CHUNK: usize = 1 << 20;

/// Bands tried, and rows of each.
const BANDS: usize = 6;
const BAND_ROWS: usize = 8;

/// A picture whose trial bands shrink to more than this share is noisy: deflate would take ten times as long as the fast
/// coder to save a few percent.
const NOISY: f64 = 0.2;

/// How a row is told from the one above (PNG third edition, 9.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Filter {
    None,
    Up,
}

/// A way to squeeze, in rising effort.
#[derive(Clone, Copy, Debug)]
enum Way {
    Strips(Filter),
    Fast,
    Adaptive(u8),
}

/// IDAT chunks, whole, holding all rows; of at most `ceiling` bytes if any way that is tried gets there.
///
/// # Errors
/// When a coder refuses, which valid rows do not provoke.
pub(crate) fn squeeze(rows: &Packing<'_>, ceiling: Option<usize>) -> Result<Vec<u8>, SqueezeError> {
    let (filter, share) = trial(rows)?;
    // Rows as they are, in stored blocks of at most 65,535 bytes: no way is worth more.
    let raw = rows.height() * (rows.row_bytes() + 1);
    let ceiling = ceiling.unwrap_or(usize::MAX).min(raw + raw / 1000 + 1024);
    // The second way is the better one where the first was a compromise.
    let ways = if share > NOISY {
        [Way::Fast, Way::Strips(filter), Way::Adaptive(6), Way::Adaptive(9)]
    } else {
        [Way::Strips(filter), Way::Adaptive(4), Way::Adaptive(6), Way::Adaptive(9)]
    };
    let mut best: Option<Vec<u8>> = None;
    for way in ways {
        let data = match way {
            Way::Strips(filter) => in_strips(rows, filter)?,
            Way::Fast => by_crate(rows, png::DeflateCompression::FdeflateUltraFast)?,
            Way::Adaptive(level) => by_crate(rows, png::DeflateCompression::Level(level))?,
        };
        if best.as_ref().is_none_or(|best| data.len() < best.len()) {
            best = Some(data);
        }
        if best.as_ref().is_some_and(|best| best.len() <= ceiling) {
            break;
        }
    }
    Ok(best.unwrap_or_default())
}

/// The better filter, and the share to which the bands shrink with it.
fn trial(rows: &Packing<'_>) -> Result<(Filter, f64), SqueezeError> {
    let height = rows.height();
    let (count, size) = if height <= BANDS * BAND_ROWS { (1, height) } else { (BANDS, BAND_ROWS) };
    // In the middle of equal parts; a single band is the whole.
    let bands = (0..count).map(|band| (height * (2 * band + 1) / (2 * count)).saturating_sub(size / 2));
    let (mut raw, mut none, mut up) = (0, 0, 0);
    for (index, start) in bands.enumerate() {
        for (filter, total) in [(Filter::None, &mut none), (Filter::Up, &mut up)] {
            *total += deflated(&filtered(rows, start..start + size, filter), false)?.len();
        }
        raw += size * (rows.row_bytes() + 1);
        // Noise shows at once and is slow to deflate.
        if index > 0 && none.min(up) * 2 > raw {
            break;
        }
    }
    // On a tie the filter that is undone for free.
    let (filter, size) = if none <= up { (Filter::None, none) } else { (Filter::Up, up) };
    Ok((filter, size as f64 / raw.max(1) as f64))
}

/// Rows with their filter bytes.
fn filtered(rows: &Packing<'_>, range: Range<usize>, filter: Filter) -> Vec<u8> {
    let (mut scratch, mut scratch_above) = (Scratch::default(), Scratch::default());
    let mut lines = Vec::with_capacity(range.len() * (rows.row_bytes() + 1));
    for y in range {
        let row = rows.row(y, &mut scratch);
        match (filter, y.checked_sub(1)) {
            (Filter::None, _) => {
                lines.push(0);
                lines.extend_from_slice(row);
            }
            (Filter::Up, None) => {
                lines.push(2);
                lines.extend_from_slice(row);
            }
            (Filter::Up, Some(above)) => {
                lines.push(2);
                let above = rows.row(above, &mut scratch_above);
                lines.extend(row.iter().zip(above).map(|(byte, above)| byte.wrapping_sub(*above)));
            }
        }
    }
    lines
}

/// One zlib stream of strips (RFC 1950), an IDAT chunk for each.
fn in_strips(rows: &Packing<'_>, filter: Filter) -> Result<Vec<u8>, SqueezeError> {
    let height = rows.height();
    let strip_rows = (STRIP / (rows.row_bytes() + 1)).max(1);
    let starts: Vec<usize> = (0..height).step_by(strip_rows).collect();
    let strips: Vec<(Vec<u8>, u32, u64)> = starts
        .into_par_iter()
        .map(|start| {
            let end = (start + strip_rows).min(height);
            let lines = filtered(rows, start..end, filter);
            Ok((deflated(&lines, end == height)?, adler32(1, &lines), lines.len() as u64))
        })
        .collect::<Result<_, flate2::CompressError>>()?;

    let mut out = Vec::with_capacity(strips.iter().map(|(data, ..)| data.len() + 12).sum::<usize>() + 6);
    // Deflate with a window of 32 KiB; the second byte says a fast level and makes the pair a multiple of 31.
    let mut piece = vec![0x78, 0x5e];
    let (mut checksum, count) = (1, strips.len());
    for (index, (data, strip_checksum, length)) in strips.into_iter().enumerate() {
        checksum = adler32_combine(checksum, strip_checksum, length);
        piece.extend_from_slice(&data);
        if index + 1 == count {
            piece.extend_from_slice(&checksum.to_be_bytes());
        }
        chunks::append(&mut out, *b"IDAT", &piece);
        piece.clear();
    }
    Ok(out)
}

/// Raw deflate, ended on a byte: by its end mark when `last`, else by an empty block (RFC 1951, 3.2.4).
fn deflated(input: &[u8], last: bool) -> Result<Vec<u8>, flate2::CompressError> {
    let mut coder = Compress::new(Compression::new(LEVEL), false);
    let mut out = Vec::with_capacity(input.len() / 16 + 1024);
    let flush = if last { FlushCompress::Finish } else { FlushCompress::Sync };
    loop {
        let rest = input.get(coder.total_in() as usize..).unwrap_or_default();
        let status = coder.compress_vec(rest, &mut out, flush)?;
        let room_left = out.len() < out.capacity();
        if status == Status::StreamEnd || (!last && room_left && coder.total_in() == input.len() as u64) {
            return Ok(out);
        }
        out.reserve(out.len().max(64 << 10));
    }
}

/// The IDAT chunks that the `png` crate makes with its adaptive filter.
fn by_crate(rows: &Packing<'_>, effort: png::DeflateCompression) -> Result<Vec<u8>, SqueezeError> {
    let mut file = Vec::new();
    let (width, height) = rows.sides();
    let mut encoder = png::Encoder::new(&mut file, width, height);
    let (color, depth) = rows.layout.for_crate();
    encoder.set_color(color);
    encoder.set_depth(depth);
    if let Some(palette) = &rows.palette {
        encoder.set_palette(palette.plte());
    }
    encoder.set_deflate_compression(effort);
    encoder.set_filter(png::Filter::Adaptive);
    // Row by row: a second picture in memory would cost more than a tenth of the whole mend of a noisy tile.
    let mut scratch = Scratch::default();
    let mut writer = encoder.write_header()?;
    let mut stream = writer.stream_writer_with_size(CHUNK)?;
    for y in 0..rows.height() {
        stream.write_all(rows.row(y, &mut scratch)).map_err(png::EncodingError::from)?;
    }
    stream.finish()?;
    writer.finish()?;
    // The image data stands in one run.
    let places = || chunks::walk(&file).into_iter().flatten().filter(|chunk| &chunk.name == b"IDAT");
    let (start, end) = (places().map(|chunk| chunk.offset).min(), places().map(|chunk| chunk.end()).max());
    file.truncate(end.unwrap_or_default());
    file.drain(..start.unwrap_or_default());
    Ok(file)
}
