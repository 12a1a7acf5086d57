//! Closings: the turns that map a lattice of whole pixels onto whole pixels again, with their scales, sizes and units.
//!
//! Takes a lattice and an angle. With places as complex numbers (right + i down) a turn with a scale is a product, and the
//! products that map the lattice into the whole complex numbers are the fractions m c / g: g is the greatest common divisor
//! of the lattice among those numbers, c one without a whole factor, m any scale step. Integers but for what is told.

use crate::pipeline::cloth::lattice::{Lattice, gcd};
use crate::spec::wish::Angle;

/// A whole complex number (Gaussian integer).
pub type Whole = [i64; 2];

fn times(a: Whole, b: Whole) -> Whole {
    [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]]
}

fn conjugate(a: Whole) -> Whole {
    [a[0], -a[1]]
}

fn norm(a: Whole) -> i64 {
    a[0] * a[0] + a[1] * a[1]
}

/// The whole number nearest to `n / d` for a positive `d`.
fn nearest(n: i64, d: i64) -> i64 {
    (2 * n + d).div_euclid(2 * d)
}

/// Greatest common divisor by Euclid's steps: the rest is at most half as long as the divisor (Hardy and Wright, "An
/// Introduction to the Theory of Numbers", 12.8).
fn common(mut a: Whole, mut b: Whole) -> Whole {
    while norm(b) != 0 {
        let over = times(a, conjugate(b));
        let q = over.map(|part| nearest(part, norm(b)));
        let qb = times(q, b);
        (a, b) = (b, [a[0] - qb[0], a[1] - qb[1]]);
    }
    a
}

/// A turn that closes, before its scale is chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closing {
    /// The direction that the upper edge gets, without a common factor.
    pub toward: Whole,
    /// The turned lattice at the smallest scale.
    pub lattice: Lattice,
    /// The pixels in one unit of the lattice before it is turned.
    pub area: i64,
    /// c above.
    step: Whole,
    /// g above.
    divisor: Whole,
}

/// How many degrees two directions may differ to be taken for the same: half of the last digit that is told.
const SAME: f64 = 0.5e-4;

/// Bounds within which no product of these numbers with a side of a tile overflows; what lies beyond is far beyond any
/// limit on sides.
const MOST_PART: i64 = 1 << 22;
const MOST_PLACE: i64 = 1 << 30;
const MOST_SIDE: i64 = 1 << 40;

/// Most steps of a direction that is looked at for an angle in degrees.
const MOST_STEPS: i64 = 120;

/// The smallest angle between two directions, in degrees, signed: how far `is` lies beyond `wanted`.
#[must_use]
pub fn beyond(is: f64, wanted: f64) -> f64 {
    (is - wanted + 180.0).rem_euclid(360.0) - 180.0
}

fn degrees(toward: Whole) -> f64 {
    (toward[1] as f64).atan2(toward[0] as f64).to_degrees()
}

impl Closing {
    /// The turn of a lattice toward a direction; any direction of whole steps closes at some scale. `None` for no direction,
    /// and for one so long that its numbers are beyond any tile.
    #[must_use]
    pub fn toward(lattice: &Lattice, [right, down]: Whole) -> Option<Self> {
        let factor = gcd(right, down);
        if factor == 0 {
            return None;
        }
        let toward = [right / factor, down / factor];
        let divisor = common([lattice.a, lattice.b], [0, lattice.d]);
        let whole = times(toward, divisor);
        let factor = gcd(whole[0], whole[1]);
        let step = whole.map(|part| part / factor);
        if step.iter().chain(&divisor).any(|part| part.abs() > MOST_PART) {
            return None;
        }
        let turned = |place: Whole| {
            // Divisible, since the divisor divides every place of the lattice.
            let over = times(times(place, conjugate(divisor)).map(|part| part / norm(divisor)), step);
            over.iter().all(|part| part.abs() <= MOST_PLACE).then_some(over)
        };
        let area = lattice.area();
        let lattice = Lattice::spanned(turned([lattice.a, lattice.b])?, turned([0, lattice.d])?)?;
        if lattice.d > MOST_SIDE || lattice.across() > MOST_SIDE {
            return None;
        }
        Some(Self { toward, lattice, area, step, divisor })
    }

