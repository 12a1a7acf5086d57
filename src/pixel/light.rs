//! sRGB codes to linear light and back (IEC 61966-2-1), as tables for resampling.
//!
//! Takes 8-bit codes, yields light in 16 bits (0 to 65535) and back; compositing over an opaque paper is here too,
//! because it is the same arithmetic. Knows no pictures.

use std::sync::LazyLock;

/// Full light in 16 bits.
pub const FULL: u16 = u16::MAX;

/// Light of an sRGB value, both from 0 to 1 (IEC 61966-2-1, 5.2: 12.92 below 0.04045, else the power 2.4).
#[must_use]
pub fn decode(value: f64) -> f64 {
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The sRGB value of light, both from 0 to 1 (IEC 61966-2-1, 5.3).
#[must_use]
pub fn encode(light: f64) -> f64 {
    if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

static LIGHT: LazyLock<[u16; 256]> =
    LazyLock::new(|| std::array::from_fn(|code| (decode(code as f64 / 255.0) * f64::from(FULL)).round() as u16));

static CODE: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let mut codes = vec![255; usize::from(FULL) + 1];
    let mut from = 0;
    for code in 0..255_u8 {
        // Light below the value halfway to the next code rounds down to this one.
        let halfway = decode((f64::from(code) + 0.5) / 255.0) * f64::from(FULL);
        let until = (halfway.ceil() as usize).clamp(from, codes.len());
        codes[from..until].fill(code);
        from = until;
    }
    codes
});

/// The light of each of the 256 codes; the same table on every call.
#[must_use]
pub fn of_codes() -> &'static [u16; 256] {
    &LIGHT
}

/// The nearest code of each of the 65536 lights; the same table on every call.
#[must_use]
pub fn to_codes() -> &'static [u8] {
    &CODE
}

/// Light `light` with coverage `alpha` over paper of light `paper`, rounded to nearest: the source-over of Porter and
/// Duff (Computer Graphics 18(3), 1984) with an opaque backdrop.
#[must_use]
#[inline]
pub fn over(light: u16, alpha: u8, paper: u16) -> u16 {
    let (alpha, clear) = (u32::from(alpha), 255 - u32::from(alpha));
    ((u32::from(light) * alpha + u32::from(paper) * clear + 127) / 255) as u16
}

/// Turns a row of straight RGBA codes into a row of light over `paper`: red, green, blue and a fourth value that means
/// nothing, so that a pixel is one 64-bit word.
///
/// The mean of composited light equals the composited mean of premultiplied light, since both are linear: whoever
/// averages this row has averaged premultiplied.
pub fn row_over(rgba: &[u8], paper: u16, light: &mut [[u16; 4]]) {
    let table = of_codes();
    let pixels = rgba.as_chunks::<4>().0;
    let opaque = pixels.iter().fold(u32::MAX, |all, &pixel| all & u32::from_le_bytes(pixel)) >> 24 == 255;
    let pixels = light.iter_mut().zip(pixels);
    if opaque {
        for (out, &[red, green, blue, _]) in pixels {
            // Put together before it is stored: one store a pixel instead of three.
            let [red, green, blue] = [red, green, blue].map(|code| u64::from(table[usize::from(code)]));
            let word = red | green << 16 | blue << 32;
            *out = [word as u16, (word >> 16) as u16, (word >> 32) as u16, 0];
        }
    } else {
        for (out, &[red, green, blue, alpha]) in pixels {
            *out = [red, green, blue, 0].map(|code| over(table[usize::from(code)], alpha, paper));
        }
    }
}
