//! The demo's tiles are what the table promises: drawn alike every time, truly repeating or truly flawed, saved as told.

mod desk;

use burler::demo::{Art, Piece, SPECS, Sketch, tiles};
use burler::spec::Repeat;
use burler::tile::Raster;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// What the demo promises of each tile.
const PROMISES: [(&str, &str, &str); 16] = [
    ("cloth-12in/kelp-fronds.png", "sound", ""),
    ("drop-9in/dulse-block-print.png", "sound", ""),
    ("towel-brick/paper-buoys.png", "sound", ""),
    ("scarf-15cm/fog-islands.png", "sound", ""),
    ("clear-10in/sea-lace.png", "sound", ""),
    ("urchin-beads.png", "sound", ""),
    ("herringbone-quay.png", "sound", ""),
    ("knot-sampler.jpg", "sound", ""),
    ("cloth-10in/sailcloth-45.png", "mended", "alpha.hairline"),
    ("signal-bunting.png", "mended", "alpha.fringe"),
    ("paper-8in/anchor-trellis.png", "mended", "size.resolution"),
    ("tide-lines.png", "held", "joint.break"),
    ("cloth-12in/lobster-pots.png", "held", "size.pixels"),
    ("limpets-on-slate.png", "held", "alpha.gap"),
    ("shell-terrazzo.png", "held", "alpha.speck"),
    ("glass-floats.png", "unreadable", "file.truncated"),
];

/// What Pillow reads of each file: format, sides, mode (16-bit RGBA reads as RGBA) and pixels per inch to two decimals.
/// PNG stores whole pixels per meter, so 300 per inch is stored as 11811 and reads 299.9994 (PNG third edition, 11.3.4.3).
const FILES: [(&str, &str); 16] = [
    ("cloth-12in/kelp-fronds.png", "PNG 3600 3600 RGBA 300.00"),
    ("drop-9in/dulse-block-print.png", "PNG 1800 2400 RGBA 200.00"),
    ("towel-brick/paper-buoys.png", "PNG 2000 1500 RGBA 250.01"),
    ("scarf-15cm/fog-islands.png", "PNG 1500 3000 RGBA 254.00"),
    ("clear-10in/sea-lace.png", "PNG 2000 2000 RGBA 200.00"),
    ("urchin-beads.png", "PNG 1500 1500 RGBA 150.01"),
    ("herringbone-quay.png", "PNG 1440 960 RGBA 119.99"),
    ("knot-sampler.jpg", "JPEG 1600 2000 RGB 200.00"),
    ("cloth-10in/sailcloth-45.png", "PNG 3000 3000 RGBA 300.00"),
    ("signal-bunting.png", "PNG 1600 1600 RGBA 200.00"),
    ("paper-8in/anchor-trellis.png", "PNG 2400 2400 RGBA 72.01"),
    ("tide-lines.png", "PNG 1500 2100 RGBA 150.01"),
    ("cloth-12in/lobster-pots.png", "PNG 2250 2250 RGBA 300.00"),
    ("limpets-on-slate.png", "PNG 1800 1800 RGBA 150.01"),
    ("shell-terrazzo.png", "PNG 1260 1260 RGBA 180.01"),
    ("glass-floats.png", "cut short"),
];

static DRAWN: LazyLock<BTreeMap<String, Vec<u8>>> =
    LazyLock::new(|| tiles().iter().map(|piece| (piece.path(), piece.draw().expect("the piece is drawn"))).collect());

/// All files in a folder of their own.
fn saved() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("the temporary folder is ours");
    for (path, bytes) in &*DRAWN {
        let file = folder.path().join(path);
        std::fs::create_dir_all(file.parent().expect("the temporary folder is ours"))
            .expect("the temporary folder is ours");
        std::fs::write(file, bytes).expect("the temporary folder is ours");
    }
    folder
}

fn sketches() -> Vec<(Piece, Sketch)> {
    let sketch = |piece: Piece| match piece.art {
        Art::Sketch(sketch) => Some((piece, sketch)),
        _ => None,
    };
    tiles().into_iter().filter_map(sketch).collect()
}

