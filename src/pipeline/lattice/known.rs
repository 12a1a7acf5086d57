//! What is known of a lattice, as plain data with its arithmetic: the unit, the moves, how much differs at them.
//!
//! Knows no pixels.

use super::basis::{Move, area, gcd, holds};
use super::cells::Count;
use super::ruled::Ruled;

/// The smallest repeat: every move that maps the design onto itself is a whole combination of `a` and `b`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit {
    /// The shortest move, pixels right and down; it goes right, or straight down.
    pub a: Move,
    /// The shortest one in another direction, likewise.
    pub b: Move,
}

impl Unit {
    /// The area of one unit in pixels.
    #[must_use]
    pub fn area(&self) -> u64 {
        area(self.a, self.b).unsigned_abs()
    }

    /// After how many pixels the design comes again straight to the right, and straight down.
    #[must_use]
    pub fn periods(&self) -> [i64; 2] {
        let whole = self.area() as i64;
        [whole / gcd(self.a[1], self.b[1]), whole / gcd(self.a[0], self.b[0])]
    }

    /// Whether a move maps the design onto itself.
    #[must_use]
    pub fn holds(&self, t: Move) -> bool {
        holds([self.a, self.b], t)
    }

    /// How many units a tile of these sides holds, when it is laid edge to edge and the design goes on: a whole number,
    /// or `None` when the sides are no moves of the design.
    #[must_use]
    pub fn per_tile(&self, width: u32, height: u32) -> Option<u32> {
        let fits = self.holds([i64::from(width), 0]) && self.holds([0, i64::from(height)]);
        let count = u64::from(width) * u64::from(height) / self.area().max(1);
        if fits { u32::try_from(count).ok() } else { None }
    }
}

/// A move that maps the design onto itself, and what was counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Known {
    /// The move, pixels right and down.
    pub by: Move,
    /// The pairs inside the canvas, over the rows that were looked at.
    pub count: Count,
}

/// What is known of a tile's lattice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lattice {
    /// The smallest repeat, when two independent moves map the design onto itself; it may not fit the tile's sides.
    pub unit: Option<Unit>,
    /// The shortest independent moves that map the design onto itself, found without wrapping: none, one or two.
    pub moves: Vec<Known>,
    /// Two moves that nearly everything follows, where not everything follows any: one unit may sit aside.
    pub nearly: Option<[Known; 2]>,
    /// A design of straight stripes, which has no unit along them.
    pub ruled: Option<Ruled>,
    /// How many pairs of neighbors differ along the axis that has fewer such pairs, or along the only one that has any:
    /// what a move by one pixel would do, beside which all counts are to be seen.
    pub one_pixel: Count,
}

impl Lattice {
    /// Whether of `count`'s pairs at most one in `part` differs of those that would if everything moved by one pixel.
    #[must_use]
    pub fn below(&self, count: Count, part: u64) -> bool {
        let [differing, pairs] = [self.one_pixel.differing, self.one_pixel.pairs].map(u128::from);
        u128::from(count.differing) * u128::from(part) * pairs <= differing * u128::from(count.pairs)
    }
}
