//! Lattices of whole pixels: the moves that map an endless cloth onto itself.
//!
//! Takes vectors, yields the lattice they span and the tiles that fit it. Integers only; knows no pixels.

use crate::spec::Repeat;

/// A lattice of rank two, spanned by `(a, b)` and `(0, d)` with `a > 0` and `0 <= b < d`: its Hermite normal form, which is
/// unique (Cohen, "A Course in Computational Algebraic Number Theory", 1993, 2.4). Right and down are positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lattice {
    /// The smallest step to the right of any move.
    pub a: i64,
    /// How far down a move with that step goes.
    pub b: i64,
    /// The smallest move straight down.
    pub d: i64,
}

/// Greatest common divisor `g` of `x` and `y`, never negative, with `s` and `t` such that `s x + t y = g`.
fn bezout(x: i64, y: i64) -> (i64, i64, i64) {
    let (mut old, mut new) = ((x, 1, 0), (y, 0, 1));
    while new.0 != 0 {
        let q = old.0 / new.0;
        (old, new) = (new, (old.0 - q * new.0, old.1 - q * new.1, old.2 - q * new.2));
    }
    if old.0 < 0 { (-old.0, -old.1, -old.2) } else { old }
}

/// Greatest common divisor, never negative.
#[must_use]
pub fn gcd(x: i64, y: i64) -> i64 {
    bezout(x, y).0
}

/// The prime factors of a positive number, each as often as it divides it, the smallest first.
fn primes(mut n: i64) -> Vec<i64> {
    let (mut found, mut p) = (Vec::new(), 2);
    while p * p <= n {
        while n % p == 0 {
            found.push(p);
            n /= p;
        }
        p += 1;
    }
    if n > 1 {
        found.push(n);
    }
    found
}

impl Lattice {
    /// The lattice that two moves span; `None` when they lie on one line. Sides of up to 2^30 pixels are safe.
    #[must_use]
    pub fn spanned(u: [i64; 2], v: [i64; 2]) -> Option<Self> {
        let area = (u[0] * v[1] - u[1] * v[0]).abs();
        if area == 0 {
            return None;
        }
        let (a, s, t) = bezout(u[0], v[0]);
        let d = area / a;
        // Reduced first, so that the products stay small.
        let b = (s % d * (u[1] % d) % d + t % d * (v[1] % d) % d).rem_euclid(d);
        Some(Self { a, b, d })
    }

    /// The moves of a tile laid as `repeat`; `None` when the repeat goes one way only, or the side that it divides is not
    /// divisible.
    #[must_use]
    pub fn laid(repeat: Repeat, [width, height]: [i64; 2]) -> Option<Self> {
        let [u, v] = moves(repeat, [width, height])?;
        Self::spanned(u, v)
    }

    /// Whether a move maps the cloth onto itself.
    #[must_use]
    pub fn holds(&self, [x, y]: [i64; 2]) -> bool {
        x % self.a == 0 && (y - x / self.a % self.d * self.b) % self.d == 0
    }

    /// The pixels in one unit.
    #[must_use]
    pub fn area(&self) -> i64 {
        self.a * self.d
    }

    /// The smallest move straight to the right.
    #[must_use]
    pub fn across(&self) -> i64 {
        self.a * (self.d / gcd(self.b, self.d))
    }

    /// Where a place lies in the unit `0..a` by `0..d`.
    #[must_use]
    pub fn reduced(&self, [x, y]: [i64; 2]) -> [i64; 2] {
        let columns = x.div_euclid(self.a);
        [x - columns * self.a, (y - columns % self.d * self.b).rem_euclid(self.d)]
    }

    /// Whether tiles of this size, laid as `repeat`, make the same cloth.
    #[must_use]
    pub fn takes(&self, repeat: Repeat, size: [i64; 2]) -> bool {
        moves(repeat, size).is_some_and(|[u, v]| self.holds(u) && self.holds(v))
    }

    /// The smallest tile that makes the same cloth when it is laid as `repeat`; of equally small ones the squarest. `None`
    /// for a repeat that goes one way only.
    #[must_use]
    pub fn smallest(&self, repeat: Repeat) -> Option<[i64; 2]> {
        let mut best: Option<[i64; 2]> = None;
        for size in self.primitive(repeat)? {
            let key = |[w, h]: [i64; 2]| (w * h, w.max(h));
            if best.is_none_or(|best| key(size) < key(best)) {
                best = Some(size);
            }
        }
        best
    }

