//! A mended tile back to PNG, with everything its original says about itself.
//!
//! Takes the original's bytes and the tile, yields a whole file, the same bytes every time. Knows nothing of mending.

use crate::codec::carry::survives;
use crate::codec::chunks::{self, Chunk, Ending};
use crate::codec::embedded::{icc_profile, suits};
use crate::codec::overlay::Overlay;
use crate::codec::pack::{Origin, Packing, Pixels};
use crate::codec::retag::dimensions;
use crate::codec::spread::Layout;
use crate::codec::squeeze::{SqueezeError, squeeze};
use crate::tile::{Profile, Tile};
use std::io::Write;
use thiserror::Error;

/// The most bytes of metadata that are carried over.
pub const MOST_METADATA: usize = 64 << 20;

/// Why a mended tile could not be written.
#[derive(Debug, Error)]
pub enum EncodeError {
    /// The pixels could not be squeezed.
    #[error(transparent)]
    Squeeze(#[from] SqueezeError),
    /// A profile could not be squeezed.
    #[error("cannot compress the color profile: {0}")]
    Profile(#[from] std::io::Error),
    /// The original is no whole PNG though it starts as one.
    #[error("the original is not a whole PNG, so its metadata cannot be carried over: export the tile again")]
    NotWhole,
    /// The tile's sides are not the original's.
    #[error("the tile is {0} x {1} pixels and the original is not: only pixels may change, never the size")]
    OtherSides(u32, u32),
    /// PNG cannot say the resolution.
    #[error("PNG cannot say {0} pixels per inch: give a resolution between 1 and 54 million")]
    Resolution(f64),
    /// More metadata than is carried.
    #[error(
        "the original holds {0} bytes beside its pixels, more than the {MOST_METADATA} that are carried over: export the \
         tile without embedded extras"
    )]
    Metadata(usize),
}

/// Writes `tile` as PNG, never larger than 1.1 times a PNG original if any of several ways gets there.
///
/// A PNG original keeps its layout, depth and every chunk that outlives a change of pixels, each where it stood. Another
/// original becomes a fresh PNG with its color profile and resolution. `resolution` in pixels per inch replaces the
/// original's.
///
/// # Errors
/// See [`EncodeError`].
pub fn encode_mended(original: &[u8], tile: &Tile, resolution: Option<f64>) -> Result<Vec<u8>, EncodeError> {
    encode_laid(original, tile, None, resolution)
}

/// The same with changes laid over the tile's pixels on their way into the file.
///
/// # Errors
/// See [`EncodeError`].
pub fn encode_laid(
    original: &[u8],
    tile: &Tile,
    overlay: Option<&dyn Overlay>,
    resolution: Option<f64>,
) -> Result<Vec<u8>, EncodeError> {
    let pixels = Pixels { tile, overlay };
    let tag = match resolution {
        Some(per_inch) => Some(dimensions(per_inch).ok_or(EncodeError::Resolution(per_inch))?),
        None => None,
    };
    match chunks::walk(original) {
        Some(walk) => rewritten(Some(original.len()), walk, pixels, tag),
        None => fresh(original, pixels, tag),
    }
}

/// Writes `tile`, made of the original's art but of sides of its own, as PNG: layout, depth and everything that is said
/// beside the pixels are kept as [`encode_mended`] keeps them; of the size nothing is promised.
///
/// # Errors
/// See [`EncodeError`].
pub fn encode_derived(original: &[u8], tile: &Tile) -> Result<Vec<u8>, EncodeError> {
    let pixels = Pixels { tile, overlay: None };
    match chunks::walk(original) {
        Some(walk) => rewritten(None, walk, pixels, None),
        None => fresh(original, pixels, None),
    }
}

fn header(tile: &Tile, layout: Layout) -> [u8; 13] {
    let [a, b, c, d] = tile.raster.width().to_be_bytes();
    let [e, f, g, h] = tile.raster.height().to_be_bytes();
    let (color, depth) = layout.codes();
    [a, b, c, d, e, f, g, h, depth, color, 0, 0, 0]
}

