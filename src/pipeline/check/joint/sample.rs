//! Tiles for the unit tests of the joint rules.

use crate::tile::{Channels, Content, Format, Meta, Profile, Raster, Tile};

/// A tile from a function of column and row to RGBA.
pub(super) fn tile(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Tile {
    let rgba = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).flat_map(|(x, y)| pixel(x, y)).collect();
    let meta = Meta {
        format: Format::Png,
        bytes: 0,
        channels: Channels::Rgba,
        bit_depth: 8,
        resolution: None,
        profile: Profile::Untagged,
        interlaced: false,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Tile { raster: Raster::new(width, height, rgba).unwrap(), deep: None, meta, content: Content::of(b"") }
}

/// An opaque gray tile.
pub(super) fn gray(width: u32, height: u32, value: impl Fn(u32, u32) -> u8) -> Tile {
    tile(width, height, |x, y| [value(x, y), value(x, y), value(x, y), 255])
}

/// Noise that depends on the place alone: the high byte of a multiplicative hash.
pub(super) fn noise(x: u32, y: u32) -> u8 {
    let mixed = (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)).wrapping_mul(0xC2B2_AE3D);
    ((mixed ^ (mixed >> 15)).wrapping_mul(0x27D4_EB2F) >> 24) as u8
}
