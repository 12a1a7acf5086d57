//! The search: proposals from near to far, refused by witnesses, counted, and the shortest two that stand.
//!
//! Takes cells; yields what is known of their lattice.

use super::anchor::{Anchor, anchors, middle};
use super::basis::{Move, area, holds, rank, shortest, spanned, square};
use super::cells::Cells;
use super::known::{Known, Lattice, Unit};
use super::ruled::ruled;
use super::witness::{Witnesses, Word};

/// How far from the anchors likes are looked for, one after the other: most units are small. The last is the whole tile.
const REACHES: [usize; 3] = [96, 512, usize::MAX];
/// The longest move looked for, as a part of each side: beyond it too little of the tile meets itself.
const FARTHEST: (usize, usize) = (3, 5);
/// A move is exact when the pairs that differ are fewer than one in so many of those that a move by one pixel would
/// differ in: what rounding leaves here and there.
const EXACT: u64 = 1000;
/// In a picture of edges one in so many may differ: some edges are fainter than what counts as one.
const EXACT_EDGES: u64 = 16;
/// In so many of them one may differ in bytes at all: rounding touches few pixels, a copy that drifts touches every edge.
const UNLIKE: u64 = 8;
/// Where more than so many neighbors in a hundred differ, nothing is told from a copy of itself moved by a few pixels.
const BUSY: u64 = 60;
/// One unit set aside leaves at most so many times what a move by one pixel would differ in, over the number of units.
const ASIDE: u64 = 10;
/// Of the moves that nearly everything follows so many, the shortest, are compared.
const STANDING: usize = 24;
/// How often as many pairs as the rows that stand for all have may be looked at for moves that then fail.
const PATIENCE: u64 = 4;
/// Witnesses that must see more copies than the ones that gave a move away.
const SURE: usize = 16;

