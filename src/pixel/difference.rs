//! How different two colors look: CIEDE2000 between sRGB pixels, through `palette`.
//!
//! Takes straight 8-bit sRGB, yields one number: 1 is about a just noticeable difference. Knows nothing of alpha.

use palette::color_difference::Ciede2000;
use palette::{FromColor, Lab, Srgb};

/// CIEDE2000 between two sRGB colors, white point D65, all weights 1 (Sharma, Wu and Dalal, "The CIEDE2000 color-difference
/// formula", Color Research & Application 30(1):21-30, 2005; sRGB by IEC 61966-2-1).
#[must_use]
pub fn ciede2000(a: [u8; 3], b: [u8; 3]) -> f64 {
    let parts = |color| <[f64; 3]>::from(lab(color));
    ciede2000_of_lab(parts(a), parts(b))
}

/// CIEDE2000 between two CIELAB colors `[L*, a*, b*]` of one white point, all weights 1: the formula behind [`ciede2000`],
/// which the published pairs are given for.
#[must_use]
pub fn ciede2000_of_lab(a: [f64; 3], b: [f64; 3]) -> f64 {
    let lab = |[l, a, b]: [f64; 3]| Lab::<palette::white_point::D65, f64>::new(l, a, b);
    lab(a).difference(lab(b))
}

/// The same between colors that lie between the 8-bit ones, 0 to 255 a channel.
#[must_use]
pub fn ciede2000_between(a: [f64; 3], b: [f64; 3]) -> f64 {
    let lab = |color: [f64; 3]| {
        let [r, g, b] = color.map(|value| value.clamp(0.0, 255.0) / 255.0);
        Lab::<palette::white_point::D65, f64>::from_color(Srgb::new(r, g, b))
    };
    lab(a).difference(lab(b))
}

fn lab(color: [u8; 3]) -> Lab<palette::white_point::D65, f64> {
    Lab::from_color(Srgb::from(color).into_format::<f64>())
}
