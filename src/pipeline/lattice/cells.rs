//! A picture as cells of a few bytes, and how many of the pairs at a move differ.
//!
//! Takes samples row by row; yields counts. Every pair lies inside the canvas: nothing is wrapped unless it is asked for.

use super::basis::Move;

/// Rows that are looked at for one count, about: a fault of a few rows is met in proportion, and no count reads a large
/// tile whole.
const ROWS: usize = 900;

/// Channels that differ by no more than this are equal: what rounding does to copies drawn at whole pixels.
const ROUNDING: u8 = 2;

/// How far apart two luma values of a picture with a lossy past may be and still stand for the same paint.
const LOSSY: i32 = 24;

/// When two cells that are not the same bytes differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sight {
    /// Always: cells are codes.
    Codes,
    /// Straight color on an opaque ground: by more than rounding, where both are opaque; a see-through pixel there is
    /// another rule's business.
    Opaque,
    /// Alpha, and color where there is any: by more than rounding.
    Clear,
    /// Luma, by more than a lossy coder does.
    Lossy,
}

/// A picture of `B` bytes a cell.
#[derive(Clone, Copy)]
pub(super) struct Cells<'a, const B: usize> {
    pub(super) width: usize,
    pub(super) height: usize,
    bytes: &'a [u8],
    sight: Sight,
}

/// Pairs that were looked at, and how many of them differ.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Count {
    /// Pairs looked at.
    pub pairs: u64,
    /// Of these, how many differ by more than rounding.
    pub differing: u64,
    /// Of these, how many are not the same bytes.
    pub unlike: u64,
}

impl<'a, const B: usize> Cells<'a, B> {
    /// A picture over `width * height * B` bytes.
    pub(super) fn new(width: usize, height: usize, bytes: &'a [u8], sight: Sight) -> Self {
        debug_assert_eq!(bytes.len(), width * height * B, "rows without padding");
        Self { width, height, bytes, sight }
    }