fn piece(name: &str) -> (Piece, Sketch) {
    sketches().into_iter().find(|(piece, _)| piece.name == name).expect("the piece is a sketch")
}

#[test]
fn the_table_promises_what_the_readme_says() {
    let told: Vec<_> = tiles()
        .iter()
        .map(|piece| {
            let kinds: Vec<_> = piece.kinds.iter().map(|kind| kind.name()).collect();
            (piece.path(), piece.promised.name(), kinds.join(" "))
        })
        .collect();
    let promised: Vec<_> =
        PROMISES.iter().map(|&(path, verdict, kinds)| (path.into(), verdict, kinds.into())).collect();
    assert_eq!(told, promised);
    assert!(tiles().iter().all(|piece| piece.why.len() < 80 && !piece.why.contains('\n')));
}

#[test]
fn each_draw_gives_the_same_bytes() {
    for piece in tiles() {
        let again = burler::tile::Content::of(&piece.draw().unwrap());
        assert_eq!(burler::tile::Content::of(&DRAWN[&piece.path()]), again, "{}", piece.name);
    }
}

#[test]
fn a_second_decoder_reads_the_sides_and_tags_told() {
    let folder = saved();
    let program = r#"
import os, sys
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
for path in sys.argv[2:]:
    with Image.open(os.path.join(sys.argv[1], path)) as image:
        try:
            image.load()
        except OSError:
            print(path, "cut short", sep="|")
            continue
        x, y = image.info["dpi"]
        assert x == y
        print(path, f"{image.format} {image.width} {image.height} {image.mode} {x:.2f}", sep="|")
"#;
    let mut arguments = vec![folder.path().to_str().unwrap()];
    arguments.extend(FILES.iter().map(|(path, _)| *path));
    let told = desk::run_python(program, &arguments);
    let told: Vec<_> = told.lines().filter_map(|line| line.split_once('|')).collect();
    assert_eq!(told, FILES);
}

#[test]
fn a_sketch_is_the_same_endless_repeat_wherever_it_is_cut() {
    for (piece, sketch) in sketches() {
        let [width, height] = sketch.size.map(i64::from);
        let (dx, dy) = (width - 37, 211);
        let (whole, moved) = (sketch.cut_at(0, 0).unwrap(), sketch.cut_at(dx, dy).unwrap());
        // Where a place of the drawing lies on the tile: each column of tiles lowered, or each row moved, by half a tile.
        let at = |x: i64, y: i64| match sketch.lay {
            Repeat::HalfDrop => whole.wrapped(x, y - x.div_euclid(width) * height / 2),
            Repeat::Brick => whole.wrapped(x - y.div_euclid(height) * width / 2, y),
            _ => whole.wrapped(x, y),
        };
        let mut worst = 0;
        for y in 0..height {
            for x in 0..width {
                let (here, there) = (moved.pixel(x as u32, y as u32), at(x - dx, y - dy));
                worst = here.iter().zip(there).map(|(a, b)| a.abs_diff(b)).fold(worst, u8::max);
            }
        }
        assert!(worst <= 1, "{} differs by {worst} when cut elsewhere", piece.name);
    }
}

/// How far each line stands out from its neighbors: for every pair of adjacent columns, the mean over the rows of what its
/// step exceeds both neighboring steps by; the last pair is the joint, with the far column moved down by `drop` rows.
fn excess_of_columns(tile: &Raster, drop: u32) -> Vec<f64> {
    let (width, height) = (i64::from(tile.width()), i64::from(tile.height()));
    let step = |x: i64, y: i64| {
        let lowered = |x: i64| if x < width { tile.wrapped(x, y) } else { tile.wrapped(x, y - i64::from(drop)) };
        lowered(x).iter().zip(lowered(x + 1)).map(|(a, b)| a.abs_diff(b)).max().unwrap_or(0)
    };
    let mut sums = vec![0u64; width as usize - 1];
    for y in 0..height {
        let steps: Vec<u8> = (0..=width).map(|x| step(x, y)).collect();
        for (sum, three) in sums.iter_mut().zip(steps.windows(3)) {
            *sum += u64::from(three[1].saturating_sub(three[0].max(three[2])));
        }
    }
    sums.into_iter().map(|sum| sum as f64 / height as f64).collect()
}

