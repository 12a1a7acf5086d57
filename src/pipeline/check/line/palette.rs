//! The colors that cover a good part of a tile: a hairline may have been merged onto any of them.
//!
//! Takes pixels, yields colors. Looks at a few thousand pixels only.

use crate::tile::Raster;

/// About how many pixels are looked at.
const LOOKS: usize = 8_000;

/// One in so many pixels is a good part.
const PART: usize = 100;

/// The most colors.
const MOST: usize = 12;

/// The opaque colors that make up a hundredth of the tile or more, the most common first.
#[must_use]
pub fn common(raster: &Raster) -> Vec<[u8; 3]> {
    let samples = raster.samples();
    let total = samples.len() / 4;
    // Places that no regular design falls in step with (a prime: Knuth, The Art of Computer Programming 3, 6.4).
    let places = (0..LOOKS.min(total)).map(|n| ((n as u64 * 2_654_435_761) % total as u64) as usize);
    let mut colors: Vec<[u8; 3]> = places
        .map(|place| &samples[4 * place..4 * place + 4])
        .filter(|pixel| pixel[3] == 255)
        .map(|pixel| [pixel[0], pixel[1], pixel[2]])
        .collect();
    let all = colors.len();
    colors.sort_unstable();
    let mut counted: Vec<(usize, [u8; 3])> =
        colors.chunk_by(|a, b| a == b).map(|same| (same.len(), same[0])).filter(|(n, _)| n * PART >= all).collect();
    counted.sort_by_key(|(n, color)| (std::cmp::Reverse(*n), *color));
    counted.into_iter().take(MOST).map(|(_, color)| color).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn common_colors_are_those_of_a_hundredth_and_more() {
        let pixel = |i: u32| {
            if i.is_multiple_of(200) {
                [i as u8, 1, 1, 255]
            } else if i.is_multiple_of(3) {
                [9, 9, 9, 255]
            } else {
                [7, 0, 0, 255]
            }
        };
        let raster = Raster::new(300, 200, (0..60_000).flat_map(pixel).collect()).unwrap();
        assert_eq!(common(&raster), [[7, 0, 0], [9, 9, 9]]);
    }
}
