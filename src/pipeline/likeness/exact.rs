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

/// The share of pixels, in thousandths, that must be about what their color was exchanged for: smoothed edges have mixed colors
/// of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Following {
    /// Over the whole cloth.
    pub whole: u64,
    /// At the place where fewest do.
    pub place: u64,
}

impl Following {
    /// What is enough for a drawing so plain that nothing else would tell it from another.
    pub const OF_PLAIN: Self = Self { whole: 980, place: 0 };
    /// What is proof: no motif is another.
    pub const PROOF: Self = Self { whole: 990, place: 940 };

    /// Whether both shares are reached.
    #[must_use]
    pub fn reaches(self, least: Self) -> bool {
        self.whole >= least.whole && self.place >= least.place
    }
}

/// Places along each side of the cloth.
const PLACES: i64 = 16;

/// Codes that are taken as one color.
const CLASS: u8 = 8;

/// How far a color may be from what it should be, in codes; in strong contrasts an eighth of them. A lossy coder stays within at
/// nearly all places; the shades of a weave do not, which checks have none of.
const NEAR: u8 = 12;

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

    /// How many pixels are about what their color was exchanged for, both ways, at the shift near `about` where most are.
    #[must_use]
    pub fn following(&self, about: [f64; 2]) -> Following {
        let near = (-AROUND..=AROUND).flat_map(|dy| (-AROUND..=AROUND).map(move |dx| [dx, dy]));
        let shifts = near.map(|by| [0, 1].map(|i| about[i].round() as i64 + by[i]));
        let best = shifts.max_by_key(|&shift| self.following_at(shift, FEW).whole);
        best.map_or(Following { whole: 0, place: 0 }, |shift| self.following_at(shift, MANY))
    }

    /// The same at one shift, over about `count` places of a grid.
    fn following_at(&self, shift: [i64; 2], count: f64) -> Following {
        let [width, height] = self.size;
        let step = ((width * height) as f64 / count).sqrt().ceil().max(1.0) as i64;
        let mut pairs: Vec<(Both, usize)> = Vec::new();
        for y in (0..height).step_by(step as usize) {
            for x in (0..width).step_by(step as usize) {
                let place = y * PLACES / height * PLACES + x * PLACES / width;
                pairs.push(((self.one.pixel(x, y), self.other([x, y], shift)), place as usize));
            }
        }
        let there = follow(&pairs);
        pairs.iter_mut().for_each(|(pair, _)| *pair = (pair.1, pair.0));
        let back = follow(&pairs);
        Following { whole: there.whole.min(back.whole), place: there.place.min(back.place) }
    }
}

/// How many of the second colors are about the mean of those that lie on the same color of the first.
fn follow(pairs: &[(Both, usize)]) -> Following {
    let class = |color: [u8; 4]| color.map(|code| code / CLASS);
    let mut sums: HashMap<[u8; 4], ([u64; 4], u64)> = HashMap::new();
    let (mut low, mut high) = ([255_u8; 4], [0_u8; 4]);
    for ((own, its), _) in pairs {
        let (sum, count) = sums.entry(class(*own)).or_default();
        *count += 1;
        for c in 0..4 {
            sum[c] += u64::from(its[c]);
            low[c] = low[c].min(its[c]);
            high[c] = high[c].max(its[c]);
        }
    }
    let range = (0..4).map(|c| high[c].saturating_sub(low[c])).max().unwrap_or(0);
    let near = u64::from((range / 8).max(NEAR));
    // A color that occurs once explains nothing.
    let follows = |(own, its): &Both| {
        sums.get(&class(*own)).is_some_and(|(sum, count)| {
            *count > 1 && (0..4).all(|c| ((sum[c] + count / 2) / count).abs_diff(u64::from(its[c])) <= near)
        })
    };
    let mut places = vec![[0_u64; 2]; (PLACES * PLACES) as usize];
    for (pair, place) in pairs {
        places[*place][usize::from(follows(pair))] += 1;
    }
    let share = |[not, so]: [u64; 2]| so * 1000 / (not + so).max(1);
    let all = places.iter().fold([0; 2], |all, place| [all[0] + place[0], all[1] + place[1]]);
    let filled = places.iter().filter(|place| place[0] + place[1] > 0);
    Following { whole: share(all), place: filled.map(|place| share(*place)).min().unwrap_or(0) }
}
