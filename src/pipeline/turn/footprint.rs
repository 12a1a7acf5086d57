//! Footprints: which pixels of the cloth a pixel of the turned cloth covers, by exact area and its moments.
//!
//! Takes the square of the turned pixel, yields for each covered cell what a surface of second degree over that cell
//! contributes. Pure geometry in fixed order; knows no pixels.

/// What a cell contributes: the integrals of 1, x, y, x x - 1/12, y y - 1/12 and x y over the covered part, with x and y
/// from the cell's center, all divided by the area of the whole footprint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The cell's column and row, from the cell in which the footprint's center lies.
    pub cell: [i32; 2],
    /// The six integrals.
    pub moments: [f32; 6],
}

type Point = [f64; 2];

/// A convex polygon of at most eight corners: a square cut by the four sides of a cell.
#[derive(Clone, Copy)]
struct Polygon {
    corners: [Point; 8],
    count: usize,
}

impl Polygon {
    const NONE: Self = Self { corners: [[0.0; 2]; 8], count: 0 };

    fn push(&mut self, corner: Point) {
        // Rounding may ask for a ninth corner that lies on the eighth.
        if let Some(free) = self.corners.get_mut(self.count) {
            *free = corner;
            self.count += 1;
        }
    }

    /// The parts below and above a line across an axis.
    fn split(&self, axis: usize, at: f64) -> (Self, Self) {
        let (mut low, mut high) = (Self::NONE, Self::NONE);
        let Some(last) = self.count.checked_sub(1) else { return (low, high) };
        let mut before = self.corners[last];
        let mut above_before = before[axis] - at;
        for &corner in &self.corners[..self.count] {
            let above = corner[axis] - at;
            if above * above_before < 0.0 {
                let t = above_before / (above_before - above);
                let mut point = [before[0] + t * (corner[0] - before[0]), before[1] + t * (corner[1] - before[1])];
                point[axis] = at;
                low.push(point);
                high.push(point);
            }
            if above <= 0.0 {
                low.push(corner);
            }
            if above >= 0.0 {
                high.push(corner);
            }
            (before, above_before) = (corner, above);
        }
        (low, high)
    }

    fn span(&self, axis: usize) -> [f64; 2] {
        self.corners[..self.count].iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], corner| {
            [low.min(corner[axis]), high.max(corner[axis])]
        })
    }

    /// Area and moments up to the second degree about `center`, by Green's theorem edge by edge.
    fn moments(&self, center: Point) -> [f64; 6] {
        let mut sums = [0.0; 6];
        let from = |corner: Point| [corner[0] - center[0], corner[1] - center[1]];
        let Some(last) = self.count.checked_sub(1) else { return sums };
        let [mut x, mut y] = from(self.corners[last]);
        for &corner in &self.corners[..self.count] {
            let [u, v] = from(corner);
            let cross = x * v - u * y;
            sums[0] += cross / 2.0;
            sums[1] += (x + u) * cross / 6.0;
            sums[2] += (y + v) * cross / 6.0;
            sums[3] += (x * x + x * u + u * u) * cross / 12.0;
            sums[4] += (y * y + y * v + v * v) * cross / 12.0;
            sums[5] += (2.0 * (x * y + u * v) + x * v + u * y) * cross / 24.0;
            (x, y) = (u, v);
        }
        sums
    }
}

/// A square turned pixel, whose right-hand edge vector on the cloth is `along`.
#[derive(Clone, Copy, Debug)]
pub struct Footprint {
    along: [f64; 2],
    area: f64,
}

impl Footprint {
    /// The footprint of a pixel whose step to the right is `(e + i f) / d` on the cloth.
    #[must_use]
    pub fn new([e, f]: [i64; 2], d: i64) -> Self {
        let along = [e as f64 / d as f64, f as f64 / d as f64];
        Self { along, area: along[0] * along[0] + along[1] * along[1] }
    }

    /// How many cells it can reach from the one in which its center lies.
    #[must_use]
    pub fn reach(&self) -> i64 {
        // Half of its extent along an axis, from anywhere in the cell.
        ((self.along[0].abs() + self.along[1].abs()) / 2.0 + 1e-9).ceil() as i64
    }

