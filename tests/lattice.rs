//! The lattice a tile holds: exact moves on designs whose moves are known, none on designs that have none.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod art;

use art::chance::Chance;
use burler::pipeline::lattice::{self, Lattice, Unit};
use burler::spec::Ground;
use burler::tile::Raster;

/// A raster from a function of column and row.
fn drawn(width: u32, height: u32, color: impl Fn(i64, i64) -> [u8; 3]) -> Raster {
    let mut rgba = Vec::new();
    for y in 0..i64::from(height) {
        for x in 0..i64::from(width) {
            let [r, g, b] = color(x, y);
            rgba.extend([r, g, b, 255]);
        }
    }
    Raster::new(width, height, rgba).unwrap()
}

fn found(raster: Raster) -> Lattice {
    lattice::find(&art::tile(raster), Ground::Opaque)
}

fn unit(raster: Raster) -> Option<[[i64; 2]; 2]> {
    found(raster).unit.map(|unit| [unit.a, unit.b])
}

/// A color that depends on the place within the unit of two moves `(p, q)` and `(0, r)`, and on nothing else.
fn of_cell(seed: u64, p: i64, q: i64, r: i64, x: i64, y: i64) -> [u8; 3] {
    let turns = x.div_euclid(p);
    let place = (x - turns * p, (y - turns * q).rem_euclid(r));
    // Blots of a few pixels, as drawn art has them.
    let mut chance = Chance::new(seed ^ ((place.0 / 3) as u64) << 20 ^ (place.1 / 3) as u64);
    [0; 3].map(|_| if chance.odds(3) { 30 } else { 220 })
}

fn same_lattice(a: Unit, b: [[i64; 2]; 2]) -> bool {
    let other = Unit { a: b[0], b: b[1] };
    other.holds(a.a) && other.holds(a.b) && a.area() == other.area()
}

#[test]
fn half_drop_brick_and_block_units_are_told_apart() {
    for (p, q, r, want) in [
        (40, 0, 40, [[40, 0], [0, 40]]),
        (40, 20, 40, [[40, 20], [40, -20]]),
        (20, 20, 40, [[20, 20], [20, -20]]),
        (60, 20, 60, [[60, 20], [0, 60]]),
        (60, 15, 60, [[60, 15], [0, 60]]),
        (36, 7, 50, [[36, 7], [0, 50]]),
    ] {
        let raster = drawn(360, 360, |x, y| of_cell(5, p, q, r, x, y));
        let unit = found(raster).unit.unwrap();
        assert!(same_lattice(unit, want), "{p} {q} {r}: {unit:?}");
    }
}

#[test]
fn a_unit_is_found_in_a_tile_that_it_does_not_fit() {
    for (width, height) in [(240, 240), (239, 240), (241, 247), (230, 251)] {
        let raster = drawn(width, height, |x, y| of_cell(9, 24, 12, 24, x, y));
        let unit = found(raster).unit.unwrap();
        assert!(same_lattice(unit, [[24, 12], [24, -12]]), "{width} {height}: {unit:?}");
        assert_eq!(unit.per_tile(width, height), (width == 240 && height == 240).then_some(100));
    }
}

#[test]
fn every_random_lattice_is_found_exactly_and_none_is_invented() {
    let mut chance = Chance::new(71);
    for round in 0..200 {
        let (p, r) = (i64::from(chance.whole(5, 70)), i64::from(chance.whole(5, 70)));
        let q = i64::from(chance.whole(0, r as u32 - 1));
        let (width, height) = (chance.whole(200, 420), chance.whole(200, 420));
        let seed = chance.next();
        let unit = found(drawn(width, height, |x, y| of_cell(seed, p, q, r, x, y))).unit;
        assert!(unit.is_some_and(|unit| same_lattice(unit, [[p, q], [0, r]])), "{round}: {p} {q} {r} {unit:?}");
        let none = found(drawn(width, height, |x, y| of_cell(seed, 1 << 40, 0, 1 << 40, x, y)));
        assert_eq!((none.unit, none.moves.len(), none.nearly), (None, 0, None), "{round}");
    }
}

#[test]
fn two_units_side_by_side_are_two_and_a_lone_one_is_none() {
    let two = drawn(200, 120, |x, y| of_cell(3, 100, 0, 120, x, y));
    assert_eq!(unit(two), Some([[100, 0], [0, 120]]));
    let half_drop = drawn(200, 120, |x, y| of_cell(3, 100, 60, 120, x, y));
    assert_eq!(unit(half_drop), Some([[100, 60], [100, -60]]));
    let lone = drawn(200, 120, |x, y| of_cell(3, 200, 0, 120, x, y));
    assert_eq!(unit(lone), None);
}

#[test]
fn stripes_have_no_unit_along_them_and_flat_color_has_none() {
    let stripe = |at: i64| [[200, 20, 20], [20, 20, 200], [240, 240, 240]][(at % 24 / 8) as usize];
    let upright = found(drawn(240, 100, |x, _| stripe(x)));
    assert_eq!((upright.unit, upright.ruled.map(|r| (r.upright, r.every))), (None, Some((true, Some(24)))));
    let level = found(drawn(100, 250, |_, y| stripe(y)));
    assert_eq!((level.unit, level.ruled.map(|r| (r.upright, r.every))), (None, Some((false, Some(24)))));
    assert_eq!(found(drawn(100, 100, |_, _| [9, 9, 9])), Lattice::default());
}

#[test]
fn a_unit_that_sits_aside_leaves_moves_that_nearly_everything_follows() {
    let dot = |x: i64, y: i64| (x - 20).pow(2) + (y - 20).pow(2) < 100;
    let raster = drawn(240, 240, |x, y| {
        let aside = if x / 40 == 2 && y / 40 == 3 { 2 } else { 0 };
        if dot((x - aside).rem_euclid(40), y % 40) { [200, 40, 40] } else { [250, 250, 240] }
    });
    let lattice = found(raster);
    assert_eq!(lattice.unit, None);
    assert_eq!(lattice.nearly.map(|two| two.map(|known| known.by)), Some([[40, 0], [0, 40]]));
}
