//! Where one drawing lies on another: the shift on the torus, for each of the eight ways to lay it down.
//!
//! Takes waves of edges and of colors, yields shifts worth looking at. Proposes only. Correlation by products of waves (Kuglin and
//! Hines, Proc. IEEE Conf. Cybernetics and Society 1975:163-165): for edges with waves weighted by the root of their strength
//! instead of all alike, so that those that hold nothing but rounding have no say; for colors without a weight, so that the
//! tallest peak is where they differ least.

use super::turn::Turn;
use super::wave::{SIDE, Spectrum};

/// One way to lay the other drawing onto the first: turned, then moved right and down, in steps of the grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// How it is turned.
    pub turn: Turn,
    /// How far it is moved.
    pub shift: [f32; 2],
    /// How far the edges of both then run the same way: 1 for one drawing, about 0 for two; 0 where they were not looked at.
    pub edges: f32,
}

impl Laid {
    /// How far it is from lying down as it is: smaller is plainer.
    #[must_use]
    pub fn plainness(&self) -> (usize, u32) {
        let side = SIDE as f32;
        let way = |by: f32| by.rem_euclid(side).min(side - by.rem_euclid(side));
        let order = Turn::all().iter().position(|known| *known == self.turn).unwrap_or(0);
        (order, (way(self.shift[0]) + way(self.shift[1])).round() as u32)
    }
}

/// How many peaks of each correlation are kept: a drawing that almost comes again inside itself has many of about one height.
const PEAKS: usize = 6;

/// So many of the tallest are put in order first; hardly ever are more of them looked at.
const TALLEST: usize = 128;

/// Peaks nearer than this are one.
const APART: i64 = 3;

/// How far two pictures correlate at every shift.
pub struct Surface(Vec<f32>);

impl Surface {
    /// The sum of the correlations of pairs of channels; with a weight, waves count with the root of their strength.
    #[must_use]
    pub fn of<'a>(pairs: impl IntoIterator<Item = (&'a Spectrum, &'a Spectrum)>, weighted: bool) -> Self {
        let mut sum = Spectrum::none();
        for (one, other) in pairs {
            sum.add_product(one, other);
        }
        sum.change(|k, l, wave| {
            if (k, l) == (0, 0) {
                *wave *= 0.0;
            } else if weighted {
                *wave *= 1.0 / wave.norm().sqrt().max(1e-6);
            }
        });
        Self(sum.field())
    }

    fn value(&self, x: i64, y: i64) -> f32 {
        let side = SIDE as i64;
        self.0[(y.rem_euclid(side) * side + x.rem_euclid(side)) as usize]
    }

    /// The value at the whole shift nearest to this one.
    #[must_use]
    pub fn at(&self, [right, down]: [f32; 2]) -> f32 {
        self.value(right.round() as i64, down.round() as i64)
    }

    /// The shifts of the tallest peaks, the tallest first; of equal ones, the one that moves least.
    #[must_use]
    pub fn peaks(&self) -> Vec<[f32; 2]> {
        let side = SIDE as i64;
        let moved = |at: i64| at.min(side - at);
        let mut tops: Vec<(f32, i64, i64)> = Vec::new();
        let row = |y: usize| &self.0[y % SIDE * SIDE..][..SIDE];
        for y in 0..SIDE {
            let (own_row, beside) = (row(y), [row(y + SIDE - 1), row(y + 1)]);
            for (x, &own) in own_row.iter().enumerate() {
                let (before, after) = ((x + SIDE - 1) % SIDE, (x + 1) % SIDE);
                if own > 0.0
                    && own >= own_row[before]
                    && own >= own_row[after]
                    && beside.iter().all(|row| own >= row[before] && own >= row[x] && own >= row[after])
                {
                    tops.push((own, x as i64, y as i64));
                }
            }
        }
        // Of equal ones that move equally far, the one nearest to the top left.
        let before = |a: &(f32, i64, i64), b: &(f32, i64, i64)| {
            let moves = |top: &(f32, i64, i64)| (moved(top.1) + moved(top.2), top.2, top.1);
            b.0.total_cmp(&a.0).then_with(|| moves(a).cmp(&moves(b)))
        };
        let first = TALLEST.min(tops.len());
        if first < tops.len() {
            tops.select_nth_unstable_by(first, before);
        }
        tops[..first].sort_unstable_by(before);
        let mut kept: Vec<(f32, i64, i64)> = Vec::new();
        for at in 0..tops.len() {
            if at == first {
                tops[first..].sort_unstable_by(before);
            }
            let top = tops[at];
            let near = |other: &(f32, i64, i64)| {
                moved((top.1 - other.1).rem_euclid(side)) < APART && moved((top.2 - other.2).rem_euclid(side)) < APART
            };
            if !kept.iter().any(near) {
                kept.push(top);
            }
            if kept.len() == PEAKS {
                break;
            }
        }
        let between = |before: f32, own: f32, after: f32| {
            let bend = before - 2.0 * own + after;
            if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
        };
        kept.into_iter()
            .map(|(height, x, y)| {
                let right = between(self.value(x - 1, y), height, self.value(x + 1, y));
                let down = between(self.value(x, y - 1), height, self.value(x, y + 1));
                [x as f32 + right, y as f32 + down]
            })
            .collect()
    }
}
