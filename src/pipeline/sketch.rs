//! The sketch of a tile: where it is light and where dark, coarsely. It tells a drawing that was worked on from another one.
//!
//! Takes a raster, yields 32 x 32 numbers; takes two sketches, yields how much of them goes the same way. Unlike a likeness it
//! knows where in the tile something is, so that a tile of which a quarter was drawn anew still agrees in the rest, and it
//! knows nothing of moved or turned ones. Pure.

use crate::tile::Raster;
use serde::{Deserialize, Serialize};

/// The version of sketches: raised whenever the same tile can get another.
pub const VERSION: u32 = 1;

/// Cells along a side.
const CELLS: usize = 32;
/// Cells along a side of a block, in which lights are compared by themselves.
const BLOCK: usize = 8;
/// Samples of a cell along a side at most: more make its mean no better.
const SAMPLES: usize = 16;

/// The least standard deviation of a block that holds something, in levels, times ten.
const FLAT: i64 = 8;
/// The least correlation of two blocks that agree, in percent; of whichever sign, since colors may be exchanged.
const AGREES: i64 = 70;
/// The fewest blocks of each tile that must hold something.
const FEWEST: usize = 4;

/// Mean lights, 0 to 255, row by row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Vec<u8>", into = "Vec<u8>")]
pub struct Sketch(Vec<u8>);

impl TryFrom<Vec<u8>> for Sketch {
    type Error = String;

    fn try_from(lights: Vec<u8>) -> Result<Self, String> {
        if lights.len() == CELLS * CELLS { Ok(Self(lights)) } else { Err("no sketch of this version".into()) }
    }
}

impl From<Sketch> for Vec<u8> {
    fn from(sketch: Sketch) -> Self {
        sketch.0
    }
}

impl Sketch {
    /// The sketch of a raster. Light is the coded luma of ITU-R BT.709, and what is clear counts as a middle gray, so that
    /// light and dark motifs show on no ground.
    #[must_use]
    pub fn of(raster: &Raster) -> Self {
        let (width, height) = (raster.width() as usize, raster.height() as usize);
        let step = |side: usize| (side / CELLS / SAMPLES).max(1);
        let (mut sums, mut counts) = (vec![0_u64; CELLS * CELLS], vec![0_u64; CELLS * CELLS]);
        for y in (0..height).step_by(step(height)) {
            let row = raster.row(y as u32).as_chunks::<4>().0;
            for x in (0..width).step_by(step(width)) {
                let [r, g, b, a] = row[x].map(u64::from);
                // 0.2126, 0.7152 and 0.0722 in 256ths.
                let light = 54 * r + 183 * g + 19 * b;
                let at = y * CELLS / height * CELLS + x * CELLS / width;
                sums[at] += (light * a + 128 * 256 * (255 - a)) / 255;
                counts[at] += 1;
            }
        }
        // A side of fewer pixels than cells leaves some without a sample.
        let mean = |(sum, count): (&u64, &u64)| (sum + 128 * count).checked_div(256 * count).unwrap_or(128).min(255);
        Self(sums.iter().zip(&counts).map(|cell| mean(cell) as u8).collect())
    }

    /// Of the blocks in which either tile holds something, how many go the same way, in percent; at whichever move by half a
    /// side that is highest, since tiles are moved so while their joints are painted. `None` where one of them is too even to
    /// say.
    #[must_use]
    pub fn agreement(&self, other: &Self) -> Option<u32> {
        let half = CELLS / 2;
        if self.held() < FEWEST || other.held() < FEWEST {
            return None;
        }
        [(0, 0), (half, 0), (0, half), (half, half)].into_iter().map(|by| self.agreement_at(other, by)).max()
    }

    fn agreement_at(&self, other: &Self, by: (usize, usize)) -> u32 {
        let (mut seen, mut agree) = (0, 0);
        for block in blocks() {
            let (one, two) = (self.sums(other, block, by), other.spread(block, by));
            let own = self.spread(block, (0, 0));
            if is_flat(own) && is_flat(two) {
                continue;
            }
            seen += 1;
            let high = 10_000 * one * one >= AGREES * AGREES * own * two;
            agree += u32::from(high && !is_flat(own) && !is_flat(two));
        }
        (100 * agree).checked_div(seen).unwrap_or(0)
    }

