//! The strike-off: true scale measured in the decoded picture, within its bytes, at any resolution.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod desk;

use burler::pipeline::mockup::strike_off::picture;
use burler::pipeline::mockup::{MockupError, Settings};
use burler::spec::Repeat;
use burler::tile::Raster;
use std::path::{Path, PathBuf};

fn drawn(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
    let mut samples = Vec::with_capacity(width as usize * height as usize * 4);
    for y in 0..height {
        for x in 0..width {
            samples.extend(pixel(x, y));
        }
    }
    Raster::new(width, height, samples).unwrap()
}

fn noise(side: u32) -> Raster {
    let mut state = 0x2545_F491_u32;
    let samples = (0..side * side * 4).map(|i| {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        if i % 4 == 3 { 255 } else { state as u8 }
    });
    Raster::new(side, side, samples.collect()).unwrap()
}

fn saved(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// Finds the ticks with numbers in the rulers and the dark lines in the art, which starts 12 mm (margin and ruler) from the
/// corner; prints their mean spacing and its spread in inches.
const MEASURE: &str = r#"
import sys, math, numpy as np
from PIL import Image
def centers(profile, least):
    dark = np.clip(255 - profile, 0, 255) / 255
    found, run = [], []
    for i, v in enumerate(dark):
        if v > 0.12: run.append(i)
        elif run:
            w = dark[run]
            if w.max() > least: found.append(float((np.array(run) * w).sum() / w.sum()))
            run = []
    return found
def pitch(c):
    c = np.array(c)
    assert len(c) >= 2, c
    steps = np.diff(c)
    return (c[-1] - c[0]) / (len(c) - 1) / px, np.abs(steps - np.median(steps)).max() / px
for path, wide in zip(sys.argv[1::2], map(int, sys.argv[2::2])):
    im = Image.open(path)
    assert im.info["jfif_unit"] == 1
    px, py = im.info["dpi"]
    assert px == py == im.info["jfif_density"][0]
    a = np.asarray(im.convert("L")).astype(float)
    edge = math.ceil(12 * px / 25.4)
    # only ticks with numbers reach this far out
    out = round(2.6 * px / 25.4)
    rulers = {
        "cm_top": a[edge - out, edge - 3:edge + wide + 2],
        "cm_left": a[edge - 3:edge + wide + 2, edge - out],
        "in_bottom": a[edge + wide + out, edge - 3:edge + wide + 2],
        "in_right": a[edge - 3:edge + wide + 2, edge + wide + out],
    }
    for name, profile in rulers.items():
        print(name, *pitch(centers(profile, 0.3)))
    # lines cut by the art's rim have no center
    middle, art = edge + wide // 2 + 7, slice(edge, edge + wide)
    for name, profile in {"art_x": a[middle, art], "art_y": a[art, middle]}.items():
        print(name, *pitch([v for v in centers(profile, 0.5) if 0.1 * px < v < wide - 0.1 * px]))
"#;

#[test]
fn rulers_and_art_are_at_true_scale() {
    // A tile of squares: a dark line every half inch of print, whatever its resolution.
    let cases = [
        ([300.0, 300.0], 150.0, 3.0),
        ([299.9994, 299.9994], 150.0, 3.0),
        ([299.72, 299.72], 150.0, 3.0),
        ([150.0124, 150.0124], 150.0, 3.0),
        ([96.52, 96.52], 96.0, 3.0),
        ([200.0, 100.0], 100.0, 3.0),
        ([400.0, 400.0], 150.0, 2.0),
    ];
    let folder = tempfile::tempdir().unwrap();
    let (mut arguments, mut shown) = (Vec::new(), Vec::new());
    for (per_inch, drawn_at, inches) in cases {
        let side = |per_inch: f64| (per_inch * inches).round() as u32;
        let tile = drawn(side(per_inch[0]), side(per_inch[1]), |x, y| {
            // The line lies across the half inch mark, a twentieth of an inch thick, its rims antialiased.
            let ink = |at: u32, per_inch: f64| {
                let halves = (f64::from(at) + 0.5) / per_inch * 2.0;
                let away = (halves - halves.round()).abs() / 2.0 * per_inch;
                (0.025 * per_inch - away + 0.5).clamp(0.0, 1.0)
            };
            let code = (255.0 - 235.0 * ink(x, per_inch[0]).max(ink(y, per_inch[1]))) as u8;
            [code, code, code, 255]
        });
        // Wedges at the joints would hide ticks, so the rulers are measured around a tile that does not repeat; of one that
        // does, 1.5 tiles of 3 in are less than the least art of 120 mm.
        for (repeat, art) in [(Repeat::None, inches * drawn_at), (Repeat::Block, 120.0 / 25.4 * drawn_at)] {
            let bytes = picture(&tile, repeat, per_inch, "squares.png", &Settings::default()).unwrap();
            let path = saved(folder.path(), &format!("{}.jpg", shown.len()), &bytes);
            arguments.extend([path.to_str().unwrap().to_string(), (art as u32).to_string()]);
            shown.push((repeat, per_inch, drawn_at));
        }
    }
    let said = desk::run_python(MEASURE, &arguments.iter().map(String::as_str).collect::<Vec<_>>());
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 6 * shown.len());
    for (found, (repeat, per_inch, drawn_at)) in lines.chunks(6).zip(shown) {
        for line in found {
            let words: Vec<&str> = line.split_whitespace().collect();
            let (what, pitch, spread): (_, f64, f64) = (words[0], words[1].parse().unwrap(), words[2].parse().unwrap());
            let meant = match &what[..2] {
                "cm" => 1.0 / 2.54,
                "in" => 1.0,
                _ => 0.5,
            };
            if repeat == Repeat::None || what.starts_with("art") {
                assert!((pitch / meant - 1.0).abs() < 0.005, "{what} at {per_inch:?}: {pitch} in, not {meant}");
                // One drawn pixel; antialiased ticks are placed finer.
                assert!(spread < 1.0 / drawn_at, "{what} at {per_inch:?}: spread {spread}");
            }
        }
    }
}

