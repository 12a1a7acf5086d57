//! The search: proposals from near to far, refused by witnesses, counted, and the shortest two that stand.
//!
//! Takes cells; yields what is known of their lattice.

use super::anchor::{Anchor, anchors};
use super::basis::{Move, area, rank, shortest, spanned, square};
use super::cells::Cells;
use super::ruled::ruled;
use super::witness::{Witnesses, Word};
use super::{Known, Lattice, Unit};

/// How far from the anchors likes are looked for, one after the other: most units are small. The last is the whole tile.
const REACHES: [usize; 3] = [96, 512, usize::MAX];
/// The longest move looked for, as a part of each side: beyond it too little of the tile meets itself.
const FARTHEST: (usize, usize) = (3, 5);
/// A move is exact when the pairs that differ are fewer than one in so many of those that a move by one pixel would
/// differ in: what rounding leaves here and there.
const EXACT: u64 = 1000;
/// Nearly everything follows a move when fewer than one in so many do.
const NEARLY: u64 = 2;
/// Proposals that may fail the full count after the witnesses spoke for them.
const FAILURES: usize = 12;
/// Witnesses that must see more copies than the ones that gave a move away.
const SURE: usize = 16;

/// Searches the lattice of a picture.
pub(super) fn search<const B: usize>(cells: &Cells<'_, B>) -> Lattice {
    let witnesses = Witnesses::of(cells);
    if !witnesses.enough() {
        return Lattice::default();
    }
    if let Some(ruled) = ruled(cells, witnesses.steps) {
        return Lattice { ruled: Some(ruled), ..Lattice::default() };
    }
    let anchors = anchors(cells, &witnesses);
    let mut lattice = Lattice::default();
    for reach in REACHES {
        let far = [cells.width, cells.height].map(|side| side * FARTHEST.0 / FARTHEST.1);
        let complete = reach >= far[0].max(far[1]);
        let proposals = proposals(cells, &anchors, far.map(|far| far.min(reach)));
        let search = Search { cells, witnesses: &witnesses };
        lattice = search.among(&proposals);
        // What is longer than the reach may have a shorter one beyond it.
        let reached = |known: &Known| square(known.by) <= (reach as i64).saturating_mul(reach as i64);
        if complete || (lattice.unit.is_some() && lattice.moves.iter().all(reached)) {
            break;
        }
    }
    lattice
}

/// All proposals within a reach, the shortest first, each once.
fn proposals<const B: usize>(cells: &Cells<'_, B>, anchors: &[Anchor], reach: [usize; 2]) -> Vec<Move> {
    let mut proposals = Vec::new();
    for anchor in anchors {
        anchor.proposals(cells, reach, &mut proposals);
    }
    proposals.sort_by_key(|t| rank(*t));
    proposals.dedup();
    proposals
}

struct Search<'a, const B: usize> {
    cells: &'a Cells<'a, B>,
    witnesses: &'a Witnesses,
}

impl<const B: usize> Search<'_, B> {
    /// The lattice that the shortest of `proposals` give.
    fn among(&self, proposals: &[Move]) -> Lattice {
        let mut moves = self.standing(proposals, Word::Agree, EXACT);
        if let [a, b] = moves[..]
            && !self.sure_of_two(a.by, b.by)
        {
            moves.pop();
        }
        let mut unit = match moves[..] {
            [a, b] => Some(Unit { a: a.by, b: b.by }),
            _ => None,
        };
        if let [a] = moves[..] {
            let closes = self.closes(a.by);
            if closes {
                unit = self.closed(a.by);
            } else if !self.sure_of_one(a.by) {
                moves.clear();
            }
        }
        let nearly = if unit.is_none() { self.nearly(proposals) } else { None };
        Lattice { unit, moves, nearly, ruled: None }
    }

    /// The first one or two independent proposals that stand: one in `part` of a one-pixel move's differences at most.
    fn standing(&self, proposals: &[Move], word: Word, part: u64) -> Vec<Known> {
        let mut moves: Vec<Known> = Vec::new();
        let mut failures = 0;
        for t in proposals {
            if moves.first().is_some_and(|a| area(a.by, *t) == 0) || self.witnesses.ask(self.cells, *t) > word {
                continue;
            }
            match self.count(*t, part) {
                Some(known) => moves.push(known),
                None => failures += 1,
            }
            if moves.len() == 2 || failures == FAILURES {
                break;
            }
        }
        moves
    }

    /// The count at a move, when it stands.
    fn count(&self, t: Move, part: u64) -> Option<Known> {
        let [width, height] = [self.cells.width, self.cells.height].map(|side| side as u64);
        let pairs = width.checked_sub(t[0].unsigned_abs())? * height.checked_sub(t[1].unsigned_abs())?;
        let count = self.cells.count(t, self.witnesses.one_pixel(pairs) / part)?;
        (count.differing <= self.witnesses.one_pixel(count.pairs) / part).then_some(Known { by: t, count })
    }

    /// Two moves are sure when enough witnesses see three copies that make a parallelogram with them, or when both map
    /// the tile onto itself over its border: three lone copies always fit some two moves.
    fn sure_of_two(&self, a: Move, b: Move) -> bool {
        let figures = [[1, 1], [1, -1], [-1, 1], [-1, -1]].map(|[i, j]: [i64; 2]| {
            let (a, b) = (a.map(|v| v * i), b.map(|v| v * j));
            [a, b, [a[0] + b[0], a[1] + b[1]]]
        });
        self.witnesses.inside(self.cells, &figures) >= SURE || (self.closes(a) && self.closes(b))
    }

    /// One move is sure when enough witnesses see three copies in a row.
    fn sure_of_one(&self, a: Move) -> bool {
        let twice = |sign: i64| [a.map(|v| v * sign), a.map(|v| 2 * v * sign), [0, 0]];
        self.witnesses.inside(self.cells, &[twice(1), twice(-1)]) >= SURE
    }

    /// Whether a move maps the block repeat of the tile onto itself over its border.
    fn closes(&self, t: Move) -> bool {
        let count = self.cells.count_crossing(t);
        count.pairs > 0 && count.differing <= self.witnesses.one_pixel(count.pairs) / EXACT
    }

    /// The unit of a tile that one move and its own sides map onto itself.
    fn closed(&self, t: Move) -> Option<Unit> {
        let (width, height) = (self.cells.width as i64, self.cells.height as i64);
        let [a, b] = spanned(&[t, [width, 0], [0, height]])?;
        Some(Unit { a, b })
    }

    /// Two moves that nearly everything follows.
    fn nearly(&self, proposals: &[Move]) -> Option<[Known; 2]> {
        let &[a, b] = self.standing(proposals, Word::Lean, NEARLY).as_slice() else { return None };
        let [short, long] = shortest([a.by, b.by]);
        let again = |t: Move| [a, b].into_iter().find(|known| known.by == t).or_else(|| self.count(t, NEARLY));
        Some([again(short)?, again(long)?])
    }
}
