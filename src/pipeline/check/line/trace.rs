//! Which thin crossings lie in a straight row: found from two that are some way apart, followed as far as they go.
//!
//! Takes the crossings of one scan, yields straight stretches on the endless repeat. Knows no colors.

use super::ridges::{Ridges, View, apart};

/// A straight stretch seen along a scan, on the endless repeat: from scanned place `from` to before `to` (the far end may lie
/// beyond the border), its middle `at + slope * along` pixels across.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The first row or column.
    pub from: i64,
    /// One past the last row or column.
    pub to: i64,
    /// Where it crosses row or column 0 of the endless repeat, in pixels, pixel centers at whole numbers.
    pub at: f64,
    /// Pixels across for each pixel along, -1 to 1.
    pub slope: f64,
}

impl Stretch {
    /// The middle at a row or column.
    #[must_use]
    pub fn middle(&self, along: f64) -> f64 {
        self.at + self.slope * along
    }

    /// How long it is, in pixels.
    #[must_use]
    pub fn length(&self) -> f64 {
        (self.to - self.from) as f64 * (1.0 + self.slope * self.slope).sqrt()
    }
}

/// How far apart the two crossings are that propose a direction, in pixels.
const BASE: i64 = 32;

/// How far, in half pixels, a crossing may lie from where it is expected.
const REACH: i64 = 3;

/// How far, in half pixels, a crossing may lie from a line that has been found to be taken for a part of it.
const CLAIM: i64 = 6;

/// The most half pixels across for each pixel along: what lies flatter is the other scan's.
const STEEPEST: f64 = 2.1;

/// What a missing crossing costs against one that is there: art that lies under a line hides it in places.
const MISS: f64 = 0.7;

/// How far the score may fall below its best before the line is taken to have ended.
const PATIENCE: f64 = 12.0;

/// The least share of crossings that are there, in percent.
const SHARE: usize = 45;

/// The most stretches of one scan: where there are more, the art is made of lines.
pub const MOST: usize = 160;

/// The straight stretches of at least `shortest` pixels, in the order in which a scan meets them.
#[must_use]
pub fn traced(view: View, ridges: &Ridges, shortest: i64) -> Vec<Stretch> {
    let mut tracer = Tracer {
        view,
        ridges,
        near: Near::of(ridges, view.across),
        used: ridges.middles.iter().map(|middles| vec![false; middles.len()]).collect(),
        found: Vec::new(),
    };
    let step = ridges.at.get(1).map_or(view.along, |second| second - ridges.at[0]);
    // At least four gaps between the two, so that those between them can speak.
    let gaps = (BASE.min(shortest / 2) / step).max(4) as usize;
    for line in 0..ridges.at.len() {
        for i in 0..ridges.middles[line].len() {
            if !tracer.used[line][i] {
                tracer.grow(line, i, gaps, shortest);
            }
            if tracer.found.len() >= MOST {
                return tracer.found;
            }
        }
    }
    tracer.found
}

struct Tracer<'a> {
    view: View<'a>,
    ridges: &'a Ridges,
    near: Near,
    used: Vec<Vec<bool>>,
    found: Vec<Stretch>,
}

/// Which half pixels of each scanned line have a crossing within [`REACH`] of them: a bit each.
struct Near {
    turn: i64,
    words: usize,
    bits: Vec<u64>,
}

impl Near {
    fn of(ridges: &Ridges, across: i64) -> Self {
        let turn = 2 * across;
        let words = (turn as usize).div_ceil(64);
        let mut bits = vec![0u64; words * ridges.at.len()];
        for (bits, middles) in bits.chunks_exact_mut(words).zip(&ridges.middles) {
            for middle in middles {
                for off in -REACH..=REACH {
                    let place = (middle + off).rem_euclid(turn) as usize;
                    bits[place / 64] |= 1 << (place % 64);
                }
            }
        }
        Self { turn, words, bits }
    }

    /// Whether one is near a place of the endless repeat.
    #[inline]
    fn is(&self, line: usize, place: i64) -> bool {
        let place = if (0..self.turn).contains(&place) { place } else { place.rem_euclid(self.turn) } as usize;
        self.bits[line * self.words + place / 64] >> (place % 64) & 1 == 1
    }
}

/// Sums over crossings, from which the line of least squares follows; places relative to the seed.
#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    u: f64,
    v: f64,
    uu: f64,
    uv: f64,
}

impl Sums {
    fn add(&mut self, u: f64, v: f64) {
        self.n += 1.0;
        self.u += u;
        self.v += v;
        self.uu += u * u;
        self.uv += u * v;
    }

