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

/// How far the colors of two cloths follow each other, in thousandths; the lesser of both ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Following {
    /// The share of pixels that are about what their color was exchanged for, over the whole cloth: smoothed edges have mixed
    /// colors of their own.
    pub whole: u64,
    /// The same at the place where fewest are.
    pub place: u64,
    /// The share of what is to be seen that the exchange does not explain (one less the correlation ratio). What a lossy coder
    /// does around edges weighs little there, an ink in the place of another weighs all.
    pub unexplained: u64,
}

impl Following {
    /// Whether it is enough for a drawing so plain that nothing else would tell it from another: stripes of which one is wider
    /// by a 60th of their repeat leave 67 unexplained, and hold in 983.
    #[must_use]
    pub fn is_of_plain(self) -> bool {
        (self.whole >= 980 && self.unexplained <= 60) || (self.whole >= 930 && self.unexplained <= 35)
    }

    /// Whether it is proof: no motif is another, and nothing fainter than what counts as about a color is either. Smoothed edges of
    /// many small motifs follow less well, and leave little.
    #[must_use]
    pub fn is_proof(self) -> bool {
        self.whole >= 990 && self.place >= 900 && self.unexplained <= 20
    }
}

/// Places along each side of the cloth.
const PLACES: i64 = 16;

/// Codes that are taken as one color.
const CLASS: u8 = 8;

/// Classes of a channel that changes little, as in dark art: codes are told apart more finely there.
const CLASSES: u8 = 16;

/// How far a color may be from what it should be, in codes; in strong contrasts an eighth of them. A lossy coder stays within at
/// nearly all places; the shades of a weave do not, which checks have none of.
const NEAR: u8 = 12;

/// The variance, in squared codes summed over channels, from which on there is something to be seen at a place.
const SEEN: i64 = 64;

/// Parts of a code in which departures are summed.
const PARTS: u64 = 4;

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
        best.map_or(Following { whole: 0, place: 0, unexplained: 1000 }, |shift| self.following_at(shift, MANY))
    }

    /// How far the pixels of both go the same way at the place where they do so least, in hundredths: their correlation, at the
    /// shift near `about` where they differ least. A place of which one shows much less than the other says nothing: a lossy
    /// coder takes fine grain away, and what it leaves goes the same way.
    #[must_use]
    pub fn agreement(&self, about: [f64; 2]) -> i64 {
        let near = (-AROUND..=AROUND).flat_map(|dy| (-AROUND..=AROUND).map(move |dx| [dx, dy]));
        let shifts = near.map(|by| [0, 1].map(|i| about[i].round() as i64 + by[i]));
        let apart = |shift| -> u64 {
            let square = |(a, b): (u8, u8)| u64::from(a.abs_diff(b)).pow(2);
            self.pairs(shift, FEW).iter().flat_map(|((a, b), _)| a.iter().copied().zip(*b).map(square)).sum()
        };
        let Some(best) = shifts.min_by_key(|&shift| apart(shift)) else { return 0 };
        let mut places = vec![Moments::default(); (PLACES * PLACES) as usize];
        for ((own, its), place) in self.pairs(best, MANY) {
            places[place].add(own, its);
        }
        places.iter().filter_map(Moments::correlation).min().unwrap_or(100)
    }

    /// The pixels of both at one shift, over about `count` points of a grid, each with the number of its place.
    fn pairs(&self, shift: [i64; 2], count: f64) -> Vec<(Both, usize)> {
        let [width, height] = self.size;
        let step = ((width * height) as f64 / count).sqrt().ceil().max(1.0) as i64;
        let mut pairs: Vec<(Both, usize)> = Vec::new();
        for y in (0..height).step_by(step as usize) {
            for x in (0..width).step_by(step as usize) {
                let place = y * PLACES / height * PLACES + x * PLACES / width;
                pairs.push(((self.one.pixel(x, y), self.other([x, y], shift)), place as usize));
            }
        }
        pairs
    }

    /// How they follow each other at one shift, over about `count` points.
    fn following_at(&self, shift: [i64; 2], count: f64) -> Following {
        let mut pairs = self.pairs(shift, count);
        let there = follow(&pairs);
        pairs.iter_mut().for_each(|(pair, _)| *pair = (pair.1, pair.0));
        let back = follow(&pairs);
        Following {
            whole: there.whole.min(back.whole),
            place: there.place.min(back.place),
            unexplained: there.unexplained.max(back.unexplained),
        }
    }
}

/// Sums over one place, for each channel: values of both, their squares, and their products.
#[derive(Clone, Copy, Default)]
struct Moments {
    count: i64,
    values: [[i64; 4]; 2],
    squares: [i64; 2],
    products: i64,
}

