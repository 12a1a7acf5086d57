//! Surfaces: what lies between the samples of a cloth, cell by cell.
//!
//! Takes premultiplied light on a patch of cells, yields for each cell a surface of second degree whose mean over the cell is
//! the sample: the samples are means over pixels, and sums over a turned pixel keep them (a conservative reconstruction with
//! slopes limited in the manner of B. van Leer, "Towards the ultimate conservative difference scheme V", Journal of
//! Computational Physics 32:101-136, 1979, and curvature kept where neighbors confirm it, as in P. Colella and M. Sekora,
//! "A limiter for PPM that preserves accuracy at smooth extrema", same journal 227:7069-7076, 2008). Flat art stays flat up to
//! its hard edges; soft art is followed to the second degree.

/// Coefficients of 1, x, y, (x x - 1/12), (y y - 1/12), x y from the cell's center, each for four channels.
pub type Surface = [[f32; 4]; 6];

/// The same sign, and none zero.
fn agree(values: &[f32]) -> bool {
    values.iter().all(|value| *value > 0.0) || values.iter().all(|value| *value < 0.0)
}

fn least(values: &[f32]) -> f32 {
    values.iter().fold(f32::INFINITY, |least, value| least.min(value.abs()))
}

fn most(values: &[f32]) -> f32 {
    values.iter().fold(0.0, |most: f32, value| most.max(value.abs()))
}

/// Slope and half the curvature along one axis from five samples in a row.
///
/// Where the samples rise or fall through the cell, the slope is that of fourth order, at most twice the smaller step, and
/// the surface stays monotone. At a crest it is followed only where three second differences in a row agree within a factor of two:
/// that tells a soft crest from two equal pixels of flat art.
fn along([a, b, c, d, e]: [f32; 5]) -> (f32, f32) {
    let (before, after) = (c - b, d - c);
    let bends = [c - b - (b - a), after - before, e - d - (d - c)];
    // The slope in the middle of the parabola, or quartic, whose means over the cells are the samples.
    let slope = (34.0 * (d - b) - 5.0 * (e - a)) / 48.0;
    let bend = bends[1];
    let together = agree(&bends);
    if before * after > 0.0 {
        let limit = 2.0 * before.abs().min(after.abs());
        let slope = if slope * before > 0.0 { slope.clamp(-limit, limit) } else { 0.0 };
        let bend = if together { bend.clamp(-2.0 * slope.abs(), 2.0 * slope.abs()) } else { 0.0 };
        let confirmed = 2.0 * least(&bends);
        (slope, bend.clamp(-confirmed, confirmed) / 2.0)
    } else if together && most(&bends) <= 2.0 * least(&bends) {
        (slope, bend / 2.0)
    } else {
        (0.0, 0.0)
    }
}

/// The twist from the four corner squares, where all of them agree within a factor of four.
fn twist(corners: [f32; 4]) -> f32 {
    if agree(&corners) && most(&corners) <= 4.0 * least(&corners) { corners.iter().sum::<f32>() / 4.0 } else { 0.0 }
}

/// The surface of the cell in the middle of five by five; `at(x, y)` is the sample at so many cells from it.
pub fn surface(at: impl Fn(isize, isize) -> [f32; 4]) -> Surface {
    let row: [[f32; 4]; 5] = std::array::from_fn(|i| at(i as isize - 2, 0));
    let column: [[f32; 4]; 5] = std::array::from_fn(|i| at(0, i as isize - 2));
    let [nw, ne, sw, se] = [at(-1, -1), at(1, -1), at(-1, 1), at(1, 1)];
    let mut out = [[0.0; 4]; 6];
    out[0] = row[2];
    for k in 0..4 {
        let (right, bend_right) = along(row.map(|sample| sample[k]));
        let (down, bend_down) = along(column.map(|sample| sample[k]));
        let [n, w, c, e, s] = [column[1][k], row[1][k], row[2][k], row[3][k], column[3][k]];
        out[1][k] = right;
        out[2][k] = down;
        out[3][k] = bend_right;
        out[4][k] = bend_down;
        out[5][k] = twist([se[k] - e - s + c, nw[k] - w - n + c, e + n - c - ne[k], w + s - c - sw[k]]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_line(samples: [f32; 5]) -> (f32, f32) {
        along(samples)
    }

    #[test]
    fn flat_art_stays_flat_up_to_its_edges() {
        let (o, l) = (0.1, 0.9);
        for samples in [
            [o, o, o, o, o],
            [o, o, o, l, l],
            [l, l, o, o, o],
            [o, o, l, o, o],
            [o, o, l, l, o],
            [o, l, l, o, o],
            [l, l, o, o, l],
            [o, l, o, l, o],
            [o, o, l, l, l],
            [l, o, o, o, l],
        ] {
            assert_eq!(of_line(samples), (0.0, 0.0), "{samples:?}");
        }
    }

    /// Means over cells of a parabola, whatever its place: slope and curvature come back.
    #[test]
    fn a_parabola_is_followed_exactly() {
        for (slope, bend) in [(0.3, 0.2), (-0.1, 0.3), (0.0, -0.4), (1.0, 0.05)] {
            let mean = |x: f32| slope * x + bend / 2.0 * (x * x + 1.0 / 12.0) - bend / 24.0;
            let (found, half) = of_line([-2.0, -1.0, 0.0, 1.0, 2.0].map(mean));
            let held = slope * slope >= 0.25 * bend * bend || slope.abs() <= 0.5 * bend.abs();
            assert!(held);
            assert!((found - slope).abs() < 1e-6 && (half - bend / 2.0).abs() < 1e-6, "{slope} {bend}: {found} {half}");
        }
    }

    #[test]
    fn a_ramp_between_two_flats_does_not_overshoot() {
        let (slope, half) = of_line([0.0, 0.0, 0.3, 1.0, 1.0]);
        let ends = [-0.5, 0.5].map(|x: f32| 0.3 + slope * x + half * (x * x - 1.0 / 12.0));
        assert!(ends.iter().all(|end| (0.0..=1.0).contains(end)), "{ends:?}");
    }

    #[test]
    fn a_twisted_plane_is_followed_and_a_corner_is_not() {
        let twisted = surface(|x, y| [x as f32 * y as f32 * 0.1; 4]);
        assert!((twisted[5][0] - 0.1).abs() < 1e-6);
        let corner = surface(|x, y| [if x >= 0 && y >= 0 { 1.0 } else { 0.0 }; 4]);
        assert_eq!(corner[1..], [[0.0; 4]; 5]);
    }
}
