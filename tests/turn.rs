//! Turning: against formulas, against geometry, and against what a turned repeat must be whatever the art.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod drawn;

use burler::codec::Limits;
use burler::finding::Verdict;
use burler::pipeline::check;
use burler::pipeline::lay::lattice_of;
use burler::pipeline::turn::{TurnError, Turned, turn};
use burler::pixel::difference::ciede2000;
use burler::pixel::light::{decode, encode};
use burler::spec::wish::{Angle, Turn};
use burler::spec::{GroundDemand, Repeat, Spec};
use burler::tile::{Raster, Tile};
use drawn::{art, deep_art, deep_tile, raster, tile};
use std::collections::BTreeSet;
use std::f64::consts::TAU;

fn by(angle: &str) -> Turn {
    Turn { by: Angle::parse(angle).unwrap(), size: None, keep_scale: false, palette_only: false }
}

fn kept(angle: &str) -> Turn {
    Turn { keep_scale: true, ..by(angle) }
}

fn turned(tile: &Tile, wish: &Turn) -> Turned {
    turn(tile, Repeat::Block, wish, &Limits::default()).unwrap()
}

fn size(raster: &Raster) -> (u32, u32) {
    (raster.width(), raster.height())
}

/// Where the place (x, y) of the turned cloth, from the center of its first pixel, lies on the cloth, from the center of the
/// first pixel there: turned back by the angle and scaled back, as geometry has it.
fn back(turned: &Turned, x: f64, y: f64) -> (f64, f64) {
    let (sin, cos) = turned.degrees.to_radians().sin_cos();
    ((x * cos + y * sin) / turned.scale, (y * cos - x * sin) / turned.scale)
}

/// A plane cosine wave of light, of 16 samples a period and more, any direction and phase, from 0.05 to 0.95 of full light:
/// no sample is further from the formula than one code of 255. Nor is one whose codes are a wave, from 18 to 238.
#[test]
fn a_plane_wave_is_turned_as_its_formula() {
    let side = 140;
    let n = f64::from(side);
    let waves = [(8, 0, 0.0), (0, 8, 0.2), (6, 6, 0.7), (-5, 7, 0.4), (1, 3, 0.1), (8, 3, 0.9), (6, -5, 0.5)];
    for (across, down, phase) in waves {
        let period = n / f64::hypot(f64::from(across), f64::from(down));
        assert!(period >= 16.0);
        let wave = |x: f64, y: f64| {
            let at = (f64::from(across) * x + f64::from(down) * y) / n + phase;
            [encode(0.5 + 0.45 * (TAU * at).cos()) * 255.0, 128.0 + 110.0 * (TAU * at).cos()].map(f64::round)
        };
        let flat = tile(raster(side, side, |x, y| {
            let [light, code] = wave(x.into(), y.into()).map(|sample| sample as u8);
            [light, code, light, 255]
        }));
        let turned = turned(&flat, &kept("45"));
        assert!((turned.scale - 1.0).abs() <= 0.002);
        let (width, height) = size(&turned.tile.raster);
        let mut worst = [0.0_f64; 2];
        for y in 0..height.min(300) {
            for x in 0..width.min(300) {
                let (u, v) = back(&turned, x.into(), y.into());
                let [light, code, again, alpha] = turned.tile.raster.pixel(x, y).map(f64::from);
                assert_eq!((again, alpha), (light, 255.0));
                for ((worst, is), wanted) in worst.iter_mut().zip([light, code]).zip(wave(u, v)) {
                    *worst = worst.max((is - wanted).abs());
                }
            }
        }
        assert!(worst.iter().all(|worst| *worst <= 1.0), "period {period:.1} along ({across}, {down}): {worst:?}");
    }
}

const INKS: [[u8; 4]; 2] = [[34, 58, 94, 255], [238, 228, 207, 255]];

