//! Spans: a row of pixels as stretches of one color.
//!
//! Takes a row of RGBA samples, yields its spans. Clear pixels are one color, whatever is stored under them.

/// Neighboring pixels of one color in one row: columns `start..end`, never empty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The first column.
    pub start: u32,
    /// One past the last column.
    pub end: u32,
    /// The color, see [`key`].
    pub color: u32,
}

impl Span {
    /// How many pixels.
    pub fn count(self) -> u64 {
        u64::from(self.end - self.start)
    }
}

/// A clear pixel.
pub const CLEAR: u32 = 0;

/// Pixels compared at a time: what two wide registers hold.
const STRIDE: usize = 16;

/// A pixel as one number, little-endian RGBA; all clear ones are [`CLEAR`].
pub fn key(pixel: [u8; 4]) -> u32 {
    if pixel[3] == 0 { CLEAR } else { u32::from_le_bytes(pixel) }
}

/// The spans of a row of samples, from the left, into `out`, whose content is replaced.
pub fn spans(row: &[u8], out: &mut Vec<Span>) {
    out.clear();
    let pixels = row.as_chunks::<4>().0;
    let mut start = 0;
    while let Some(&pixel) = pixels.get(start) {
        let end = start + alike(&pixels[start..], u32::from_le_bytes(pixel));
        let color = key(pixel);
        match out.last_mut() {
            Some(last) if last.color == color => last.end = end as u32,
            _ => out.push(Span { start: start as u32, end: end as u32, color }),
        }
        start = end;
    }
}

/// How many pixels from the first on are the same.
fn alike(pixels: &[[u8; 4]], pixel: u32) -> usize {
    let mut count = 0;
    let (strides, _) = pixels.as_chunks::<STRIDE>();
    for stride in strides {
        if stride.iter().fold(0, |differ, &other| differ | (u32::from_le_bytes(other) ^ pixel)) != 0 {
            break;
        }
        count += STRIDE;
    }
    count + pixels[count..].iter().take_while(|&&other| u32::from_le_bytes(other) == pixel).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_as_long_as_their_color() {
        let lengths = [1, 3, 16, 17, 40, 2, 1, 1, 33];
        let row: Vec<u8> = (0_u8..).zip(lengths).flat_map(|(i, length)| [i, 9, 9, 255].repeat(length)).collect();
        let mut out = Vec::new();
        spans(&row, &mut out);
        assert_eq!(out.iter().map(|span| span.count() as usize).collect::<Vec<_>>(), lengths);
        assert_eq!(out[2], Span { start: 4, end: 20, color: u32::from_le_bytes([2, 9, 9, 255]) });
    }

    #[test]
    fn clear_pixels_are_one_color() {
        let mut out = Vec::new();
        spans(&[1, 2, 3, 0, 9, 9, 9, 0, 9, 9, 9, 1], &mut out);
        assert_eq!(out.len(), 2);
        assert_eq!(out[0], Span { start: 0, end: 2, color: CLEAR });
    }
}