    /// The turn by an angle, when it closes. Degrees stand for the simplest direction within half of the last digit that is
    /// told of them.
    #[must_use]
    pub fn by(lattice: &Lattice, by: Angle) -> Option<Self> {
        let wanted = match by {
            Angle::Toward(toward) => return Self::toward(lattice, toward.map(i64::from)),
            Angle::Degrees(_) => by.degrees(),
        };
        let near = directions().filter(|&toward| beyond(degrees(toward), wanted).abs() < SAME);
        Self::toward(lattice, near.min_by_key(|&toward| norm(toward))?)
    }

    /// Turns whose angles lie around `wanted` degrees, each nearer than all simpler ones; the simplest first.
    #[must_use]
    pub fn around(lattice: &Lattice, wanted: f64) -> Vec<Self> {
        let mut near: Vec<(i64, f64, Whole)> = directions()
            .map(|toward| (norm(toward), beyond(degrees(toward), wanted).abs(), toward))
            .filter(|&(_, off, toward)| off < 45.0 && !matches!(toward, [1, 0]))
            .collect();
        near.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
        let mut best = f64::INFINITY;
        near.retain(|&(_, off, _)| {
            let nearer = off < best;
            best = best.min(off);
            nearer
        });
        near.into_iter().filter_map(|(_, _, toward)| Self::toward(lattice, toward)).collect()
    }

    /// The angle in degrees, clockwise.
    #[must_use]
    pub fn degrees(&self) -> f64 {
        degrees(self.toward)
    }

    /// The smallest block of the turned cloth at the smallest scale, pixels across and down.
    #[must_use]
    pub fn block(&self) -> [i64; 2] {
        [self.lattice.across(), self.lattice.d]
    }

    /// The scale of step `m`.
    #[must_use]
    pub fn scale(&self, m: i64) -> f64 {
        m as f64 * (norm(self.step) as f64 / norm(self.divisor) as f64).sqrt()
    }

    /// The step whose scale is nearest to 1.
    #[must_use]
    pub fn kept(&self) -> i64 {
        let below = ((1.0 / self.scale(1)).floor() as i64).max(1);
        let off = |m: i64| (self.scale(m) - 1.0).abs();
        if off(below + 1) < off(below) { below + 1 } else { below }
    }

    /// The steps at which blocks fill a canvas exactly.
    pub fn filling(&self, [width, height]: [i64; 2]) -> impl Iterator<Item = i64> {
        let [w, h] = self.block();
        let most = (width / w).min(height / h);
        (1..=most).filter(move |m| width % (m * w) == 0 && height % (m * h) == 0)
    }

    /// The turned lattice at step `m`.
    #[must_use]
    pub fn at(&self, m: i64) -> Lattice {
        Lattice { a: self.lattice.a * m, b: self.lattice.b * m, d: self.lattice.d * m }
    }

    /// The way back at step `m`: a place of the turned cloth times `([e, f], d)` as the fraction `(e + i f) / d` is its place
    /// on the cloth.
    #[must_use]
    pub fn back(&self, m: i64) -> (Whole, i64) {
        let whole = times(self.divisor, conjugate(self.step));
        let d = m * norm(self.step);
        let factor = gcd(gcd(whole[0], whole[1]), d);
        (whole.map(|part| part / factor), d / factor)
    }
}