    /// The bytes of a row.
    pub(super) fn row(&self, y: usize) -> &'a [u8] {
        &self.bytes[y * self.width * B..][..self.width * B]
    }

    /// The cell at column `x`, row `y`.
    pub(super) fn at(&self, x: usize, y: usize) -> [u8; B] {
        let at = (y * self.width + x) * B;
        std::array::from_fn(|byte| self.bytes[at + byte])
    }

    /// The cell a move away from (x, y), when it is inside the canvas.
    pub(super) fn moved(&self, (x, y): (usize, usize), t: Move) -> Option<(usize, usize)> {
        let x = usize::try_from(x as i64 + t[0]).ok().filter(|x| *x < self.width)?;
        let y = usize::try_from(y as i64 + t[1]).ok().filter(|y| *y < self.height)?;
        Some((x, y))
    }

    /// A cell as it is seen: no color where nothing is.
    pub(super) fn shown(&self, p: [u8; B]) -> [u8; B] {
        if self.sight == Sight::Clear && p.last() == Some(&0) { [0; B] } else { p }
    }

    /// Whether bytes alone tell what is seen.
    pub(super) fn plain(&self) -> bool {
        self.sight != Sight::Clear
    }

    /// Whether a pair says nothing: a see-through pixel on an opaque ground, or nothing seen in either place.
    fn excused<const C: usize>(&self, p: [u8; C], q: [u8; C]) -> bool {
        let alphas = [p.last(), q.last()];
        match self.sight {
            Sight::Opaque => alphas != [Some(&255); 2],
            Sight::Clear => alphas == [Some(&0); 2],
            Sight::Codes | Sight::Lossy => false,
        }
    }

    /// Whether two cells differ to this picture's sight.
    pub(super) fn differ(&self, p: [u8; B], q: [u8; B]) -> bool {
        if p == q {
            return false;
        }
        let (Ok(p), Ok(q)) = (<[u8; 4]>::try_from(p.as_slice()), <[u8; 4]>::try_from(q.as_slice())) else {
            return true;
        };
        match self.sight {
            Sight::Codes => true,
            Sight::Opaque => !self.excused(p, q) && p.iter().zip(q).any(|(p, q)| p.abs_diff(q) > ROUNDING),
            // What low alpha can have rounded away of a color is no difference (half a level of the multiplied value).
            Sight::Clear => {
                let alpha = u32::from(p[3].max(q[3]));
                let color = |(p, q): (&u8, &u8)| u32::from(p.abs_diff(*q)) * alpha > u32::from(ROUNDING) * alpha + 128;
                p[3].abs_diff(q[3]) > ROUNDING || p.iter().zip(&q).take(3).any(color)
            }
            Sight::Lossy => (luma(p) - luma(q)).abs() > LOSSY,
        }
    }

    /// Rows that stand for all: every one of a small picture, about [`ROWS`] of a large one, at uneven distances so that
    /// no regular design falls between them.
    pub(super) fn rows_that_stand_for_all(&self) -> impl Iterator<Item = usize> {
        spread(self.height, ROWS)
    }

    /// How many pairs [`Self::count`] looks at if nothing stops it, about.
    pub(super) fn pairs_at(&self, t: Move) -> u64 {
        let [width, height] = [self.width, self.height].map(|side| side as u64);
        let pairs = width.saturating_sub(t[0].unsigned_abs()) * height.saturating_sub(t[1].unsigned_abs());
        pairs * self.rows_that_stand_for_all().count() as u64 / height.max(1)
    }

    /// Counts the pairs (q, q + t) that lie inside the canvas, over the rows that stand for all; stops as soon as more
    /// than so many differ or are unlike.
    pub(super) fn count(&self, t: Move, [most_differing, most_unlike]: [u64; 2]) -> Count {
        let mut count = Count::default();
        let [left, moved_left] = [-t[0], t[0]].map(|left| usize::try_from(left).unwrap_or(0));
        let Some(length) = self.width.checked_sub(left.max(moved_left)) else { return count };
        for y in self.rows_that_stand_for_all() {
            let Some((_, below)) = self.moved((0, y), [0, t[1]]) else { continue };
            count.add(self, &self.row(y)[left * B..][..length * B], &self.row(below)[moved_left * B..][..length * B]);
            if count.differing > most_differing || count.unlike > most_unlike {
                break;
            }
        }
        count
    }

    /// Counts the pairs at a move that cross only the left and right border of the endless block repeat, and those that
    /// cross the upper and lower one, over the rows that stand for all.
    pub(super) fn count_crossing(&self, t: Move) -> [Count; 2] {
        let (right, down) = (t[0].rem_euclid(self.width as i64) as usize, t[1].rem_euclid(self.height as i64) as usize);
        let (mut sideways, mut upright) = (Count::default(), Count::default());
        for y in self.rows_that_stand_for_all() {
            let row_crosses = self.moved((0, y), [0, t[1]]).is_none();
            let (p, q) = (self.row(y), self.row((y + down) % self.height));
            // Cells that stay inside the row, then those that come back on its other side; the other way round for a move
            // to the left.
            let stay = self.width - right;
            for (from, to, length, crosses) in [(0, right, stay, t[0] < 0), (stay, 0, right, t[0] >= 0)] {
                let count = match (row_crosses, crosses) {
                    (true, _) => &mut upright,
                    (false, true) => &mut sideways,
                    (false, false) => continue,
                };
                if length > 0 {
                    count.add(self, &p[from * B..][..length * B], &q[to * B..][..length * B]);
                }
            }
        }
        [sideways, upright]
    }

    /// Counts the pairs of a cell in the outermost `depth` lines of each side and the cell a move away, forth or back,
    /// inside the canvas: left and right side together, then top and bottom.
    pub(super) fn count_border(&self, t: Move, depth: usize) -> [Count; 2] {
        let (width, height) = (self.width, self.height);
        let mut count = [Count::default(); 2];
        let mut look = |side: usize, place: (usize, usize)| {
            if let Some((x, y)) = self.moved(place, t).or_else(|| self.moved(place, [-t[0], -t[1]])) {
                let (p, q) = (self.at(place.0, place.1), self.at(x, y));
                count[side].add(self, &p, &q);
            }
        };
        for deep in 0..depth.min(width / 2) {
            self.rows_that_stand_for_all().for_each(|y| [deep, width - 1 - deep].iter().for_each(|x| look(0, (*x, y))));
        }
        for deep in 0..depth.min(height / 2) {
            (0..width).for_each(|x| [deep, height - 1 - deep].iter().for_each(|y| look(1, (x, *y))));
        }
        count
    }
}

