//! Flat colors: what counts as one, twins among them, strays between them; against colors counted by other libraries.

mod art;
mod desk;

use art::{STYLES, broken, colors};
use burler::codec::{self, Limits};
use burler::finding::{Finding, Grade, Kind};
use burler::pipeline::check::color;
use burler::spec::{Repeat, Spec};
use burler::tile::{Raster, Tile};

const SAND: [u8; 4] = [233, 205, 160, 255];
const KELP: [u8; 4] = [29, 59, 83, 255];
const CORAL: [u8; 4] = [224, 122, 95, 255];

fn drawn(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    Raster::new(width, height, pixels.flat_map(|(x, y)| pixel(x, y)).collect()).expect("as many samples as pixels")
}

/// Squares of kelp and a few of coral on sand, all edges hard.
fn squares(width: u32) -> Raster {
    drawn(width, 200, |x, y| match (x % 40 < 18 && y % 40 < 18, (x / 40 + y / 40) % 3) {
        (true, 0) => CORAL,
        (true, _) => KELP,
        (false, _) => SAND,
    })
}

fn limited(colors: u32) -> Spec {
    Spec { colors: Some(colors), ..Spec::default() }
}

fn of(tile: &Tile, spec: &Spec, kind: Kind) -> Option<Finding> {
    color::judge(tile, spec).findings.into_iter().find(|finding| finding.kind == kind)
}

fn counted(raster: &Raster, limit: u32) -> Option<Finding> {
    of(&art::tile(raster.clone()), &limited(limit), Kind::ColorCount)
}

#[test]
fn more_flat_colors_than_the_order_takes_are_a_fault_with_swatches() {
    assert_eq!(counted(&squares(240), 3), None);
    let finding = counted(&squares(240), 2).unwrap();
    assert_eq!(finding.grade, Grade::Fault);
    assert_eq!(finding.says, "3 flat colors and the order takes at most 2: #e9cda0, #1d3b53, #e07a5f");
    let measure = finding.measure.unwrap();
    assert_eq!((measure.value, measure.limit), (3.0, 2.0));
    // The box shows the color beyond the limit, and nothing else.
    let raster = squares(240);
    assert_eq!(finding.boxes.len(), 1);
    let shown = finding.boxes[0];
    assert_eq!((shown.width, shown.height), (18, 18));
    for y in shown.y..shown.y + shown.height {
        assert!((shown.x..shown.x + shown.width).all(|x| raster.pixel(x, y) == CORAL));
    }
}

#[test]
fn nothing_is_counted_unless_the_order_asks() {
    let found = color::judge(&art::tile(squares(240)), &Spec::default());
    assert!(found.findings.is_empty());
    assert!(found.readings.iter().all(|reading| reading.kind != Kind::ColorCount));
    let found = color::judge(&art::tile(squares(240)), &limited(5));
    let reading = found.readings.iter().find(|reading| reading.kind == Kind::ColorCount).unwrap();
    assert!(reading.passes() && reading.measure.value == 3.0);
}