/// Searches the lattice of a picture.
pub(super) fn search<const B: usize>(cells: &Cells<'_, B>) -> Lattice {
    let witnesses = Witnesses::of(cells);
    if !witnesses.enough() {
        return Lattice::default();
    }
    if witnesses.steps.contains(&0) {
        // Stripes, or something that changes too softly to be told from a copy of itself.
        return Lattice { ruled: ruled(cells, witnesses.steps[1] == 0), ..Lattice::default() };
    }
    let anchors = anchors(cells, &witnesses);
    let mut lattice = Lattice::default();
    for reach in REACHES {
        let far = [cells.width, cells.height].map(|side| side * FARTHEST.0 / FARTHEST.1);
        let complete = reach >= far[0].max(far[1]);
        let proposals = proposals(cells, &anchors, far.map(|far| far.min(reach)));
        let search = Search { cells, witnesses: &witnesses, exact: if B == 1 { EXACT_EDGES } else { EXACT } };
        lattice = search.among(&proposals, complete);
        // What is longer than the reach may have a shorter one beyond it.
        let reached = |known: &Known| square(known.by) <= (reach as i64).saturating_mul(reach as i64);
        if complete || (lattice.moves.len() == 2 && lattice.moves.iter().all(reached)) {
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
    exact: u64,
}

impl<const B: usize> Search<'_, B> {
    /// The lattice that the shortest of `proposals` give; what needs all proposals is left out unless they are complete.
    fn among(&self, proposals: &[Move], complete: bool) -> Lattice {
        let mut moves = self.standing(proposals);
        if let [a, b] = moves[..]
            && !self.sure_of_two(a.by, b.by)
        {
            moves.pop();
        }
        if let [a, b] = moves[..]
            && !self.fits(&[a.by, b.by])
            && self.closes(a.by)
            && self.closes(b.by)
        {
            // The border is crossed as if the tile held whole units, which it does not: copies that drift, too slowly to
            // be seen from one to the next.
            moves.clear();
        }
        let mut unit = match moves[..] {
            [a, b] => Some(Unit { a: a.by, b: b.by }),
            _ => None,
        };
        if let [a] = moves[..]
            && complete
        {
            let closes = self.closes(a.by);
            if closes {
                unit = self.closed(a.by);
            } else if !self.sure_of_one(a.by) {
                moves.clear();
            }
        }
        // Long moves can be exact because they leap over what a short one stumbles on.
        let smaller =
            |near: &[Known; 2]| unit.is_none_or(|unit| area(near[0].by, near[1].by).unsigned_abs() < unit.area());
        let seek = complete && self.exact == EXACT && self.witnesses.one_pixel_at_most(100) <= BUSY;
        let exact: Vec<Move> = moves.iter().map(|known| known.by).chain(unit.iter().flat_map(|u| [u.a, u.b])).collect();
        let nearly = if seek { self.nearly(&self.with_middle(proposals), &exact).filter(smaller) } else { None };
        Lattice { unit, moves, nearly, ruled: None, one_pixel: self.witnesses.steps() }
    }

    /// The proposals and those of an anchor in the middle, which sees short moves where a unit set aside lies across a corner.
    fn with_middle(&self, known: &[Move]) -> Vec<Move> {
        let anchors: Vec<Anchor> = middle(self.cells, self.witnesses).into_iter().collect();
        let near = [self.cells.width, self.cells.height].map(|side| side * FARTHEST.0 / FARTHEST.1 / 2);
        let mut all = proposals(self.cells, &anchors, near);
        all.extend_from_slice(known);
        all.sort_by_key(|t| rank(*t));
        all.dedup();
        all
    }

    /// The first one or two independent proposals that are exact.
    fn standing(&self, proposals: &[Move]) -> Vec<Known> {
        let word = if self.exact == EXACT { Word::Agree } else { Word::Lean };
        let mut moves: Vec<Known> = Vec::new();
        let mut patience = PATIENCE * (self.cells.rows_that_stand_for_all().count() * self.cells.width) as u64;
        for t in proposals {
            if moves.first().is_some_and(|a| area(a.by, *t) == 0) || self.witnesses.ask(self.cells, *t, word) > word {
                continue;
            }
            match self.count(*t) {
                Ok(known) => moves.push(known),
                Err(looked_at) => patience = patience.saturating_sub(looked_at.max(1)),
            }
            if moves.len() == 2 || patience == 0 {
                break;
            }
        }
        moves
    }

    /// The count at a move that stands, or how many pairs were looked at until it failed.
    fn count(&self, t: Move) -> Result<Known, u64> {
        let unlike = if self.exact == EXACT { UNLIKE } else { u64::MAX };
        let allowed = |pairs: u64| {
            let one_pixel = self.witnesses.one_pixel(pairs);
            [one_pixel / self.exact, if unlike == u64::MAX { unlike } else { one_pixel / unlike }]
        };
        let count = self.cells.count(t, allowed(self.cells.pairs_at(t)));
        let [differing, unlike] = allowed(count.pairs);
        let stands = count.pairs > 0 && count.differing <= differing && count.unlike <= unlike;
        if stands { Ok(Known { by: t, count }) } else { Err(count.pairs) }
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

    /// Whether the sides of the tile are whole combinations of two moves.
    fn fits(&self, moves: &[Move; 2]) -> bool {
        holds(*moves, [self.cells.width as i64, 0]) && holds(*moves, [0, self.cells.height as i64])
    }

    /// Whether a move maps the block repeat of the tile onto itself over its border.
    fn closes(&self, t: Move) -> bool {
        let counts = self.cells.count_crossing(t);
        counts.iter().any(|count| count.pairs > 0)
            && counts.iter().all(|count| count.differing <= self.witnesses.one_pixel(count.pairs) / self.exact)
    }

    /// The unit of a tile that one move and its own sides map onto itself.
    fn closed(&self, t: Move) -> Option<Unit> {
        let (width, height) = (self.cells.width as i64, self.cells.height as i64);
        let [a, b] = spanned(&[t, [width, 0], [0, height]])?;
        Some(Unit { a, b })
    }

    /// Two moves that nearly everything follows: the shortest that leave no more than one unit set aside would. What maps
    /// everything onto itself leaps over that unit, so it is a whole combination of them.
    fn nearly(&self, proposals: &[Move], exact: &[Move]) -> Option<[Known; 2]> {
        let mut patience = PATIENCE * (self.cells.rows_that_stand_for_all().count() * self.cells.width) as u64;
        let mut stand: Vec<Known> = Vec::new();
        for t in proposals {
            if self.witnesses.ask(self.cells, *t, Word::Lean) > Word::Lean {
                continue;
            }
            match self.count_nearly(*t) {
                Ok(known) => stand.push(known),
                Err(looked_at) => patience = patience.saturating_sub(looked_at.max(1)),
            }
            if stand.len() == STANDING || patience == 0 {
                break;
            }
        }
        let tile = (self.cells.width * self.cells.height) as u64;
        for (after, b) in stand.iter().enumerate() {
            for a in &stand[..after] {
                let unit = area(a.by, b.by).unsigned_abs();
                // A unit set aside by three pixels differs twice in what three moves by one pixel would in it.
                let aside = |known: &Known| {
                    let one_pixel = self.witnesses.one_pixel_at_most(known.count.pairs);
                    u128::from(known.count.differing) * u128::from(tile)
                        <= u128::from(ASIDE * one_pixel) * u128::from(unit)
                };
                let leaps = exact.iter().all(|t| holds([a.by, b.by], *t));
                if unit > 0 && leaps && aside(a) && aside(b) {
                    let [short, long] = shortest([a.by, b.by]);
                    let again = |t: Move| {
                        stand.iter().find(|known| known.by == t).copied().or_else(|| self.count_nearly(t).ok())
                    };
                    return Some([again(short)?, again(long)?]);
                }
            }
        }
        None
    }

    /// The count at a move that nearly everything follows, or how many pairs were looked at until it failed.
    fn count_nearly(&self, t: Move) -> Result<Known, u64> {
        let allowed = |pairs: u64| self.witnesses.one_pixel_at_most(pairs);
        let count = self.cells.count(t, [allowed(self.cells.pairs_at(t)), u64::MAX]);
        if count.pairs > 0 && count.differing <= allowed(count.pairs) {
            Ok(Known { by: t, count })
        } else {
            Err(count.pairs)
        }
    }
}
