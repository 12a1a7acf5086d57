//! Where one drawing lies on another: the shift on the torus, for each of the eight ways to lay it down.
//!
//! Takes edges, yields shifts worth looking at. Proposes only. Phase correlation (Kuglin and Hines, Proc. IEEE Conf.
//! Cybernetics and Society 1975:163-165), with waves weighted by the root of their strength instead of all alike, so that
//! those that hold nothing but rounding have no say.

use super::field::Edges;
use super::turn::Turn;
use super::wave::{SIDE, Spectrum};

/// One way to lay the other drawing onto the first: turned, then moved right and down, in steps of the grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// How it is turned.
    pub turn: Turn,
    /// How far it is moved.
    pub shift: [f32; 2],
    /// How far the edges of both then run the same way: 1 for one drawing, about 0 for two.
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

/// How many peaks of each turn are kept.
const PEAKS: usize = 2;

/// Peaks nearer than this are one.
const APART: i64 = 3;

/// The waves of the edges of a drawing, laid down in one way.
#[must_use]
pub fn waves(edges: &Edges, turn: Turn) -> [Spectrum; 3] {
    let [cosine, sine] = turn.signs();
    [(0, cosine), (1, sine), (2, 1.0)].map(|(i, sign)| {
        let mut field = turn.field(&edges.fields[i]);
        field.iter_mut().for_each(|value| *value *= sign);
        Spectrum::of(&field)
    })
}

/// The shifts of the tallest peaks of the correlation of two drawings.
#[must_use]
pub fn peaks(one: &[Spectrum; 3], other: &[Spectrum; 3]) -> Vec<[f32; 2]> {
    let mut sum = Spectrum::none();
    for (one, other) in one.iter().zip(other) {
        sum.add_product(one, other);
    }
    sum.change(|k, l, wave| {
        let weight = if (k, l) == (0, 0) { 0.0 } else { 1.0 / wave.norm().sqrt().max(1e-6) };
        *wave *= weight;
    });
    let surface = sum.field();
    let side = SIDE as i64;
    let value = |x: i64, y: i64| surface[(y.rem_euclid(side) * side + x.rem_euclid(side)) as usize];
    // Of equal peaks the one that moves least comes first.
    let moved = |at: i64| at.min(side - at);
    let mut kept: Vec<(f32, i64, i64)> = Vec::new();
    while kept.len() < PEAKS {
        let mut best: Option<(f32, i64, i64)> = None;
        for (y, row) in (0..).zip(surface.chunks_exact(SIDE)) {
            for (x, &own) in (0..).zip(row) {
                let taller = best.is_none_or(|(most, bx, by)| {
                    own > most || (own == most && moved(x) + moved(y) < moved(bx) + moved(by))
                });
                let near = |other: &(f32, i64, i64)| {
                    moved((x - other.1).rem_euclid(side)) < APART && moved((y - other.2).rem_euclid(side)) < APART
                };
                if taller && !kept.iter().any(near) {
                    best = Some((own, x, y));
                }
            }
        }
        match best {
            Some(peak) if peak.0 > 0.0 => kept.push(peak),
            _ => break,
        }
    }
    let between = |before: f32, own: f32, after: f32| {
        let bend = before - 2.0 * own + after;
        if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
    };
    kept.into_iter()
        .map(|(height, x, y)| {
            let right = between(value(x - 1, y), height, value(x + 1, y));
            let down = between(value(x, y - 1), height, value(x, y + 1));
            [x as f32 + right, y as f32 + down]
        })
        .collect()
}

/// How far the edges of two drawings run the same way, the second laid down so: the correlation of their directions.
#[must_use]
pub fn same_way(one: &Edges, other: &Edges, turn: Turn, shift: [f32; 2]) -> f32 {
    let side = SIDE as i64;
    let [right, down] = shift.map(|by| by.round() as i64);
    let [cosine, sine] = turn.signs();
    let (mut both, mut own, mut its) = (0.0_f64, 0.0_f64, 0.0_f64);
    for y in 0..side {
        for x in 0..side {
            let [u, v] = turn.source([side; 2], [(x - right).rem_euclid(side), (y - down).rem_euclid(side)]);
            let (at, from) = ((y * side + x) as usize, (v * side + u) as usize);
            for (i, sign) in [cosine, sine].into_iter().enumerate() {
                let (a, b) = (f64::from(one.fields[i][at]), f64::from(other.fields[i][from] * sign));
                both += a * b;
                own += a * a;
                its += b * b;
            }
        }
    }
    (both / (own * its).sqrt().max(1e-9)) as f32
}
