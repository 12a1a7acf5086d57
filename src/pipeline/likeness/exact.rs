//! The last word on two tiles of one scale: pixel by pixel on the endless cloth.
//!
//! Takes rasters, how they are laid, and about how they lie on each other; yields whether every pixel is equal, and whether
//! every color became one other color. Whole pixels only.

use super::turn::Turn;
use crate::pipeline::mockup::plane::Plane;
use crate::spec::Repeat;
use crate::tile::Raster;
use std::collections::HashMap;

/// How far around the proposed shift the exact one is looked for, in pixels.
const AROUND: i64 = 3;

/// Pixels that are looked at before all are.
const PROBES: i64 = 509;

/// The share of pixels, in thousandths, that must follow one exchange of colors for a drawing so plain that nothing else
/// would tell it from another: smoothed edges have mixed colors of their own.
pub const FOLLOWING: u64 = 980;

/// About how many places are looked at to choose a shift, and then to decide.
const FEW: f64 = 2500.0;
const MANY: f64 = 60_000.0;

/// The pixels of both cloths at one place.
type Both = ([u8; 4], [u8; 4]);

/// Two cloths, and the straight repeat that both have, in pixels of the first.
pub struct Cloths<'a> {
    one: Plane<'a>,
    other: Plane<'a>,
    size: [i64; 2],
    turn: Turn,
}

impl<'a> Cloths<'a> {
    /// The first tile and the second, laid, over `size` pixels of the first.
    #[must_use]
    pub fn new(one: (&'a Raster, Repeat), other: (&'a Raster, Repeat), size: [i64; 2], turn: Turn) -> Self {
        Self { one: Plane::new(one.0, one.1), other: Plane::new(other.0, other.1), size, turn }
    }

    /// The second's pixel that comes to lie at a place of the first.
    fn other(&self, [x, y]: [i64; 2], shift: [i64; 2]) -> [u8; 4] {
        let at = [0, 1].map(|i| ([x, y][i] - shift[i]).rem_euclid(self.size[i]));
        let before = if self.turn.swaps() { [self.size[1], self.size[0]] } else { self.size };
        let [x, y] = self.turn.source(before, at);
        self.other.pixel(x, y)
    }

    fn same(&self, at: [i64; 2], shift: [i64; 2]) -> bool {
        let (a, b) = (self.one.pixel(at[0], at[1]), self.other(at, shift));
        a == b || (a[3] == 0 && b[3] == 0)
    }

    /// The whole shift near `about` at which every pixel is equal; what lies under no alpha does not count.
    #[must_use]
    pub fn equal(&self, about: [f64; 2], around: i64) -> Option<[i64; 2]> {
        let [width, height] = self.size;
        let mut near: Vec<[i64; 2]> =
            (-around..=around).flat_map(|dy| (-around..=around).map(move |dx| [dx, dy])).collect();
        near.sort_by_key(|[dx, dy]| dx * dx + dy * dy);
        let probes = |i: i64| [i * 7919 % width, i * 104_729 % height];
        near.into_iter()
            .map(|by| [0, 1].map(|i| (about[i].round() as i64 + by[i]).rem_euclid(self.size[i])))
            .filter(|&shift| (0..PROBES).all(|i| self.same(probes(i), shift)))
            .find(|&shift| (0..height).all(|y| (0..width).all(|x| self.same([x, y], shift))))
    }

    /// How many thousandths of all pixels follow the most usual exchange of their color, both ways, at the shift near `about`
    /// where most do.
    #[must_use]
    pub fn following(&self, about: [f64; 2]) -> u64 {
        let near = (-AROUND..=AROUND).flat_map(|dy| (-AROUND..=AROUND).map(move |dx| [dx, dy]));
        let shifts = near.map(|by| [0, 1].map(|i| about[i].round() as i64 + by[i]));
        let best = shifts.max_by_key(|&shift| self.following_at(shift, FEW));
        best.map_or(0, |shift| self.following_at(shift, MANY))
    }

    /// The same at one shift, over about `count` places of a grid.
    fn following_at(&self, shift: [i64; 2], count: f64) -> u64 {
        let [width, height] = self.size;
        let step = ((width * height) as f64 / count).sqrt().ceil().max(1.0) as i64;
        let mut pairs: HashMap<Both, u64> = HashMap::new();
        for y in (0..height).step_by(step as usize) {
            for x in (0..width).step_by(step as usize) {
                *pairs.entry((self.one.pixel(x, y), self.other([x, y], shift))).or_default() += 1;
            }
        }
        let all: u64 = pairs.values().sum();
        let most = |key: fn(&Both) -> [u8; 4]| {
            let mut best: HashMap<[u8; 4], u64> = HashMap::new();
            for (pair, count) in &pairs {
                let most = best.entry(key(pair)).or_default();
                *most = (*most).max(*count);
            }
            best.values().sum::<u64>()
        };
        most(|pair| pair.0).min(most(|pair| pair.1)) * 1000 / all.max(1)
    }
}
