//! Flattened lines: what proves them, what they are told as, and that art's own thin lines are left alone.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod art;
mod desk;

use art::flattened::{Lay, flattened};
use art::{STYLES, broken, drawn, named, tile};
use burler::codec::picture::encode_jpeg;
use burler::codec::{Limits, decode};
use burler::finding::{Finding, Grade, Kind, MOST_BOXES};
use burler::pipeline::check::line::{judge, lines, proof::Opinion};
use burler::spec::{Ground, Repeat};
use burler::tile::{Raster, Tile};

fn told(tile: &Tile) -> Vec<Finding> {
    judge(tile, Ground::Opaque).findings
}

fn faults(tile: &Tile) -> Vec<Finding> {
    told(tile).into_iter().filter(|finding| finding.grade == Grade::Fault).collect()
}

fn painted(side: u32, color: impl Fn(u32, u32) -> [u8; 3]) -> Raster {
    let pixels = (0..side).flat_map(|y| (0..side).map(move |x| (x, y)));
    Raster::new(
        side,
        side,
        pixels
            .flat_map(|(x, y)| {
                let [r, g, b] = color(x, y);
                [r, g, b, 255]
            })
            .collect(),
    )
    .unwrap()
}

/// Four flat colors in blocks of 50 pixels.
fn blocks(x: u32, y: u32) -> [u8; 3] {
    [[180, 90, 60], [40, 120, 150], [220, 200, 140], [90, 40, 110]][(x / 50 % 2 + y / 50 % 2 * 2) as usize]
}

/// The blocks with a line of `wide` pixels along the row 210, its color from the color that lies there.
fn with_line(wide: u32, line: impl Fn([u8; 3]) -> [u8; 3]) -> Tile {
    tile(painted(300, |x, y| if (210..210 + wide).contains(&y) { line(blocks(x, y)) } else { blocks(x, y) }))
}

fn over(opacity: f64, paper: [f64; 3]) -> impl Fn([u8; 3]) -> [u8; 3] {
    move |color| std::array::from_fn(|c| (f64::from(color[c]) * opacity + paper[c] * (1.0 - opacity)).round() as u8)
}

/// Draws a tile of flat blocks whose pixels along a line are half-transparent and lays it over a paper: the over operator as
/// another library computes it (Porter and Duff, "Compositing Digital Images", SIGGRAPH 1984).
const MERGED: &str = "
import sys
import numpy as np
from PIL import Image
out, turn, wide, alpha, paper = sys.argv[1], float(sys.argv[2]), float(sys.argv[3]), int(sys.argv[4]), sys.argv[5]
n = 480
y, x = np.mgrid[0:n, 0:n]
colors = np.array([[180, 90, 60], [40, 120, 150], [220, 200, 140], [90, 40, 110]], np.uint8)
art = np.empty((n, n, 4), np.uint8)
art[..., :3] = colors[x // 60 % 2 + y // 60 % 2 * 2]
cover = np.zeros((n, n))
for i in range(8):
    for j in range(8):
        px, py = x + (i + .5) / 8 - n / 2 - 7.3, y + (j + .5) / 8 - n / 2 - 4.1
        cover += np.abs(py * np.cos(np.radians(turn)) - px * np.sin(np.radians(turn))) < wide / 2
art[..., 3] = np.rint(255 - (255 - alpha) * cover / 64)
Image.alpha_composite(Image.new('RGBA', (n, n), paper), Image.fromarray(art)).convert('RGB').save(out)
";

#[test]
fn a_line_merged_by_another_library_is_proven_with_its_opacity_and_its_paper() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("merged.png");
    for (turn, wide, alpha, paper) in [
        ("0", "2", "140", "white"),
        ("90", "1", "100", "black"),
        ("44", "1", "100", "white"),
        ("-43", "2", "200", "black"),
        ("31.7", "1.5", "128", "white"),
        ("104", "3", "60", "black"),
    ] {
        desk::run_python(MERGED, &[file.to_str().unwrap(), turn, wide, alpha, paper]);
        let tile = decode(&std::fs::read(&file).unwrap(), &Limits::default(), Vec::new()).unwrap();
        let what = format!("turned by {turn}, {wide} px, alpha {alpha} on {paper}");
        let faults = faults(&tile);
        assert_eq!(faults.len(), 1, "{what}: {faults:?}");
        assert!(faults[0].says.contains(&format!(" % of {paper}")), "{what}: {}", faults[0].says);
        // What is added, summed across, is the width times how much of the paper shows, whatever the slant.
        let line = lines(&tile).into_iter().find(|line| matches!(line.opinion, Opinion::Proven(..))).unwrap();
        let Opinion::Proven(_, veil) = line.opinion else { unreachable!() };
        let slope = line.course.stretch.slope;
        let shows: f64 = wide.parse::<f64>().unwrap() * (255.0 - alpha.parse::<f64>().unwrap()) / 255.0;
        let across = veil.cover / (1.0 + slope * slope).sqrt();
        // A level line 2 px wide off the pixels' borders is drawn over three, which changes nothing of its sum.
        assert!((across - shows).abs() < 0.04 * shows + 0.01, "{what}: {across} for {shows}");
        let angle = -turn.parse::<f64>().unwrap();
        let off = (line.angle() - angle).rem_euclid(180.0);
        assert!(off.min(180.0 - off) < 0.2, "{what}: told as {}", line.angle());
    }
}

