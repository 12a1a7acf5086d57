//! What is long and thin: moments of pixel sets, cell by cell, and from them whether a set runs in strands and which way.
//!
//! Takes masks, yields moments. Decides in integers. Knows no alpha.

use super::link::{Groups, linked};
use crate::pixel::mask::{Mask, Run};

/// The side of the square cells in which direction is judged, in pixels: several times the width of a hairline, short
/// enough that a curved one is nearly straight.
pub const CELL: u32 = 16;

/// Sums over a set of pixels, from which its middle and its direction follow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moments {
    /// Pixels.
    pub n: i64,
    x: i64,
    y: i64,
    xx: i64,
    xy: i64,
    yy: i64,
}

impl Moments {
    /// Adds the pixels of one row from column `start` to before `end`.
    pub fn add(&mut self, start: i64, end: i64, y: i64) {
        for x in start..end {
            self.n += 1;
            self.x += x;
            self.y += y;
            self.xx += x * x;
            self.xy += x * y;
            self.yy += y * y;
        }
    }

    /// Adds another set.
    pub fn join(&mut self, other: &Self) {
        self.n += other.n;
        self.x += other.x;
        self.y += other.y;
        self.xx += other.xx;
        self.xy += other.xy;
        self.yy += other.yy;
    }

    /// n^2 times the covariances (xx, xy, yy).
    fn spread(&self) -> (i128, i128, i128) {
        let (n, x, y) = (i128::from(self.n), i128::from(self.x), i128::from(self.y));
        (n * i128::from(self.xx) - x * x, n * i128::from(self.xy) - x * y, n * i128::from(self.yy) - y * y)
    }

    /// Whether the set is at least twice as long as wide: its variances along and across differ by a factor of 4 and more.
    /// With s = trace and d = determinant of the covariances, (1 + 4)^2 / 4 <= s^2 / d says the same without roots.
    #[must_use]
    pub fn elongated(&self) -> bool {
        let (xx, xy, yy) = self.spread();
        let (trace, determinant) = (xx + yy, xx * yy - xy * xy);
        trace > 0 && 4 * trace * trace >= 25 * determinant
    }

    /// The variances along and across the direction of greatest spread, in square pixels.
    #[must_use]
    pub fn variances(&self) -> (f64, f64) {
        let (xx, xy, yy) = self.spread();
        let (half, n) = ((xx + yy) as f64 / 2.0, (self.n.max(1) * self.n.max(1)) as f64);
        let root = ((xx - yy) as f64 / 2.0).hypot(xy as f64);
        ((half + root) / n, (half - root) / n)
    }

    /// The middle, in pixels.
    #[must_use]
    pub fn middle(&self) -> (f64, f64) {
        let n = self.n.max(1) as f64;
        (self.x as f64 / n, self.y as f64 / n)
    }

    /// The direction of greatest spread as a unit vector (right, down).
    #[must_use]
    pub fn direction(&self) -> (f64, f64) {
        let (xx, xy, yy) = self.spread();
        if xy == 0 {
            return if xx >= yy { (1.0, 0.0) } else { (0.0, 1.0) };
        }
        let angle = (2.0 * xy as f64).atan2((xx - yy) as f64) / 2.0;
        (angle.cos(), angle.sin())
    }
}

/// The part of one group that lies in one cell.
#[derive(Clone, Copy, Debug)]
pub struct Piece {
    /// The group it belongs to.
    pub group: u32,
    /// Its sums, in pixels of the canvas.
    pub moments: Moments,
}