    /// Where the line crosses the seed's row, and its slope.
    fn line(&self) -> Option<(f64, f64)> {
        let spread = self.n * self.uu - self.u * self.u;
        (spread > 0.0).then(|| {
            let slope = (self.n * self.uv - self.u * self.v) / spread;
            ((self.v - slope * self.u) / self.n, slope)
        })
    }
}

/// How far one way a line was followed.
struct Leg {
    /// Scanned lines passed up to the last crossing that counts.
    reach: usize,
    /// The crossings met on the way: scanned line, number.
    met: Vec<(usize, usize)>,
}

impl Tracer<'_> {
    /// The scanned line `steps` further (or back), and how far along it lies from row 0 of the endless repeat.
    fn line_at(&self, line: usize, steps: i64) -> (usize, i64) {
        let count = self.ridges.at.len() as i64;
        let far = line as i64 + steps;
        if (0..count).contains(&far) {
            return (far as usize, self.ridges.at[far as usize]);
        }
        let index = far.rem_euclid(count) as usize;
        (index, self.ridges.at[index] + far.div_euclid(count) * self.view.along)
    }

    fn grow(&mut self, line: usize, i: usize, gaps: usize, shortest: i64) {
        let (seed, across) = (self.ridges.middles[line][i], self.view.across);
        let (partner, along) = self.line_at(line, gaps as i64);
        let base = along - self.ridges.at[line];
        let turn = 2 * across;
        // Slopes from -1 to 1, and a little more for a line at 45 degrees whose middles are rounded.
        let widest = (2 * base + 2).min(across - 1);
        let others = &self.ridges.middles[partner];
        let start = others.partition_point(|middle| *middle < (seed - widest).rem_euclid(turn));
        for n in 0..others.len() {
            let other = if start + n < others.len() { start + n } else { (start + n) % others.len() };
            let apart = apart(others[other], seed, across);
            if apart.abs() > widest {
                break;
            }
            if !self.used[partner][other] && self.likely(line, seed, apart, base, gaps) {
                let stretch = self.follow(line, i, apart as f64 / base as f64, gaps);
                if let Some(stretch) = stretch.filter(|stretch| stretch.length() >= shortest as f64) {
                    self.claim(&stretch);
                    self.found.push(stretch);
                    return;
                }
            }
        }
    }

    /// Marks everything near a stretch as used: a wide line's crossings waver, and what is left over is no second line.
    fn claim(&mut self, stretch: &Stretch) {
        let across = self.view.across;
        let around = (stretch.from.div_euclid(self.view.along), stretch.to.div_euclid(self.view.along));
        for (line, at) in self.ridges.at.iter().enumerate() {
            for turn in around.0..=around.1 {
                let along = at + turn * self.view.along;
                if along < stretch.from - BASE / 2 || along > stretch.to + BASE / 2 {
                    continue;
                }
                let place = ((2.0 * stretch.middle(along as f64)).round() as i64).rem_euclid(2 * across);
                for (middle, used) in self.ridges.middles[line].iter().zip(&mut self.used[line]) {
                    *used |= apart(*middle, place, across).abs() <= CLAIM;
                }
            }
        }
    }

    /// Whether most of what lies between two crossings is there.
    fn likely(&self, line: usize, seed: i64, apart: i64, base: i64, gaps: usize) -> bool {
        let there = (1..gaps)
            .filter(|step| {
                let (between, along) = self.line_at(line, *step as i64);
                let place = seed + apart * (along - self.ridges.at[line]) / base;
                self.near.is(between, place)
            })
            .count();
        5 * there >= 3 * (gaps - 1)
    }

    /// Follows a line both ways from a seed; marks what it is made of as used when it is long enough to be one.
    fn follow(&mut self, line: usize, i: usize, slope: f64, gaps: usize) -> Option<Stretch> {
        let (seed, from) = (self.ridges.middles[line][i], self.ridges.at[line]);
        let mut sums = Sums::default();
        sums.add(0.0, 0.0);
        let all = self.ridges.at.len();
        let ahead = self.leg((line, seed), 1, slope, (gaps, all - 1), &mut sums);
        let slope = sums.line().map_or(slope, |(_, slope)| slope);
        // Once around: what winds further is met again as another stretch.
        let back = self.leg((line, seed), -1, slope, (gaps, all - 1 - ahead.reach), &mut sums);
        let (off, slope) = sums.line()?;
        let steps = ahead.reach + back.reach;
        let met = ahead.met.len() + back.met.len() + 1;
        if 100 * met < SHARE * (steps + 1) || met <= gaps || slope.abs() > STEEPEST {
            return None;
        }
        self.used[line][i] = true;
        for (line, i) in ahead.met.into_iter().chain(back.met) {
            self.used[line][i] = true;
        }
        let (_, first) = self.line_at(line, -(back.reach as i64));
        let (_, last) = self.line_at(line, ahead.reach as i64);
        let at = (seed as f64 + off) / 2.0 - slope / 2.0 * from as f64;
        Some(Stretch { from: first, to: last + 1, at, slope: slope / 2.0 })
    }

    /// Follows a line one way; `slope` in half pixels for each pixel along.
    fn leg(
        &self,
        (line, seed): (usize, i64),
        way: i64,
        slope: f64,
        (gaps, most): (usize, usize),
        sums: &mut Sums,
    ) -> Leg {
        let from = self.ridges.at[line];
        let (mut score, mut best) = (0.0, 0.0);
        let mut leg = Leg { reach: 0, met: Vec::new() };
        let mut counted = (0, *sums);
        let known = sums.n;
        for step in 1..=most as i64 {
            let (index, along) = self.line_at(line, way * step);
            let u = (along - from) as f64;
            // Until enough is known of the line, its proposed slope is better than a fitted one.
            let (off, slope) = match sums.line() {
                Some(line) if sums.n >= known.max(gaps as f64) + 4.0 || known > 1.0 => line,
                _ => (0.0, slope),
            };
            let expected = seed as f64 + off + slope * u;
            let place = expected.round() as i64;
            match self.ridges.nearest(index, place, self.view.across, REACH) {
                Some((number, apart)) => {
                    sums.add(u, (place + apart - seed) as f64);
                    leg.met.push((index, number));
                    score += 1.0;
                    if score > best {
                        best = score;
                        leg.reach = step as usize;
                        counted = (leg.met.len(), *sums);
                    }
                }
                None => score -= MISS,
            }
            if score < best - PATIENCE {
                break;
            }
        }
        leg.met.truncate(counted.0);
        if counted.0 > 0 {
            *sums = counted.1;
        }
        leg
    }
}

