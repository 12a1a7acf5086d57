//! Open images that people use as papers, stones and grounds: those that repeat pass, those that do not are held.
//!
//! They are read from their packages, which `tests/run` fetches where it can; without them the tests say "skipped", and
//! the last line of the run counts them so. None of them is kept in this repository.
#![allow(clippy::panic, reason = "a test that cannot set its table has failed")]

mod art;
mod desk;

use burler::codec::{self, Limits};
use burler::finding::Verdict;
use burler::pipeline::check::{self, Judgment};
use burler::pipeline::lattice;
use burler::spec::{Ground, Spec};
use burler::tile::{Raster, Tile};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// A folder inside the fetched packages; `None`, after saying so, when they were not to be had.
fn fetched(test: &str, folder: &str) -> Option<PathBuf> {
    let path = desk::root().join("target/real").join(folder);
    if path.is_dir() {
        return Some(path);
    }
    // Not through `println`, which a passing test keeps to itself.
    let told = writeln!(std::io::stderr(), "skipped: {test}, since {} is not there", path.display());
    told.expect("standard error is open");
    None
}

fn read(path: &Path) -> Tile {
    let bytes = fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    codec::decode(&bytes, &Limits::default(), Vec::new()).unwrap_or_else(|refusal| panic!("{}", refusal.says()))
}

fn judged(tile: &Tile) -> Judgment {
    check::judge(tile, &Spec::default())
}

fn told(judgment: &Judgment) -> String {
    let says: Vec<&str> = judgment.findings.iter().map(|finding| finding.says.as_str()).collect();
    format!("{} {}", judgment.verdict.name(), says.join("; "))
}

/// The images below a folder, by name.
fn images(folder: &Path) -> Vec<PathBuf> {
    let mut images: Vec<PathBuf> = walkdir::WalkDir::new(folder)
        .into_iter()
        .filter_map(Result::ok)
        .map(walkdir::DirEntry::into_path)
        .filter(|path| {
            path.extension().is_some_and(|end| ["png", "jpg"].iter().any(|known| end.eq_ignore_ascii_case(known)))
        })
        .collect();
    images.sort();
    assert!(!images.is_empty(), "no image in {}", folder.display());
    images
}

/// Judges all and complains of all that do not get the verdict; `besides` are the exceptions with their reasons.
fn all_are(verdict: Verdict, images: &[PathBuf], besides: &[(&str, &str)]) {
    let mut wrong = Vec::new();
    for path in images {
        let name = path.file_name().and_then(|name| name.to_str()).expect("a plain name");
        if besides.iter().any(|(exception, _)| *exception == name) {
            continue;
        }
        let judgment = judged(&read(path));
        if judgment.verdict != verdict {
            wrong.push(format!("{}: {}", path.display(), told(&judgment)));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), images.len(), wrong.join("\n"));
}

#[test]
fn painted_papers_that_repeat_pass() {
    // propaganda-debian: 22 painted papers, JPEG, 512 px. All were laid and looked at.
    let Some(folder) = fetched("painted papers", "usr/share/wallpapers") else { return };
    let besides = [
        ("Penguin-Sushi-1.JPG", "really torn: dark stone ends on the border, 234 to 312 px from the top; held below"),
        (
            "The-Brothers-Gibb-1.JPG",
            "a thin tinted line on the border, hardly there in lightness: either verdict is fair",
        ),
    ];
    let images = images(&folder);
    assert_eq!(images.len(), 22);
    all_are(Verdict::Sound, &images, &besides);
    assert_eq!(judged(&read(&folder.join("Penguin-Sushi-1.JPG"))).verdict, Verdict::Held);
}

#[test]
fn photographed_grounds_that_repeat_pass() {
    // extremetuxracer-data: 42 grounds of a game, PNG, 256 px, many with a JPEG past. All were laid and looked at.
    let Some(folder) = fetched("photographed grounds", "usr/share/games/etr/terrains") else { return };
    let besides = [
        ("snowy_ice.png", "really broken between bottom and top; held below"),
        (
            "snowy_ice02.png",
            "an even step of 3 to 4 levels between bottom and top where no pair of lines inside has more than 2",
        ),
        ("ice.png", "its first column is rough: 14 levels to the next where 3.6 are usual; either verdict is fair"),
        ("ice01.png", "the same edge"),
        ("ice02.png", "the same ground without snow: the same step, part of it"),
        (
            "ice03.png",
            "a green rim 1 px wide, one color from end to end: as good as a drawn frame, so it is told, not held",
        ),
        ("snowy_ice03.png", "the same rim"),
    ];
    let images = images(&folder);
    assert_eq!(images.len(), 42);
    all_are(Verdict::Sound, &images, &besides);
    assert_eq!(judged(&read(&folder.join("snowy_ice.png"))).verdict, Verdict::Held);
    for rim in ["ice03.png", "snowy_ice03.png"] {
        assert!(!judged(&read(&folder.join(rim))).findings.is_empty(), "nothing is told of the rim of {rim}");
    }
}

#[test]
fn stones_and_walls_that_repeat_pass() {
    // libirrlicht-doc: grounds for walls and land, JPEG, 128 to 512 px.
    let Some(folder) = fetched("stones and walls", "usr/share/doc/libirrlicht-dev/media") else { return };
    let names = ["stones.jpg", "detailmap3.jpg", "rockwall.jpg", "wall.jpg", "water.jpg"];
    all_are(Verdict::Sound, &names.map(|name| folder.join(name)), &[]);
}

