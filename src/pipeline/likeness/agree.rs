//! Whether two aligned pictures are one: in their colors, or in their drawing with every color exchanged for another.
//!
//! Takes fields of four channels on one grid, yields differences in whole thousandths, over all and at the worst place. An edit
//! at one place is no re-encoding: what decides is the place that agrees least.

use super::exchange::{self, Channels};
use super::wave::SIDE;

/// The sides of the squares that are summed where a picture is one tile, in steps of the grid; what is judged is two by two of
/// them, each half a step from the next: a sixteenth of the tile.
const STEP: usize = 8;

/// How a picture is cut into squares: their sides, in steps of the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut([usize; 2]);

impl Cut {
    /// For a picture of so many tiles, across and down: places are always about as large a part of one tile.
    #[must_use]
    pub fn of(tiles: [f64; 2]) -> Self {
        Self(tiles.map(|tiles| match tiles {
            tiles if tiles < 1.5 => STEP,
            tiles if tiles < 3.0 => STEP / 2,
            _ => STEP / 4,
        }))
    }
}

/// Values are rounded to such parts of a code before anything is summed: from there on all is whole numbers.
const PARTS: f32 = 4.0;

/// The variance, in squared codes summed over channels, that is nothing: what a lossy coder and rounding leave of a flat
/// color.
const FLAT: i64 = 40 * (PARTS * PARTS) as i64;

/// Most that may be: over all and at the worst place, in thousandths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Over the whole picture.
    pub whole: i64,
    /// At the place that agrees least.
    pub worst: i64,
    /// The most that the mean of a channel may differ at one place, in quarters of a code.
    pub place: i64,
}

/// Mean colors that are no farther apart, as a squared distance in quarters of a code, are the same: a lossy coder rounds
/// large areas of one color by up to 3 codes in a channel.
pub const SAME_MEANS: i64 = 16 * 16;

/// The same for the mean of a channel at one place, in quarters of a code.
const SAME_PLACE: i64 = 7 * 4;

/// How far two pictures differ, in thousandths of how much is to be seen: 0 is equal, 1000 and more is unrelated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Over the whole picture.
    pub whole: i64,
    /// At the place that agrees least.
    pub worst: i64,
    /// The most that the mean of a channel differs at one place, in quarters of a code.
    pub place: i64,
    /// How far the mean colors are apart: the squared distance over the channels, in quarters of a code.
    pub means: i64,
}

impl Difference {
    /// Whether what differs is no more than a coder or a scale makes of the same colors, whatever explains it.
    #[must_use]
    pub fn same_colors(self) -> bool {
        self.means <= SAME_MEANS && self.place <= SAME_PLACE
    }

    /// Whether neither is over a limit.
    #[must_use]
    pub fn within(self, limit: Limit) -> bool {
        self.whole <= limit.whole && self.worst <= limit.worst && self.place <= limit.place
    }
}

/// Sums over one square.
#[derive(Clone, Copy, Default)]
struct Sums {
    difference: i64,
    /// Of values and of their squares, for each channel of both pictures.
    values: [[i64; 4]; 2],
    squares: [[i64; 4]; 2],
}

impl Sums {
    fn add(&mut self, other: &Self) {
        self.difference += other.difference;
        for i in 0..2 {
            for c in 0..4 {
                self.values[i][c] += other.values[i][c];
                self.squares[i][c] += other.squares[i][c];
            }
        }
    }

    /// The variance of one of the pictures over `count` places, summed over channels.
    fn variance(&self, i: usize, count: i64) -> i64 {
        (0..4).map(|c| (self.squares[i][c] - self.values[i][c] * self.values[i][c] / count) / count).sum()
    }
}

/// Compares two pictures; `seen` says which of them tell how much there is to be seen.
fn compared(one: &Channels, other: &Channels, seen: &[usize], cut: Cut) -> Difference {
    let [wide, high] = cut.0;
    let (across, down) = (SIDE / wide, SIDE / high);
    let mut squares = vec![Sums::default(); across * down];
    // Rounded by cutting off above zero, which every machine does without a call; no value lies below -1000.
    let whole = |value: f32| (value.max(-1000.0) * PARTS + 4096.5) as i64 - 4096;
    for y in 0..SIDE {
        for x in 0..SIDE {
            let (at, sums) = (y * SIDE + x, &mut squares[y / high * across + x / wide]);
            for c in 0..4 {
                let (a, b) = (whole(one[c][at]), whole(other[c][at]));
                sums.difference += (a - b) * (a - b);
                sums.values[0][c] += a;
                sums.values[1][c] += b;
                sums.squares[0][c] += a * a;
                sums.squares[1][c] += b * b;
            }
        }
    }
    let share = |sums: &Sums, count: i64| {
        let visible: i64 = seen.iter().map(|&i| sums.variance(i, count)).sum();
        sums.difference * 1000 / count / (visible + FLAT)
    };
    let mut all = Sums::default();
    squares.iter().for_each(|sums| all.add(sums));
    let count = 4 * (wide * high) as i64;
    let (mut worst, mut place) = (0, 0);
    for y in 0..down {
        for x in 0..across {
            let mut window = Sums::default();
            for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                window.add(&squares[(y + dy) % down * across + (x + dx) % across]);
            }
            worst = worst.max(share(&window, count));
            let apart = (0..4).map(|c| (window.values[0][c] - window.values[1][c]).abs() / count).max();
            place = place.max(apart.unwrap_or(0));
        }
    }
    let places = (SIDE * SIDE) as i64;
    let means = (0..4).map(|c| ((all.values[0][c] - all.values[1][c]) / places).pow(2)).sum();
    Difference { whole: share(&all, places), worst, place, means }
}

/// How far two pictures differ in their colors.
#[must_use]
pub fn in_colors(one: &Channels, other: &Channels, cut: Cut) -> Difference {
    compared(one, other, &[0, 1], cut)
}

/// How far the second differs from the best guess at it that exchanges each color of the first for another.
#[must_use]
pub fn exchanged(one: &Channels, other: &Channels, cut: Cut) -> Difference {
    compared(&exchange::guess(one, other), other, &[1], cut)
}
