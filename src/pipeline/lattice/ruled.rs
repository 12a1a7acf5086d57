//! Straight stripes along a side: no unit along them, and across them the distance after which they come again.
//!
//! Takes cells; yields the direction and the distance.

use super::cells::Cells;

/// A design of straight stripes along a side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ruled {
    /// The stripes run up and down; else from left to right.
    pub upright: bool,
    /// The stripes come again after this many pixels: all of them, at least two full times and a half, or whole times.
    pub every: Option<u32>,
}

/// Stripes, when every line along them is of one color from end to end.
pub(super) fn ruled<const B: usize>(cells: &Cells<'_, B>, upright: bool) -> Option<Ruled> {
    let line: Vec<[u8; B]> = if upright {
        let first = cells.row(0);
        let row = first.as_chunks::<B>().0;
        let alike = |y: usize| {
            cells.row(y) == first || cells.row(y).as_chunks::<B>().0.iter().zip(row).all(|(p, q)| !cells.differ(*p, *q))
        };
        (1..cells.height).all(alike).then(|| row.to_vec())?
    } else {
        let even = |y: &usize| {
            let row = cells.row(*y).as_chunks::<B>().0;
            row.iter().all(|cell| !cells.differ(*cell, row[0]))
        };
        let line = (0..cells.height).map(|y| cells.at(0, y)).collect();
        (0..cells.height).all(|y| even(&y)).then_some(line)?
    };
    let length = line.len();
    let comes_again = |by: &usize| line.iter().zip(&line[*by..]).all(|(p, q)| !cells.differ(*p, *q));
    let every = (2..=length / 2)
        .filter(|by| by * 5 <= length * 2 || length.is_multiple_of(*by))
        .find(comes_again)
        .and_then(|by| u32::try_from(by).ok());
    Some(Ruled { upright, every })
}
