//! Whether two aligned pictures are one: in their colors, or in their drawing with every color exchanged for another.
//!
//! Takes fields of four channels on one grid, yields differences in whole thousandths, over all and at the worst place. An edit
//! at one place is no re-encoding: what decides is the place that agrees least.

use super::exchange::{self, Channels};
use super::wave::SIDE;

/// The sides of the squares that are summed, in steps of the grid; what is judged is two by two of them, each half a step
/// from the next.
const STEP: usize = 8;
const STEPS: usize = SIDE / STEP;

/// Values are rounded to such parts of a code before anything is summed: from there on all is whole numbers.
const PARTS: f32 = 4.0;

/// The variance, in squared codes summed over channels, that is nothing: what a lossy coder and rounding leave of a flat
/// color.
const FLAT: i64 = 40 * (PARTS * PARTS) as i64;

/// How far two pictures differ, in thousandths of how much is to be seen: 0 is equal, 1000 and more is unrelated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Over the whole picture.
    pub whole: i64,
    /// At the place that agrees least.
    pub worst: i64,
}

impl Difference {
    /// Whether neither is over a limit.
    #[must_use]
    pub fn within(self, limit: Self) -> bool {
        self.whole <= limit.whole && self.worst <= limit.worst
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
fn compared(one: &Channels, other: &Channels, seen: &[usize]) -> Difference {
    let mut squares = vec![Sums::default(); STEPS * STEPS];
    // Rounded by cutting off above zero, which every machine does without a call; no value lies below -1000.
    let whole = |value: f32| (value.max(-1000.0) * PARTS + 4096.5) as i64 - 4096;
    for y in 0..SIDE {
        for x in 0..SIDE {
            let (at, sums) = (y * SIDE + x, &mut squares[y / STEP * STEPS + x / STEP]);
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
    let count = (STEP * STEP) as i64;
    let mut worst = 0;
    for y in 0..STEPS {
        for x in 0..STEPS {
            let mut window = Sums::default();
            for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                window.add(&squares[(y + dy) % STEPS * STEPS + (x + dx) % STEPS]);
            }
            worst = worst.max(share(&window, 4 * count));
        }
    }
    Difference { whole: share(&all, count * (STEPS * STEPS) as i64), worst }
}

/// How far two pictures differ in their colors.
#[must_use]
pub fn in_colors(one: &Channels, other: &Channels) -> Difference {
    compared(one, other, &[0, 1])
}

/// How far the second differs from the best guess at it that exchanges each color of the first for another.
#[must_use]
pub fn exchanged(one: &Channels, other: &Channels) -> Difference {
    compared(&exchange::guess(one, other), other, &[1])
}