impl Moments {
    fn add(&mut self, own: [u8; 4], its: [u8; 4]) {
        self.count += 1;
        for c in 0..4 {
            let (a, b) = (i64::from(own[c]), i64::from(its[c]));
            self.values[0][c] += a;
            self.values[1][c] += b;
            self.squares[0] += a * a;
            self.squares[1] += b * b;
            self.products += a * b;
        }
    }

    /// In hundredths; `None` where one of both shows nothing, or less than a third of the other.
    fn correlation(&self) -> Option<i64> {
        let count = self.count.max(1);
        let spread = |a: usize, b: usize, sum: i64| {
            sum - (0..4).map(|c| self.values[a][c] * self.values[b][c] / count).sum::<i64>()
        };
        let [own, its] = [0, 1].map(|i| spread(i, i, self.squares[i]));
        let least = SEEN * count;
        let even = own.min(its) >= least && own.max(its) <= own.min(its) * 3;
        // Below 2^31 each, since a place has a few hundred points.
        even.then(|| spread(0, 1, self.products) * 100 / own.saturating_mul(its).isqrt().max(1))
    }
}

/// How far apart the codes of each channel are.
fn range(colors: impl Iterator<Item = [u8; 4]>) -> [u8; 4] {
    let (mut low, mut high) = ([255_u8; 4], [0_u8; 4]);
    for color in colors {
        for c in 0..4 {
            low[c] = low[c].min(color[c]);
            high[c] = high[c].max(color[c]);
        }
    }
    std::array::from_fn(|c| high[c].saturating_sub(low[c]))
}

/// How many of the second colors are about the mean of those that lie on the same color of the first.
fn follow(pairs: &[(Both, usize)]) -> Following {
    let widths = range(pairs.iter().map(|(pair, _)| pair.0)).map(|range| (range / CLASSES).clamp(1, CLASS));
    let class = |color: [u8; 4]| std::array::from_fn::<u8, 4, _>(|c| color[c] / widths[c]);
    let mut sums: HashMap<[u8; 4], ([u64; 4], u64)> = HashMap::new();
    for ((own, its), _) in pairs {
        let (sum, count) = sums.entry(class(*own)).or_default();
        *count += 1;
        for c in 0..4 {
            sum[c] += u64::from(its[c]);
        }
    }
    let range = range(pairs.iter().map(|(pair, _)| pair.1)).into_iter().max().unwrap_or(0);
    let near = u64::from((range / 8).max(NEAR.min(range / 4)).max(3));
    let (seen, means) = (visible(pairs).max(1), means(pairs));
    let mut places = vec![[0_u64; 2]; (PLACES * PLACES) as usize];
    let mut left = 0;
    for ((own, its), place) in pairs {
        // What all others of its color say of it; of a color that occurs once, what all pixels say.
        let others = sums.get(&class(*own)).filter(|(_, count)| *count > 1);
        let apart = match others {
            Some((sum, count)) => [0, 1, 2, 3].map(|c| {
                let value = u64::from(its[c]);
                (sum[c] - value).abs_diff(value * (count - 1)) * PARTS / (count - 1)
            }),
            None => [0, 1, 2, 3].map(|c| means[c].abs_diff(u64::from(its[c]) * PARTS)),
        };
        left += apart.map(|apart| apart * apart).iter().sum::<u64>();
        places[*place][usize::from(others.is_some() && apart.iter().all(|apart| *apart <= near * PARTS))] += 1;
    }
    let share = |[not, so]: [u64; 2]| so * 1000 / (not + so).max(1);
    let all = places.iter().fold([0; 2], |all, place| [all[0] + place[0], all[1] + place[1]]);
    let filled = places.iter().filter(|place| place[0] + place[1] > 0);
    Following {
        whole: share(all),
        place: filled.map(|place| share(*place)).min().unwrap_or(0),
        unexplained: (left * 1000 / seen).min(1000),
    }
}

/// The mean color of the second cloth, in parts of a code.
fn means(pairs: &[(Both, usize)]) -> [u64; 4] {
    let count = pairs.len().max(1) as u64;
    [0, 1, 2, 3].map(|c| pairs.iter().map(|((_, its), _)| u64::from(its[c])).sum::<u64>() * PARTS / count)
}

/// How much of the second cloth is to be seen: squares about the mean, in the same parts of a code.
fn visible(pairs: &[(Both, usize)]) -> u64 {
    let count = pairs.len().max(1) as u64;
    let of = |c: usize| {
        let (sum, squares) = pairs.iter().fold((0_u64, 0_u64), |(sum, squares), ((_, its), _)| {
            let value = u64::from(its[c]);
            (sum + value, squares + value * value)
        });
        (squares - sum * sum / count) * PARTS * PARTS
    };
    (0..4).map(of).sum()
}