#[test]
fn a_whole_repeat_and_a_part_of_the_next_are_shown_where_they_fit() {
    // A tile of 5 x 6 in with one dark spot: it must show, and again one tile further where the art goes on.
    let tile =
        drawn(
            750,
            900,
            |x, y| if x < 60 && (300..420).contains(&y) { [10, 60, 90, 255] } else { [240, 230, 220, 255] },
        );
    let folder = tempfile::tempdir().unwrap();
    for (repeat, spots) in [(Repeat::Block, "71,371 821,371"), (Repeat::HalfDrop, "71,371 821,821")] {
        let bytes = picture(&tile, repeat, [150.0; 2], "spot.png", &Settings::default()).unwrap();
        let path = saved(folder.path(), "spot.jpg", &bytes);
        let program = r#"
import sys, numpy as np
from PIL import Image
a = np.asarray(Image.open(sys.argv[1]).convert("RGB")).astype(int)
for spot in sys.argv[2].split():
    x, y = map(int, spot.split(","))
    inside, above = a[y + 5:y + 115, x + 5:x + 55], a[y - 30:y - 5, x + 5:x + 55]
    assert np.abs(inside - [10, 60, 90]).max() < 12, inside.mean((0, 1))
    assert np.abs(above - [240, 230, 220]).max() < 12
print(a.shape[1] / 150, a.shape[0] / 150)
"#;
        let said = desk::run_python(program, &[path.to_str().unwrap(), spots]);
        let sides: Vec<f64> = said.split_whitespace().map(|n| n.parse().unwrap()).collect();
        // ISO 216 A4 is 8.27 x 11.69 in, letter 8.5 x 11.
        assert!(sides[0] <= 8.27 && sides[1] <= 11.0, "{sides:?}");
    }
}

