//! Copies: what a pixel should be, by its copies one and two moves of the lattice away.
//!
//! Takes a raster, two moves and the pixels of which nothing is known; yields the median of the copies and how far they
//! spread. Wraps only where the moves map the tile onto itself over its border; else only copies inside the canvas are asked.

use crate::pipeline::lattice::{Move, Unit};
use crate::pixel::mask::Mask;
use crate::tile::Raster;

/// A pixel laid on black, and its alpha: what is clear looks alike whatever is stored under it.
pub type Laid = [u8; 4];

/// What the copies say of a pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Should {
    /// The median of each channel.
    pub be: Laid,
    /// The median distance of the copies from it, in the channel where it is largest.
    pub spread: u8,
}

/// Steps along both moves, the nearest first, as sums of them.
const STEPS: [[i64; 2]; 12] =
    [[1, 0], [-1, 0], [0, 1], [0, -1], [2, 0], [-2, 0], [0, 2], [0, -2], [1, 1], [-1, -1], [1, -1], [-1, 1]];

/// So many copies are asked, when there are as many.
const ASKED: usize = 8;

/// With fewer a median may be the stray itself.
const LEAST: usize = 4;

/// A raster seen along two moves.
pub struct Copies<'a> {
    /// The picture.
    pub raster: &'a Raster,
    /// The shorter move.
    pub a: Move,
    /// The other one.
    pub b: Move,
    /// Whether the moves map the tile onto itself over its border.
    pub wraps: bool,
    /// What a mend makes opaque: such a pixel says nothing of the design.
    unknown: &'a Mask,
    steps: [Move; 12],
}

impl<'a> Copies<'a> {
    /// The copies of a picture.
    pub fn new(raster: &'a Raster, a: Move, b: Move, unknown: &'a Mask) -> Self {
        let wraps = Unit { a, b }.per_tile(raster.width(), raster.height()).is_some();
        let steps = STEPS.map(|[i, j]| [i * a[0] + j * b[0], i * a[1] + j * b[1]]);
        Self { raster, a, b, wraps, unknown, steps }
    }

    /// The pixel at any coordinates, when it is known; outside the canvas only where the design wraps.
    pub fn at(&self, x: i64, y: i64) -> Option<Laid> {
        self.place(x, y).filter(|&(x, y)| self.knows(x, y)).map(|(x, y)| laid(self.raster.pixel(x, y)))
    }

    /// Where on the canvas a pixel at any coordinates lies.
    fn place(&self, x: i64, y: i64) -> Option<(u32, u32)> {
        let (width, height) = (i64::from(self.raster.width()), i64::from(self.raster.height()));
        let inside = (0..width).contains(&x) && (0..height).contains(&y);
        (inside || self.wraps).then(|| (x.rem_euclid(width) as u32, y.rem_euclid(height) as u32))
    }

    fn knows(&self, x: u32, y: u32) -> bool {
        self.unknown.is_empty() || !self.unknown.contains(x, y)
    }

    /// The copies that are asked about a pixel, the nearest first.
    pub fn of(&self, x: i64, y: i64) -> impl Iterator<Item = Laid> {
        self.steps.iter().filter_map(move |step| self.at(x + step[0], y + step[1])).take(ASKED)
    }

    /// What the pixel at (x, y) should be; nothing where too few copies are inside, or one of them is unknown: what is left
    /// may be a majority by chance.
    pub fn should(&self, x: i64, y: i64) -> Option<Should> {
        let asked = || self.steps.iter().filter_map(|step| self.place(x + step[0], y + step[1])).take(ASKED);
        if !self.unknown.is_empty() && asked().any(|(x, y)| self.unknown.contains(x, y)) {
            return None;
        }
        let mut found = [[0; 4]; ASKED];
        let mut count = 0;
        for copy in self.of(x, y) {
            found[count] = copy;
            count += 1;
        }
        if count < LEAST {
            return None;
        }
        let found = &found[..count];
        let be = std::array::from_fn(|channel| median(found.iter().map(|copy| copy[channel])));
        let spread = |channel: usize| median(found.iter().map(|copy: &Laid| copy[channel].abs_diff(be[channel])));
        Some(Should { be, spread: (0..4).map(spread).max().unwrap_or(0) })
    }
}

/// A pixel laid on black.
pub fn laid(pixel: [u8; 4]) -> Laid {
    match pixel[3] {
        255 => pixel,
        alpha => {
            let over = |code: u8| ((u32::from(code) * u32::from(alpha) + 127) / 255) as u8;
            [over(pixel[0]), over(pixel[1]), over(pixel[2]), alpha]
        }
    }
}

/// The largest difference of two pixels in any channel.
pub fn apart(p: Laid, q: Laid) -> u8 {
    p.iter().zip(q).map(|(p, q)| p.abs_diff(q)).max().unwrap_or(0)
}

/// The lower median of at most [`ASKED`] values.
fn median(values: impl Iterator<Item = u8>) -> u8 {
    let mut sorted = [u8::MAX; ASKED];
    let mut count = 0;
    for value in values.take(ASKED) {
        let at = sorted[..count].partition_point(|&other| other <= value);
        sorted.copy_within(at..count, at + 1);
        sorted[at] = value;
        count += 1;
    }
    sorted[count.saturating_sub(1) / 2]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pixel::mask::Run;

    #[test]
    fn a_median_is_in_the_middle() {
        assert_eq!(median([9, 1, 5].into_iter()), 5);
        assert_eq!(median([7, 7, 200, 7, 0, 7, 7, 9].into_iter()), 7);
        assert_eq!(median([4, 2].into_iter()), 2);
    }

    #[test]
    fn copies_outside_are_asked_only_where_the_design_wraps() {
        let raster = |width: u32| {
            let rgba =
                (0..width * 12).flat_map(|i| if (i % width).is_multiple_of(4) { [255; 4] } else { [0, 0, 0, 255] });
            Raster::new(width, 12, rgba.collect()).unwrap()
        };
        let (whole, cut, none) = (raster(16), raster(15), Mask::default());
        assert_eq!(Copies::new(&whole, [4, 0], [0, 4], &none).at(-4, -4), Some([255; 4]));
        assert_eq!(Copies::new(&cut, [4, 0], [0, 4], &none).at(-4, -4), None);
        assert_eq!(Copies::new(&cut, [4, 0], [0, 4], &none).should(0, 0).map(|should| should.be), Some([255; 4]));
        let first = Mask::of(vec![Run { y: 0, start: 0, end: 1 }]);
        assert_eq!(Copies::new(&whole, [4, 0], [0, 4], &first).at(-16, 0), None);
    }
}
