//! Surfaces: what lies between the samples of a cloth, cell by cell.
//!
//! Takes premultiplied light on a patch of cells, yields for each cell a surface of second degree whose mean over the cell is
//! the sample: the samples are means over pixels, and sums over a turned pixel keep them (a conservative reconstruction with
//! slopes limited in the manner of B. van Leer, "Towards the ultimate conservative difference scheme V", Journal of
//! Computational Physics 32:101-136, 1979, and curvature kept where neighbors confirm it, as in P. Colella and M. Sekora,
//! "A limiter for PPM that preserves accuracy at smooth extrema", same journal 227:7069-7076, 2008). Flat art stays flat up to
//! its hard edges; soft art is followed to the second degree.

/// Four channels of premultiplied light.
pub type Lanes = [f32; 4];

/// Coefficients of 1, x, y, (x x - 1/12), (y y - 1/12), x y from the cell's center.
pub type Surface = [Lanes; 6];

/// How unlike second differences, or corners, of soft art may be: those of a wave of ten samples a period and more stay
/// within this factor around its crests.
const ALIKE: f32 = 4.0;

/// Slope and half the curvature along one axis from five samples in a row.
///
/// Where three second differences in a row agree in sign and are alike, or are all smaller than the steps on both sides, the
/// art is soft and the surface is the parabola whose means are the samples, with the slope of fourth order. Elsewhere the
/// slope is at most twice the smaller step, none at an extremum, and the surface stays monotone: hard edges stay hard, and
/// two equal pixels of flat art are no crest.
#[inline]
fn along([a, b, c, d, e]: [Lanes; 5]) -> (Lanes, Lanes) {
    let (mut slopes, mut bends) = ([0.0; 4], [0.0; 4]);
    // Without branches, so that the four channels are worked through at once.
    for k in 0..4 {
        let (before, after) = (c[k] - b[k], d[k] - c[k]);
        let (first, bend, last) = (before - (b[k] - a[k]), after - before, (e[k] - d[k]) - after);
        let slope = (34.0 * (d[k] - b[k]) - 5.0 * (e[k] - a[k])) / 48.0;
        let least = first.abs().min(bend.abs()).min(last.abs());
        let most = first.abs().max(bend.abs()).max(last.abs());
        let agree = (first > 0.0) & (bend > 0.0) & (last > 0.0) | (first < 0.0) & (bend < 0.0) & (last < 0.0);
        let smaller = before.abs().min(after.abs());
        let rising = before * after > 0.0;
        let soft = agree & (most <= ALIKE * least) | rising & (most <= smaller);

        let limit = if rising { 2.0 * smaller } else { 0.0 };
        let gentle = if slope * before > 0.0 { slope.max(-limit).min(limit) } else { 0.0 };
        let room = (2.0 * gentle.abs()).min(2.0 * least);
        let bent = if agree & rising { bend.max(-room).min(room) } else { 0.0 };
        slopes[k] = if soft { slope } else { gentle };
        bends[k] = if soft { bend } else { bent } / 2.0;
    }
    (slopes, bends)
}

/// The twist from the four corner squares, where all of them agree in sign and are alike.
#[inline]
fn twist(corners: [Lanes; 4]) -> Lanes {
    let mut out = [0.0; 4];
    for k in 0..4 {
        let [p, q, r, s] = corners.map(|corner| corner[k]);
        let least = p.abs().min(q.abs()).min(r.abs()).min(s.abs());
        let most = p.abs().max(q.abs()).max(r.abs()).max(s.abs());
        let agree = (p > 0.0) & (q > 0.0) & (r > 0.0) & (s > 0.0) | (p < 0.0) & (q < 0.0) & (r < 0.0) & (s < 0.0);
        out[k] = if agree & (most <= ALIKE * least) { (p + q + r + s) / 4.0 } else { 0.0 };
    }
    out
}

/// The surface of the cell in the middle of five by five; `at(x, y)` is the sample at so many cells from it.
#[inline]
pub fn surface(at: impl Fn(isize, isize) -> Lanes) -> Surface {
    let row: [Lanes; 5] = std::array::from_fn(|i| at(i as isize - 2, 0));
    let column: [Lanes; 5] = std::array::from_fn(|i| at(0, i as isize - 2));
    let [nw, ne, sw, se] = [at(-1, -1), at(1, -1), at(-1, 1), at(1, 1)];
    let ([n, s], [w, c, e]) = ([column[1], column[3]], [row[1], row[2], row[3]]);
    let corner = |far: Lanes, one: Lanes, other: Lanes| std::array::from_fn(|k| far[k] - one[k] - other[k] + c[k]);
    let against = |far: Lanes, one: Lanes, other: Lanes| std::array::from_fn(|k| one[k] + other[k] - c[k] - far[k]);
    let (right, bend_right) = along(row);
    let (down, bend_down) = along(column);
    [
        c,
        right,
        down,
        bend_right,
        bend_down,
        twist([corner(se, e, s), corner(nw, w, n), against(ne, e, n), against(sw, w, s)]),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_line(samples: [f32; 5]) -> (f32, f32) {
        let (slopes, bends) = along(samples.map(|sample| [sample; 4]));
        (slopes[0], bends[0])
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