#[test]
fn of_a_tile_larger_than_the_sheet_the_corner_where_copies_meet_is_shown() {
    // Four quarters in four colors; moved by half they meet crosswise in the middle.
    let tile = drawn(3600, 3600, |x, y| match (x < 1800, y < 1800) {
        (true, true) => [200, 40, 40, 255],
        (false, true) => [40, 160, 60, 255],
        (true, false) => [40, 70, 190, 255],
        (false, false) => [220, 190, 60, 255],
    });
    let bytes = picture(&tile, Repeat::Block, [300.0; 2], "quarters.png", &Settings::default()).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = saved(folder.path(), "quarters.jpg", &bytes);
    let program = r#"
import sys, numpy as np
from PIL import Image
a = np.asarray(Image.open(sys.argv[1]).convert("RGB")).astype(int)
art = a[71:71 + 1000, 71:a.shape[1] - 71]
w = art.shape[1]
row = art[100]
left, right = row[w // 2 - 20], row[w // 2 + 20]
assert np.abs(left - [220, 190, 60]).max() < 12 and np.abs(right - [40, 70, 190]).max() < 12, (left, right)
low = art[980]
left, right = low[w // 2 - 20], low[w // 2 + 20]
assert np.abs(left - [40, 160, 60]).max() < 12 and np.abs(right - [200, 40, 40]).max() < 12, (left, right)
print("ok")
"#;
    assert_eq!(desk::run_python(program, &[path.to_str().unwrap()]).trim(), "ok");
}

#[test]
fn the_file_stays_within_its_bytes_even_for_noise() {
    let tile = noise(2400);
    let default = Settings::default();
    let bytes = picture(&tile, Repeat::Block, [300.0; 2], "noise.png", &default).unwrap();
    assert!(bytes.len() <= 3_000_000, "{}", bytes.len());
    let per_inch = |bytes: &[u8]| u16::from_be_bytes([bytes[14], bytes[15]]);
    assert_eq!(per_inch(&bytes), 150);

    let tight = Settings { strike_off_bytes: 250_000, ..default.clone() };
    let bytes = picture(&tile, Repeat::Block, [300.0; 2], "noise.png", &tight).unwrap();
    assert!(bytes.len() <= 250_000, "{}", bytes.len());
    assert!(per_inch(&bytes) < 150);

    let none = Settings { strike_off_bytes: 1_000, ..default };
    let error = picture(&tile, Repeat::Block, [300.0; 2], "noise.png", &none).unwrap_err();
    assert!(error.to_string().contains("noise.png"), "{error}");
}

#[test]
fn a_resolution_no_printer_has_is_refused_in_words() {
    let tile = noise(16);
    for wrong in [0.0, -300.0, 1.0, 1e9, f64::NAN, f64::INFINITY] {
        let error = picture(&tile, Repeat::Block, [300.0, wrong], "noise.png", &Settings::default()).unwrap_err();
        assert!(matches!(error, MockupError::NoScale { .. }), "{wrong}");
        assert!(error.to_string().contains("noise.png"));
    }
}

#[test]
fn a_resolution_finer_than_any_tile_shows_a_part_of_it() {
    let bytes = picture(&noise(64), Repeat::Block, [10_000.0; 2], "noise.png", &Settings::default()).unwrap();
    assert!(bytes.len() < 3_000_000);
}

#[test]
fn any_tile_at_any_resolution_gives_a_picture_that_fits_the_sheet() {
    let names = ["", "見本🌊.png", "a\nb\u{202e}c.png", &"long-name_".repeat(25)];
    let sizes = [(1, 1), (100, 10_000), (5000, 3), (300, 200)];
    for (i, (width, height)) in sizes.into_iter().enumerate() {
        let tile = drawn(width, height, |x, y| [(x * 3) as u8, (y * 5) as u8, 90, if x % 3 == 0 { 120 } else { 255 }]);
        for repeat in [Repeat::Block, Repeat::HalfDrop, Repeat::Brick, Repeat::Across, Repeat::Down, Repeat::None] {
            for per_inch in [10.0, 300.0] {
                let bytes = picture(&tile, repeat, [per_inch; 2], names[i], &Settings::default()).unwrap();
                let size = |at: usize| u32::from(u16::from_be_bytes([bytes[at], bytes[at + 1]]));
                let frame = bytes.windows(4).position(|w| w == [0xFF, 0xC0, 0x00, 0x11]).unwrap();
                let drawn_at = f64::from(size(14));
                let inches = [f64::from(size(frame + 7)) / drawn_at, f64::from(size(frame + 5)) / drawn_at];
                // A4 lying or standing, ISO 216.
                let [short, long] = if inches[0] < inches[1] { inches } else { [inches[1], inches[0]] };
                assert!(short <= 8.27 && long <= 11.0, "{repeat} {width} x {height} at {per_inch}: {inches:?}");
            }
        }
    }
}
