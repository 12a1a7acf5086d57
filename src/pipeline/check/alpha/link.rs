//! Which pixels of a set belong together: groups of near neighbors on the endless block repeat.
//!
//! Takes a mask, yields a group number for each of its runs. Knows no colors and no shapes.

use crate::pixel::mask::{Mask, Run};

/// The groups of a mask's runs, numbered from 0 in the order of their first run.
pub struct Groups {
    /// The group of each run.
    pub of: Vec<u32>,
    /// The pixels of each group.
    pub sizes: Vec<u64>,
}

impl Groups {
    /// The runs of each group, in order.
    #[must_use]
    pub fn runs(&self, mask: &Mask) -> Vec<Vec<Run>> {
        let mut runs = vec![Vec::new(); self.sizes.len()];
        for (run, &group) in mask.runs().iter().zip(&self.of) {
            runs[group as usize].push(*run);
        }
        runs
    }

    /// The pixels of all groups that `keep` picks by number.
    #[must_use]
    pub fn picked(&self, mask: &Mask, keep: impl Fn(u32) -> bool) -> Mask {
        let picked = mask.runs().iter().zip(&self.of).filter(|&(_, &group)| keep(group));
        Mask::of(picked.map(|(run, _)| *run).collect())
    }
}

/// Groups the pixels of a mask of a `width` x `height` tile: two belong together when they are at most `gap` columns and
/// `gap` rows apart, across the tile's borders too. With a gap of 1 these are the 8-connected components.
#[must_use]
pub fn linked(mask: &Mask, width: u32, height: u32, gap: u32) -> Groups {
    let runs = mask.runs();
    let mut sets = Sets((0..runs.len()).collect());
    let mut from = Vec::with_capacity(height as usize + 1);
    let mut next = 0;
    for y in 0..=height {
        next += runs[next..].partition_point(|run| run.y < y);
        from.push(next);
    }
    for y in 0..height {
        let upper = from[y as usize]..from[y as usize + 1];
        for step in 0..=gap {
            let below = ((y + step) % height) as usize;
            let lower = from[below]..from[below + 1];
            if upper.is_empty() || lower.is_empty() {
                continue;
            }
            let mut first = lower.start;
            for i in upper.clone() {
                while first < lower.end && runs[first].end + gap <= runs[i].start {
                    first += 1;
                }
                for j in (first..lower.end).take_while(|&j| runs[j].start < runs[i].end + gap) {
                    sets.join(i, j);
                }
            }
            across(runs, upper.clone(), lower.clone(), width, gap, &mut sets);
            across(runs, lower, upper.clone(), width, gap, &mut sets);
        }
    }
    number(runs, &mut sets)
}

/// Joins runs at the left end of some row with those at the right end of another, which meet in the next copy.
fn across(
    runs: &[Run],
    left: std::ops::Range<usize>,
    right: std::ops::Range<usize>,
    width: u32,
    gap: u32,
    sets: &mut Sets,
) {
    for i in left.take_while(|&i| runs[i].start < gap) {
        for j in right.clone().rev().take_while(|&j| runs[i].start + width < runs[j].end + gap) {
            sets.join(i, j);
        }
    }
}

fn number(runs: &[Run], sets: &mut Sets) -> Groups {
    let mut numbers = vec![u32::MAX; runs.len()];
    let mut groups = Groups { of: Vec::with_capacity(runs.len()), sizes: Vec::new() };
    for (i, run) in runs.iter().enumerate() {
        let root = sets.root(i);
        if numbers[root] == u32::MAX {
            numbers[root] = groups.sizes.len() as u32;
            groups.sizes.push(0);
        }
        groups.of.push(numbers[root]);
        groups.sizes[numbers[root] as usize] += run.count();
    }
    groups
}

/// Disjoint sets; the smallest member stands for each, so that numbering does not depend on the order of joining.
struct Sets(Vec<usize>);

impl Sets {
    fn root(&mut self, mut i: usize) -> usize {
        while self.0[i] != i {
            self.0[i] = self.0[self.0[i]];
            i = self.0[i];
        }
        i
    }

    fn join(&mut self, i: usize, j: usize) {
        let (i, j) = (self.root(i), self.root(j));
        self.0[i.max(j)] = i.min(j);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sizes(pixels: &[(u32, u32)], gap: u32) -> Vec<u64> {
        let runs = pixels.iter().map(|&(x, y)| Run { y, start: x, end: x + 1 }).collect();
        let mut sizes = linked(&Mask::of(runs), 20, 10, gap).sizes;
        sizes.sort_unstable();
        sizes
    }

    #[test]
    fn neighbors_belong_together_up_to_the_gap_and_across_the_borders() {
        assert_eq!(sizes(&[(5, 5), (6, 6), (8, 6)], 1), [1, 2]);
        assert_eq!(sizes(&[(5, 5), (7, 7), (10, 4)], 2), [1, 2]);
        assert_eq!(sizes(&[(5, 5), (7, 7), (10, 4)], 3), [3]);
        assert_eq!(sizes(&[(0, 3), (19, 3)], 1), [2]);
        assert_eq!(sizes(&[(0, 3), (19, 4), (18, 2)], 1), [1, 2]);
        assert_eq!(sizes(&[(0, 0), (19, 9)], 1), [2]);
        assert_eq!(sizes(&[(3, 0), (3, 9), (3, 5)], 1), [1, 2]);
        assert_eq!(sizes(&[(1, 0), (18, 0)], 3), [2]);
        assert_eq!(sizes(&[(1, 0), (17, 0)], 3), [1, 1]);
        assert_eq!(sizes(&[], 3), [0; 0]);
    }

    #[test]
    fn groups_are_those_of_a_pairwise_search() {
        let mut state = 7_u64;
        for gap in 1..4_i64 {
            let mut pixels = Vec::new();
            for y in 0..11_u32 {
                for x in 0..23_u32 {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    if (state >> 33) % 100 < 9 {
                        pixels.push((x, y));
                    }
                }
            }
            let mask = Mask::of(pixels.iter().map(|&(x, y)| Run { y, start: x, end: x + 1 }).collect());
            let groups = linked(&mask, 23, 11, gap as u32);
            let label = |x: u32, y: u32| {
                let run = mask.runs().iter().position(|run| run.y == y && run.start <= x && x < run.end);
                groups.of[run.expect("the pixel is in the mask")]
            };
            let mut labels: Vec<usize> = (0..pixels.len()).collect();
            let ring = |a: u32, b: u32, side: i64| {
                let apart = (i64::from(a) - i64::from(b)).rem_euclid(side);
                apart.min(side - apart)
            };
            for _ in 0..pixels.len() {
                for i in 0..pixels.len() {
                    for j in 0..pixels.len() {
                        let ((ax, ay), (bx, by)) = (pixels[i], pixels[j]);
                        if ring(ax, bx, 23) <= gap && ring(ay, by, 11) <= gap {
                            labels[i] = labels[i].min(labels[j]);
                        }
                    }
                }
            }
            for i in 0..pixels.len() {
                for j in 0..pixels.len() {
                    let same = label(pixels[i].0, pixels[i].1) == label(pixels[j].0, pixels[j].1);
                    assert_eq!(same, labels[i] == labels[j], "gap {gap}: {:?} and {:?}", pixels[i], pixels[j]);
                }
            }
        }
    }
}