fn turned(tile: &Raster) -> Raster {
    let (width, height) = (tile.width(), tile.height());
    let samples = (0..width).flat_map(|x| (0..height).flat_map(move |y| tile.pixel(x, y))).collect();
    Raster::new(height, width, samples).expect("as many samples as before")
}

/// How far the joint stands out: its excess above the largest inside, in spreads of the inside (largest less median).
fn standing_out(tile: &Raster, drop: u32) -> f64 {
    let mut inside = excess_of_columns(tile, drop);
    let joint = inside.pop().expect("a tile has lines");
    inside.sort_by(f64::total_cmp);
    let (median, most) = (inside[inside.len() / 2], inside[inside.len() - 1]);
    // What rounding to 8 bits alone can cause keeps the spread of flat art from being nothing.
    (joint - most) / (most - median + 0.15)
}

/// Nothing stands out at a sound joint; lines whose spread falls off exponentially put the largest of thousands about this
/// far above a millionth's chance at the most.
const BROKEN: f64 = 1.2;

#[test]
fn sound_sketches_meet_their_copies_in_their_own_layout_alone() {
    let (_, dulse) = piece("dulse-block-print.png");
    let tile = dulse.cut_at(0, 0).unwrap();
    let (block, drop) = (standing_out(&tile, 0), standing_out(&tile, tile.height() / 2));
    assert!(drop < 0.0 && block > BROKEN, "as half-drop {drop:.2}, as block {block:.2}");
    assert!(standing_out(&turned(&tile), 0) < 0.0);

    let (_, buoys) = piece("paper-buoys.png");
    let tile = buoys.cut_at(0, 0).unwrap();
    let upright = turned(&tile);
    let (block, brick) = (standing_out(&upright, 0), standing_out(&upright, upright.height() / 2));
    assert!(brick < 0.0 && block > BROKEN, "as brick {brick:.2}, as block {block:.2}");
    assert!(standing_out(&tile, 0) < 0.0);

    for name in ["urchin-beads.png", "anchor-trellis.png", "lobster-pots.png"] {
        let (_, sketch) = piece(name);
        let tile = sketch.cut_at(0, 0).unwrap();
        let (across, down) = (standing_out(&tile, 0), standing_out(&turned(&tile), 0));
        assert!(across < 0.0 && down < 0.0, "{name}: {across:.2} across, {down:.2} down");
    }
}

#[test]
fn the_picture_cut_out_of_a_bigger_one_meets_its_copies_in_no_layout() {
    let (piece, sketch) = piece("tide-lines.png");
    let tile = piece.flaw.spoil(sketch.cut_at(0, 0).unwrap()).unwrap();
    assert_eq!((tile.width(), tile.height()), (1500, 2100));
    let upright = turned(&tile);
    for (out, way) in [
        (standing_out(&tile, 0), "left to right"),
        (standing_out(&tile, 1050), "left to right, dropped by half"),
        (standing_out(&upright, 0), "top to bottom"),
        (standing_out(&upright, 750), "top to bottom, moved by half"),
    ] {
        assert!(out > BROKEN, "{way}: {out:.2}");
    }
}

/// Every transparency of the demo, told by numpy and scikit-image: counts, widths, the lowest alpha, components.
const ALPHA: &str = r#"
import os, sys
import numpy as np
from PIL import Image
from skimage.measure import label
from skimage.morphology import opening
Image.MAX_IMAGE_PIXELS = None

def alpha(name):
    return np.asarray(Image.open(os.path.join(sys.argv[1], name)))[..., 3]

def widest_run(mask):
    """The longest stretch of set pixels along the rows, the tile taken as endless."""
    longest = 0
    for row in np.concatenate([mask, mask], axis=1):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
        if edges.size:
            longest = max(longest, int((edges[1::2] - edges[::2]).max()))
    return longest

