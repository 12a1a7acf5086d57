//! The lattice a tile holds: exact moves on designs whose moves are known, none on designs that have none.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod art;
mod desk;

use art::broken;
use art::chance::Chance;
use burler::finding::{Grade, Kind, Verdict};
use burler::pipeline::check::{self, Judgment};
use burler::pipeline::lattice::{self, Lattice, Unit};
use burler::spec::{Ground, Repeat, Spec};
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

fn judged(raster: Raster) -> Judgment {
    check::judge(&art::tile(raster), &Spec::default())
}

/// The block repeat of a tile, seen through a window of other sides.
fn sized(raster: &Raster, width: u32, height: u32) -> Raster {
    let places = (0..i64::from(height)).flat_map(|y| (0..i64::from(width)).map(move |x| (x, y)));
    Raster::new(width, height, places.flat_map(|(x, y)| raster.wrapped(x, y)).collect()).unwrap()
}

/// Checks of 20 pixels.
fn checks() -> Raster {
    drawn(240, 240, |x, y| if (x / 20 + y / 20) % 2 == 0 { [200, 40, 40] } else { [240, 230, 210] })
}

/// Threads of 2 to 12 pixels along both axes, again after 60.
fn plaid() -> Raster {
    let thread = |at: i64| match at % 60 {
        0..12 => 200,
        12..14 => 20,
        14..26 => 120,
        26..30 => 250,
        30..51 => 60,
        _ => 170,
    };
    drawn(240, 240, |x, y| {
        let [p, q] = [thread(x), thread(y)].map(|thread| thread / 2);
        [(p + q) as u8, (40 + q) as u8, (120 + p) as u8]
    })
}

/// Courses of bricks of 40 x 20 in mortar of 3, each brick of its own color: only edges come again.
fn bricks() -> Raster {
    drawn(240, 240, |x, y| {
        let course = y / 20;
        let x = x + course % 2 * 20;
        if x % 40 < 3 || y % 20 < 3 {
            return [235, 230, 220];
        }
        let mut chance = Chance::new((course * 6 + x / 40 % 6) as u64);
        [150, 70, 50].map(|channel: u8| channel + chance.whole(0, 40) as u8)
    })
}

#[test]
fn a_wrong_size_is_told_with_its_lines_where_only_the_lattice_can_know() {
    for (name, raster) in [("checks", checks()), ("plaid", plaid()), ("bricks", bricks())] {
        assert_eq!(judged(raster.clone()).verdict, Verdict::Sound, "{name}");
        for (right, down) in [(2i32, 0i32), (3, 0), (-2, 0), (-3, 0), (0, 2), (0, -3), (0, 3)] {
            let made = sized(&raster, (240 + right) as u32, (240 + down) as u32);
            let judgment = judged(made);
            let lines: i32 = right + down;
            let kind = if lines > 0 { Kind::JointDoubled } else { Kind::JointMissing };
            assert_eq!(judgment.verdict, Verdict::Held, "{name} {right} {down}");
            let told = &judgment.findings[0];
            assert_eq!(told.kind, kind, "{name} {right} {down}: {}", told.says);
            assert_eq!(told.measure.as_ref().unwrap().value, f64::from(lines.abs()), "{name} {right} {down}");
            let left_over = if right == 0 { Repeat::Across } else { Repeat::Down };
            assert_eq!(judgment.joins_as, [left_over], "{name} {right} {down}");
            let area = told.boxes[0];
            if right == 0 {
                assert_eq!((area.x, area.width, area.y + area.height), (0, 240, (240 + down) as u32));
            } else {
                assert_eq!((area.y, area.height, area.x + area.width), (0, 240, (240 + right) as u32));
            }
        }
    }
}

#[test]
fn a_line_more_in_an_even_band_is_advice() {
    // A plaid whose last band is a pixel wider is what rounding its bands to whole pixels makes too.
    let judgment = judged(sized(&plaid(), 241, 240));
    let told: Vec<_> = judgment.findings.iter().map(|finding| (finding.kind, finding.grade)).collect();
    assert!(told.contains(&(Kind::JointDoubled, Grade::Advice)) || judgment.verdict == Verdict::Held, "{told:?}");
    let moved = broken::moved(&plaid(), 6, 0);
    let judgment = judged(sized(&moved, 241, 240));
    let told: Vec<_> = judgment.findings.iter().map(|finding| (finding.kind, finding.grade)).collect();
    assert_eq!((judgment.verdict, told), (Verdict::Sound, vec![(Kind::JointDoubled, Grade::Advice)]));
}

