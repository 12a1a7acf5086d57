//! Stretches: where along a joint that does not meet it shows.
//!
//! Takes the excess along the joint and what was measured; knows no boxes and no words.

use super::reading::Reading;
use super::seam::Seam;
use super::step::STRONG;
use super::tally::Statistic;
use std::ops::Range;

/// A joint steps on one stretch alone when the shortest that holds this part of its excess is no longer than half of it.
const NEARLY_ALL: f64 = 0.9;

/// Where along the joint the running mean of the excess is larger than anywhere inside the tile, in order, as ranges
/// along the edge before the joint; where something else than excess speaks, the one that holds nearly all of it. The whole
/// joint when no stretch of it stands out alone.
pub(super) fn stretches(seam: &Seam) -> Vec<Range<usize>> {
    let length = seam.excess.len();
    // Where something else speaks, only a sample of the interior is known, which hangs on where a tile begins.
    let excess_speaks = |reading: &Reading| reading.beyond() && Statistic::TALLIED.contains(&reading.statistic);
    if !seam.readings.iter().any(excess_speaks) {
        return concentrated(&seam.excess).unwrap_or_else(|| std::iter::once(0..length).collect());
    }
    for (statistic, part) in [(Statistic::Twelfth, 12), (Statistic::Sixth, 6)] {
        let inside = seam.readings.iter().find(|reading| reading.statistic == statistic).map(|reading| reading.inside);
        let Some(inside) = inside else { continue };
        let shown = running_above(&seam.excess, (length / part).max(1), inside);
        if !shown.is_empty() {
            return shown;
        }
    }
    std::iter::once(0..length).collect()
}

/// The stretches covered by windows of `width` values, wrapping, whose mean is above `inside`; each trimmed to its first
/// and last strong value. A stretch that wraps is cut in two.
fn running_above(excess: &[u8], width: usize, inside: f64) -> Vec<Range<usize>> {
    let length = excess.len();
    let at = |place: usize| u64::from(excess[place % length]);
    let mut sum: u64 = (0..width).map(at).sum();
    let mut covered = vec![false; length];
    let (mut covered_to, mut any) = (0, false);
    for start in 0..length {
        if sum as f64 > inside * width as f64 {
            any = true;
            for place in covered_to.max(start)..start + width {
                covered[place % length] = true;
            }
            covered_to = start + width;
        }
        sum = sum + at(start + width) - at(start);
    }
    if !any {
        return Vec::new();
    }
    let mut stretches = Vec::new();
    let mut begin = None;
    for place in 0..=length {
        let inside_one = covered.get(place).copied().unwrap_or(false);
        match (begin, inside_one) {
            (None, true) => begin = Some(place),
            (Some(first), false) => {
                stretches.extend(trimmed(excess, first..place));
                begin = None;
            }
            (None, false) | (Some(_), true) => {}
        }
    }
    stretches
}

/// A stretch without the weak values at its ends; `None` when all are weak.
fn trimmed(excess: &[u8], stretch: Range<usize>) -> Option<Range<usize>> {
    let strong = |place: &usize| excess[*place] > STRONG;
    let first = stretch.clone().find(strong)?;
    let last = stretch.rev().find(strong)?;
    Some(first..last + 1)
}

/// The shortest stretch, wrapping, that holds nearly all of the excess, cut in two where it wraps; nothing where that is more
/// than half of the joint.
fn concentrated(excess: &[u8]) -> Option<Vec<Range<usize>>> {
    let length = excess.len();
    let at = |place: usize| u64::from(excess[place % length]);
    let wanted = (excess.iter().map(|value| u64::from(*value)).sum::<u64>() as f64 * NEARLY_ALL).ceil() as u64;
    if wanted == 0 {
        return None;
    }
    let (mut end, mut sum) = (0, 0);
    let mut shortest: Option<Range<usize>> = None;
    for start in 0..length {
        while sum < wanted && end < start + length {
            sum += at(end);
            end += 1;
        }
        if sum >= wanted && shortest.as_ref().is_none_or(|shortest| end - start < shortest.len()) {
            shortest = Some(start..end);
        }
        sum -= at(start);
    }
    let shortest = shortest.filter(|stretch| stretch.len() * 2 <= length)?;
    let wraps = shortest.end.saturating_sub(length);
    let parts = [0..wraps, shortest.start..shortest.end.min(length)];
    let parts: Vec<_> = parts.into_iter().filter_map(|part| trimmed(excess, part)).collect();
    (!parts.is_empty()).then_some(parts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearly_all_excess_on_a_stretch_is_that_stretch() {
        let mut excess = vec![0u8; 120];
        excess[30..60].fill(40);
        excess[90] = 9;
        assert_eq!(concentrated(&excess).map(|found| found.len()), Some(1));
        let found = concentrated(&excess).and_then(|mut found| found.pop()).unwrap_or(0..0);
        assert!(found.start >= 30 && found.end <= 60 && found.len() >= 27, "{found:?}");
        // Around the end.
        excess.rotate_left(45);
        let found = concentrated(&excess).unwrap_or_default();
        assert!(found.len() == 2 && found[0].start == 0 && found[1].end == 120, "{found:?}");
    }

    #[test]
    fn excess_all_along_is_no_stretch() {
        assert_eq!(concentrated(&[7; 120]), None);
        assert_eq!(concentrated(&[0; 120]), None);
        assert_eq!(concentrated(&[]), None);
    }
}