/// A PNG original with other pixels. `size` is that of the file, when the new one may be little larger and has its sides.
fn rewritten(
    size: Option<usize>,
    mut walk: chunks::Walk<'_>,
    pixels: Pixels<'_>,
    tag: Option<[u8; 9]>,
) -> Result<Vec<u8>, EncodeError> {
    let tile = pixels.tile;
    let parts: Vec<Chunk<'_>> = walk.by_ref().collect();
    if walk.ending() != Ending::Complete {
        return Err(EncodeError::NotWhole);
    }
    let find = |name: &[u8; 4]| parts.iter().find(|chunk| &chunk.name == name).map(Chunk::data);
    let old_header = find(b"IHDR").ok_or(EncodeError::NotWhole)?;
    let sides = header(tile, Layout::plain(false, true, 8));
    let (Some(old_sides), Some(&[depth, color])) = (old_header.get(..8), old_header.get(8..10)) else {
        return Err(EncodeError::NotWhole);
    };
    if size.is_some() && !sides.starts_with(old_sides) {
        return Err(EncodeError::OtherSides(tile.raster.width(), tile.raster.height()));
    }
    let old = Layout::new(color, depth).ok_or(EncodeError::NotWhole)?;
    let alphas = find(b"tRNS").unwrap_or_default().iter().copied().chain(std::iter::repeat(255));
    let colors = find(b"PLTE").unwrap_or_default().chunks_exact(3).zip(alphas);
    let colors = colors.map(|(color, alpha)| [color[0], color[1], color[2], alpha]).collect();
    // A palette picture's background is a place in the palette.
    let pinned = find(b"bKGD").and_then(|data| data.first().copied());
    let rows = Packing::choose(pixels, &Origin { channels: tile.meta.channels, layout: Some(old), colors, pinned });
    let same_layout = rows.layout == old;

    let carried = parts.iter().filter(|chunk| survives(chunk, same_layout)).map(|chunk| chunk.whole.len()).sum();
    if carried > MOST_METADATA {
        return Err(EncodeError::Metadata(carried));
    }
    let ceiling = size.map(|size| (size + size / 10).saturating_sub(carried + 100));
    let mut data = squeeze(&rows, ceiling)?;

    let tagged_before = parts.iter().take_while(|chunk| &chunk.name != b"IDAT").any(|chunk| &chunk.name == b"pHYs");
    let mut tag = tag.map(|tag| chunks::build(*b"pHYs", &tag));
    let retagged = tag.is_some();
    let mut out = chunks::SIGNATURE.to_vec();
    let mut data_written = false;
    for chunk in &parts {
        match &chunk.name {
            b"IHDR" => chunks::append(&mut out, *b"IHDR", &header(tile, rows.layout)),
            b"PLTE" => match &rows.palette {
                Some(palette) => {
                    chunks::append(&mut out, *b"PLTE", &palette.plte());
                    let alphas = palette.trns();
                    if !alphas.is_empty() {
                        chunks::append(&mut out, *b"tRNS", &alphas);
                    }
                }
                // In a true-color picture it is a suggestion for poor screens.
                None if same_layout => out.extend_from_slice(chunk.whole),
                None => {}
            },
            b"pHYs" if retagged && tagged_before => out.extend(tag.take().unwrap_or_default()),
            b"pHYs" if retagged => {}
            b"IDAT" => {
                if !data_written {
                    out.extend(tag.take().unwrap_or_default());
                    out = behind(out, std::mem::take(&mut data));
                }
                data_written = true;
            }
            b"IEND" => chunks::append(&mut out, *b"IEND", &[]),
            _ if survives(chunk, same_layout) => out.extend_from_slice(chunk.whole),
            _ => {}
        }
    }
    Ok(out)
}

/// A PNG for an original of another kind. No time is written, so that the same tile gives the same bytes.
fn fresh(original: &[u8], pixels: Pixels<'_>, tag: Option<[u8; 9]>) -> Result<Vec<u8>, EncodeError> {
    let tile = pixels.tile;
    let origin = Origin { channels: tile.meta.channels, layout: None, colors: Vec::new(), pinned: None };
    let rows = Packing::choose(pixels, &origin);
    let data = squeeze(&rows, None)?;
    let mut out = chunks::SIGNATURE.to_vec();
    chunks::append(&mut out, *b"IHDR", &header(tile, rows.layout));
    match icc_profile(original).filter(|profile| suits(profile, rows.layout.codes().0)) {
        Some(profile) if profile.len() > MOST_METADATA => return Err(EncodeError::Metadata(profile.len())),
        Some(profile) => {
            // Name, its end, compression method 0 (PNG third edition, 11.3.2.3).
            let mut packed = flate2::write::ZlibEncoder::new(b"profile\0\0".to_vec(), flate2::Compression::best());
            packed.write_all(&profile)?;
            chunks::append(&mut out, *b"iCCP", &packed.finish()?);
        }
        None if tile.meta.profile == Profile::Srgb => {
            // Relative colorimetric, with the gamma for readers that do not know the tag (PNG third edition, 11.3.2.5).
            chunks::append(&mut out, *b"sRGB", &[1]);
            chunks::append(&mut out, *b"gAMA", &45_455u32.to_be_bytes());
        }
        None => {}
    }
    if let Some(tag) = tag.or_else(|| own_dimensions(tile)) {
        chunks::append(&mut out, *b"pHYs", &tag);
    }
    out = behind(out, data);
    chunks::append(&mut out, *b"IEND", &[]);
    Ok(out)
}

/// What stands before the image data and the data behind it, in the memory of the data: to move it costs a tenth of having
/// fresh memory for it.
fn behind(head: Vec<u8>, mut data: Vec<u8>) -> Vec<u8> {
    data.splice(0..0, head);
    data
}

/// The tile's own resolution, each direction for itself.
fn own_dimensions(tile: &Tile) -> Option<[u8; 9]> {
    let resolution = tile.meta.resolution?;
    let mut tag = dimensions(resolution.x)?;
    let down = dimensions(resolution.y)?;
    tag[4..8].copy_from_slice(&down[4..8]);
    Some(tag)
}