/// A twill of two colors by its formula: threads of five pixels, two over and two under.
fn twill(x: f64, y: f64) -> usize {
    let (column, row) = ((x / 5.0).floor() as i64, (y / 5.0).floor() as i64);
    usize::from((column - row).rem_euclid(4) < 2)
}

/// The same formula on the turned plane, 16 by 16 samples a pixel, averaged in light.
fn twill_by_sampling(turned: &Turned, x: u32, y: u32) -> [u8; 3] {
    let mut count = [0.0; 2];
    for i in 0..16 {
        for j in 0..16 {
            let part = |k: u32| (f64::from(k) + 0.5) / 16.0 - 0.5;
            let (u, v) = back(turned, f64::from(x) + part(i), f64::from(y) + part(j));
            count[twill(u + 0.5, v + 0.5)] += 1.0 / 256.0;
        }
    }
    [0, 1, 2].map(|i| {
        let light = |ink: usize| count[ink] * decode(f64::from(INKS[ink][i]) / 255.0);
        (encode(light(0) + light(1)) * 255.0).round() as u8
    })
}

#[test]
fn hard_edges_are_covered_as_a_fine_sampling_of_the_formula() {
    let weave = tile(raster(60, 60, |x, y| INKS[twill(f64::from(x) + 0.5, f64::from(y) + 0.5)]));
    for wish in [by("45"), kept("45"), kept("4:3"), by("-2:1"), kept("12:5")] {
        let turned = turned(&weave, &wish);
        let (mut sum, mut worst): (f64, f64) = (0.0, 0.0);
        let (width, height) = size(&turned.tile.raster);
        let (width, height) = (width.min(160), height.min(160));
        for y in 0..height {
            for x in 0..width {
                let [r, g, b, alpha] = turned.tile.raster.pixel(x, y);
                assert_eq!(alpha, 255);
                let off = ciede2000([r, g, b], twill_by_sampling(&turned, x, y));
                sum += off;
                worst = worst.max(off);
            }
        }
        let mean = sum / f64::from(width * height);
        assert!(mean < 0.3 && worst < 8.0, "{wish:?}: mean {mean:.3}, worst {worst:.2}");
    }
}

/// A square repeat turned by 45 degrees and scaled until its corners touch the edges of the old canvas shrinks by the square
/// root of two, and the canvas holds two units.
#[test]
fn a_square_on_its_own_canvas_shrinks_by_the_square_root_of_two() {
    let turned = turned(&tile(art("shaded", 90, 4)), &by("45"));
    assert_eq!((size(&turned.tile.raster), turned.units), ((90, 90), 2));
    assert!((turned.scale - 0.5_f64.sqrt()).abs() < 1e-15);
    let lattice = lattice_of(&turned.tile, Repeat::Block).unwrap();
    assert_eq!((lattice.a, lattice.b, lattice.d), (45, 45, 90), "the units are equal, sample for sample");
}

#[test]
fn whole_triples_turn_at_scale_one() {
    for (toward, side, times) in [("4:3", 25, 5), ("3:4", 25, 5), ("12:5", 26, 13)] {
        let turned = turned(&tile(art("discs", side, 4)), &kept(toward));
        assert_eq!(turned.scale, 1.0);
        assert_eq!((size(&turned.tile.raster), turned.units), ((side * times, side * times), u64::from(times * times)));
    }
}

#[test]
fn quarter_turns_move_pixels_and_change_none() {
    let art = tile(raster(30, 20, |x, y| [x as u8, y as u8, (x * y) as u8, (x + y) as u8]));
    type Place = fn(i64, i64) -> (i64, i64);
    let places: [(&str, Place); 4] =
        [("90", |x, y| (y, -x)), ("180", |x, y| (-x, -y)), ("-90", |x, y| (-y, x)), ("270", |x, y| (-y, x))];
    for (angle, at) in places {
        let turned = turned(&art, &kept(angle));
        assert_eq!(turned.scale, 1.0);
        let (width, height) = size(&turned.tile.raster);
        assert_eq!(width * height, 600);
        for y in 0..height {
            for x in 0..width {
                let (u, v) = at(x.into(), y.into());
                let [r, g, b, a] = art.raster.wrapped(u, v);
                let expected = if a == 0 { [0; 4] } else { [r, g, b, a] };
                let found = turned.tile.raster.pixel(x, y);
                assert!(found == [r, g, b, a] || found == expected, "{angle} {x} {y}: {found:?} for {expected:?}");
            }
        }
    }
}