    /// The shares of all covered cells, row by row; `center` is the place of the center in its cell, from 0 to 1.
    pub fn shares(&self, center: Point, out: &mut Vec<Share>) {
        out.clear();
        let [a, b] = self.along.map(|part| part / 2.0);
        let corner = |p: f64, q: f64| [center[0] + p * a - q * b, center[1] + p * b + q * a];
        let mut square = Polygon::NONE;
        for (p, q) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
            square.push(corner(p, q));
        }
        let [top, bottom] = square.span(1).map(|end| end.floor() as i32);
        for row in top..=bottom {
            let (mut strip, rest) =
                if row < bottom { square.split(1, f64::from(row) + 1.0) } else { (square, Polygon::NONE) };
            square = rest;
            let [left, right] = strip.span(0).map(|end| end.floor() as i32);
            for column in left..=right {
                let (part, rest) =
                    if column < right { strip.split(0, f64::from(column) + 1.0) } else { (strip, Polygon::NONE) };
                strip = rest;
                let m = part.moments([f64::from(column) + 0.5, f64::from(row) + 0.5]);
                if m[0] <= 1e-12 * self.area {
                    continue;
                }
                let moments = [m[0], m[1], m[2], m[3] - m[0] / 12.0, m[4] - m[0] / 12.0, m[5]];
                out.push(Share { cell: [column, row], moments: moments.map(|moment| (moment / self.area) as f32) });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shares(along: [i64; 2], d: i64, center: Point) -> Vec<Share> {
        let mut out = Vec::new();
        Footprint::new(along, d).shares(center, &mut out);
        out
    }

    #[test]
    fn a_straight_pixel_covers_its_cell_alone() {
        for along in [[1, 0], [0, 1], [-1, 0], [0, -1]] {
            let found = shares(along, 1, [0.5, 0.5]);
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].cell, [0, 0]);
            for (moment, expected) in found[0].moments.into_iter().zip([1.0, 0.0, 0.0, 0.0, 0.0, 0.0]) {
                assert!((moment - expected).abs() < 1e-7);
            }
        }
    }

    /// A pixel turned by 45 degrees and scaled by the square root of one half: the diamond |x| + |y| <= 1 of area 2, half of
    /// it in the middle cell, an eighth in each neighbor.
    #[test]
    fn a_diamond_covers_its_cell_and_four_neighbors() {
        let found = shares([1, -1], 1, [0.5, 0.5]);
        let cells: Vec<([i32; 2], f32)> = found.iter().map(|share| (share.cell, share.moments[0])).collect();
        assert_eq!(cells.len(), 5);
        for (cell, area) in cells {
            assert!((area - if cell == [0, 0] { 0.5 } else { 0.125 }).abs() < 1e-7, "{cell:?} {area}");
        }
    }

    #[test]
    fn moments_are_those_of_a_fine_sampling() {
        let (along, d, center) = ([7, 3], 5, [0.3, 0.8]);
        let found = shares(along, d, center);
        let fine = 400;
        let mut sums = std::collections::BTreeMap::<[i32; 2], [f64; 6]>::new();
        for i in 0..fine {
            for j in 0..fine {
                let (p, q) =
                    ((f64::from(i) + 0.5) / f64::from(fine) - 0.5, (f64::from(j) + 0.5) / f64::from(fine) - 0.5);
                let (x, y) = (center[0] + (7.0 * p - 3.0 * q) / 5.0, center[1] + (3.0 * p + 7.0 * q) / 5.0);
                let cell = [x.floor() as i32, y.floor() as i32];
                let (x, y) = (x - x.floor() - 0.5, y - y.floor() - 0.5);
                let terms = [1.0, x, y, x * x - 1.0 / 12.0, y * y - 1.0 / 12.0, x * y];
                for (sum, term) in sums.entry(cell).or_default().iter_mut().zip(terms) {
                    *sum += term / f64::from(fine * fine);
                }
            }
        }
        assert_eq!(found.len(), sums.len());
        for share in found {
            for (moment, sampled) in share.moments.into_iter().zip(sums[&share.cell]) {
                assert!((f64::from(moment) - sampled).abs() < 3e-4, "{share:?} {sampled}");
            }
        }
    }

    /// Coverage of a half-plane by a pixel at 45 degrees, by the distance t of the edge from its center: a half at 0,
    /// 0.042893 at -1/2, 0.208947 at -1/4, 0.957107 at 1/2, all or none from the half diagonal on: with u the part of the
    /// diagonal that is left, the cut-off corner has the area u u.
    #[test]
    fn a_half_plane_is_covered_as_geometry_says() {
        for (t, covered) in [(-0.5, 0.042_893), (-0.25, 0.208_947), (0.0, 0.5), (0.25, 0.791_053), (0.5, 0.957_107)] {
            // The pixel of side 1 turned by 45 degrees, as 99/140 is the square root of one half to 3e-5; cells end at 0.
            let found = shares([99, 99], 140, [1.0 - t, 0.5]);
            let inside: f32 = found.iter().filter(|share| share.cell[0] <= 0).map(|share| share.moments[0]).sum();
            assert!((f64::from(inside) - covered).abs() < 5e-5, "{t}: {inside}");
        }
    }
}
