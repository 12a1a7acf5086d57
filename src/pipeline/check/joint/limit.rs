//! How far is too far: the limit for a joint's statistic, from what the tile's own interior does.
//!
//! Pure arithmetic in a fixed order of IEEE operations, so that every machine finds the same limit.

/// Accepted chance that one statistic of one sound joint is beyond its limit, under the model of [`margin`].
const FALSE_ALARM: f64 = 1e-5;

/// The least margin: for very many lines the model alone would allow a joint to exceed the interior by nothing.
pub(super) const LEAST_MARGIN: f64 = 0.3;

/// What the interior does in one statistic, and what the joint may.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// The median over the interior pairs of lines.
    pub median: f64,
    /// The largest interior value.
    pub most: f64,
    /// The largest value a joint may have.
    pub limit: f64,
}

/// How many scales beyond the interior maximum a joint must lie before chance is ruled out, for `lines` lines.
///
/// If the upper tail of a statistic falls off exponentially, the largest of L values lies ln L scale lengths out, so the
/// joint of art drawn on an endless plane exceeds it by x of (largest - median) with a chance of about e^(-x ln L) / L.
/// Solved for x at an accepted chance p: ln(1 / (p L)) / ln L.
#[must_use]
pub fn margin(lines: usize) -> f64 {
    margin_at(FALSE_ALARM, lines)
}

/// The same at another accepted chance.
fn margin_at(chance: f64, lines: usize) -> f64 {
    let lines = lines.max(2) as f64;
    (ln(1.0 / (chance * lines)) / ln(lines)).max(LEAST_MARGIN)
}

/// The limit for interior values; `floor` is about what rounding to 8 bits alone can do to the statistic.
///
/// Sorts `values`. Without values nothing can be told: the limit is infinite.
#[must_use]
pub fn limit(values: &mut [f64], lines: usize, floor: f64) -> Limit {
    within(values, floor, margin(lines))
}

/// The same at another accepted chance that a sound joint is beyond it.
#[must_use]
pub(super) fn limit_at(chance: f64, values: &mut [f64], lines: usize, floor: f64) -> Limit {
    within(values, floor, margin_at(chance, lines))
}

/// The same with the margin times `part`: for a statistic that is believed only when something else confirms it.
#[must_use]
pub(super) fn limit_within(values: &mut [f64], lines: usize, floor: f64, part: f64) -> Limit {
    within(values, floor, part * margin(lines))
}

fn within(values: &mut [f64], floor: f64, margin: f64) -> Limit {
    values.sort_unstable_by(f64::total_cmp);
    match (values.get(values.len() / 2), values.last()) {
        (Some(&median), Some(&most)) => Limit { median, most, limit: most + margin * (most - median + floor) },
        _ => Limit { median: 0.0, most: 0.0, limit: f64::INFINITY },
    }
}

/// The natural logarithm of a positive normal number, by halving and the series of the inverse hyperbolic tangent.
///
/// The standard library's may differ between platforms in the last place; these operations may not.
fn ln(value: f64) -> f64 {
    let (mut mantissa, mut doublings) = (value, 0.0);
    while mantissa > 1.5 {
        mantissa /= 2.0;
        doublings += 1.0;
    }
    while mantissa < 0.75 {
        mantissa *= 2.0;
        doublings -= 1.0;
    }
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    let (square, mut power, mut sum) = (ratio * ratio, ratio, 0.0);
    for term in 0..16 {
        sum += power / f64::from(2 * term + 1);
        power *= square;
    }
    2.0 * sum + doublings * std::f64::consts::LN_2
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logarithm_agrees_with_the_library() {
        for value in [1e-9, 0.2, 0.75, 1.0, 1.49, 2.0, 64.0, 3600.0, 1e12] {
            assert!((ln(value) - f64::ln(value)).abs() < 1e-12 * f64::ln(value).abs().max(1.0), "{value}");
        }
    }

    #[test]
    fn margins_by_hand() {
        // ln(1e5 / 3600) / ln 3600 = 3.3242 / 8.1887 and so on.
        for (lines, expected) in [(3600, 0.4060), (600, 0.7997), (64, 1.7683)] {
            assert!((margin(lines) - expected).abs() < 1e-4, "{lines}: {}", margin(lines));
        }
        assert_eq!(margin(1_000_000), LEAST_MARGIN);
        assert!(margin(0).is_finite());
    }

    #[test]
    fn limit_by_hand() {
        let mut values = [0.0, 4.0, 1.0, 1.0, 2.0];
        let found = limit(&mut values, 3600, 0.5);
        assert_eq!((found.median, found.most), (1.0, 4.0));
        assert!((found.limit - (4.0 + margin(3600) * 3.5)).abs() < 1e-12);
        assert_eq!(limit(&mut [], 3600, 0.5).limit, f64::INFINITY);
    }
}
