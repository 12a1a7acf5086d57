//! The opaque pixels around a see-through one, sorted into regions of even color, and what each would put in its place.
//!
//! Takes a view of the samples and a place, yields colors with how sure they are. Fixed-order arithmetic: the same numbers
//! on every machine. Knows nothing of alpha beyond what is opaque, and of files.

use crate::pixel::over::Sample;
use crate::pixel::stored::{REACH, View};

/// Pixels along one side of the window.
const SIDE: usize = (2 * REACH + 1) as usize;

/// Neighbors whose samples differ by at most this many of 255 belong to one region: a shade may rise by 3 a pixel.
const LINK: f64 = 6.0;

/// The fewest pixels a region is fitted through: by its mean, a plane, a curved surface.
const FEWEST: [usize; 3] = [6, 14, 30];

/// An opaque pixel of the window.
#[derive(Clone, Copy, Debug)]
struct Near {
    dx: f64,
    dy: f64,
    /// Red, green, blue, in units of 1/255.
    color: [f64; 3],
}

/// What a region would put in the middle.
#[derive(Clone, Copy, Debug)]
pub struct Guess {
    /// Red, green, blue, in units of 1/255.
    pub color: [f64; 3],
    /// The covariance of its pixels about the fitted surface, channel by channel.
    pub covariance: [[f64; 3]; 3],
    /// How many pixels it has.
    pub count: usize,
}

impl Guess {
    /// The variance of its pixels about the fitted surface in one channel.
    #[must_use]
    pub fn variance(&self, channel: usize) -> f64 {
        self.covariance[channel][channel]
    }
}

/// The opaque surroundings of one pixel.
#[derive(Debug)]
pub struct Around {
    cells: [Option<Near>; SIDE * SIDE],
}

impl Around {
    /// The window around column `x`, row `y`.
    #[must_use]
    pub fn of<T: Sample>(view: &View<'_, T>, (x, y): (u32, u32)) -> Self {
        let unit = 255.0 / f64::from(T::MOST);
        let mut cells = [None; SIDE * SIDE];
        for (place, cell) in cells.iter_mut().enumerate() {
            let (dx, dy) = ((place % SIDE) as i64 - REACH, (place / SIDE) as i64 - REACH);
            *cell = view.opaque(i64::from(x) + dx, i64::from(y) + dy).map(|color| Near {
                dx: dx as f64,
                dy: dy as f64,
                color: color.map(|sample| Into::<f64>::into(sample) * unit),
            });
        }
        Self { cells }
    }

    /// How many pixels have the very same color, and how many others are within `near` of 255 of it in every channel.
    #[must_use]
    pub fn like(&self, color: [f64; 3], near: f64) -> (usize, usize) {
        self.cells.iter().flatten().fold((0, 0), |(same, close), cell| match apart(cell.color, color) {
            0.0 => (same + 1, close),
            far => (same, close + usize::from(far <= near)),
        })
    }

    /// What all opaque pixels together would put in the middle; `None` where they are too few.
    #[must_use]
    pub fn whole(&self) -> Option<Guess> {
        fitted(&self.cells.iter().flatten().copied().collect::<Vec<_>>())
    }

    /// What each region would put in the middle, the region that comes nearest to it first.
    #[must_use]
    pub fn regions(&self) -> Vec<Guess> {
        let mut taken = [false; SIDE * SIDE];
        let mut parts: Vec<Vec<Near>> = Vec::new();
        let mut open = Vec::new();
        for start in 0..SIDE * SIDE {
            if self.cells[start].is_none() || taken[start] {
                continue;
            }
            let mut part = Vec::new();
            taken[start] = true;
            open.push(start);
            while let Some(at) = open.pop() {
                let Some(cell) = self.cells[at] else { continue };
                part.push(cell);
                let (column, row) = (at % SIDE, at / SIDE);
                let beside = [
                    (column > 0).then(|| at - 1),
                    (column + 1 < SIDE).then_some(at + 1),
                    (row > 0).then(|| at.wrapping_sub(SIDE)),
                    (row + 1 < SIDE).then_some(at + SIDE),
                ];
                for next in beside.into_iter().flatten() {
                    let linked = self.cells[next].is_some_and(|other| apart(other.color, cell.color) <= LINK);
                    if linked && !taken[next] {
                        taken[next] = true;
                        open.push(next);
                    }
                }
            }
            parts.push(part);
        }
        joined(parts)
    }
}

/// Fits of the parts, those that agree about the middle joined into one: a line cuts a region in two.
fn joined(mut parts: Vec<Vec<Near>>) -> Vec<Guess> {
    parts.retain(|part| part.len() >= FEWEST[0]);
    // Nearest first, so that the join begins with what is beside the pixel.
    let reach = |part: &[Near]| part.iter().map(|cell| cell.dx * cell.dx + cell.dy * cell.dy).fold(f64::MAX, f64::min);
    parts.sort_by(|a, b| reach(a).total_cmp(&reach(b)));
    let mut regions: Vec<(Vec<Near>, Guess)> = Vec::new();
    for part in parts {
        let Some(guess) = fitted(&part) else { continue };
        let agree = |other: &(Vec<Near>, Guess)| {
            let both = [other.0.as_slice(), &part].concat();
            fitted(&both).filter(|joint| {
                (0..3).all(|i| joint.variance(i) <= 0.5 + 1.5 * guess.variance(i).max(other.1.variance(i)))
            })
        };
        match regions.iter().enumerate().find_map(|(i, other)| Some((i, agree(other)?))) {
            Some((i, joint)) => {
                regions[i].0.extend(part);
                regions[i].1 = joint;
            }
            None => regions.push((part, guess)),
        }
    }
    regions.into_iter().map(|(_, guess)| guess).collect()
}

