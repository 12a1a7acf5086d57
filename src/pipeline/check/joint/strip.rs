//! Strips: how many lines of a tile are read at once, and in which order strips are visited.
//!
//! Pure arithmetic.

/// Lines read at once: sixteen pixels of a row fill one line of a processor's cache.
pub(super) const STRIP: usize = 32;

/// Pairs of a strip: those with a line before and one after.
pub(super) const PAIRS: usize = STRIP - 3;

/// How many strips hold the pairs of so many lines.
pub(super) fn strips(lines: usize) -> usize {
    lines.saturating_sub(3).div_ceil(PAIRS)
}

/// A step coprime to `count`, near its golden section.
pub(super) fn stride(count: usize) -> usize {
    let divides = |a: usize, b: usize| {
        let (mut a, mut b) = (a, b);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    };
    (count * 55 / 144 + 1..).find(|step| divides(*step, count) == 1).unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_strip_is_visited_once() {
        for count in 1..300 {
            let mut seen: Vec<usize> = (0..count).map(|turn| turn * stride(count) % count).collect();
            seen.sort_unstable();
            assert!(seen.iter().enumerate().all(|(at, strip)| at == *strip), "{count}");
        }
    }
}