#[test]
fn half_opaque_is_proven_and_ink_and_threads_are_not() {
    for wide in 1..=3 {
        for paper in [[255.0; 3], [0.0; 3]] {
            assert_eq!(faults(&with_line(wide, over(0.6, paper))).len(), 1, "{wide} px on {paper:?}");
            assert_eq!(told(&with_line(wide, over(0.0, paper))), [], "ink of {wide} px, {paper:?}");
        }
        let thread = |color: [u8; 3]| color.map(|v| v + 30);
        assert_eq!(told(&with_line(wide, thread)), [], "thread of {wide} px");
        assert_eq!(told(&with_line(wide, |_| [120, 100, 90])), [], "any ink, {wide} px");
    }
    // Wider than three pixels is a bar.
    assert_eq!(told(&with_line(6, over(0.6, [255.0; 3]))), []);
}

#[test]
fn what_is_hardly_visible_is_told_and_not_held() {
    let faint = told(&with_line(1, over(0.985, [255.0; 3])));
    assert!(faint.iter().all(|finding| finding.grade == Grade::Advice), "{faint:?}");
    let plain = told(&with_line(1, over(0.9, [255.0; 3])));
    assert_eq!(plain.len(), 1);
    let measure = plain[0].measure.as_ref().unwrap();
    assert_eq!((measure.unit.as_str(), measure.limit), ("CIEDE2000", 1.0));
    assert!(measure.value > 1.0 && measure.value < 10.0, "{measure:?}");
}

#[test]
fn a_line_over_one_colored_ground_is_advice_and_over_gray_nothing() {
    let on = |color: [u8; 3]| {
        tile(painted(300, |x, y| {
            if x == 120 {
                over(0.6, [255.0; 3])(color)
            } else if x < 20 && y < 20 {
                [9, 9, 9]
            } else {
                color
            }
        }))
    };
    let colored = told(&on([180, 90, 60]));
    assert_eq!(colored.len(), 1);
    assert_eq!((colored[0].kind, colored[0].grade), (Kind::LineFlattened, Grade::Advice));
    assert_eq!(told(&on([128, 128, 128])), []);
}

#[test]
fn a_see_through_ground_has_no_flattened_lines() {
    let tile = with_line(2, over(0.5, [255.0; 3]));
    for ground in [Ground::Transparent, Ground::Unclear] {
        assert_eq!(judge(&tile, ground).findings, []);
        assert_eq!(judge(&tile, ground).readings.len(), 0);
    }
}

#[test]
fn a_line_is_found_wherever_the_tile_begins_and_however_it_is_turned() {
    let made = with_line(2, over(0.55, [0.0; 3])).raster;
    for (right, down) in [(0, 0), (17, 88), (150, 89), (3, 90), (299, 91)] {
        let moved = tile(broken::moved(&made, right, down));
        assert_eq!(faults(&moved).len(), 1, "moved by {right}, {down}");
    }
    let upright = tile(painted(300, |x, y| {
        let [r, g, b, _] = made.pixel(y, x);
        [r, g, b]
    }));
    let faults = faults(&upright);
    assert_eq!(faults.len(), 1);
    assert!(faults[0].says.starts_with("a thin line runs down the tile"), "{}", faults[0].says);
}

#[test]
fn boxes_hold_a_slanted_line_and_little_else() {
    let sound = drawn(named("tossed"), Repeat::Block, 40, 600, 600);
    let made = (0..40).map(|seed| flattened(&sound, seed, 2)).find(|made| made.lay == Lay::Any).unwrap();
    let tile = tile(made.raster.clone());
    let boxes: Vec<_> = faults(&tile)
        .into_iter()
        .flat_map(|fault| {
            assert!(fault.boxes.len() <= MOST_BOXES);
            fault.boxes
        })
        .collect();
    let (mut on, mut held, mut area) = (0_u32, 0_u32, 0_u32);
    for (at, shows) in made.mask.iter().enumerate() {
        let (x, y) = (at as u32 % 600, at as u32 / 600);
        let inside = boxes.iter().any(|b| (b.x..b.x + b.width).contains(&x) && (b.y..b.y + b.height).contains(&y));
        area += u32::from(inside);
        if *shows > 40 {
            on += 1;
            held += u32::from(inside);
        }
    }
    assert!(100 * held >= 90 * on, "{held} of {on}");
    assert!(10 * area <= 600 * 600, "{area}");
}

#[test]
fn a_border_that_is_as_lines_inside_are_is_art() {
    // A tile that begins in the gaps between two rows of halftone dots: seen from inside, the gaps lie over the dots' color.
    let dots = drawn(named("halftone"), Repeat::Block, 204, 600, 600);
    let found = faults(&tile(broken::moved(&dots, 179, 305)));
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn every_style_of_sound_art_is_left_alone() {
    for style in STYLES.iter().filter(|style| style.ground == Ground::Opaque) {
        for seed in [7, 8] {
            let (width, height) = art::sides(seed);
            let raster = drawn(style, Repeat::Block, seed, width, height);
            let jpeg = encode_jpeg(&raster, 92, Some(300.0)).unwrap();
            let tiles = [
                tile(broken::moved(&raster, 61, 143)),
                decode(&jpeg, &Limits::default(), Vec::new()).unwrap(),
                tile(raster),
            ];
            for tile in &tiles {
                assert_eq!(told(tile), [], "{} {seed}", style.name);
            }
        }
    }
}

#[test]
fn most_lines_that_show_are_found_in_art_of_several_colors() {
    let (mut seen, mut found) = (0, 0);
    for name in ["tossed", "bars", "cells", "cut stripes", "bricks", "wash"] {
        let sound = drawn(named(name), Repeat::Block, 11, 480, 480);
        for seed in 0..8 {
            let made = flattened(&sound, seed, 2);
            if made.visible() && matches!(made.paper[0] as u8, 0 | 255) {
                seen += 1;
                found += usize::from(!faults(&tile(made.raster)).is_empty());
            }
        }
    }
    assert!(seen >= 25 && 100 * found >= 80 * seen, "{found} of {seen}");
}
