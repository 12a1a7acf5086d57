//! Filling holes of a design whose lattice proves what belongs there: the color that other units show, and no guess.
//!
//! Takes a tile, its open pixels and the smallest repeat, yields a color for each of them or nothing at all. Knows no files
//! and no words; whether the filled tile is as it must be is for others to prove.

use super::color::Recolored;
use crate::pipeline::check::alpha::plane::Plane;
use crate::pipeline::cloth::lattice::Lattice;
use crate::pipeline::lattice::{Move, Unit};
use crate::pixel::mask::Mask;
use crate::pixel::over::Sample;
use crate::pixel::stored::{Rgba, View, within};
use crate::tile::Tile;

/// So many other units must show the very same color.
pub const WITNESSES: usize = 2;

/// How far around a hole, in pixels, everything must be as it is in the other units: where it is not, the unit with the hole
/// may have been another one.
const AROUND: isize = 5;

/// The colors that fill the holes of a tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fill {
    /// The pixels that are filled.
    pub mask: Mask,
    /// The smallest repeat, by which the color was found.
    pub unit: Unit,
    /// The colors in the mask's order, in 8 bits, and in 16 when the tile has them.
    pub(super) shallow: Vec<Recolored<u8>>,
    pub(super) deep: Vec<Recolored<u16>>,
}

/// Fills `open`, pixels without color, in the tile's own depth. `None` unless for each of them at least [`WITNESSES`] other
/// units inside the canvas show an opaque pixel there, all that do show the very same color, what is left of a color in the
/// open pixels themselves allows it, and everything opaque around the holes is as in the other units.
#[must_use]
pub fn fill(tile: &Tile, open: &Mask, unit: Unit) -> Option<Fill> {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let lattice = Lattice::spanned(unit.a, unit.b)?;
    let (shallow, deep) = match &tile.deep {
        Some(deep) => {
            let deep = colors(&View::new(&deep.0, width, height)?, lattice, open, [width, height])?;
            (deep.iter().map(Recolored::rounded).collect(), deep)
        }
        None => {
            (colors(&View::new(tile.raster.samples(), width, height)?, lattice, open, [width, height])?, Vec::new())
        }
    };
    Some(Fill { mask: open.clone(), unit, shallow, deep })
}

fn colors<T: Sample>(view: &View<'_, T>, lattice: Lattice, open: &Mask, sides: [u32; 2]) -> Option<Vec<Recolored<T>>> {
    // Pixels of one place in the unit share their color, so each place is looked at once.
    let place = |(x, y): (u32, u32)| lattice.reduced([x.into(), y.into()]);
    let hole = Plane::of(open, sides[0], sides[1]);
    let around = hole.dilated(AROUND).without(&hole).mask();
    let around = around.pixels().filter(|&(x, y)| view.opaque(x.into(), y.into()).is_some());
    let mut places: Vec<[i64; 2]> = open.pixels().chain(around).map(place).collect();
    places.sort_unstable();
    places.dedup();
    let shown: Vec<Shown<T>> = places.iter().map(|place| shown(view, lattice, *place, sides)).collect::<Option<_>>()?;
    let filled = open.pixels().map(|(x, y)| {
        let at = places.binary_search(&place((x, y))).ok()?;
        let Shown { color, units } = shown.get(at)?;
        let was = view.at(x.into(), y.into());
        let allowed = was[3] == T::clamped(0) || (0..3).all(|i| within(color[i], was[i], was[3]));
        (*units >= WITNESSES && allowed).then_some(Recolored { x, y, color: *color })
    });
    filled.collect()
}

/// What the units of a tile show in one place.
struct Shown<T> {
    color: [T; 3],
    units: usize,
}

/// What the units show that have an opaque pixel in this place; `None` where no unit has one, or two disagree.
fn shown<T: Sample>(view: &View<'_, T>, lattice: Lattice, [x, y]: [i64; 2], sides: [u32; 2]) -> Option<Shown<T>> {
    let [width, height] = sides.map(i64::from);
    let mut shown: Option<Shown<T>> = None;
    for (turn, x) in (x..width).step_by(lattice.a as usize).enumerate() {
        let first = (y + turn as i64 % lattice.d * lattice.b).rem_euclid(lattice.d);
        for y in (first..height).step_by(lattice.d as usize) {
            match (view.opaque(x, y), &mut shown) {
                (None, _) => {}
                (Some(color), Some(shown)) if shown.color == color => shown.units += 1,
                (Some(_), Some(_)) => return None,
                (Some(color), None) => shown = Some(Shown { color, units: 1 }),
            }
        }
    }
    shown
}

/// Whether at least [`WITNESSES`] other units show at this place the very color of `pixel`, none of them asked by way of the
/// lattice's normal form: a second way to the same answer, for the proof.
#[must_use]
pub(super) fn is_shown<T: Sample>(
    view: &View<'_, T>,
    unit: Unit,
    (x, y): (u32, u32),
    pixel: Rgba<T>,
    sides: [u32; 2],
) -> bool {
    let [r, g, b, _] = pixel;
    let steps = rings(unit, sides);
    let shows = |[right, down]: &Move| {
        let (x, y) = (i64::from(x) + right, i64::from(y) + down);
        let inside = (0..i64::from(sides[0])).contains(&x) && (0..i64::from(sides[1])).contains(&y);
        inside && view.opaque(x, y) == Some([r, g, b])
    };
    steps.filter(shows).take(WITNESSES).count() == WITNESSES
}

/// All moves of the lattice but the one that goes nowhere, as far as a tile of these sides can need them, those of few steps
/// first.
fn rings(unit: Unit, sides: [u32; 2]) -> impl Iterator<Item = Move> {
    // A move inside the canvas is i a + j b; by Cramer's rule neither i nor j is above the diagonal's length over a height
    // of the unit, which is its area over its longer side.
    let long = [unit.a, unit.b].iter().map(|side| side[0].abs() + side[1].abs()).max().unwrap_or(1);
    let most = i64::from(sides[0] + sides[1]) * long / (unit.area() as i64).max(1) + 1;
    let step = move |i: i64, j: i64| [i * unit.a[0] + j * unit.b[0], i * unit.a[1] + j * unit.b[1]];
    (1..=most).flat_map(move |ring| {
        let level = (-ring..=ring).flat_map(move |i| [step(i, -ring), step(i, ring)]);
        level.chain((1 - ring..ring).flat_map(move |j| [step(-ring, j), step(ring, j)]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rings_reach_every_place_of_the_lattice_on_the_canvas_once() {
        for unit in [Unit { a: [4, 0], b: [0, 6] }, Unit { a: [5, 3], b: [5, -3] }, Unit { a: [1, 7], b: [3, -2] }] {
            let sides = [40, 33];
            let lattice = Lattice::spanned(unit.a, unit.b).unwrap();
            let mut reached: Vec<Move> =
                rings(unit, sides).filter(|[x, y]| (0..40).contains(x) && (0..33).contains(y)).collect();
            reached.sort_unstable();
            let all = (0..40).flat_map(|x| (0..33).map(move |y| [x, y]));
            let wanted: Vec<Move> = all.filter(|at| *at != [0, 0] && lattice.holds(*at)).collect();
            assert_eq!(reached, wanted, "{unit:?}");
        }
    }
}