/// The largest difference of two colors in one channel.
fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|i| (a[i] - b[i]).abs()).fold(0.0, f64::max)
}

/// The least-squares surface through pixels, read in the middle: the mean of few, a plane through more, a surface of second
/// degree through many.
fn fitted(cells: &[Near]) -> Option<Guess> {
    let terms = match FEWEST.iter().rposition(|fewest| cells.len() >= *fewest)? {
        0 => 1,
        1 => 3,
        _ => 6,
    };
    [6, 3, 1].into_iter().filter(|count| *count <= terms).find_map(|terms| surface(cells, terms))
}

fn surface(cells: &[Near], terms: usize) -> Option<Guess> {
    // Normal equations, with one right side for each channel.
    let mut rows = [[0.0; 9]; 6];
    for cell in cells {
        let basis = [1.0, cell.dx, cell.dy, cell.dx * cell.dx, cell.dx * cell.dy, cell.dy * cell.dy];
        for (row, term) in rows.iter_mut().zip(&basis[..terms]) {
            for (sum, other) in row.iter_mut().zip(&basis[..terms]) {
                *sum += term * other;
            }
            for (sum, sample) in row[6..].iter_mut().zip(cell.color) {
                *sum += term * sample;
            }
        }
    }
    let right: [[f64; 3]; 6] = std::array::from_fn(|i| [rows[i][6], rows[i][7], rows[i][8]]);
    // Gauss and Jordan's elimination with pivots in order: the matrix is positive definite where the pixels spread both ways.
    for pivot in 0..terms {
        let size = rows[pivot][pivot];
        if size < 1e-6 {
            return None;
        }
        rows[pivot].iter_mut().for_each(|value| *value /= size);
        for row in (0..terms).filter(|row| *row != pivot) {
            let factor = rows[row][pivot];
            let above = rows[pivot];
            rows[row].iter_mut().zip(above).for_each(|(value, above)| *value -= factor * above);
        }
    }
    let left = (cells.len() - terms).max(1) as f64;
    let covariance = std::array::from_fn(|a| {
        std::array::from_fn(|b| {
            let products: f64 = cells.iter().map(|cell| cell.color[a] * cell.color[b]).sum();
            let told: f64 = (0..terms).map(|i| rows[i][6 + a] * right[i][b]).sum();
            let left = (products - told) / left;
            if a == b { left.max(0.0) } else { left }
        })
    });
    Some(Guess { color: [rows[0][6], rows[0][7], rows[0][8]], covariance, count: cells.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tile of 21 x 21 pixels whose middle column is see-through, colored by a rule of the distance from its middle.
    fn around(color: impl Fn(f64, f64) -> [f64; 3]) -> Around {
        let sample = |place: u32| {
            let (x, y) = (place % 21, place / 21);
            let [r, g, b] = color(f64::from(x) - 10.0, f64::from(y) - 10.0).map(|value| (value * 257.0).round() as u16);
            [r, g, b, if x == 10 { 9000 } else { u16::MAX }]
        };
        let samples: Vec<u16> = (0..441).flat_map(sample).collect();
        Around::of(&View::new(&samples, 21, 21).unwrap(), (10, 10))
    }

    #[test]
    fn a_line_through_a_soft_shade_leaves_one_region_that_is_read_exactly_in_the_middle() {
        let shade =
            |x: f64, y: f64| [100.0 + 0.8 * x - 0.4 * y + 0.03 * x * y, 60.0 - 0.05 * x * x, 30.0 + 0.02 * y * y];
        let regions = around(shade).regions();
        assert_eq!(regions.len(), 1);
        assert_eq!(regions[0].count, 110);
        for (is, should) in regions[0].color.iter().zip([100.0, 60.0, 30.0]) {
            assert!((is - should).abs() < 0.01, "{regions:?}");
        }
    }

    #[test]
    fn two_sides_of_an_edge_are_two_regions() {
        let regions = around(|x, _| if x < 0.0 { [10.0; 3] } else { [90.0, 80.0, 70.0] }).regions();
        let colors: Vec<_> = regions.iter().map(|region| region.color.map(f64::round)).collect();
        assert_eq!(colors, [[10.0; 3], [90.0, 80.0, 70.0]]);
    }

    #[test]
    fn a_surface_cannot_be_laid_through_pixels_of_one_line() {
        let line: Vec<Near> =
            (0..11).map(|i| Near { dx: 0.0, dy: f64::from(i) - 5.0, color: [1.0, 2.0, 3.0] }).collect();
        assert!(surface(&line, 3).is_none());
        assert_eq!(fitted(&line).unwrap().color, [1.0, 2.0, 3.0]);
        assert!(fitted(&line[..5]).is_none());
    }
}