/// Every direction without a common factor, up to a number of steps.
fn directions() -> impl Iterator<Item = Whole> {
    let all = (-MOST_STEPS..=MOST_STEPS).flat_map(|p| (-MOST_STEPS..=MOST_STEPS).map(move |q| [p, q]));
    all.filter(|&[p, q]| gcd(p, q) == 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(n: i64) -> Lattice {
        Lattice { a: n, b: 0, d: n }
    }

    fn by(lattice: &Lattice, angle: &str) -> Closing {
        Closing::by(lattice, Angle::parse(angle).unwrap()).unwrap()
    }

    /// A square lattice turned by 45 degrees is (k, k), (-k, k): area 2 k k, in blocks of 2 k, two units each.
    #[test]
    fn a_square_turned_by_45_degrees_holds_two_units_on_the_old_canvas() {
        let closing = by(&square(3600), "45");
        assert_eq!((closing.block(), closing.at(5)), ([2, 2], Lattice { a: 5, b: 5, d: 10 }));
        // On the old canvas: k = 1800 with two units, then 900 with eight, 600 with 18, 450 with 32; 1200 does not fit.
        let fitting: Vec<i64> = closing.filling([3600, 3600]).filter(|&m| m >= 450).collect();
        assert_eq!(fitting, [450, 600, 900, 1800]);
        assert!((closing.scale(1800) - std::f64::consts::FRAC_1_SQRT_2).abs() < 1e-15);
        for (m, scale) in [(900, 0.35355), (600, 0.23570), (450, 0.17678)] {
            assert!((closing.scale(m) - scale).abs() < 5e-6);
        }
        // At the same scale: k = 2546, a block of 5092, 0.0163 % too large.
        assert_eq!(closing.kept(), 2546);
        assert!((closing.scale(2546) - 1.000163).abs() < 5e-7);
        assert_eq!(closing.back(1800), ([1, -1], 1));
    }

    /// The square root of two by its convergents: 99/70 is 7.2e-5 off, 577/408 is 2.1e-6 off (any table of continued
    /// fractions; the scale of a tile of 140 or 816 pixels at k = 99 or 577).
    #[test]
    fn convergents_of_the_square_root_of_two_keep_the_scale_best() {
        for (side, k, off) in [(140, 99, 5.1e-5), (816, 577, 1.5e-6), (24, 17, 1.74e-3)] {
            let closing = by(&square(side), "45");
            assert_eq!(closing.kept(), k);
            assert!(((closing.scale(k) - 1.0).abs() - off).abs() < 0.05 * off, "{}", closing.scale(k));
        }
    }

    #[test]
    fn triples_turn_at_scale_one() {
        for (toward, side, angle) in [("4:3", 5, 36.8699), ("12:5", 13, 22.6199), ("21:20", 29, 43.6028)] {
            let closing = by(&square(side * 7), toward);
            let kept = closing.kept();
            assert_eq!((closing.scale(kept), kept), (1.0, 7));
            assert!((closing.degrees() - angle).abs() < SAME);
            assert_eq!(closing.block().map(|block| block * kept), [side * side * 7; 2]);
            assert_eq!(by(&square(side * 7), &angle.to_string()), closing, "degrees as they are told mean the same");
        }
    }

    #[test]
    fn quarter_turns_keep_everything() {
        let lattice = Lattice { a: 6, b: 4, d: 10 };
        for (angle, back) in [("90", [0, -1]), ("180", [-1, 0]), ("-90", [0, 1])] {
            let closing = by(&lattice, angle);
            let kept = closing.kept();
            assert_eq!((closing.scale(kept), closing.back(kept)), (1.0, (back, 1)));
            assert_eq!(closing.at(kept).area(), lattice.area());
        }
    }

    #[test]
    fn every_turned_lattice_is_the_lattice_turned() {
        for lattice in [Lattice { a: 6, b: 0, d: 4 }, Lattice { a: 10, b: 5, d: 10 }, Lattice { a: 3, b: 4, d: 25 }] {
            for toward in [[1, 1], [2, -1], [-3, 5], [0, 1], [4, 3]] {
                let closing = Closing::toward(&lattice, toward).unwrap();
                for m in [1, 2, 7] {
                    let (turned, ([e, f], d)) = (closing.at(m), closing.back(m));
                    for [x, y] in [[turned.a, turned.b], [0, turned.d]] {
                        let [u, v] = times([x, y], [e, f]);
                        assert!(u % d == 0 && v % d == 0 && lattice.holds([u / d, v / d]), "{lattice:?} {toward:?}");
                    }
                    let ratio = (turned.area() as f64 / lattice.area() as f64).sqrt();
                    assert!((ratio - closing.scale(m)).abs() < 1e-12);
                    let (is, wanted) = (degrees([e, -f]), degrees(toward));
                    assert!(beyond(is, wanted).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn angles_that_do_not_close_have_near_ones_that_do() {
        assert_eq!(Closing::by(&square(40), Angle::parse("30").unwrap()), None);
        let around = Closing::around(&square(40), 30.0);
        let told: Vec<Whole> = around.iter().map(|closing| closing.toward).collect();
        // The convergents of the square root of three and those between: 2/1, 5/3, 7/4, 26/15.
        for known in [[1, 1], [2, 1], [7, 4], [26, 15]] {
            assert!(told.contains(&known), "{told:?}");
        }
        assert!(around.windows(2).all(|pair| norm(pair[0].toward) <= norm(pair[1].toward)));
    }
}