    /// Every size worth looking at: for a drop by 1/n, each height up to n units with the narrowest tile it allows.
    fn primitive(&self, repeat: Repeat) -> Option<Vec<[i64; 2]>> {
        let across = self.across();
        Some(match (repeat, repeat.drop_divisor()) {
            (Repeat::Block, _) => vec![[across, self.d]],
            (Repeat::Brick, _) => (1..=2)
                .filter(|m| m * across % 2 == 0 && m * across / 2 % self.a == 0)
                .map(|m| {
                    let down = (m * across / 2 / self.a % self.d * self.b).rem_euclid(self.d);
                    [m * across, if down == 0 { self.d } else { down }]
                })
                .collect(),
            (_, Some(n)) => {
                let n = i64::from(n);
                let heights = (1..=n).map(|m| m * self.d).filter(|height| height % n == 0);
                heights.filter_map(|height| Some([self.narrowest(height / n)?, height])).collect()
            }
            _ => return None,
        })
    }

    /// The smallest step to the right that goes down by `drop` (modulo the smallest move straight down).
    fn narrowest(&self, drop: i64) -> Option<i64> {
        // Solves k b = drop (mod d) for the smallest k > 0.
        let (g, inverse, _) = bezout(self.b, self.d);
        let drop = drop.rem_euclid(self.d);
        if drop % g != 0 {
            return None;
        }
        let order = self.d / g;
        let k = (drop / g % order * inverse.rem_euclid(order)).rem_euclid(order);
        Some(self.a * if k == 0 { order } else { k })
    }

    /// The size nearest to the one wanted (smallest sum of the differences) that makes the same cloth when it is laid as
    /// `repeat`, with sides of at most `most`.
    #[must_use]
    pub fn nearest(&self, repeat: Repeat, [width, height]: [i64; 2], most: i64) -> Option<[i64; 2]> {
        // Sizes come again after four units down, and across after as many steps as lead straight to the right twice.
        let columns = 2 * self.across() / self.a;
        let column = width / self.a;
        let mut best: Option<(i64, [i64; 2])> = None;
        for w in
            (column - columns..=column + columns + 1).map(|column| column * self.a).filter(|w| (1..=most).contains(w))
        {
            // Down a brick, half its width must lead to a place of the lattice.
            let first = if repeat == Repeat::Brick { (w / 2 / self.a % self.d * self.b).rem_euclid(self.d) } else { 0 };
            let row = (height - first).div_euclid(self.d);
            let rows = (row - 4..=row + 5).chain(0..=3).map(|row| first + row * self.d);
            for h in rows.filter(|h| (1..=most).contains(h)) {
                let off = (w - width).abs() + (h - height).abs();
                if best.is_none_or(|(least, _)| off < least) && self.takes(repeat, [w, h]) {
                    best = Some((off, [w, h]));
                }
            }
        }
        best.map(|(_, size)| size)
    }

    /// The lattice refined by every finer move for which `maps` says that it maps the cloth onto itself.
    ///
    /// All moves of a cloth form a group that holds this lattice, so that only divisions by primes need to be asked: of
    /// the move straight down first, then of the step to the right, where `p b' = b (mod d)` leaves at most p places.
    #[must_use]
    pub fn refined(mut self, maps: impl Fn([i64; 2]) -> bool) -> Self {
        for p in primes(self.d) {
            if maps([0, self.d / p]) {
                self.d /= p;
                self.b %= self.d;
            }
        }
        for p in primes(self.a) {
            let (g, inverse, _) = bezout(p, self.d);
            if self.b % g != 0 {
                continue;
            }
            let step = self.d / g;
            let first = (self.b / g % step * inverse.rem_euclid(step)).rem_euclid(step);
            let found = (0..g).map(|j| first + j * step).find(|&b| maps([self.a / p, b]));
            if let Some(b) = found {
                self = Self { a: self.a / p, b, d: self.d };
            }
        }
        self
    }
}

