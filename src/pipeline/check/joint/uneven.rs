//! Uneven: how much more a pair of lines steps on one stretch of it than on the rest.
//!
//! In woven, laid and striped art a pair of lines steps all along or not at all; a part that was painted over steps where
//! the rest goes on. Takes the excess along a pair; knows nothing of limits.

use super::tally::Cells;

/// More levels than this are no more uneven.
const MOST: u8 = 40;

/// About what rounding to 8 bits alone can do, in levels.
pub(super) const FLOOR: f64 = 0.3;

/// The parts of a pair that are set against the rest of it.
pub(super) const PARTS: [usize; 2] = [3, 12];

/// The largest mean over a stretch of each of [`PARTS`] beyond the mean of the rest, in levels.
pub(super) fn of(excess: &[u8]) -> [f64; PARTS.len()] {
    if excess.len() < PARTS[1] {
        return [0.0; PARTS.len()];
    }
    let cells = Cells::new(excess.len());
    let sums: Vec<u32> = (0..cells.count())
        .map(|cell| {
            let levels = excess.get(cells.start(cell)..cells.start(cell + 1)).unwrap_or_default();
            levels.iter().map(|level| u32::from((*level).min(MOST))).sum()
        })
        .collect();
    let all: u32 = sums.iter().sum();
    PARTS.map(|part| {
        let (_, most) = super::passage::over(&sums, part);
        let stretch = excess.len() as f64 / part as f64;
        (most / stretch - (f64::from(all) - most) / (excess.len() as f64 - stretch)).max(0.0)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unevenness_by_hand() {
        assert_eq!(of(&[9; 144]), [0.0, 0.0], "a line that steps all along is even");
        let mut excess = [0; 144];
        // A twelfth of the pair, with more levels than count.
        excess[30..42].fill(200);
        assert_eq!(of(&excess), [10.0, 40.0]);
        excess[100..124].fill(20);
        assert_eq!(of(&excess), [10.0 - 5.0, 40.0 - 480.0 / 132.0]);
        assert_eq!(of(&[]), [0.0, 0.0]);
    }
}
