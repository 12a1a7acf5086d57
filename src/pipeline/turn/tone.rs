//! Tones: stored samples to linear light and back, in 8 and 16 bits, by tables.
//!
//! Takes sRGB codes (IEC 61966-2-1), yields light from 0 to 1 as it can be added up. Alpha is light already: it is linear
//! (PNG third edition, 13.16). Knows no pictures.

use crate::pixel::light;
use crate::pixel::over::Sample;
use std::sync::LazyLock;

/// A sample that can become light and come from it.
pub trait Tone: Sample + Send + Sync + 'static {
    /// The light of each code.
    fn lights() -> &'static [f32];

    /// The code whose light is nearest, as codes are rounded.
    fn of_light(light: f32) -> Self;
}

static LIGHT_8: LazyLock<Vec<f32>> =
    LazyLock::new(|| (0..=255_u8).map(|code| light::decode(f64::from(code) / 255.0) as f32).collect());

static LIGHT_16: LazyLock<Vec<f32>> =
    LazyLock::new(|| (0..=u16::MAX).map(|code| light::decode(f64::from(code) / 65535.0) as f32).collect());

impl Tone for u8 {
    fn lights() -> &'static [f32] {
        &LIGHT_8
    }

    fn of_light(light: f32) -> Self {
        // 65536 steps of light hold at least twenty for each code, in the darks too.
        light::to_codes()[(light.clamp(0.0, 1.0) * 65535.0 + 0.5) as usize]
    }
}

impl Tone for u16 {
    fn lights() -> &'static [f32] {
        &LIGHT_16
    }

    fn of_light(light: f32) -> Self {
        let table = Self::lights();
        let above = table.partition_point(|&known| known < light);
        let below = above.saturating_sub(1);
        // Between two neighbors of 65536 the curve is straight.
        let nearer_below = table.get(above).is_none_or(|&known| light - table[below] < known - light);
        Self::clamped(if nearer_below { below } else { above } as u64)
    }
}

/// Premultiplied light of a straight pixel.
#[must_use]
#[inline]
pub fn premultiplied<T: Tone>([r, g, b, a]: [T; 4], lights: &[f32]) -> [f32; 4] {
    let light = |code: T| lights[Into::<u32>::into(code) as usize];
    if a == T::FULL {
        return [light(r), light(g), light(b), 1.0];
    }
    let alpha = Into::<u32>::into(a) as f32 / T::MOST as f32;
    [light(r) * alpha, light(g) * alpha, light(b) * alpha, alpha]
}

/// The straight pixel of premultiplied light; what lies beyond light or coverage is clipped.
#[must_use]
#[inline]
pub fn straight<T: Tone>([r, g, b, a]: [f32; 4]) -> [T; 4] {
    let alpha = a.clamp(0.0, 1.0);
    let code = T::clamped((alpha * T::MOST as f32 + 0.5) as u64);
    if code == T::clamped(0) {
        return [code; 4];
    }
    let color = [r, g, b].map(|light| T::of_light(light / alpha));
    [color[0], color[1], color[2], code]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_comes_back_from_its_light() {
        for code in 0..=u8::MAX {
            assert_eq!(u8::of_light(u8::lights()[usize::from(code)]), code);
        }
        for code in 0..=u16::MAX {
            assert_eq!(u16::of_light(u16::lights()[usize::from(code)]), code);
        }
        assert_eq!((u16::of_light(2.0), u16::of_light(-1.0)), (u16::MAX, 0));
    }

    #[test]
    fn coverage_and_color_come_apart_again() {
        for pixel in [[200_u8, 10, 90, 255], [200, 10, 90, 40], [1, 254, 0, 1]] {
            assert_eq!(straight::<u8>(premultiplied(pixel, u8::lights())), pixel);
        }
        assert_eq!(straight::<u8>(premultiplied([9_u8, 9, 9, 0], u8::lights())), [0; 4]);
    }
}
