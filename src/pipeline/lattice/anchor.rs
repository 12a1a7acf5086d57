//! Proposes moves: every place where a small patch of the picture comes again, cell for cell.
//!
//! A move that maps the picture onto itself maps each patch onto its like, so no exact lattice is missed; most proposals
//! are none, and are for others to refuse.

use super::basis::{Move, forward};
use super::cells::Cells;
use super::witness::Witnesses;

/// The side of a patch, in cells.
const PATCH: usize = 8;
/// Anchors are looked for within this part of the canvas from a corner, so that moves up to the rest of it are seen.
const CORNER: (usize, usize) = (2, 5);
/// Cells that are compared at once before anything is decided.
const BLOCK: usize = 64;
/// The most proposals of one anchor.
const MOST: usize = 1 << 16;

/// A patch to be found again.
pub(super) struct Anchor {
    x: usize,
    y: usize,
    side: usize,
    /// The place in the patch where an edge is, and the neighbor on the other side of it.
    key: [(usize, usize); 2],
}

/// Up to two anchors: the rarest patch near the upper left corner and the one near the upper right. What lies right and
/// down is seen from the one, what lies left and down from the other.
pub(super) fn anchors<const B: usize>(cells: &Cells<'_, B>, witnesses: &Witnesses) -> Vec<Anchor> {
    let (part, of) = CORNER;
    let best = |from_left: bool| {
        rarest(cells, witnesses, |(x, y), side, alike| {
            let x = if from_left { x } else { cells.width - side - x };
            (x * of <= cells.width * part && y * of <= cells.height * part).then_some((alike, x + y))
        })
    };
    [true, false].into_iter().filter_map(best).collect()
}

/// An anchor near the middle: the rarest patch there that was met twice, since one met once may be what sits aside.
pub(super) fn middle<const B: usize>(cells: &Cells<'_, B>, witnesses: &Witnesses) -> Option<Anchor> {
    let far = |at: usize, side: usize| at.abs_diff(side / 2);
    rarest(cells, witnesses, |(x, y), _, alike| {
        let far = [far(x, cells.width), far(y, cells.height)];
        let inside = far[0] * 5 <= cells.width && far[1] * 5 <= cells.height;
        inside.then_some((if alike == 1 { usize::MAX } else { alike }, far[0] + far[1]))
    })
}

/// The patch of least rank around a witness; `rank` takes its corner, its side, and how many witnesses have its like.
fn rarest<const B: usize>(
    cells: &Cells<'_, B>,
    witnesses: &Witnesses,
    rank: impl Fn((usize, usize), usize, usize) -> Option<(usize, usize)>,
) -> Option<Anchor> {
    let side = PATCH.min(cells.width / 4).min(cells.height / 4).max(2);
    if cells.width <= side || cells.height <= side {
        return None;
    }
    let hashed: Vec<u64> =
        witnesses.places.iter().map(|place| hash(cells, corner(cells, *place, side), side)).collect();
    let mut sorted = hashed.clone();
    sorted.sort_unstable();
    let alike =
        |hash: u64| sorted.partition_point(|other| *other <= hash) - sorted.partition_point(|other| *other < hash);
    let rated =
        witnesses.places.iter().zip(&hashed).filter_map(|(place, hash)| {
            rank(corner(cells, *place, side), side, alike(*hash)).map(|rank| (rank, *place))
        });
    rated.min().map(|(_, place)| anchor(cells, place, side))
}

/// The upper left cell of the patch around a witness.
fn corner<const B: usize>(cells: &Cells<'_, B>, (x, y): (usize, usize), side: usize) -> (usize, usize) {
    let before = side / 2 - 1;
    (x.saturating_sub(before).min(cells.width - side), y.saturating_sub(before).min(cells.height - side))
}

fn anchor<const B: usize>(cells: &Cells<'_, B>, place: (usize, usize), side: usize) -> Anchor {
    let (x, y) = corner(cells, place, side);
    let own = (place.0 - x, place.1 - y);
    let other = if !cells.differ(cells.at(place.0, place.1), cells.at(place.0 + 1, place.1)) {
        (own.0, own.1 + 1)
    } else {
        (own.0 + 1, own.1)
    };
    Anchor { x, y, side, key: [own, other] }
}

/// A number that equal patches share (FNV-1a, a cell at a time; Fowler, Noll, Vo).
fn hash<const B: usize>(cells: &Cells<'_, B>, (x, y): (usize, usize), side: usize) -> u64 {
    let mut hash = 0xCBF2_9CE4_8422_2325u64;
    for row in 0..side {
        for cell in cells.row(y + row)[x * B..(x + side) * B].as_chunks::<B>().0 {
            let cell = cells.shown(*cell).iter().fold(0, |cell, byte| cell << 8 | u64::from(*byte));
            hash = (hash ^ cell).wrapping_mul(0x0000_0100_0000_01B3);
        }
    }
    hash
}

impl Anchor {
    /// The moves from this anchor to each of its likes, level or downward, at most `reach` away along either axis.
    pub(super) fn proposals<const B: usize>(&self, cells: &Cells<'_, B>, reach: [usize; 2], out: &mut Vec<Move>) {
        let [own, other] = self.key;
        let keys = [own, other].map(|(x, y)| cells.shown(cells.at(self.x + x, self.y + y)));
        let plain = cells.plain();
        let left = self.x.saturating_sub(reach[0]);
        let right = (self.x + reach[0]).min(cells.width - self.side);
        let bottom = (self.y + reach[1]).min(cells.height - self.side);
        let length = right + 1 - left;
        let most = out.len() + MOST;
        for y in self.y..=bottom {
            let a = &cells.row(y + own.1)[(left + own.0) * B..][..length * B];
            let b = &cells.row(y + other.1)[(left + other.0) * B..][..length * B];
            let (a, b) = (a.as_chunks::<B>().0, b.as_chunks::<B>().0);
            for (block, (a, b)) in a.chunks(BLOCK).zip(b.chunks(BLOCK)).enumerate() {
                let like = |(a, b): (&[u8; B], &[u8; B])| {
                    if plain {
                        (*a == keys[0]) & (*b == keys[1])
                    } else {
                        (cells.shown(*a) == keys[0]) & (cells.shown(*b) == keys[1])
                    }
                };
                if !a.iter().zip(b).fold(false, |any, pair| any | like(pair)) {
                    continue;
                }
                for (at, _) in a.iter().zip(b).enumerate().filter(|(_, pair)| like(*pair)) {
                    let x = left + block * BLOCK + at;
                    if (x, y) != (self.x, self.y) && self.comes_again(cells, (x, y)) {
                        out.push(forward([x as i64 - self.x as i64, y as i64 - self.y as i64]));
                    }
                }
                if out.len() >= most {
                    return;
                }
            }
        }
    }

    fn comes_again<const B: usize>(&self, cells: &Cells<'_, B>, (x, y): (usize, usize)) -> bool {
        let row = |x: usize, y: usize| cells.row(y)[x * B..(x + self.side) * B].as_chunks::<B>().0;
        (0..self.side)
            .all(|down| row(self.x, self.y + down).iter().zip(row(x, y + down)).all(|(p, q)| !cells.differ(*p, *q)))
    }
}