    /// How many blocks hold something.
    fn held(&self) -> usize {
        blocks().filter(|block| !is_flat(self.spread(*block, (0, 0)))).count()
    }

    fn light(&self, (x, y): (usize, usize), by: (usize, usize)) -> i64 {
        i64::from(self.0[(y + by.1) % CELLS * CELLS + (x + by.0) % CELLS])
    }

    /// The variance of a block, times the square of its number of cells.
    fn spread(&self, block: Block, by: (usize, usize)) -> i64 {
        let (mut sum, mut squares) = (0, 0);
        for cell in cells(block) {
            let light = self.light(cell, by);
            sum += light;
            squares += light * light;
        }
        COUNT * squares - sum * sum
    }

    /// The covariance of a block with another's, times the square of its number of cells.
    fn sums(&self, other: &Self, block: Block, by: (usize, usize)) -> i64 {
        let (mut sums, mut products) = ([0, 0], 0);
        for cell in cells(block) {
            let lights = [self.light(cell, (0, 0)), other.light(cell, by)];
            sums = [sums[0] + lights[0], sums[1] + lights[1]];
            products += lights[0] * lights[1];
        }
        COUNT * products - sums[0] * sums[1]
    }
}

/// The cells of a block.
const COUNT: i64 = (BLOCK * BLOCK) as i64;

/// The first cell of a block.
type Block = (usize, usize);

fn blocks() -> impl Iterator<Item = Block> {
    (0..CELLS).step_by(BLOCK).flat_map(|y| (0..CELLS).step_by(BLOCK).map(move |x| (x, y)))
}

fn cells((x, y): Block) -> impl Iterator<Item = (usize, usize)> {
    (y..y + BLOCK).flat_map(move |y| (x..x + BLOCK).map(move |x| (x, y)))
}

/// Whether a block holds nothing that rounding could not have made.
fn is_flat(spread: i64) -> bool {
    100 * spread < FLAT * FLAT * COUNT * COUNT
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster(side: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
        let samples = (0..side).flat_map(|y| (0..side).map(move |x| (x, y))).flat_map(|(x, y)| pixel(x, y)).collect();
        Raster::new(side, side, samples).unwrap()
    }

    /// Lights without any order, the same for the same seed.
    fn scattered(seed: u32) -> impl Fn(u32, u32) -> u8 {
        move |x, y| {
            let mixed = (x / 16 + y / 16 * 40 + seed * 1601).wrapping_mul(2_654_435_761);
            ((mixed ^ mixed >> 15).wrapping_mul(2_246_822_519) >> 24) as u8
        }
    }

    #[test]
    fn a_drawing_agrees_with_what_was_made_of_it_and_not_with_another() {
        let (own, other) = (scattered(1), scattered(2));
        let gray = |light: u8| [light, light, light, 255];
        let base = Sketch::of(&raster(512, |x, y| gray(own(x, y))));
        let with = |pixel: &dyn Fn(u32, u32) -> [u8; 4]| base.agreement(&Sketch::of(&raster(512, pixel)));
        assert_eq!(with(&|x, y| gray(own(x, y))), Some(100));
        assert_eq!(with(&|x, y| gray(255 - own(x, y) / 2)), Some(100), "other colors");
        assert_eq!(with(&|x, y| gray(own((x + 256) % 512, y))), Some(100), "moved by half");
        assert_eq!(with(&|x, y| gray(if x < 128 { other(x, y) } else { own(x, y) })), Some(75), "a quarter drawn anew");
        assert!(with(&|x, y| gray(other(x, y))) < Some(10), "another drawing");
        let half = raster(256, |x, y| gray(own(2 * x, 2 * y)));
        assert_eq!(base.agreement(&Sketch::of(&half)), Some(100), "half the size");
    }

    #[test]
    fn an_even_tile_says_nothing() {
        let own = scattered(1);
        let base = Sketch::of(&raster(512, |x, y| [own(x, y), 9, 9, 255]));
        for even in [raster(512, |_, _| [7, 8, 9, 255]), raster(1, |_, _| [0; 4]), raster(512, |_, _| [9, 200, 9, 0])] {
            assert_eq!(base.agreement(&Sketch::of(&even)), None);
        }
        assert!(Sketch::try_from(vec![0; 5]).is_err());
    }
}