#[test]
fn a_crop_of_stripes_is_a_crop_of_stripes() {
    let stripe = |at: i64| [[200, 20, 20], [20, 20, 200], [240, 240, 240]][(at % 24 / 8) as usize];
    let judgment = judged(drawn(250, 240, |x, _| stripe(x)));
    assert!(!judgment.findings.iter().any(|f| matches!(f.kind, Kind::JointDoubled | Kind::JointMissing)));
    assert_ne!(judgment.verdict, Verdict::Held);
}

#[test]
fn a_unit_decides_the_layouts_a_tile_joins_in() {
    // Three columns of a half-drop: the next tile must be lowered too.
    let half_drop = |x: i64, y: i64| of_cell(5, 40, 20, 40, x, y);
    let drop = judged(drawn(120, 120, half_drop));
    assert_eq!((drop.verdict, drop.joins_as), (Verdict::Sound, vec![Repeat::HalfDrop]));
    let brick = judged(drawn(120, 120, |x, y| half_drop(y, x)));
    assert_eq!((brick.verdict, brick.joins_as), (Verdict::Sound, vec![Repeat::Brick]));
    let both = judged(drawn(160, 160, half_drop));
    assert_eq!(both.joins_as, [Repeat::Block, Repeat::HalfDrop, Repeat::Brick, Repeat::QuarterDrop]);
    // Ordered as block, the three columns are held.
    let block = Spec { repeat: Some(Repeat::Block), ..Spec::default() };
    assert_eq!(check::judge(&art::tile(drawn(120, 120, half_drop)), &block).verdict, Verdict::Held);
}

#[test]
fn a_see_through_line_and_color_where_nothing_is_seen_do_not_hide_a_unit() {
    let mut hairline = drawn(240, 240, |x, y| of_cell(9, 24, 12, 24, x, y));
    hairline.samples_mut()[120 * 240 * 4..121 * 240 * 4].chunks_exact_mut(4).for_each(|pixel| pixel[3] = 100);
    assert!(same_lattice(found(hairline).unit.unwrap(), [[24, 12], [24, -12]]));
    let mut clear = drawn(240, 240, |x, y| of_cell(9, 24, 12, 24, x, y));
    for (at, pixel) in clear.samples_mut().chunks_exact_mut(4).enumerate() {
        if pixel[0] == 220 {
            pixel.copy_from_slice(&[(at % 251) as u8, 0, 0, 0]);
        }
    }
    let lattice = lattice::find(&art::tile(clear), Ground::Transparent);
    assert!(lattice.unit.is_some_and(|unit| same_lattice(unit, [[24, 12], [24, -12]])), "{lattice:?}");
}

/// A quarter turn: what was right is down.
fn turned(raster: &Raster) -> Raster {
    let (width, height) = (i64::from(raster.height()), i64::from(raster.width()));
    let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    let rgba = places.flat_map(|(x, y)| raster.wrapped(y, -1 - x)).collect();
    Raster::new(width as u32, height as u32, rgba).unwrap()
}

#[test]
fn the_lattice_is_the_same_wherever_a_tile_begins_and_turns_with_it() {
    let mut chance = Chance::new(12);
    for _ in 0..40 {
        let (p, r) = (i64::from(chance.whole(6, 40)), i64::from(chance.whole(6, 40)));
        let (columns, rows) = (i64::from(chance.whole(3, 6)), i64::from(chance.whole(3, 6)));
        // A step down that closes after all columns.
        let q = r * i64::from(chance.whole(0, 2)) % (r * columns) / columns;
        let q = if q * columns % r == 0 { q } else { 0 };
        let seed = chance.next();
        let raster = drawn((p * columns) as u32, (r * rows) as u32, |x, y| of_cell(seed, p, q, r, x, y));
        let unit = found(raster.clone()).unit.unwrap();
        let mut by = || i64::from(chance.whole(0, 9999));
        let moved = found(broken::moved(&raster, by(), by())).unit.unwrap();
        assert_eq!(unit, moved);
        let turned = found(turned(&raster)).unit.unwrap();
        assert!(same_lattice(turned, [unit.a, unit.b].map(|[right, down]| [-down, right])), "{unit:?} {turned:?}");
    }
}

/// Writes one channel of a raster where a Python program can read it.
fn written(raster: &Raster) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("gray");
    std::fs::write(&path, raster.samples().chunks_exact(4).map(|pixel| pixel[0]).collect::<Vec<u8>>()).unwrap();
    let path = path.to_str().unwrap().to_string();
    (folder, path)
}

