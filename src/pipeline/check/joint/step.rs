//! Steps across a pair of lines, and how far a step stands out from its two neighbors.
//!
//! A soft edge spreads over two or three pixels and leaves little excess; a cut gives all of its step.

use super::line::Line;

/// The excess above which a pixel counts as a strong step, in levels: rounding to 8 bits alone reaches 2.
pub(super) const STRONG: u8 = 2;

/// `out[i]` = the largest difference over the channels between pixel `i` of two lines.
pub(super) fn across(a: &Line, b: &Line, out: &mut [u8]) {
    for (channel, (a, b)) in a.channels.iter().zip(&b.channels).enumerate() {
        if channel == 0 {
            for ((out, a), b) in out.iter_mut().zip(a).zip(b) {
                *out = a.abs_diff(*b);
            }
        } else {
            for ((out, a), b) in out.iter_mut().zip(a).zip(b) {
                *out = (*out).max(a.abs_diff(*b));
            }
        }
    }
}

/// `out[i]` = the largest difference over the channels between pixels `i` and `i + 1` of one line; `out` is one shorter.
pub(super) fn along(line: &Line, out: &mut [u8]) {
    for (number, channel) in line.channels.iter().enumerate() {
        let Some(next) = channel.get(1..) else { return };
        if number == 0 {
            for ((out, a), b) in out.iter_mut().zip(channel).zip(next) {
                *out = a.abs_diff(*b);
            }
        } else {
            for ((out, a), b) in out.iter_mut().zip(channel).zip(next) {
                *out = (*out).max(a.abs_diff(*b));
            }
        }
    }
}

/// `out[i]` = how far step `at[i]` exceeds both `before[i]` and `after[i]`; 0 when it does not.
pub(super) fn excess(before: &[u8], at: &[u8], after: &[u8], out: &mut [u8]) {
    for (((out, before), at), after) in out.iter_mut().zip(before).zip(at).zip(after) {
        *out = at.saturating_sub((*before).max(*after));
    }
}

/// Twice the signed second difference at a pair: the step across it, less the mean of the steps before and after it,
/// in half levels. The four values are the pixels on the lines from before the pair to after it.
pub(super) fn bend([before, near, far, after]: [u8; 4]) -> i16 {
    3 * (i16::from(far) - i16::from(near)) + i16::from(before) - i16::from(after)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(channels: [&[u8]; 2]) -> Line {
        Line { channels: channels.map(<[u8]>::to_vec).to_vec() }
    }

    #[test]
    fn the_largest_channel_speaks() {
        let (a, b) = (line([&[10, 20, 30], &[0, 0, 0]]), line([&[12, 20, 10], &[1, 9, 0]]));
        let mut out = [0; 3];
        across(&a, &b, &mut out);
        assert_eq!(out, [2, 9, 20]);
        let mut out = [0; 2];
        along(&line([&[10, 20, 25], &[9, 0, 7]]), &mut out);
        assert_eq!(out, [10, 7]);
    }

    #[test]
    fn a_cut_stands_out_and_a_ramp_does_not() {
        let mut out = [0; 4];
        // A lone cut, a ramp, an edge smoothed over two pixels, a fall.
        excess(&[0, 8, 0, 9], &[40, 8, 20, 5], &[3, 8, 20, 0], &mut out);
        assert_eq!(out, [37, 0, 0, 0]);
    }

    #[test]
    fn an_even_slope_does_not_bend() {
        assert_eq!(bend([10, 14, 18, 22]), 0);
        // Flat, a step of 4, flat: 4 levels, in halves.
        assert_eq!(bend([10, 10, 14, 14]), 8);
        assert_eq!(bend([255, 0, 255, 0]), 3 * 255 + 255);
    }
}