#[cfg(test)]
mod tests {
    use super::super::ridges::{Scan, ridges};
    use super::*;
    use crate::tile::Raster;

    fn drawn(width: u32, height: u32, on: impl Fn(f64, f64) -> bool) -> Raster {
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let color = |(x, y): (u32, u32)| if on(x.into(), y.into()) { [60, 60, 60, 255] } else { [90, 90, 90, 255] };
        Raster::new(width, height, pixels.flat_map(color).collect()).unwrap()
    }

    fn found(raster: &Raster, scan: Scan) -> Vec<Stretch> {
        let [rows, columns] = ridges(raster, 4);
        let found = if scan == Scan::Rows { rows } else { columns };
        traced(View::of(raster, scan), &found.unwrap(), 40)
    }

    #[test]
    fn a_slanted_line_is_one_stretch_from_border_to_border() {
        for slope in [-0.9, -0.3, 0.0, 0.01, 0.5, 1.0] {
            let raster = drawn(400, 300, |x, y| (x - 200.0 - slope * (y - 150.0)).abs() <= 1.0);
            let stretches = found(&raster, Scan::Rows);
            assert_eq!(stretches.len(), 1, "slope {slope}: {stretches:?}");
            let stretch = stretches[0];
            assert!((stretch.slope - slope).abs() < 0.01, "slope {slope}: {stretch:?}");
            assert!((stretch.middle(150.0) - 200.0).abs() < 1.0, "slope {slope}: {stretch:?}");
            assert!(stretch.to - stretch.from >= 290, "slope {slope}: {stretch:?}");
        }
    }

    #[test]
    fn a_line_goes_on_over_the_border() {
        let raster = drawn(300, 300, |x, y| (x - y).rem_euclid(300.0) < 2.0 && !(130.0..150.0).contains(&y));
        let stretches = found(&raster, Scan::Rows);
        assert_eq!(stretches.len(), 1, "{stretches:?}");
        assert!(stretches[0].to - stretches[0].from >= 270, "{stretches:?}");
    }

    #[test]
    fn strewn_crossings_are_no_line() {
        let raster = drawn(400, 400, |x, y| (x * 7919.0 + y * y * 104_729.0).rem_euclid(97.0) < 3.0);
        assert_eq!(found(&raster, Scan::Rows), []);
    }
}