/// Drawn large by another library and made small by its kernels, one that overshoots among them: smoothed edges are no
/// colors. (Kernels that ring leave ripples wide enough to be colors of their own.)
#[test]
fn smoothed_edges_are_not_counted() {
    let program = "
import sys
from PIL import Image, ImageDraw
for kernel in (Image.BOX, Image.BILINEAR, Image.HAMMING, Image.BICUBIC):
    big = Image.new('RGB', (1600, 1200), (233, 205, 160))
    draw = ImageDraw.Draw(big)
    for i in range(12):
        x, y = 60 + 380 * (i % 4), 60 + 380 * (i // 4)
        draw.ellipse((x, y, x + 290, y + 230), fill=(29, 59, 83))
        draw.polygon([(x + 80, y + 60), (x + 250, y + 90), (x + 120, y + 190)], fill=(224, 122, 95))
    small = big.resize((400, 300), kernel)
    print(len(small.getcolors(1 << 20)), small.tobytes().hex())
";
    for line in desk::run_python(program, &[]).lines() {
        let (distinct, hex) = line.split_once(' ').unwrap();
        let distinct: u32 = distinct.parse().unwrap();
        assert!(distinct > 20, "the library did not smooth: {distinct}");
        let byte = |i: usize| u8::from_str_radix(&hex[2 * i..2 * i + 2], 16).unwrap();
        let raster = drawn(400, 300, |x, y| {
            let at = (y as usize * 400 + x as usize) * 3;
            [byte(at), byte(at + 1), byte(at + 2), 255]
        });
        assert_eq!(counted(&raster, 3), None, "{distinct} different colors");
        assert!(counted(&raster, 2).unwrap().says.starts_with("3 flat colors"), "{distinct} different colors");
    }
}

#[test]
fn hard_lines_one_pixel_wide_are_colors() {
    let ruled = drawn(200, 200, |_, y| if y % 20 == 7 { KELP } else { SAND });
    assert_eq!(counted(&ruled, 2), None);
    assert!(counted(&ruled, 1).unwrap().says.starts_with("2 flat colors"));
    let upright = drawn(200, 200, |x, _| if x % 20 == 7 { KELP } else { SAND });
    assert!(counted(&upright, 1).unwrap().says.starts_with("2 flat colors"));
    let checker = drawn(200, 200, |x, y| if (x + y) % 2 == 0 { KELP } else { SAND });
    assert_eq!(counted(&checker, 2), None);
    assert!(counted(&checker, 1).unwrap().says.starts_with("2 flat colors"));
}

#[test]
fn a_clear_ground_is_no_color_whatever_is_stored_under_it() {
    let clear = drawn(200, 200, |x, y| match x % 40 < 20 && y % 40 < 20 {
        true => KELP,
        false => [(x % 251) as u8, (y % 241) as u8, 9, 0],
    });
    assert_eq!(counted(&clear, 1), None);
    assert_eq!(color::judge(&art::tile(clear), &limited(1)).readings[0].measure.value, 1.0);
}

/// Art that is not flat never passes an order that limits colors, and says what it is.
#[test]
fn painted_art_is_a_fault_under_any_limit() {
    for name in ["wash", "clouds", "grain", "bristles", "dead leaves"] {
        let raster = art::drawn(art::named(name), Repeat::Block, 3, 300, 300);
        let finding = counted(&raster, 12).unwrap_or_else(|| panic_with(name));
        assert!(finding.says.contains("order takes at most 12"), "{name}: {}", finding.says);
    }
    // A painted motif on flat ground is enough.
    let part = drawn(400, 400, |x, y| match (x > 100 && x < 160, y > 90 && y < 150) {
        (true, true) => [(x * 7 % 256) as u8, (y * 5 % 256) as u8, (x * y % 256) as u8, 255],
        _ if x % 50 < 20 => KELP,
        _ => SAND,
    });
    assert!(counted(&part, 12).unwrap().says.contains("different colors"));
}

fn panic_with(name: &str) -> Finding {
    unreachable!("{name} passed an order that limits colors")
}

#[test]
fn a_lossy_file_is_told_to_be_exported_as_png() {
    let jpeg = codec::picture::encode_jpeg(&squares(240), 80, None).unwrap();
    let tile = codec::decode(&jpeg, &Limits::default(), Vec::new()).unwrap();
    let finding = of(&tile, &limited(3), Kind::ColorCount).unwrap();
    assert!(finding.remedy.starts_with("export it as PNG"), "{}", finding.remedy);
    assert_eq!(of(&tile, &Spec::default(), Kind::ColorTwins), None);
    assert_eq!(of(&tile, &Spec::default(), Kind::ColorStray), None);
}

/// Another library counts the colors of sound drawn tiles: those that fill squares of two by two pixels.
#[test]
fn counts_agree_with_another_library() {
    let program = "
import sys, numpy as np
for path in sys.argv[1:]:
    raw = np.fromfile(path, dtype=np.uint32)
    width = int(path.rsplit('-', 1)[1])
    rows = raw.reshape(-1, width)
    a = rows[:-1, :-1]
    same = (a == rows[1:, :-1]) & (a == rows[:-1, 1:]) & (a == rows[1:, 1:])
    values, counts = np.unique(a[same], return_counts=True)
    print(int((counts >= 4).sum()))
";
    let folder = tempfile::tempdir().unwrap();
    let names = ["checks", "two-color", "cut stripes", "patchwork", "tossed", "grid"];
    let rasters: Vec<Raster> =
        names.iter().map(|name| art::drawn(art::named(name), Repeat::Block, 11, 300, 420)).collect();
    let paths: Vec<String> = rasters
        .iter()
        .enumerate()
        .map(|(i, raster)| {
            let path = folder.path().join(format!("{i}-{}", raster.width()));
            std::fs::write(&path, raster.samples()).unwrap();
            path.to_str().unwrap().to_string()
        })
        .collect();
    let paths: Vec<&str> = paths.iter().map(String::as_str).collect();
    let told = desk::run_python(program, &paths);
    for ((name, raster), count) in names.iter().zip(&rasters).zip(told.lines()) {
        let found = color::judge(&art::tile(raster.clone()), &limited(100)).readings[0].measure.value;
        assert_eq!(format!("{found}"), count, "{name}");
    }
}

#[test]
fn twins_are_told_with_both_colors_and_their_difference() {
    // Pair 1 of gray steps: 128 and 129 differ by 0.3778 in CIEDE2000.
    let twins = drawn(240, 200, |x, y| match (x % 40 < 18 && y % 40 < 18, x < 120) {
        (true, _) => CORAL,
        (false, true) => [128, 128, 128, 255],
        (false, false) => [129, 129, 129, 255],
    });
    let finding = of(&art::tile(twins.clone()), &Spec::default(), Kind::ColorTwins).unwrap();
    assert_eq!(finding.grade, Grade::Advice);
    let measure = finding.measure.unwrap();
    assert_eq!((measure.value, measure.limit, measure.unit.as_str()), (0.38, 1.0, "CIEDE2000"));
    assert!(finding.says.contains("#808080") && finding.says.contains("#818181"), "{}", finding.says);
    assert_eq!(finding.boxes.len(), 2);
    for (area, gray) in finding.boxes.iter().zip([128, 129]) {
        assert_eq!(twins.pixel(area.x, area.y)[0], gray);
    }
    // 128 and 131 in one channel differ by 1.688, which is seen.
    let apart = drawn(240, 200, |x, _| if x < 120 { [128, 128, 128, 255] } else { [131, 128, 128, 255] });
    assert_eq!(of(&art::tile(apart), &Spec::default(), Kind::ColorTwins), None);
}

#[test]
fn a_gradient_in_steps_is_no_palette() {
    let steps = drawn(240, 200, |_, y| [100 + (y / 10) as u8, 120, 140, 255]);
    assert_eq!(of(&art::tile(steps), &Spec::default(), Kind::ColorTwins), None);
}

#[test]
fn strays_are_told_among_clean_edges_only() {
    let clean = squares(240);
    assert_eq!(of(&art::tile(clean.clone()), &Spec::default(), Kind::ColorStray), None);
    let (strewn, truth) = colors::stray(&clean, 5, 1).unwrap();
    let finding = of(&art::tile(strewn.clone()), &Spec::default(), Kind::ColorStray).unwrap();
    assert_eq!(finding.grade, Grade::Advice);
    let changed = strewn.samples().chunks_exact(4).zip(clean.samples().chunks_exact(4)).filter(|(p, q)| p != q).count();
    assert!(changed >= 12);
    assert_eq!(finding.measure.unwrap().value, changed as f64);
    assert!((1..=64).contains(&finding.boxes.len()));
    let inside = |area: &burler::finding::Area| {
        area.x >= truth.x
            && area.y >= truth.y
            && area.x + area.width <= truth.x + truth.width
            && area.y + area.height <= truth.y + truth.height
    };
    assert!(finding.boxes.iter().all(inside));
    // Where edges are smoothed as a matter of course there is nothing to tell.
    let smooth = art::drawn(art::named("tossed"), Repeat::Block, 4, 300, 300);
    assert_eq!(of(&art::tile(smooth), &Spec::default(), Kind::ColorStray), None);
}

/// A fixed slice of sound art of every style, moved on the torus: no color rule holds a tile that no order limits, and only
/// art whose colors truly are that near is told to have twins.
#[test]
fn sound_art_is_left_alone() {
    for seed in 40..42 {
        for style in STYLES.iter().filter(|style| style.name != "dark") {
            let raster = art::drawn(style, Repeat::Block, seed, 240, 300);
            for raster in [broken::moved(&raster, 71, 13), raster] {
                let findings = color::judge(&art::tile(raster), &Spec::default()).findings;
                assert!(findings.is_empty(), "{} {seed}: {findings:?}", style.name);
            }
        }
    }
}