/// Cuts the runs of a mask into pieces by cell and group; `of` gives each run's group. Rows of cells from the top.
#[must_use]
pub fn pieces(mask: &Mask, of: &[u32]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut band: Vec<Vec<Piece>> = Vec::new();
    let mut current = 0;
    for (run, &group) in mask.runs().iter().zip(of) {
        if run.y / CELL != current {
            current = run.y / CELL;
            pieces.extend(band.iter_mut().flat_map(std::mem::take));
        }
        for part in cells(*run) {
            let column = (part.start / CELL) as usize;
            if band.len() <= column {
                band.resize(column + 1, Vec::new());
            }
            let cell = &mut band[column];
            let at = cell.iter().position(|piece| piece.group == group).unwrap_or_else(|| {
                cell.push(Piece { group, moments: Moments::default() });
                cell.len() - 1
            });
            cell[at].moments.add(part.start.into(), part.end.into(), part.y.into());
        }
    }
    pieces.extend(band.into_iter().flatten());
    pieces
}

/// Cuts a run where it leaves one cell for the next.
pub fn cells(run: Run) -> impl Iterator<Item = Run> {
    (run.start / CELL..=(run.end - 1) / CELL).map(move |cell| Run {
        start: run.start.max(cell * CELL),
        end: run.end.min((cell + 1) * CELL),
        ..run
    })
}

/// Whether each group runs in strands: one that fits a cell when it is elongated as a whole, a larger one when at least
/// half of its pixels lie in elongated pieces, or in connected parts too large for a cell. Blots and strewn pixels do not.
#[must_use]
pub fn in_strands(mask: &Mask, groups: &Groups, width: u32, height: u32) -> Vec<bool> {
    let parts = linked(mask, width, height, 1);
    let parts_fit: Vec<bool> = wholes(mask, &parts, width, height).iter().map(Whole::fits_a_cell).collect();
    let mut tally = vec![Tally::default(); groups.sizes.len()];
    for ((run, &group), &part) in mask.runs().iter().zip(&groups.of).zip(&parts.of) {
        tally[group as usize].all += run.count();
        tally[group as usize].long += if parts_fit[part as usize] { 0 } else { run.count() };
    }
    for piece in pieces(mask, &groups.of).iter().filter(|piece| piece.moments.elongated()) {
        tally[piece.group as usize].elongated += piece.moments.n as u64;
    }
    let judge = |(whole, tally): (&Whole, &Tally)| {
        if whole.fits_a_cell() { whole.moments.elongated() } else { 2 * tally.elongated.max(tally.long) >= tally.all }
    };
    wholes(mask, groups, width, height).iter().zip(&tally).map(judge).collect()
}

/// How many pixels of a group lie where.
#[derive(Clone, Default)]
struct Tally {
    all: u64,
    /// In connected parts too large for a cell.
    long: u64,
    /// In elongated pieces.
    elongated: u64,
}

fn wholes(mask: &Mask, groups: &Groups, width: u32, height: u32) -> Vec<Whole> {
    let mut wholes = vec![Whole::default(); groups.sizes.len()];
    for (run, &group) in mask.runs().iter().zip(&groups.of) {
        wholes[group as usize].add(*run, width, height);
    }
    wholes
}

/// A group seen from its first pixel, so that the tile's borders do not cut it.
#[derive(Clone, Default)]
struct Whole {
    seed: Option<(i64, i64)>,
    least: (i64, i64),
    most: (i64, i64),
    moments: Moments,
}

impl Whole {
    fn add(&mut self, run: Run, width: u32, height: u32) {
        let (x, y) = (i64::from(run.start), i64::from(run.y));
        let (seed_x, seed_y) = *self.seed.get_or_insert((x, y));
        let near = |apart: i64, side: u32| match (i64::from(side), 2 * apart) {
            (side, twice) if twice > side => apart - side,
            (side, twice) if twice < -side => apart + side,
            _ => apart,
        };
        let (start, y) = (near(x - seed_x, width), near(y - seed_y, height));
        let end = start + i64::from(run.end - run.start);
        self.least = (self.least.0.min(start), self.least.1.min(y));
        self.most = (self.most.0.max(end), self.most.1.max(y + 1));
        if self.fits_a_cell() {
            self.moments.add(start, end, y);
        }
    }

    fn fits_a_cell(&self) -> bool {
        let side = i64::from(CELL);
        self.most.0 - self.least.0 <= side && self.most.1 - self.least.1 <= side
    }
}
