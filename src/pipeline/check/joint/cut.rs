//! Cuts: separate places along a pair of lines where a step stands alone, so that many small ones count as many.
//!
//! A long straight edge of a motif is one place however long it is; a broken joint through line art is a place per line.

use super::step::STRONG;

/// How far along the lines a step before or after may lie and still explain a step: art that crosses at a slant moves
/// along by up to this many pixels a line.
pub(super) const SLANT: usize = 4;

/// How many pixels of a place count.
pub(super) const PLACE: usize = 4;

/// `out[i]` = the largest of `values` within [`SLANT`] places of `i`.
pub(super) fn widen(values: &[u8], out: &mut [u8]) {
    out.copy_from_slice(values);
    for shift in 1..=SLANT.min(values.len()) {
        for (out, value) in out.iter_mut().zip(&values[shift..]) {
            *out = (*out).max(*value);
        }
        for (out, value) in out[shift..].iter_mut().zip(values) {
            *out = (*out).max(*value);
        }
    }
}

/// 1 for each value over [`STRONG`], else 0.
pub(super) fn strong(values: &[u8], out: &mut [u8]) {
    for (out, value) in out.iter_mut().zip(values) {
        *out = u8::from(*value > STRONG);
    }
}

/// `out[i]` = 1 where `strong[i]` is 1 and the [`PLACE`] before it are not all 1.
pub(super) fn places(strong: &[u8], out: &mut [u8]) {
    out.copy_from_slice(strong);
    let windows = strong.windows(PLACE);
    for (out, before) in out[PLACE.min(strong.len())..].iter_mut().zip(windows) {
        *out &= 1 ^ before.iter().fold(1, |all, strong| all & strong);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widening_reaches_four_places_both_ways() {
        let mut values = [0; 12];
        values[5] = 9;
        let mut out = [0; 12];
        widen(&values, &mut out);
        assert_eq!(out, [0, 9, 9, 9, 9, 9, 9, 9, 9, 9, 0, 0]);
        let mut out = [0; 2];
        widen(&[3, 1], &mut out);
        assert_eq!(out, [3, 3]);
    }

    #[test]
    fn a_long_run_is_one_place_and_short_runs_are_many() {
        let mut out = [0; 12];
        places(&[1, 1, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0], &mut out);
        assert_eq!(out, [1, 1, 1, 1, 0, 0, 0, 1, 0, 1, 1, 0]);
        let mut out = [0; 2];
        places(&[1, 1], &mut out);
        assert_eq!(out, [1, 1]);
    }
}