/// Each pixel of the cloth is covered as often as any other, so that no light is won or lost.
#[test]
fn the_mean_light_of_a_turned_tile_is_that_of_the_tile() {
    fn mean(raster: &Raster) -> f64 {
        let pixels = raster.samples().chunks_exact(4);
        let count = pixels.len() as f64;
        pixels.map(|pixel| decode(f64::from(pixel[1]) / 255.0)).sum::<f64>() / count
    }
    for style in ["shaded", "grain", "mosaic", "wash"] {
        let tile = tile(art(style, 60, 9));
        for wish in [by("45"), kept("45"), by("2:1"), kept("-3:1")] {
            let turned = turned(&tile, &wish);
            let (before, after) = (mean(&tile.raster), mean(&turned.tile.raster));
            assert!((after / before - 1.0).abs() < 0.003, "{style} {wish:?}: {before} {after}");
        }
    }
}

#[test]
fn turned_tiles_are_sound_and_stay_opaque() {
    for style in drawn::OPAQUE {
        let tile = tile(art(style, 120, 2));
        for wish in [by("45"), by("2:1"), kept("-45")] {
            let turned = turned(&tile, &wish);
            assert!(turned.tile.raster.samples().chunks_exact(4).all(|pixel| pixel[3] == 255), "{style}");
            let spec = Spec { ground: GroundDemand::Opaque, repeat: Some(Repeat::Block), ..Spec::default() };
            let judgment = check::judge(&turned.tile, &spec);
            assert_eq!(judgment.verdict, Verdict::Sound, "{style} {wish:?}: {:?}", judgment.findings);
        }
    }
}

/// Straight averaging would let the hidden color of clear pixels in: red beside clear blue would turn purple.
#[test]
fn clear_pixels_lend_no_color() {
    let tile =
        tile(raster(40, 40, |x, y| if (x / 10 + y / 10) % 2 == 0 { [200, 30, 40, 255] } else { [0, 0, 255, 0] }));
    let turned = turned(&tile, &by("2:1"));
    let mut partial = 0;
    for pixel in turned.tile.raster.samples().chunks_exact(4) {
        match pixel[3] {
            0 => {}
            255 => assert_eq!(pixel, [200, 30, 40, 255]),
            _ => {
                partial += 1;
                assert!(pixel[..3].iter().zip([200_u8, 30, 40]).all(|(is, was)| is.abs_diff(was) <= 1), "{pixel:?}");
            }
        }
    }
    assert!(partial > 50);
}

#[test]
fn a_palette_gets_no_new_color() {
    let colors = |raster: &Raster| -> BTreeSet<[u8; 4]> {
        raster.samples().chunks_exact(4).map(|pixel| pixel.try_into().unwrap()).collect()
    };
    for style in ["mosaic", "stripes", "weave"] {
        let tile = tile(art(style, 60, 7));
        for wish in [by("45"), kept("45"), kept("3:1")] {
            let mixed = turned(&tile, &wish);
            assert!(!colors(&mixed.tile.raster).is_subset(&colors(&tile.raster)), "{style} would be mixed");
            let turned = turned(&tile, &Turn { palette_only: true, ..wish });
            assert!(colors(&turned.tile.raster).is_subset(&colors(&tile.raster)), "{style}");
        }
    }
}

