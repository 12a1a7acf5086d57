//! The repeat picture: exact repeats, means in linear light, and what another library reads.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod desk;

use burler::codec::picture::{Laid, encode_laid_jpeg, encode_stretched_jpeg};
use burler::pipeline::mockup::Settings;
use burler::pipeline::mockup::reduce::{Axis, reduce};
use burler::pipeline::mockup::repeat::{picture, sheet};
use burler::pixel::light;
use burler::spec::Repeat;
use burler::tile::Raster;
use proptest::prelude::*;
use std::path::Path;

/// Blotches of color with some grain: nothing in it repeats.
fn art(width: u32, height: u32) -> Raster {
    let mut state = 0x9E37_79B9_u32 ^ (width * 31 + height);
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        state
    };
    let mut samples = Vec::with_capacity(width as usize * height as usize * 4);
    for y in 0..height {
        for x in 0..width {
            let blotch = ((x / 37) * 83 + (y / 29) * 151) as u8;
            let grain = (next() % 24) as u8;
            samples.extend([
                blotch.wrapping_add(grain),
                (x * 255 / width) as u8,
                (y * 255 / height) as u8 ^ grain,
                255,
            ]);
        }
    }
    Raster::new(width, height, samples).unwrap()
}

fn even(width: u32, height: u32, pixel: [u8; 4]) -> Raster {
    Raster::new(width, height, pixel.repeat((width * height) as usize)).unwrap()
}

fn checker(side: u32) -> Raster {
    let pixels =
        (0..side).flat_map(|y| (0..side).flat_map(move |x| [[0, 0, 0, 255], [255; 4]][((x + y) & 1) as usize]));
    Raster::new(side, side, pixels.collect()).unwrap()
}

fn settings(max_side: u32) -> Settings {
    Settings { max_side, ..Settings::default() }
}

/// Which tile pixel lies at a place, from the definition of each repeat and nothing else.
fn defined(repeat: Repeat, tile: &Raster, x: i64, y: i64) -> [u8; 4] {
    let (width, height) = (i64::from(tile.width()), i64::from(tile.height()));
    let (column, row) = (x.div_euclid(width), y.div_euclid(height));
    match repeat {
        Repeat::HalfDrop => tile.wrapped(x, y - column * height / 2),
        Repeat::ThirdDrop => tile.wrapped(x, y - column * height / 3),
        Repeat::QuarterDrop => tile.wrapped(x, y - column * height / 4),
        Repeat::Brick => tile.wrapped(x - row * width / 2, y),
        _ => tile.wrapped(x, y),
    }
}

#[test]
fn a_one_pixel_checker_halves_to_code_188() {
    // IEC 61966-2-1: half of full light is code 187.516; averaged codes would give 127 or 128.
    let sheet = sheet(&checker(1200), Repeat::Block, None, &settings(2000)).unwrap();
    assert_eq!((sheet.unit.width(), sheet.unit.height(), sheet.copies), (600, 600, [2, 2]));
    assert!(sheet.unit.samples().chunks_exact(4).all(|pixel| pixel == [188, 188, 188, 255]));
}

#[test]
fn mean_light_survives_any_reduction() {
    for (side, max_side) in [(1200, 2000), (1250, 1000), (1111, 640), (997, 333)] {
        let unit = sheet(&checker(side), Repeat::Block, None, &settings(max_side)).unwrap().unit;
        let sum: u64 = unit.samples().chunks_exact(4).map(|p| u64::from(light::of_codes()[usize::from(p[1])])).sum();
        let mean = sum as f64 / f64::from(unit.width() * unit.height()) / 65535.0;
        assert!((mean / 0.5 - 1.0).abs() < 0.01, "{side} to {}: {mean}", unit.width());
    }
}

