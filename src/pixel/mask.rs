//! A set of pixels as sorted runs: small where the set is thin, and quick to walk in the order of the rows.
//!
//! Takes runs row by row, yields runs, counts and bounding boxes. Knows no colors.

use crate::finding::Area;

/// Neighboring pixels of one row: columns `start..end`, never empty.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Run {
    /// The row.
    pub y: u32,
    /// The first column.
    pub start: u32,
    /// One past the last column.
    pub end: u32,
}

impl Run {
    /// How many pixels.
    #[must_use]
    pub fn count(self) -> u64 {
        u64::from(self.end - self.start)
    }
}

/// A set of pixels. Guarantees: runs are sorted by row, then column; two runs of one row never touch.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mask {
    runs: Vec<Run>,
}

impl Mask {
    /// The set of all pixels in `runs`, given in any order, overlaps allowed; empty runs are left out.
    #[must_use]
    pub fn of(mut runs: Vec<Run>) -> Self {
        runs.retain(|run| run.start < run.end);
        // The stable sort merges runs that are sorted already, as in a union of two masks, in one pass.
        runs.sort();
        runs.dedup_by(|next, kept| {
            let joined = next.y == kept.y && next.start <= kept.end;
            if joined {
                kept.end = kept.end.max(next.end);
            }
            joined
        });
        Self { runs }
    }

    /// The runs, rows from the top, each row from the left.
    #[must_use]
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// The runs of row `y`.
    #[must_use]
    pub fn row(&self, y: u32) -> &[Run] {
        let from = self.runs.partition_point(|run| run.y < y);
        let to = from + self.runs[from..].partition_point(|run| run.y == y);
        &self.runs[from..to]
    }

    /// Every pixel as (column, row), in the order of the runs.
    pub fn pixels(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        self.runs.iter().flat_map(|run| (run.start..run.end).map(move |x| (x, run.y)))
    }

    /// Whether the pixel at column `x`, row `y` is in the set.
    #[must_use]
    pub fn contains(&self, x: u32, y: u32) -> bool {
        let after = self.runs.partition_point(|run| (run.y, run.start) <= (y, x));
        after.checked_sub(1).is_some_and(|i| self.runs[i].y == y && x < self.runs[i].end)
    }

    /// How many pixels.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.runs.iter().map(|run| run.count()).sum()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    /// The smallest rectangle around all pixels.
    #[must_use]
    pub fn bounds(&self) -> Option<Area> {
        bounds(&self.runs)
    }

    /// All pixels of both sets.
    #[must_use]
    pub fn union(&self, other: &Self) -> Self {
        Self::of([self.runs.as_slice(), other.runs.as_slice()].concat())
    }

    /// The pixels of this set that are not in the other.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        let mut left = Vec::new();
        let mut holes = other.runs.as_slice();
        for run in &self.runs {
            holes = &holes[holes.iter().take_while(|hole| (hole.y, hole.end) <= (run.y, run.start)).count()..];
            let mut start = run.start;
            for hole in holes.iter().take_while(|hole| hole.y == run.y && hole.start < run.end) {
                left.push(Run { end: hole.start.max(start), start, ..*run });
                start = hole.end;
            }
            left.push(Run { start: start.min(run.end), ..*run });
        }
        Self::of(left)
    }
}

/// The smallest rectangle around runs in any order; `None` without runs.
#[must_use]
pub fn bounds(runs: &[Run]) -> Option<Area> {
    let top = runs.iter().map(|run| run.y).min()?;
    let bottom = runs.iter().map(|run| run.y).max()?;
    let left = runs.iter().map(|run| run.start).min()?;
    let right = runs.iter().map(|run| run.end).max()?;
    Some(Area { x: left, y: top, width: right - left, height: bottom - top + 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(y: u32, start: u32, end: u32) -> Run {
        Run { y, start, end }
    }

    #[test]
    fn runs_are_sorted_and_joined_where_they_touch() {
        let mask = Mask::of(vec![run(2, 5, 7), run(0, 3, 4), run(2, 7, 9), run(2, 1, 2), run(2, 1, 1), run(2, 6, 8)]);
        assert_eq!(mask.runs(), [run(0, 3, 4), run(2, 1, 2), run(2, 5, 9)]);
        assert_eq!(mask.count(), 6);
        assert_eq!(mask.row(2), [run(2, 1, 2), run(2, 5, 9)]);
        assert_eq!(mask.row(1), []);
        assert_eq!(mask.bounds(), Some(Area { x: 1, y: 0, width: 8, height: 3 }));
        assert_eq!(Mask::default().bounds(), None);
    }

    #[test]
    fn a_pixel_is_in_exactly_when_a_run_holds_it() {
        let mask = Mask::of(vec![run(0, 0, 1), run(1, 2, 4), run(1, 6, 7)]);
        let inside: Vec<_> =
            (0..3).flat_map(|y| (0..9).map(move |x| (x, y))).filter(|&(x, y)| mask.contains(x, y)).collect();
        assert_eq!(inside, mask.pixels().collect::<Vec<_>>());
        assert_eq!(inside, [(0, 0), (2, 1), (3, 1), (6, 1)]);
    }

    #[test]
    fn a_union_holds_what_either_holds() {
        let (a, b) = (Mask::of(vec![run(0, 0, 3), run(4, 1, 2)]), Mask::of(vec![run(0, 2, 5), run(3, 0, 1)]));
        assert_eq!(a.union(&b).runs(), [run(0, 0, 5), run(3, 0, 1), run(4, 1, 2)]);
        assert_eq!(a.union(&Mask::default()), a);
    }

    #[test]
    fn a_rest_holds_what_only_the_first_holds() {
        let all = Mask::of(vec![run(0, 0, 10), run(1, 0, 2)]);
        let holes = Mask::of(vec![run(0, 0, 1), run(0, 4, 6), run(0, 9, 12), run(2, 0, 2)]);
        assert_eq!(all.without(&holes).runs(), [run(0, 1, 4), run(0, 6, 9), run(1, 0, 2)]);
        assert!(all.without(&all).is_empty());
    }
}
