//! Whether mended color is the true one, by hand: `cargo run --profile ground --example mend_ground -- FIRST LAST [SIDE] [lines]`.
//!
//! Lays see-through lines and edges of four strengths into drawn tiles of every opaque style at the seeds from FIRST to LAST
//! (SIDE px each way and drawn that much larger, else 240 to 604), sends the files through the pipeline, and compares what
//! comes back with the drawing: a tile is right when it is mended, opaque everywhere, equal outside the mask, and 99 % of its
//! mended pixels are within CIEDE2000 1. Told apart by whether storage multiplied by alpha had rounded color away. Sound
//! tiles are sent through as well: nothing may be written of them. `lines` prints a line for each tile that is not right.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "figures are the program's answer, and it is run by hand"
)]

#[path = "../art/mod.rs"]
mod art;

use art::fault::{Case, MAKERS};
use art::{STYLES, Style};
use burler::codec::{self, Limits, picture};
use burler::finding::Verdict;
use burler::pipeline::{Order, Outcome, Product, Wants, mockup, run};
use burler::pixel::difference::ciede2000;
use burler::spec::{Ground, GroundDemand, Repeat, Spec};
use burler::tile::Raster;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Which tiles a figure is over.
type Place = (bool, &'static str, usize);

/// Tiles, those that are right, and those that are right in all but color.
#[derive(Clone, Copy, Default)]
struct Count {
    of: u64,
    right: u64,
    mended: u64,
}

fn ordered(raster: &Raster, ground: GroundDemand) -> Outcome {
    let spec = Spec { ground, repeat: Some(Repeat::None), ..Spec::default() };
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let wants = Wants { mend: true, ..Wants::default() };
    let order = Order { name: "tile", spec: &spec, wants, mockup: &settings, limits: &limits, let_pass: None };
    run(&picture::encode_png(raster, None).unwrap(), &order, Vec::new())
}

/// What came of a tile: whether storage had lost color, whether all but color is right, and the share of mended pixels whose
/// color is.
fn looked(sound: &Raster, raster: &Raster) -> (bool, bool, f64) {
    let outcome = ordered(raster, GroundDemand::Opaque);
    let pixels = |raster: &Raster| raster.samples().as_chunks::<4>().0.to_vec();
    let (truth, was) = (pixels(sound), pixels(raster));
    let lost = truth.iter().zip(&was).any(|(truth, was)| truth[..3] != was[..3]);
    let file = outcome.made.iter().find(|(product, _)| *product == Product::Mended);
    let Some((_, file)) = file.filter(|_| outcome.ticket.verdict == Verdict::Mended) else { return (lost, false, 0.0) };
    let is = pixels(&codec::decode(file, &Limits::default(), Vec::new()).unwrap().raster);
    let (mut fine, mut mask, mut near) = (true, 0_u64, 0_u64);
    for ((truth, was), is) in truth.iter().zip(&was).zip(&is) {
        fine &= is[3] == 255 && (was[3] < 255 || is == was);
        if was[3] < 255 {
            let colors = [[truth[0], truth[1], truth[2]], [is[0], is[1], is[2]]];
            mask += 1;
            near += u64::from(colors[0] == colors[1] || ciede2000(colors[0], colors[1]) <= 1.0);
        }
    }
    (lost, fine, near as f64 / mask.max(1) as f64)
}

struct Found {
    place: Place,
    style: &'static str,
    line: String,
    mended: bool,
    right: bool,
}

fn tiles(style: &'static Style, seed: u64, side: Option<usize>) -> (Vec<Found>, u64) {
    let (width, height) = side.map_or_else(|| art::sides(seed), |side| (side, side));
    let unit = side.map_or(1.0, |side| (side as f32 / 600.0).max(1.0));
    let sound = art::drawn_large(style, Repeat::Block, seed, width, height, unit);
    let written = u64::from(!ordered(&sound, GroundDemand::Infer).made.is_empty());
    let case = Case { style, seed, unit, sound: &sound };
    let makers = MAKERS.iter().filter(|maker| matches!(maker.name, "see-through line" | "see-through edge"));
    let made = makers.flat_map(|maker| (0..4).map(move |strength| (maker, strength)));
    let found = made.filter_map(|(maker, strength)| {
        let (lost, mended, share) = looked(&sound, &(maker.make)(&case, strength)?.raster);
        let line = format!("{}, seed {seed}, {}, {}: {share:.3}", style.name, maker.name, maker.strengths[strength]);
        let right = mended && share >= 0.99;
        Some(Found { place: (lost, maker.name, strength), style: style.name, line, mended, right })
    });
    (found.collect(), written)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let [first, last, ..] = numbers[..] else { return Err("say the first and the last seed".into()) };
    let side = numbers.get(2).map(|side| *side as usize);
    let styles = STYLES.iter().filter(|style| style.ground == Ground::Opaque);
    let drawings: Vec<_> = styles.flat_map(|style| (first..=last).map(move |seed| (style, seed))).collect();
    let looked: Vec<_> = drawings.par_iter().map(|(style, seed)| tiles(style, *seed, side)).collect();
    let mut counts: BTreeMap<Place, Count> = BTreeMap::new();
    let mut weak: BTreeMap<&str, u64> = BTreeMap::new();
    for found in looked.iter().flat_map(|(found, _)| found) {
        let count = counts.entry(found.place).or_default();
        count.of += 1;
        count.mended += u64::from(found.mended);
        count.right += u64::from(found.right);
        if !found.right {
            *weak.entry(found.style).or_default() += 1;
            if words.iter().any(|word| word == "lines") {
                println!("{}", found.line);
            }
        }
    }
    for lost in [false, true] {
        println!("{}", if lost { "color rounded away by multiplied storage" } else { "color that survived" });
        let mut all = Count::default();
        for ((_, maker, strength), count) in counts.iter().filter(|(place, _)| place.0 == lost) {
            let name = MAKERS.iter().find(|one| one.name == *maker).map_or("", |one| one.strengths[*strength]);
            println!(
                "  {maker:18}{name:18}{:5} of {:5} mended,{:5} of true color",
                count.mended, count.of, count.right
            );
            all = Count { of: all.of + count.of, right: all.right + count.right, mended: all.mended + count.mended };
        }
        let share = 100.0 * all.right as f64 / all.of.max(1) as f64;
        println!("  all: {} of {} mended, {} of true color ({share:.1} %)", all.mended, all.of, all.right);
    }
    println!("not right, by style: {weak:?}");
    println!("sound tiles of which something was written: {}", looked.iter().map(|(_, written)| written).sum::<u64>());
    println!("{} drawings, seeds {first} to {last}", drawings.len());
    Ok(())
}
