//! Sample arithmetic that containers other than PNG need: inks, luma and chroma, premultiplied color.
//!
//! Works in place on four samples a pixel. The ink conversions are for looking only: such files are never mended.

/// A sample of 8 or 16 bits.
pub(crate) trait Sample: Copy + PartialEq {
    /// Full.
    const FULL: u64;
    /// None.
    const NONE: Self;
    fn wide(self) -> u64;
    /// `value` is at most [`Self::FULL`].
    fn narrow(value: u64) -> Self;
}

impl Sample for u8 {
    const FULL: u64 = 255;
    const NONE: Self = 0;
    fn wide(self) -> u64 {
        u64::from(self)
    }
    fn narrow(value: u64) -> Self {
        value as Self
    }
}

impl Sample for u16 {
    const FULL: u64 = 65_535;
    const NONE: Self = 0;
    fn wide(self) -> u64 {
        u64::from(self)
    }
    fn narrow(value: u64) -> Self {
        value as Self
    }
}

/// `a * b / full`, rounded.
fn times<T: Sample>(a: u64, b: u64) -> T {
    T::narrow((a * b + T::FULL / 2) / T::FULL)
}

/// Cyan, magenta, yellow, black to red, green, blue, opaque, without regard to any profile: (1 - c)(1 - k).
pub(crate) fn inks_to_rgba<T: Sample>(samples: &mut [T]) {
    for pixel in samples.chunks_exact_mut(4) {
        let paper = T::FULL - pixel[3].wide();
        for ink in &mut pixel[..3] {
            *ink = times(T::FULL - ink.wide(), paper);
        }
        pixel[3] = T::narrow(T::FULL);
    }
}

/// Four inks of a JPEG to red, green, blue, opaque. They are stored reversed, full for no ink, as Adobe began it and all
/// common readers take every such file.
pub(crate) fn stored_inks_to_rgba(samples: &mut [u8]) {
    samples.iter_mut().for_each(|sample| *sample = 255 - *sample);
    inks_to_rgba(samples);
}

/// The same with the first three as luma and chroma, from which full ink less the stored ink comes.
pub(crate) fn stored_luma_to_rgba(samples: &mut [u8]) {
    for pixel in samples.chunks_exact_mut(4) {
        let black = pixel[3];
        luma_to_rgba(pixel);
        pixel[3] = 255 - black;
    }
    inks_to_rgba(samples);
}

/// Luma and two chromas of full range to red, green, blue, opaque (ITU-T T.871, clause 7), in 16-bit fixed point.
pub(crate) fn luma_to_rgba(samples: &mut [u8]) {
    for pixel in samples.chunks_exact_mut(4) {
        let (y, cb, cr) = (i32::from(pixel[0]) << 16, i32::from(pixel[1]) - 128, i32::from(pixel[2]) - 128);
        let half = 1 << 15;
        // 1.402, 0.344136, 0.714136 and 1.772 times 65536.
        let r = (y + 91_881 * cr + half) >> 16;
        let g = (y - 22_553 * cb - 46_802 * cr + half) >> 16;
        let b = (y + 116_130 * cb + half) >> 16;
        let [r, g, b] = [r, g, b].map(|value| value.clamp(0, 255) as u8);
        pixel.copy_from_slice(&[r, g, b, 255]);
    }
}

/// Color stored multiplied by alpha to straight color, rounded; where alpha is none the color is lost and reads black.
pub(crate) fn unmultiply<T: Sample>(samples: &mut [T]) {
    for pixel in samples.chunks_exact_mut(4) {
        let alpha = pixel[3].wide();
        if alpha == T::FULL {
            continue;
        }
        for sample in &mut pixel[..3] {
            *sample = match alpha {
                0 => T::NONE,
                _ => T::narrow(((sample.wide() * T::FULL + alpha / 2) / alpha).min(T::FULL)),
            };
        }
    }
}

/// Spreads pixels of three samples, packed at the start of the buffer, over pixels of four.
pub(crate) fn widen(samples: &mut [u8]) {
    for index in (0..samples.len() / 4).rev() {
        let [r, g, b] = [samples[index * 3], samples[index * 3 + 1], samples[index * 3 + 2]];
        samples[index * 4..][..4].copy_from_slice(&[r, g, b, 255]);
    }
}