a = alpha("cloth-10in/sailcloth-45.png")
partial = a < 255
padded = np.pad(partial, 4, mode="wrap")
thick = opening(padded, np.ones((5, 5)))[4:-4, 4:-4]
# The joins are the two diagonals through each edge's middle: |x - n/2| + |y - n/2| = n/2.
n = a.shape[0]
y, x = np.mgrid[:n, :n] + 0.5
away = np.abs(np.abs(x - n / 2) + np.abs(y - n / 2) - n / 2) / np.sqrt(2)
print("hairline", partial.any(), thick.sum(), bool(away[partial].max() < 1.5), int(a.min()), widest_run(partial))
# Lines cross where four corners meet, in the middle of each edge of the canvas; elsewhere they are alone.
alone = partial & ((np.minimum(x, n - x) > 8) | (np.abs(y - n / 2) > 8)) & ((np.minimum(y, n - y) > 8) | (np.abs(x - n / 2) > 8))
print("alone", widest_run(alone), np.unique(a[alone]).tolist())

a = alpha("signal-bunting.png")
inner = a[:-1, :-1]
print("fringe", int((inner < 255).sum()), sorted(set(a[-1, :-1].tolist()) | set(a[:-1, -1].tolist())), int(a[-1, -1]))

a = alpha("limpets-on-slate.png")
parts, count = label(a < 255, return_num=True, connectivity=2)
share = (opening(a < 255, np.ones((5, 5)))).mean()
print("hole", count, bool(1200 < (a == 0).sum() < 1500), bool(share < 0.001))

a = alpha("shell-terrazzo.png")
parts, count = label(a < 255, return_num=True, connectivity=2)
print("specks", count, int(np.bincount(parts.ravel())[1:].max()))

a = alpha("clear-10in/sea-lace.png")
print("lace", bool(((a > 0) & (a < 255)).mean() > 0.14), bool((a == 255).mean() < 0.2), int(a.min()))

for name in ["cloth-12in/kelp-fronds.png", "drop-9in/dulse-block-print.png", "towel-brick/paper-buoys.png",
             "scarf-15cm/fog-islands.png", "urchin-beads.png", "herringbone-quay.png", "paper-8in/anchor-trellis.png",
             "tide-lines.png", "cloth-12in/lobster-pots.png"]:
    assert alpha(name).min() == 255, name
"#;

#[test]
fn transparency_is_where_it_was_promised_and_nowhere_else() {
    let folder = saved();
    let told = desk::run_python(ALPHA, &[folder.path().to_str().unwrap()]);
    let expected = "\
hairline True 0 True 182 6
alone 3 [192, 232]
fringe 0 [140] 77
hole 1 True True
specks 5 3
lace True True 0
";
    assert_eq!(told, expected);
}

#[test]
fn the_order_sheets_name_the_folders_and_fit_the_tiles() {
    let sheets: toml::Table = SPECS.parse().unwrap();
    let sheets = sheets["spec"].as_table().unwrap();
    let side = |sheet: &toml::Table, key: &str| -> f64 {
        let (number, unit) = sheet[key].as_str().unwrap().split_once(' ').unwrap();
        let per_inch = sheet["resolution"].as_integer().unwrap() as f64;
        let number: f64 = number.parse().unwrap();
        match unit {
            "px" => number,
            "in" => number * per_inch,
            "mm" => number / 25.4 * per_inch,
            other => panic!("{other} is no unit"),
        }
    };
    for piece in tiles().iter().filter(|piece| !piece.folder.is_empty()) {
        let sheet = sheets[piece.folder].as_table().unwrap();
        let file = FILES.iter().find(|(path, _)| *path == piece.path()).unwrap().1;
        let words: Vec<&str> = file.split(' ').collect();
        let pixels: Vec<f64> = words[1..3].iter().map(|word| word.parse().unwrap()).collect();
        let fits = [side(sheet, "width"), side(sheet, "height")] == pixels[..];
        assert_eq!(fits, piece.name != "lobster-pots.png", "{}", piece.name);
        let tag: f64 = words[4].parse().unwrap();
        let tagged = (tag - sheet["resolution"].as_integer().unwrap() as f64).abs() < 0.03;
        assert_eq!(tagged, piece.name != "anchor-trellis.png", "{}", piece.name);
    }
}