#[test]
fn reduced_pixels_are_the_area_means_of_an_independent_computation() {
    // Cumulated sums interpolated at the rims, in floating point: another way to the same integral.
    let (width, height, out) = (53_u32, 41_u32, [16_u32, 24_u32]);
    let mut tile = art(width, height);
    for (i, sample) in tile.samples_mut().iter_mut().enumerate().filter(|(i, _)| i % 4 == 3) {
        *sample = [255, 255, 0, 90, 255][(i / 4) % 5];
    }
    let mut got = Vec::new();
    for axis_out in [out, [53, 41], [1, 1], [100, 90]] {
        let [across, down] = [(width, axis_out[0]), (height, axis_out[1])].map(|(p, q)| Axis::new(p, q, q));
        let codes = reduce(&across, &down, |y, row| light::row_over(tile.row(y), light::FULL, row));
        got.push(
            codes.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).map(|c| c.to_string()).collect::<Vec<_>>().join(" "),
        );
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tile");
    std::fs::write(&path, tile.samples()).unwrap();
    let program = r#"
import sys, numpy as np
w, h = 53, 41
px = np.fromfile(sys.argv[1], np.uint8).reshape(h, w, 4) / 255.0
lin = np.where(px[..., :3] <= 0.04045, px[..., :3] / 12.92, ((px[..., :3] + 0.055) / 1.055) ** 2.4)
lin = lin * px[..., 3:] + (1 - px[..., 3:])
def shrink(a, n):
    c = np.concatenate([np.zeros((1,) + a.shape[1:]), np.cumsum(a, 0)])
    at = np.arange(n + 1) * a.shape[0] / n
    i = np.minimum(at.astype(int), a.shape[0] - 1)
    f = (at - i).reshape(-1, *[1] * (a.ndim - 1))
    s = c[i] * (1 - f) + c[i + 1] * f
    return np.diff(s, axis=0) * n / a.shape[0]
worst = 0
for text, (ow, oh) in zip(sys.argv[2:], [(16, 24), (53, 41), (1, 1), (100, 90)]):
    m = shrink(shrink(lin, oh).transpose(1, 0, 2), ow).transpose(1, 0, 2)
    code = np.where(m <= 0.0031308, m * 12.92, 1.055 * m ** (1 / 2.4) - 0.055) * 255
    got = np.array(text.split(), int).reshape(oh, ow, 3)
    worst = max(worst, np.abs(got - code).max())
print(worst)
"#;
    let mut arguments = vec![path.to_str().unwrap()];
    arguments.extend(got.iter().map(String::as_str));
    let worst: f64 = desk::run_python(program, &arguments).trim().parse().unwrap();
    // Half a code is rounding to the nearest; the rest is 15-bit weights in the darks.
    assert!(worst < 0.6, "{worst}");
}

#[test]
fn a_constant_tile_stays_constant_at_every_scale_and_in_every_repeat() {
    for pixel in [[3, 77, 201, 255], [255, 0, 128, 255], [1, 2, 3, 255]] {
        for (width, height, max_side) in [(700, 500, 300), (333, 777, 200), (40, 40, 2000), (1201, 1203, 1000)] {
            for repeat in Repeat::ALL {
                let sheet = sheet(&even(width, height, pixel), repeat, Some(300.0), &settings(max_side)).unwrap();
                assert!(sheet.pixels().unwrap().samples().chunks_exact(4).all(|p| p == pixel), "{repeat} {width}");
            }
        }
    }
}

#[test]
fn clear_pixels_lend_no_color() {
    // Opaque red beside clear blue: red at half coverage over white, never purple.
    let pixels = [[255, 0, 0, 255], [0, 0, 255, 0]].concat().repeat(1200 * 600);
    let tile = Raster::new(1200, 1200, pixels).unwrap();
    let unit = sheet(&tile, Repeat::Block, None, &settings(2000)).unwrap().unit;
    assert!(unit.samples().chunks_exact(4).all(|pixel| pixel == [255, 188, 188, 255]));
}