/// Mismatch of a picture with itself at every move, not wrapped, by the correlation theorem with NumPy's FFT: sums of
/// squares over the overlap, zero where all pairs are equal. Prints the moves of no mismatch in a half plane.
const WITHOUT_WRAPPING: &str = "
import sys, numpy as np
path, w, h = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
a = np.fromfile(path, dtype=np.uint8).reshape(h, w).astype(float)
F = lambda x: np.fft.rfft2(x, s=(2 * h, 2 * w))
one = np.ones_like(a)
cross = lambda x, y: np.fft.irfft2(np.conj(F(x)) * F(y), s=(2 * h, 2 * w))
ssd = cross(a * a, one) + cross(one, a * a) - 2 * cross(a, a)
for dy in range(0, h * 3 // 5):
    for dx in range(-(w * 3 // 5), w * 3 // 5 + 1):
        if (dy, dx) > (0, 0) and abs(ssd[dy, dx]) < 0.5:
            print(dx, dy)
";

#[test]
fn a_general_purpose_transform_finds_the_same_moves() {
    for (p, q, r, width, height) in
        [(24, 12, 24, 144, 144), (30, 0, 22, 151, 140), (20, 7, 33, 160, 171), (17, 5, 19, 150, 133)]
    {
        let raster = drawn(width, height, |x, y| of_cell(p as u64, p, q, r, x, y));
        let unit = found(raster.clone()).unit.unwrap();
        let (_folder, path) = written(&raster);
        let told = desk::run_python(WITHOUT_WRAPPING, &[&path, &width.to_string(), &height.to_string()]);
        let moves: Vec<[i64; 2]> = told
            .lines()
            .map(|line| {
                let (right, down) = line.split_once(' ').unwrap();
                [right.parse().unwrap(), down.parse().unwrap()]
            })
            .collect();
        assert!(moves.iter().all(|t| unit.holds(*t)), "{unit:?} {moves:?}");
        let held = (0..i64::from(height) * 3 / 5)
            .flat_map(|y| (-i64::from(width) * 3 / 5..=i64::from(width) * 3 / 5).map(move |x| [x, y]))
            .filter(|t| (t[1], t[0]) > (0, 0) && unit.holds(*t))
            .count();
        assert_eq!(held, moves.len(), "{unit:?}");
    }
}

/// Prints the largest term with h + k odd beside the largest of all, and how much the power spectrum of a picture and of
/// its cyclic shift differ at most.
const SPECTRUM: &str = "
import sys, numpy as np
path, w, h = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
a = np.fromfile(path, dtype=np.uint8).reshape(h, w).astype(float)
f = np.abs(np.fft.fft2(a - a.mean()))
odd = np.add.outer(np.arange(h), np.arange(w)) % 2 == 1
g = np.abs(np.fft.fft2(np.roll(a - a.mean(), (5, -7), (0, 1))))
print(f[odd].max() / f.max(), np.abs(f - g).max() / f.max())
";

#[test]
fn centered_cells_obey_the_reflection_condition_and_shifts_change_phases_only() {
    // International Tables for Crystallography A: a centered cell has no reflection with h + k odd. Two units of a half-drop
    // side by side are a centered cell of the block they fill; two of a block are none.
    for (q, centered) in [(30, true), (0, false)] {
        let raster = drawn(80, 60, |x, y| of_cell(4, 40, q, 60, x, y));
        let (_folder, path) = written(&raster);
        let told = desk::run_python(SPECTRUM, &[&path, "80", "60"]);
        let numbers: Vec<f64> = told.split_whitespace().map(|number| number.parse().unwrap()).collect();
        assert_eq!(numbers[0] < 1e-9, centered, "{told}");
        assert!(numbers[1] < 1e-9, "the shift theorem: {told}");
        let unit = found(raster.clone()).unit.unwrap();
        assert_eq!(unit.holds([40, 30]), centered);
        assert_eq!(found(broken::moved(&raster, -7, 5)).unit, Some(unit));
    }
}

#[test]
fn stipples_have_their_known_units() {
    // Bitmaps of the X Window System, laid until there is something to see of them: bits are facts.
    let bits = |rows: &[u16], wide: i64| {
        let rows = rows.to_vec();
        move |x: i64, y: i64| {
            let row = rows[(y % rows.len() as i64) as usize];
            if row >> (x % wide) & 1 == 1 { [0, 0, 0] } else { [255, 255, 255] }
        }
    };
    // gray and gray1: every second pixel; gray3: one in four, in quincunx; light_gray: one in four, rows in turn.
    for (name, rows, wide, want) in [
        ("gray", &[0b01u16, 0b10][..], 2, [[1, 1], [1, -1]]),
        ("gray3", &[0b0001, 0b0000, 0b0100, 0b0000], 4, [[2, 2], [2, -2]]),
        ("light_gray", &[0b1000, 0b0010], 4, [[2, 1], [2, -1]]),
    ] {
        for (width, height) in [(64, 64), (61, 64), (63, 59)] {
            let unit = found(drawn(width, height, bits(rows, wide))).unit;
            assert!(unit.is_some_and(|unit| same_lattice(unit, want)), "{name} {width} {height} {unit:?}");
        }
    }
}