impl Count {
    /// Adds the pairs of two stretches of rows.
    fn add<const B: usize>(&mut self, cells: &Cells<'_, B>, p: &[u8], q: &[u8]) {
        self.pairs += (p.len() / B) as u64;
        if p == q {
            return;
        }
        for (p, q) in p.as_chunks::<B>().0.iter().zip(q.as_chunks::<B>().0) {
            if p != q && !cells.excused(*p, *q) {
                self.unlike += 1;
                self.differing += u64::from(cells.differ(*p, *q));
            }
        }
    }
}

/// About `most` of `length` places, one in each of as many equal stretches; all of them when there are no more. Where in
/// its stretch a place lies follows no rule that a design could follow too.
pub(super) fn spread(length: usize, most: usize) -> impl Iterator<Item = usize> + Clone {
    let step = length.div_ceil(most.max(1)).max(1);
    (0..length.div_ceil(step)).map(move |index| {
        // A multiplicative hash (Knuth, The Art of Computer Programming, volume 3, 6.4).
        let hash = (index as u32).wrapping_mul(0x9E37_79B1) >> 16;
        (index * step + hash as usize % step).min(length - 1)
    })
}

/// Luma in levels (ITU-T T.871, the weights of JFIF), from whole numbers.
fn luma(p: [u8; 4]) -> i32 {
    (i32::from(p[0]) * 299 + i32::from(p[1]) * 587 + i32::from(p[2]) * 114 + 500) / 1000
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_inside_the_canvas_and_pairs_that_cross_are_counted_apart() {
        // Columns 0 1 2 0 1 2 0 1: a period of three that eight columns do not hold.
        let bytes: Vec<u8> = (0..8 * 4).map(|at| (at % 8 % 3) as u8).collect();
        let cells = Cells::<1>::new(8, 4, &bytes, Sight::Codes);
        assert_eq!(cells.count([3, 0], [99; 2]), Count { pairs: 20, differing: 0, unlike: 0 });
        assert_eq!(cells.count([-3, 1], [99; 2]), Count { pairs: 15, differing: 0, unlike: 0 });
        assert_eq!(cells.count([1, 0], [9; 2]).pairs, 14, "the second row has more than may be");
        // 5 + 3 = 8 comes back as column 0: 2 meets 0, 0 meets 1, 1 meets 2.
        let (none, all) = (Count::default(), Count { pairs: 12, differing: 12, unlike: 12 });
        assert_eq!(cells.count_crossing([3, 0]), [all, none]);
        assert_eq!(cells.count_crossing([-3, 0]), [all, none]);
        assert_eq!(cells.count_crossing([0, 1]), [none, Count { pairs: 8, ..none }]);
        let border = cells.count_border([3, 0], 2);
        assert_eq!(border.map(|count| (count.pairs, count.differing)), [(16, 0), (32, 0)]);
    }

    #[test]
    fn what_rounding_does_is_no_difference() {
        let cells = |sight| Cells::<4>::new(1, 1, &[0; 4], sight);
        assert!(!cells(Sight::Opaque).differ([10, 20, 30, 255], [12, 18, 30, 255]));
        assert!(cells(Sight::Opaque).differ([10, 20, 30, 255], [13, 20, 30, 255]));
        assert!(
            !cells(Sight::Opaque).differ([10, 20, 30, 254], [99, 99, 99, 255]),
            "a hairline is another rule's business"
        );
        assert!(!cells(Sight::Clear).differ([255, 0, 0, 0], [0, 255, 0, 0]), "color where nothing is seen");
        assert!(cells(Sight::Clear).differ([255, 0, 0, 128], [0, 255, 0, 128]));
        assert!(!cells(Sight::Lossy).differ([100, 100, 100, 255], [110, 90, 105, 255]));
    }
}
