//! Units that sit aside: found with their move and place, and none invented where every unit is as it should be.

mod art;

use art::{STYLES, broken, stray};
use burler::finding::{Area, Finding, Grade, Kind};
use burler::pipeline::{check::unit, lattice};
use burler::pixel::mask::Mask;
use burler::spec::{Ground, Repeat};
use burler::tile::Raster;

fn told(raster: Raster, ground: Ground) -> Option<Finding> {
    let tile = art::tile(raster);
    unit::judge(&tile, &lattice::find(&tile, ground), &Mask::default()).finding
}

fn covers(area: Area, truth: Area) -> bool {
    let near = |a: u32, b: u32| a.abs_diff(b) <= 4;
    near(area.x, truth.x)
        && near(area.y, truth.y)
        && near(area.x + area.width, truth.x + truth.width)
        && near(area.y + area.height, truth.y + truth.height)
}

fn around(boxes: &[Area]) -> Area {
    let (x, y) =
        (boxes.iter().map(|b| b.x).min().unwrap_or_default(), boxes.iter().map(|b| b.y).min().unwrap_or_default());
    let right = boxes.iter().map(|b| b.x + b.width).max().unwrap_or_default();
    let bottom = boxes.iter().map(|b| b.y + b.height).max().unwrap_or_default();
    Area { x, y, width: right - x, height: bottom - y }
}

#[test]
fn a_unit_that_sits_aside_is_found_with_its_move() {
    for seed in 0..6 {
        for strength in 0..4 {
            let (tile, truth) = stray::field(seed, Some(strength));
            let (area, by) = truth.unwrap();
            let finding = told(tile, Ground::Opaque).unwrap_or_else(|| unreachable!("{seed} {strength}: missed"));
            assert_eq!((finding.kind, finding.grade), (Kind::UnitStray, Grade::Fault));
            // Two boxes where the unit lies across the border; the truth spans both.
            assert!(covers(around(&finding.boxes), area), "{seed} {strength}: {:?} {area:?}", finding.boxes);
            let far = ((by[0] * by[0] + by[1] * by[1]) as f64).sqrt();
            assert!((finding.measure.unwrap().value - far).abs() < 0.01, "{seed} {strength}: {}", finding.says);
        }
    }
}

#[test]
fn the_remedy_is_the_way_back() {
    let square = |left: i64, top: i64, x: i64, y: i64| (0..14).contains(&(x - left)) && (0..9).contains(&(y - top));
    let pixels = (0..160).flat_map(|y| (0..160).map(move |x| (x, y))).flat_map(|(x, y): (i64, i64)| {
        let (i, j) = (x / 32, y / 32);
        let (right, down) = if (i, j) == (3, 1) { (2, -1) } else { (0, 0) };
        if square(i * 32 + 8 + right, j * 32 + 8 + down, x, y) { [20, 60, 80, 255] } else { [240, 230, 210, 255] }
    });
    let finding = told(Raster::new(160, 160, pixels.collect()).unwrap(), Ground::Opaque).unwrap();
    assert!(
        finding.says.starts_with("one unit of the design sits 2 px to the right and 1 px up, "),
        "{}",
        finding.says
    );
    assert_eq!(finding.remedy, "move it 2 px to the left and 1 px down and export the tile again");
    assert_eq!(finding.measure.unwrap().value, 2.24);
    assert_eq!(finding.boxes, [Area { x: 104, y: 39, width: 16, height: 10 }]);
}

/// Units that differ on purpose fit no better when they are moved.
#[test]
fn units_that_are_meant_to_differ_are_none() {
    let field = |odd: &dyn Fn(i64, i64, i64, i64) -> Option<[u8; 4]>| {
        let pixels = (0..160).flat_map(|y| (0..160).map(move |x| (x, y))).flat_map(|(x, y): (i64, i64)| {
            let (u, v) = (x % 32 - 16, y % 32 - 16);
            let plain = if u * u + v * v < 81 { [20, 60, 80, 255] } else { [240, 230, 210, 255] };
            odd(x / 32, y / 32, u, v).unwrap_or(plain)
        });
        told(Raster::new(160, 160, pixels.collect()).unwrap(), Ground::Opaque)
    };
    let red = [200, 40, 30, 255];
    assert_eq!(field(&|_, _, _, _| None), None, "all alike");
    assert_eq!(field(&|i, j, u, v| ((i, j) == (2, 2) && u * u + v * v < 81).then_some(red)), None, "one recolored");
    let larger = |i, j, u: i64, v: i64| ((i, j) == (2, 2) && u * u + v * v < 121).then_some([20, 60, 80, 255]);
    assert_eq!(field(&larger), None, "one larger");
    let gone = |i, j, _, _| ((i, j) == (1, 3)).then_some([240, 230, 210, 255]);
    assert_eq!(field(&gone), None, "one left out");
}

#[test]
fn sound_art_has_no_stray_unit() {
    for seed in 40..42 {
        for style in STYLES {
            let raster = art::drawn(style, Repeat::Block, seed, 240, 300);
            for raster in [broken::moved(&raster, 71, 13), raster] {
                assert_eq!(told(raster, style.ground), None, "{} {seed}", style.name);
            }
        }
    }
    for seed in 0..4 {
        assert_eq!(told(stray::field(seed, None).0, Ground::Opaque), None, "field {seed}");
    }
}
