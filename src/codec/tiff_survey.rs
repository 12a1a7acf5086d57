//! What a TIFF's first directory says: sides, samples, how they are to be taken, tags (TIFF 6.0).
//!
//! Takes the bytes of a file, yields a survey and refuses what cannot be decoded. Unpacks no pixel.

use crate::codec::completeness;
use crate::codec::icc;
use crate::codec::ifd::{self, Directory, MOST_DIRECTORIES, Tags};
use crate::codec::refusal::{Limits, Refusal};
use crate::codec::{from_jpeg, markers};
use crate::tile::{Channels, Format, Meta, Profile};
use std::collections::BTreeSet;

/// The most samples of a pixel that are looked at.
const MOST_SAMPLES: usize = 64;

/// How stored samples become color.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Gray; 0 is white when reversed.
    Gray { reversed: bool },
    /// Red, green, blue.
    Rgb,
    /// Places in a color map.
    Palette,
    /// Cyan, magenta, yellow, black.
    Cmyk,
    /// Luma and two chromas.
    Luma,
}

/// What alpha means, if there is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Alpha {
    /// None.
    None,
    /// Color is stored as it is.
    Straight,
    /// Color is stored multiplied by alpha.
    Associated,
}

/// The survey.
#[derive(Clone, Debug)]
pub(crate) struct Survey {
    /// Stored pixels across.
    pub(crate) width: u32,
    /// Stored pixels down.
    pub(crate) height: u32,
    pub(crate) meta: Meta,
    /// 1 to 8.
    pub(crate) orientation: u8,
    pub(crate) ink: Ink,
    pub(crate) alpha: Alpha,
    /// Samples stored for each pixel.
    pub(crate) samples: usize,
    /// Whether each sample has a plane of its own.
    pub(crate) planar: bool,
    /// Reds, then greens, then blues of the color map, 16 bits each.
    pub(crate) colors: Vec<u16>,
    /// Where the file says how samples become color.
    pub(crate) interpretation_at: u64,
    pub(crate) big_endian: bool,
}

fn damaged(part: &str) -> Refusal {
    Refusal::damaged(Format::Tiff, part)
}

fn unsupported(what: &str) -> Refusal {
    Refusal::unsupported(Format::Tiff, what)
}

/// Reads the first directory and counts the others.
///
/// # Errors
/// Every way in which a TIFF can be refused without unpacking it.
pub(crate) fn survey(bytes: &[u8], limits: &Limits) -> Result<Survey, Refusal> {
    let truncated = || Refusal::Truncated { format: Format::Tiff };
    let (tags, first) = Tags::open(bytes).ok_or_else(truncated)?;
    let directory = tags.directory(first).ok_or_else(truncated)?;
    let number = |tag| directory.first(&tags, tag);
    let side = |tag| number(tag).and_then(|side| u32::try_from(side).ok()).filter(|side| *side > 0);
    let (width, height) = side(256).zip(side(257)).ok_or_else(|| damaged("header"))?;
    limits.admit_sides(width, height)?;
    if !completeness::tiff(bytes) {
        return Err(truncated());
    }

    let samples = usize::try_from(number(277).unwrap_or(1)).unwrap_or(usize::MAX);
    if samples > MOST_SAMPLES {
        return Err(unsupported("an unusual number of channels"));
    }
    let depth = depth(&tags, &directory, samples)?;
    let interpretation = directory.find(262).ok_or_else(|| damaged("header"))?;
    let ink = match tags.numbers(interpretation).next() {
        Some(value @ 0..=1) => Ink::Gray { reversed: value == 0 },
        Some(2) => Ink::Rgb,
        Some(3) => Ink::Palette,
        Some(5) => Ink::Cmyk,
        Some(6) if number(259) == Some(7) => Ink::Luma,
        Some(8..=10) => return Err(unsupported("Lab colors")),
        _ => return Err(unsupported("an unusual way of storing color")),
    };
    let colors = match directory.find(320) {
        Some(map) if ink == Ink::Palette => tags.numbers(map).take(3 << 8).map(|value| value as u16).collect(),
        _ => Vec::new(),
    };
    let of_color = match ink {
        Ink::Gray { .. } | Ink::Palette => 1,
        Ink::Rgb | Ink::Luma => 3,
        Ink::Cmyk => 4,
    };
    if samples < of_color || (depth < 8 && samples > 1) {
        return Err(unsupported("an unusual number of channels"));
    }
    if depth == 16 && matches!(ink, Ink::Palette | Ink::Luma) {
        return Err(unsupported("a palette or luma in 16 bits"));
    }
    if ink == Ink::Palette && colors.len() < 3 << depth {
        return Err(damaged("palette"));
    }
    let alpha = alpha(&tags, &directory, ink, samples - of_color);
    let channels = match (ink, alpha) {
        (Ink::Gray { .. }, Alpha::None) => Channels::Gray,
        (Ink::Gray { .. }, _) => Channels::GrayAlpha,
        (Ink::Rgb | Ink::Luma, Alpha::None) => Channels::Rgb,
        (Ink::Rgb | Ink::Luma, _) => Channels::Rgba,
        (Ink::Palette, _) => Channels::Palette,
        (Ink::Cmyk, _) => Channels::Cmyk,
    };
    let compression = number(259).unwrap_or(1);
    let planar = number(284) == Some(2);
    if compression == 7 {
        admit_coded_pieces(bytes, &tags, &directory, (width, height))?;
    } else if compression == 1 {
        let row = (u64::from(width) * samples as u64 * u64::from(depth)).div_ceil(8);
        if stored_bytes(&tags, &directory).is_some_and(|stored| stored < row * u64::from(height)) {
            return Err(truncated());
        }
    }
    let profile = match directory.find(34_675).and_then(ifd::Entry::bytes).filter(|bytes| !bytes.is_empty()) {
        Some(profile) => Profile::Icc(icc::description(profile).unwrap_or_else(|| "unnamed profile".into())),
        None => Profile::Untagged,
    };
    let meta = Meta {
        format: Format::Tiff,
        bytes: bytes.len() as u64,
        channels,
        bit_depth: depth,
        resolution: directory.resolution(&tags),
        profile,
        interlaced: false,
        frames: 1,
        pages: pages(&tags, first, &directory)?,
        lossy: matches!(compression, 6 | 7),
    };
    Ok(Survey {
        width,
        height,
        meta,
        orientation: directory.orientation(&tags),
        ink,
        alpha,
        samples,
        planar,
        colors,
        interpretation_at: interpretation.held_at(),
        big_endian: tags.is_big_endian(),
    })
}