#[test]
fn photographs_and_papers_that_do_not_repeat_are_held() {
    // scikit-image: photographs, and papers that look as if they repeated.
    let program = "
import os, sys
from skimage import data, io
for name in 'astronaut brick camera coffee coins grass gravel moon'.split():
    io.imsave(os.path.join(sys.argv[1], name + '.png'), getattr(data, name)(), check_contrast=False)
";
    let folder = tempfile::tempdir().expect("a folder");
    desk::run_python(program, &[folder.path().to_str().expect("a plain path")]);
    let images = images(folder.path());
    assert_eq!(images.len(), 8);
    all_are(Verdict::Held, &images, &[]);
}

#[test]
fn skies_and_landscapes_that_do_not_repeat_are_held() {
    // extremetuxracer-data and libirrlicht-doc: the sides of painted skies, 256 to 1024 px; each meets its neighbor at
    // one edge and not itself.
    let Some(game) = fetched("skies and landscapes", "usr/share/games/etr/env") else { return };
    let Some(media) = fetched("skies and landscapes", "usr/share/doc/libirrlicht-dev/media") else { return };
    let mut skies = images(&game);
    skies.retain(|path| {
        path.file_stem()
            .and_then(|stem| stem.to_str())
            .is_some_and(|stem| ["front", "left", "right"].iter().any(|side| stem.trim_end_matches('H') == *side))
    });
    assert!(skies.len() >= 30, "{} skies", skies.len());
    let sides = ["ft", "lf", "dn", "rt", "bk", "up"].map(|side| media.join(format!("irrlicht2_{side}.jpg")));
    skies.extend(sides);
    skies.extend(["terrain-texture.jpg", "skydome.jpg", "skydome2.jpg"].map(|name| media.join(name)));
    all_are(Verdict::Held, &skies, &[]);
}

/// A bitmap as the X Window System writes it: C text, rows of bytes, lowest bit leftmost (X11 XReadBitmapFile).
fn bitmap(path: &Path) -> Raster {
    let text = fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let side = |end: &str| -> u32 {
        let line = text.lines().find(|line| line.starts_with("#define") && line.contains(end));
        line.and_then(|line| line.split_whitespace().nth(2)).and_then(|side| side.parse().ok()).expect("a side")
    };
    let (width, height) = (side("_width"), side("_height"));
    let inside = text.split_once('{').and_then(|(_, rest)| rest.split_once('}')).expect("braces").0;
    let bytes: Vec<u8> = inside
        .split(',')
        .filter_map(|word| u8::from_str_radix(word.trim().trim_start_matches("0x").trim_start_matches("0X"), 16).ok())
        .collect();
    let stride = width.div_ceil(8);
    let lit = |x: u32, y: u32| bytes[(y * stride + x / 8) as usize] >> (x % 8) & 1 == 1;
    let samples = (0..height)
        .flat_map(|y| (0..width).map(move |x| (x, y)))
        .flat_map(|(x, y)| if lit(x, y) { [20, 30, 60, 255] } else { [240, 235, 225, 255] })
        .collect();
    Raster::new(width, height, samples).expect("the bitmap has pixels")
}

#[test]
fn stipples_of_a_window_system_have_their_known_lattices() {
    let Some(folder) = fetched("stipples", "usr/include/X11/bitmaps") else { return };
    // How many moves map each onto itself, counted by comparing all cyclic shifts (NumPy's roll), and two that span them.
    let known: [(&str, usize, [[i64; 2]; 2]); 9] = [
        ("scales", 8, [[4, 4], [-4, 4]]),
        ("boxes", 8, [[4, 4], [-4, 4]]),
        ("cross_weave", 32, [[2, 2], [-2, 2]]),
        ("wide_weave", 4, [[8, 0], [0, 8]]),
        ("1x1", 64, [[2, 0], [0, 2]]),
        ("2x2", 16, [[4, 0], [0, 4]]),
        ("dimple1", 64, [[2, 0], [0, 2]]),
        ("dimple3", 16, [[4, 0], [0, 4]]),
        ("plaid", 1, [[22, 0], [0, 22]]),
    ];
    for (name, count, [a, b]) in known {
        let stipple = bitmap(&folder.join(name));
        let moves = art::moves::Moves::of(&stipple);
        assert_eq!(moves.per_tile(), count, "{name}");
        assert!(moves.spanned_by(a, b), "{name}");
        // Laid until it is as large as tiles are, each dot 3 px.
        let (width, height) = (i64::from(stipple.width()), i64::from(stipple.height()));
        let (across, down) = (240 / (3 * width) * 3 * width, 240 / (3 * height) * 3 * height);
        let samples = (0..down)
            .flat_map(|y| (0..across).map(move |x| (x, y)))
            .flat_map(|(x, y)| stipple.wrapped(x / 3, y / 3))
            .collect();
        let tile = art::tile(Raster::new(across as u32, down as u32, samples).expect("a size"));
        let judgment = judged(&tile);
        assert_eq!(judgment.verdict, Verdict::Sound, "{name}: {}", told(&judgment));
        let unit = lattice::find(&tile, Ground::Opaque).unit.unwrap_or_else(|| panic!("{name} has a unit"));
        let spanned = unit.holds(a.map(|v| 3 * v)) && unit.holds(b.map(|v| 3 * v));
        let area = 9 * (a[0] * b[1] - a[1] * b[0]).unsigned_abs();
        assert!(spanned && unit.area() == area, "{name}: {unit:?}");
    }
}