#[test]
fn at_its_own_scale_every_pixel_is_the_tile_s_at_its_place_in_the_repeat() {
    let tile = art(312, 264);
    for repeat in Repeat::ALL {
        let sheet = sheet(&tile, repeat, None, &settings(2000)).unwrap();
        assert_eq!(sheet.unit, tile, "{repeat}");
        let all = sheet.pixels().unwrap();
        for y in 0..all.height() {
            for x in 0..all.width() {
                assert_eq!(all.pixel(x, y), defined(repeat, &tile, x.into(), y.into()), "{repeat} at {x}, {y}");
            }
        }
    }
}

#[test]
fn copies_meet_in_the_middle_at_half_scale() {
    // Common practice: four half-size copies of a 3600 px tile meet at 1800.
    let sheet = sheet(&even(3600, 3600, [9, 9, 9, 255]), Repeat::Block, Some(300.0), &settings(3600)).unwrap();
    assert_eq!((sheet.unit.width(), sheet.unit.height(), sheet.copies), (1800, 1800, [2, 2]));
    assert_eq!(sheet.per_inch, Some([150.0, 150.0]));
}

fn saved(folder: &Path, name: &str, bytes: &[u8]) -> String {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path.to_str().unwrap().to_string()
}

/// Compares every decoded pixel with the one a lattice move away, for each `file dx,dy dx,dy ...`.
const COMPARE_MOVED: &str = r#"
import sys, numpy as np
from PIL import Image
for job in sys.argv[1:]:
    path, *moves = job.split()
    a = np.asarray(Image.open(path).convert("RGB")).astype(int)
    h, w, _ = a.shape
    assert a.std() > 5, "blank"
    for move in moves:
        dx, dy = map(int, move.split(","))
        y0, y1, x0, x1 = max(0, -dy), min(h, h - dy), max(0, -dx), min(w, w - dx)
        assert y1 > y0 and x1 > x0, job
        worst = np.abs(a[y0:y1, x0:x1] - a[y0 + dy:y1 + dy, x0 + dx:x1 + dx]).max()
        assert worst == 0, (job, move, worst)
    print(w, h)
"#;