#[test]
fn sixteen_bits_are_turned_in_sixteen_bits() {
    let tile = deep_tile(48, 48, deep_art("wash", 48, 3));
    let turned = turned(&tile, &by("45"));
    let deep = turned.tile.deep.as_ref().unwrap();
    // A wash in 8 bits would leave 256 levels at most.
    let levels: BTreeSet<u16> = deep.0.chunks_exact(4).map(|pixel| pixel[0]).collect();
    assert!(levels.len() > 300, "{}", levels.len());
    for (shallow, deep) in turned.tile.raster.samples().iter().zip(&deep.0) {
        assert!((i32::from(*shallow) * 257 - i32::from(*deep)).abs() <= 129);
    }
}

#[test]
fn threads_change_no_byte() {
    let tile = tile(art("shaded", 150, 6));
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| turned(&tile, &kept("3:1")).tile.raster)
    };
    let alone = with(1);
    for threads in [2, 5] {
        assert_eq!(with(threads), alone);
    }
}

#[test]
fn other_layouts_are_turned_too() {
    let tile = tile(art("discs", 60, 3));
    for repeat in [Repeat::HalfDrop, Repeat::ThirdDrop, Repeat::Brick] {
        let turned = turn(&tile, repeat, &kept("45"), &Limits::default()).unwrap();
        // Every move of the turned lattice maps the tile onto itself: its units are whole turned units, and as many as told.
        let lattice = lattice_of(&turned.tile, Repeat::Block).unwrap();
        let unit = 3600.0 * turned.scale * turned.scale;
        let together = lattice.area() as f64 / unit;
        assert!((together - together.round()).abs() < 1e-9, "{repeat} {lattice:?} {unit}");
        let (width, height) = size(&turned.tile.raster);
        assert!((f64::from(width * height) / unit - turned.units as f64).abs() < 1e-6, "{repeat}");
    }
}

#[test]
fn what_cannot_be_turned_says_what_can() {
    let tile = tile(art("discs", 90, 3));
    let said = |wish: &Turn, repeat, limits: &Limits| turn(&tile, repeat, wish, limits).unwrap_err().to_string();
    let limits = Limits::default();
    let open = said(&kept("30"), Repeat::Block, &limits);
    assert_eq!(
        open,
        "a turn by 30 closes on no whole pixels: near it --by 26:15 is 29.9816 degrees, 2703 x 2703 px, scale 1.0006 (+0.06 %); \
         --by 7:4 is 29.7449 degrees, 4355 x 4355 px, scale 1.0003 (+0.03 %); \
         --by 5:3 is 30.9638 degrees, 3672 x 3672 px, scale 0.9996 (-0.04 %); \
         --by 2:1 is 26.5651 degrees, 805 x 805 px, scale 1.0000 (+0.00 %); \
         --by 1:1 is 45.0000 degrees, 382 x 382 px, scale 1.0004 (+0.04 %)"
    );
    // Each that is offered can be had, as it was told.
    let had = turn(&tile, Repeat::Block, &kept("2:1"), &limits).unwrap();
    assert_eq!(size(&had.tile.raster), (805, 805));
    assert_eq!(
        said(&Turn { size: Some([101, 97]), ..by("2:1") }, Repeat::Block, &limits),
        "whole repeats of the turned tile do not fill 101 x 97 px: the nearest that they fill is 95 x 95 px, at scale \
         0.4721; or keep the scale, which takes 805 x 805 px"
    );
    let narrow = Limits { max_side: 300, ..limits };
    assert_eq!(
        said(&kept("4:3"), Repeat::Block, &narrow),
        "the turned tile would be 450 x 450 px: a side may have 300 at most; ask for a smaller one with --size"
    );
    let Err(TurnError::Lay(_)) = turn(&tile, Repeat::Across, &by("45"), &limits) else { panic!("a border is turned") };
    let far = said(&by("29999:1"), Repeat::Block, &limits);
    assert!(far.starts_with("the smallest turned tile that repeats is "), "{far}");
    assert_eq!(
        said(&by("71:41"), Repeat::Block, &limits),
        "the smallest turned tile that repeats is 6722 x 6722 px, and the tile is smaller; use --keep-scale"
    );
}
