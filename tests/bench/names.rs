//! The proving ground of names used again: `cargo run --profile ground --example names_ground -- FIRST COUNT [lines]`.
//!
//! Draws COUNT works from seed FIRST on, in every style, each with what a designer may save under its name next: the same
//! drawing in other ways (the kinds of `art::copies`), worked on (a part drawn anew, 3 to 50 % of the area, in other colors), and
//! another drawing: of the same style and size from another seed, and of another style. Prints how often what is kept of both
//! says that they are the same, that nobody can tell, and that they are two. Tune on some seeds and report on others.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::chance::Chance;
use art::copies::{self, Copy};
use art::drawn;
use burler::archive::drawings::{Drawing, Known, compare};
use burler::pipeline::likeness::Likeness;
use burler::pipeline::sketch::Sketch;
use burler::spec::Repeat;
use burler::tile::Raster;
use rayon::prelude::*;
use std::collections::BTreeMap;

fn main() {
    let number = |at: usize, usual: u64| std::env::args().nth(at).and_then(|word| word.parse().ok()).unwrap_or(usual);
    let (first, count) = (number(1, 9000), number(2, 114));
    let lines = std::env::args().any(|word| word == "lines");
    let found: Vec<(String, &str, Drawing)> =
        (0..count as usize).into_par_iter().flat_map(|at| work(first + at as u64, at)).collect();
    let mut kinds: BTreeMap<&str, [u32; 3]> = BTreeMap::new();
    for (kind, style, drawing) in &found {
        let at = [Drawing::Same, Drawing::Unknown, Drawing::Another].iter().position(|one| one == drawing).unwrap_or(1);
        kinds.entry(kind).or_default()[at] += 1;
        if lines && (at == 2) != kind.starts_with("another") {
            println!("{kind}: {style}: {drawing:?}");
        }
    }
    for (kind, [same, unknown, another]) in kinds {
        println!("{kind:34} same {same:4}  unknown {unknown:4}  another {another:4}");
    }
}

fn known(raster: &Raster, repeat: Repeat) -> Known {
    Known { likeness: Likeness::of(raster, None, &[repeat]), sketch: Sketch::of(raster) }
}

/// A tile of which a share, from its corner on, is another one.
fn part(base: &Raster, other: &Raster, share: f64) -> Raster {
    let reach = [base.width(), base.height()].map(|side| (f64::from(side) * share.sqrt()) as u32);
    let pixels = (0..base.height()).flat_map(|y| (0..base.width()).map(move |x| (x, y)));
    let pixel = |(x, y)| if x < reach[0] && y < reach[1] { other.pixel(x, y) } else { base.pixel(x, y) };
    Raster::new(base.width(), base.height(), pixels.flat_map(pixel).collect()).expect("a size")
}

fn work(seed: u64, at: usize) -> Vec<(String, &'static str, Drawing)> {
    let styles: Vec<&art::Style> = art::STYLES.iter().filter(|style| style.name != "plain").collect();
    let style = styles[at % styles.len()];
    let mut chance = Chance::new(seed ^ 0x7715);
    let base = copies::original(style, seed);
    let own = known(&base.raster, base.repeat);
    let mut all = Vec::new();
    let mut add = |kind: String, copy: &Copy| {
        all.push((kind, style.name, compare(&own, &known(&copy.raster, copy.repeat))));
    };
    for (kind, make, _) in copies::KINDS {
        if let Some(copy) = make(style, seed, &base, &mut chance) {
            add(format!("same: {kind}"), &copy);
        }
    }
    let (w, h) = (base.raster.width() as usize, base.raster.height() as usize);
    let with = |raster| Copy { raster, deep: None, ..base.clone() };
    let other = drawn(style, Repeat::Block, seed + 5_000_003, w, h);
    for share in [3, 10, 25, 50] {
        add(format!("worked on: {share:2} %"), &with(part(&base.raster, &other, f64::from(share) / 100.0)));
    }
    add(format!("another: {:?} art", style.kind).to_lowercase(), &with(other));
    let elsewhere = styles[(at * 7 + 11) % styles.len()];
    add("another: style".into(), &with(drawn(elsewhere, Repeat::Block, seed + 6_000_003, w, h)));
    all
}