#[test]
fn decoded_pictures_repeat_exactly_in_every_layout() {
    let tile = art(1260, 1170);
    let folder = tempfile::tempdir().unwrap();
    let (mut jobs, mut sides) = (Vec::new(), Vec::new());
    for repeat in Repeat::ALL {
        let settings = settings(700);
        let sheet = sheet(&tile, repeat, Some(300.0), &settings).unwrap();
        let (w, h) = (i64::from(sheet.unit.width()), i64::from(sheet.unit.height()));
        let moves = match repeat {
            Repeat::Block => vec![[w, 0], [0, h], [w, h]],
            Repeat::HalfDrop => vec![[w, h / 2], [w, -h / 2], [0, h]],
            Repeat::ThirdDrop => vec![[w, h / 3], [w, h / 3 - h], [0, h]],
            Repeat::QuarterDrop => vec![[w, h / 4], [w, h / 4 - h], [0, h]],
            Repeat::Brick => vec![[w / 2, h], [-w / 2, h], [w, 0]],
            Repeat::Across => vec![[w, 0]],
            Repeat::Down => vec![[0, h]],
            Repeat::None => vec![],
        };
        let bytes = picture(&tile, repeat, Some(300.0), &settings).unwrap();
        let mut job = saved(folder.path(), &format!("{repeat}.jpg"), &bytes);
        job.extend(moves.iter().map(|[x, y]| format!(" {x},{y}")));
        jobs.push(job);
        let [wide, high] = [0, 1].map(|i| sheet.copies[i] * [sheet.unit.width(), sheet.unit.height()][i]);
        assert!(wide <= 700 && high <= 700 && wide.max(high) > 600, "{repeat}: {wide} x {high}");
        sides.push(format!("{wide} {high}"));
    }
    let said = desk::run_python(COMPARE_MOVED, &jobs.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(said.lines().collect::<Vec<_>>(), sides);
}

#[test]
fn repeated_segments_decode_to_the_same_pixels_as_the_whole_picture() {
    let unit = art(96, 144);
    let folder = tempfile::tempdir().unwrap();
    let mut paths = Vec::new();
    for (i, (repeat, copies)) in [
        (Repeat::Block, [2, 2]),
        (Repeat::Block, [3, 5]),
        (Repeat::HalfDrop, [2, 2]),
        (Repeat::ThirdDrop, [4, 2]),
        (Repeat::Brick, [2, 2]),
        (Repeat::Brick, [3, 3]),
        (Repeat::Across, [2, 1]),
    ]
    .into_iter()
    .enumerate()
    {
        let lowered = repeat.drop_divisor().map_or(0, |n| unit.height() / n);
        let laid = Laid { copies, lowered, slid: repeat == Repeat::Brick };
        let quick = encode_laid_jpeg(&unit, laid, 90, None).unwrap().expect("whole blocks");
        let [wide, high] = [unit.width() * copies[0], unit.height() * copies[1]];
        let places = (0..high).flat_map(|y| (0..wide).map(move |x| (x, y)));
        let pixels = places.flat_map(|(x, y)| defined(repeat, &unit, x.into(), y.into())).collect();
        let whole = encode_stretched_jpeg(&Raster::new(wide, high, pixels).unwrap(), 90, None).unwrap();
        paths.push(saved(folder.path(), &format!("{i}-quick.jpg"), &quick));
        paths.push(saved(folder.path(), &format!("{i}-whole.jpg"), &whole));
    }
    let program = r#"
import sys, numpy as np
from PIL import Image
images = [np.asarray(Image.open(p).convert("RGB")).astype(int) for p in sys.argv[1:]]
for a, b in zip(images[::2], images[1::2]):
    assert a.shape == b.shape and a.std() > 5
    print(np.abs(a - b).max())
"#;
    let said = desk::run_python(program, &paths.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(said.lines().collect::<Vec<_>>(), ["0"; 7]);
}

#[test]
fn sides_off_the_block_grid_are_refused_by_the_quick_way() {
    for (width, height, lowered, slid) in [(90, 96, 0, false), (96, 90, 0, false), (96, 96, 12, false), (8, 8, 0, true)]
    {
        let laid = Laid { copies: [2, 2], lowered, slid };
        assert!(encode_laid_jpeg(&art(width, height), laid, 90, None).unwrap().is_none(), "{width} x {height}");
    }
}

#[test]
fn the_resolution_tag_is_true_to_the_scale() {
    let folder = tempfile::tempdir().unwrap();
    let cases = [
        (600, 300.0, 2000),
        (1800, 300.0, 2000),
        (1750, 299.9994, 1000),
        (900, 72.009, 1000),
        (1500, 150.0, 700),
        (1500, 150.0, 2000),
    ];
    let paths = cases.map(|(side, per_inch, max_side)| {
        let tile = even(side, side, [40, 90, 70, 255]);
        let bytes = picture(&tile, Repeat::Block, Some(per_inch), &settings(max_side)).unwrap();
        saved(folder.path(), &format!("{side}-{per_inch}-{max_side}.jpg"), &bytes)
    });
    let untagged = picture(&even(100, 100, [1, 2, 3, 255]), Repeat::Block, None, &settings(2000)).unwrap();
    let untagged = saved(folder.path(), "untagged.jpg", &untagged);
    let program = r#"
import sys
from PIL import Image
for path in sys.argv[1:]:
    im = Image.open(path)
    print(im.info["jfif_unit"], *im.info.get("dpi", (0, 0)), im.width)
"#;
    let mut arguments: Vec<&str> = paths.iter().map(String::as_str).collect();
    arguments.push(&untagged);
    let said = desk::run_python(program, &arguments);
    let lines: Vec<Vec<f64>> =
        said.lines().map(|line| line.split_whitespace().map(|n| n.parse().unwrap()).collect()).collect();
    for ((side, per_inch, max_side), line) in cases.iter().zip(&lines) {
        let [unit, x, y, wide] = line[..] else { panic!("{said}") };
        // ITU-T T.871: whole numbers per inch (1) or per centimeter (2).
        assert!(unit == 1.0 || unit == 2.0);
        assert_eq!(x, y);
        let (printed, meant) = (wide / 2.0 / x, f64::from(*side) / per_inch);
        assert!((printed / meant - 1.0).abs() < 0.005, "{side} at {per_inch}, {max_side}: {printed} in for {meant}");
    }
    // ITU-T T.871: 0 gives no resolution, only the shape of a pixel.
    assert_eq!(lines.last().unwrap()[..2], [0.0, 0.0]);
}

#[test]
fn tiny_and_very_long_tiles_are_shown_often_enough_to_be_seen() {
    for (width, height) in [(1, 1), (3, 5), (1, 2000), (100, 10_000), (10_000, 7), (2, 1)] {
        let tile = art(width, height);
        for repeat in Repeat::ALL {
            let sheet = sheet(&tile, repeat, Some(300.0), &Settings::default()).unwrap();
            let [wide, high] = [sheet.unit.width() * sheet.copies[0], sheet.unit.height() * sheet.copies[1]];
            assert!(wide <= 2000 && high <= 2000, "{repeat} {width} x {height}: {wide} x {high}");
            if repeat == Repeat::Block {
                assert!(wide >= 512 && high >= 512, "{width} x {height}: {wide} x {high}");
            }
            sheet.encode(90).unwrap();
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn any_sheet_is_an_exact_repeat_within_its_limits(
        width in 1_u32..260, height in 1_u32..260, max_side in 64_u32..300, which in 0_usize..8, tag in proptest::option::of(1.0..1200.0),
    ) {
        let repeat = Repeat::ALL[which];
        let tile = art(width, height);
        let sheet = sheet(&tile, repeat, tag, &settings(max_side)).unwrap();
        let unit = &sheet.unit;
        let all = sheet.pixels().unwrap();
        prop_assert!(all.width() <= max_side && all.height() <= max_side);
        prop_assert_eq!(unit.height() % repeat.drop_divisor().unwrap_or(1), 0);
        prop_assert!(repeat != Repeat::Brick || unit.width().is_multiple_of(2));
        for y in 0..all.height() {
            for x in 0..all.width() {
                prop_assert_eq!(all.pixel(x, y), defined(repeat, unit, x.into(), y.into()));
            }
        }
        prop_assert!(!sheet.encode(80).unwrap().is_empty());
    }

    #[test]
    fn moving_the_tile_on_the_torus_moves_the_reduced_unit(right in 0_u32..24, down in 0_u32..16) {
        // 60 to 24 pixels: 5 tile pixels are exactly 2 reduced ones; the phase repeats, nothing marks the border.
        let tile = art(60, 40);
        let mut moved = tile.clone();
        for y in 0..40_u32 {
            for x in 0..60_u32 {
                let at = ((y * 60 + x) * 4) as usize;
                let from = tile.wrapped(i64::from(x) - i64::from(right * 5), i64::from(y) - i64::from(down * 5));
                moved.samples_mut()[at..at + 4].copy_from_slice(&from);
            }
        }
        let reduced = |raster: &Raster| {
            let codes = reduce(&Axis::new(60, 24, 24), &Axis::new(40, 16, 16), |y, row| light::row_over(raster.row(y), 0, row));
            Raster::new(24, 16, codes).unwrap()
        };
        let (plain, moved) = (reduced(&tile), reduced(&moved));
        for y in 0..16_u32 {
            for x in 0..24_u32 {
                let from = plain.wrapped(i64::from(x) - i64::from(right * 2), i64::from(y) - i64::from(down * 2));
                prop_assert_eq!(moved.pixel(x, y), from);
            }
        }
    }
}