/// Bits of a sample, the same for all (tag 258), of unsigned numbers (tag 339).
fn depth(tags: &Tags<'_>, directory: &Directory<'_>, samples: usize) -> Result<u8, Refusal> {
    let depths: Vec<u64> =
        directory.find(258).map_or_else(|| vec![1], |entry| tags.numbers(entry).take(samples).collect());
    let first = depths.first().copied().ok_or_else(|| damaged("header"))?;
    if depths.iter().any(|depth| *depth != first) {
        return Err(unsupported("channels of different depths"));
    }
    let kinds = directory.find(339).map_or_else(Vec::new, |entry| tags.numbers(entry).take(samples).collect());
    match kinds.iter().find(|kind| **kind != 1) {
        None | Some(4) => {}
        Some(2) => return Err(unsupported("signed numbers instead of colors")),
        Some(3) => return Err(unsupported("floating-point numbers, 16 or 32 bits each")),
        Some(_) => return Err(unsupported("an unusual kind of number")),
    }
    match first {
        1 | 2 | 4 | 8 | 16 => Ok(first as u8),
        _ => Err(unsupported("samples of an unusual depth")),
    }
}

/// The first sample beyond color, by tag 338: 0 is no alpha, 1 associated, 2 straight (TIFF 6.0, section 18). A file that
/// has one such sample and no tag means straight alpha, as common readers take it.
fn alpha(tags: &Tags<'_>, directory: &Directory<'_>, ink: Ink, extra: usize) -> Alpha {
    if extra == 0 || matches!(ink, Ink::Cmyk | Ink::Palette) {
        return Alpha::None;
    }
    match directory.find(338).map(|entry| tags.numbers(entry).next()) {
        Some(Some(1)) => Alpha::Associated,
        Some(Some(2)) => Alpha::Straight,
        Some(_) => Alpha::None,
        None if extra == 1 => Alpha::Straight,
        None => Alpha::None,
    }
}

/// Full pictures in the chain; reduced copies and masks do not count (tag 254, bits 0 and 2).
fn pages(tags: &Tags<'_>, first_at: u64, first: &Directory<'_>) -> Result<u32, Refusal> {
    let (mut pages, mut next, mut met) = (1u32, first.next, BTreeSet::from([first_at]));
    for _ in 1..MOST_DIRECTORIES {
        let Some(directory) = (next != 0).then(|| tags.directory(next)).flatten() else { break };
        if !met.insert(next) {
            return Err(damaged("list of pages"));
        }
        if directory.first(tags, 254).unwrap_or(0) & 0b101 == 0 {
            pages += 1;
        }
        next = directory.next;
    }
    Ok(pages)
}

/// Bytes of all strips or tiles; `None` when the file does not count them.
fn stored_bytes(tags: &Tags<'_>, directory: &Directory<'_>) -> Option<u64> {
    let counts = directory.find(279).or_else(|| directory.find(325))?;
    Some(tags.numbers(counts).fold(0, u64::saturating_add))
}

/// A JPEG inside a strip or tile has sides of its own, which may not be larger than the strip or tile: 65535 x 65535
/// pixels would fit into a few bytes.
fn admit_coded_pieces(
    bytes: &[u8],
    tags: &Tags<'_>,
    directory: &Directory<'_>,
    sides: (u32, u32),
) -> Result<(), Refusal> {
    let side = |tag, whole: u32| directory.first(tags, tag).map_or(u64::from(whole), |side| side.min(1 << 31));
    let (across, down) = match directory.find(322) {
        Some(_) => (side(322, sides.0), side(323, sides.1)),
        None => (u64::from(sides.0), side(278, sides.1).min(u64::from(sides.1))),
    };
    // Room for whole blocks of 16 x 16, which some writers count in.
    let (across, down) = (across.next_multiple_of(16), down.next_multiple_of(16));
    let offsets = directory.find(273).or_else(|| directory.find(324)).ok_or_else(|| damaged("picture data"))?;
    for offset in tags.numbers(offsets) {
        let piece = usize::try_from(offset).ok().and_then(|offset| bytes.get(offset..)).unwrap_or_default();
        let frame = markers::walk(piece).find_map(|segment| from_jpeg::frame(&segment));
        if frame.is_none_or(|frame| u64::from(frame.width) > across || u64::from(frame.height) > down) {
            return Err(damaged("picture data"));
        }
    }
    Ok(())
}
