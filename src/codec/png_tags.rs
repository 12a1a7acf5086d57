//! What the ancillary chunks of a PNG say of resolution and color (PNG third edition, 4.3 and 11.3).
//!
//! Takes chunks in their order, yields resolution and profile. Unpacks no more than a limit allows.

use crate::codec::chunks::Chunk;
use crate::codec::embedded::inflate_at_most;
use crate::codec::icc;
use crate::codec::ifd;
use crate::codec::refusal::Limits;
use crate::tile::{Profile, Resolution};

/// Inches in one meter (international yard and pound agreement, 1959: one inch is 0.0254 m).
const METER_IN_INCHES: f64 = 1.0 / 0.0254;

/// What the ancillary chunks before the image data say; the first of a kind counts.
#[derive(Debug, Default)]
pub(crate) struct Tags<'a> {
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
    /// Notes what a chunk says.
    pub(crate) fn take(&mut self, chunk: &Chunk<'a>) {
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

    /// Pixels per inch: those of pHYs, else those of Exif.
    pub(crate) fn resolution(&self) -> Option<Resolution> {
        if self.sized { self.resolution } else { self.camera }
    }

    /// The color tag by PNG's own order of precedence: cICP, iCCP, sRGB, cHRM with gAMA (third edition, 4.3).
    pub(crate) fn profile(&self, limits: &Limits) -> Profile {
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