/// The two moves that lay tiles of a size as `repeat`; `None` when it goes one way only or the size cannot be divided.
fn moves(repeat: Repeat, [width, height]: [i64; 2]) -> Option<[[i64; 2]; 2]> {
    match (repeat, repeat.drop_divisor()) {
        (Repeat::Block, _) => Some([[width, 0], [0, height]]),
        (Repeat::Brick, _) => (width % 2 == 0).then_some([[width / 2, height], [width, 0]]),
        (_, Some(n)) => (height % i64::from(n) == 0).then_some([[width, height / i64::from(n)], [0, height]]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAID: [Repeat; 5] = [Repeat::Block, Repeat::HalfDrop, Repeat::ThirdDrop, Repeat::QuarterDrop, Repeat::Brick];

    /// Every size up to a limit, the smallest by trying all of them.
    fn by_trying(lattice: &Lattice, repeat: Repeat, most: i64) -> Option<i64> {
        let sizes = (1..=most).flat_map(|w| (1..=most).map(move |h| [w, h]));
        sizes.filter(|&size| lattice.takes(repeat, size)).map(|[w, h]| w * h).min()
    }

    #[test]
    fn the_usual_layouts_have_the_moves_of_the_trade() {
        let of = |repeat| Lattice::laid(repeat, [6, 12]).unwrap();
        assert_eq!(of(Repeat::Block), Lattice { a: 6, b: 0, d: 12 });
        assert_eq!(of(Repeat::HalfDrop), Lattice { a: 6, b: 6, d: 12 });
        assert_eq!(of(Repeat::ThirdDrop), Lattice { a: 6, b: 4, d: 12 });
        assert_eq!(of(Repeat::Brick), Lattice { a: 3, b: 12, d: 24 });
        assert_eq!(Lattice::laid(Repeat::HalfDrop, [6, 13]), None);
        assert_eq!(Lattice::laid(Repeat::Across, [6, 12]), None);
    }

    #[test]
    fn the_smallest_tile_is_the_smallest_of_all() {
        for (a, b, d) in
            [(1, 0, 1), (3, 0, 4), (4, 0, 3), (2, 1, 4), (2, 3, 6), (1, 2, 5), (3, 4, 6), (2, 2, 8), (5, 3, 4)]
        {
            let lattice = Lattice { a, b, d };
            for repeat in LAID {
                let [w, h] = lattice.smallest(repeat).unwrap();
                assert!(lattice.takes(repeat, [w, h]), "{lattice:?} {repeat} {w} {h}");
                assert_eq!(Some(w * h), by_trying(&lattice, repeat, 44), "{lattice:?} {repeat}: {w} x {h}");
            }
        }
    }

    #[test]
    fn half_drop_and_block_change_into_each_other() {
        let half = Lattice::laid(Repeat::HalfDrop, [40, 60]).unwrap();
        assert_eq!(half.smallest(Repeat::Block), Some([80, 60]));
        assert_eq!(half.smallest(Repeat::HalfDrop), Some([40, 60]));
        assert_eq!(half.smallest(Repeat::Brick), Some([80, 30]));
        // A block without finer moves: the copies of a column are lowered by the whole old tile.
        let block = Lattice::laid(Repeat::Block, [40, 60]).unwrap();
        assert_eq!(block.smallest(Repeat::HalfDrop), Some([40, 120]));
        assert_eq!(block.smallest(Repeat::ThirdDrop), Some([40, 180]));
        assert_eq!(block.smallest(Repeat::Brick), Some([80, 60]));
    }

    #[test]
    fn places_are_reduced_into_one_unit() {
        let lattice = Lattice::spanned([3, 4], [-4, 3]).unwrap();
        assert_eq!((lattice.area(), lattice.across()), (25, 25));
        for x in -30..30 {
            for y in -30..30 {
                let [u, v] = lattice.reduced([x, y]);
                assert!((0..lattice.a).contains(&u) && (0..lattice.d).contains(&v));
                assert!(lattice.holds([x - u, y - v]));
            }
        }
        assert_eq!(Lattice::spanned([2, 4], [3, 6]), None);
    }

    #[test]
    fn finer_moves_are_found_by_their_primes() {
        for finer in [(1, 0, 1), (2, 1, 6), (5, 3, 10), (3, 0, 7), (4, 2, 4)].map(|(a, b, d)| Lattice { a, b, d }) {
            for (m, n, k) in [(1, 1, 0), (6, 4, 5), (2, 35, 3), (12, 1, 0)] {
                let coarse = Lattice::spanned([m * finer.a, m * finer.b + k * finer.d], [0, n * finer.d]).unwrap();
                assert_eq!(coarse.refined(|v| finer.holds(v)), finer, "{coarse:?}");
            }
        }
    }

    #[test]
    fn the_nearest_size_takes_the_cloth() {
        for lattice in [Lattice { a: 6, b: 6, d: 12 }, Lattice { a: 5, b: 3, d: 4 }] {
            for repeat in LAID {
                for wanted in [[1, 1], [25, 31], [60, 47]] {
                    let off = |[w, h]: [i64; 2]| (w - wanted[0]).abs() + (h - wanted[1]).abs();
                    let sizes = (1..=100).flat_map(|w| (1..=100).map(move |h| [w, h]));
                    let least = sizes.filter(|&size| lattice.takes(repeat, size)).map(off).min();
                    let found = lattice.nearest(repeat, wanted, 100);
                    assert_eq!(found.map(off), least, "{lattice:?} {repeat} {wanted:?} {found:?}");
                }
            }
        }
    }
}
