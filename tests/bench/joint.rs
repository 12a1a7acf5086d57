//! The joint rules on drawn tiles, by hand: `cargo run --example joint_ground -- FIRST LAST` over a range of seeds.
//!
//! Prints per style the false alarms on sound tiles (each also moved on the torus) with their upper 95 % bound, and
//! detection of each kind of break by style and strength.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::broken::{self, Stretch};
use art::chance::Chance;
use art::{Kind, STYLES, Style};
use burler::finding::{Grade, Verdict};
use burler::pipeline::check::joint::{self, Joints};
use burler::spec::{Ground, Repeat};
use burler::tile::{Raster, Tile};
use std::collections::BTreeMap;

const MOVES: u64 = 8;

#[derive(Default)]
struct Count {
    of: usize,
    hit: usize,
}

impl Count {
    fn add(&mut self, hit: bool) {
        self.of += 1;
        self.hit += usize::from(hit);
    }
}

fn judged(tile: &Tile, ground: Ground) -> Joints {
    joint::judge(tile, ground, None)
}

fn held(joints: &Joints) -> bool {
    Verdict::over(&joints.findings) == Verdict::Held
}

fn told(joints: &Joints) -> String {
    joints
        .findings
        .iter()
        .map(|f| format!("{:?} {} | {:?}", f.grade, f.says, f.measure.as_ref().map(|m| (&m.name, m.value, m.limit))))
        .collect::<Vec<_>>()
        .join(" || ")
}

/// Per joint the standing and how far each statistic is toward its limit.
fn detail(joints: &Joints) -> String {
    let seams = joints.seams.iter().map(|seam| {
        let readings =
            seam.readings.iter().map(|r| format!("{:?} {:.2}/{:.2}<{:.2}", r.statistic, r.joint, r.inside, r.limit));
        format!("\n    {:?}/{} {:?} {}", seam.axis, seam.divisor, seam.standing, readings.collect::<Vec<_>>().join(" "))
    });
    seams.collect()
}

fn sound(
    style: &'static Style,
    seed: u64,
    counts: &mut BTreeMap<&'static str, Count>,
    advice: &mut usize,
    verbose: bool,
) {
    let (width, height) = art::sides(seed);
    let mut repeats = vec![Repeat::Block];
    if style.free && width % 12 == 0 && height % 12 == 0 {
        repeats.extend([Repeat::HalfDrop, Repeat::Brick, Repeat::ThirdDrop]);
        if !seed.is_multiple_of(4) {
            repeats = vec![repeats[(seed % 4) as usize], Repeat::Block];
        }
    }
    for repeat in repeats {
        let raster = art::drawn(style, repeat, seed, width, height);
        let mut chance = Chance::new(seed ^ 0xABCD);
        for turn in 0..MOVES {
            let raster = if turn == 0 {
                raster.clone()
            } else if repeat == Repeat::Block && style.name != "frame" {
                broken::moved(
                    &raster,
                    i64::from(chance.whole(0, width as u32)),
                    i64::from(chance.whole(0, height as u32)),
                )
            } else {
                break;
            };
            let tile = art::tile(raster);
            let found = judged(&tile, style.ground);
            let alarm = held(&found) || !found.joins_as.contains(&repeat);
            counts.entry(style.name).or_default().add(alarm);
            *advice += found.findings.iter().filter(|f| f.grade == Grade::Advice).count();
            if alarm || (verbose && !found.findings.is_empty()) {
                println!(
                    "FALSE {} seed {seed} {width}x{height} {repeat} turn {turn}: {:?} {}",
                    style.name,
                    found.joins_as,
                    told(&found)
                );
            }
        }
    }
}

/// Whether a finding touches the bottom or top edge within the stretch.
fn touches(joints: &Joints, stretch: Stretch, width: u32) -> bool {
    joints.findings.iter().filter(|f| f.grade == Grade::Fault).any(|f| {
        f.boxes.iter().any(|b| {
            b.y == 0
                && (0..b.width).any(|x| {
                    let at = ((b.x + x) as f32 / width as f32 - stretch.from).rem_euclid(1.0);
                    at <= stretch.part
                })
        })
    })
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |at: usize, default: u64| arguments.get(at).and_then(|a| a.parse().ok()).unwrap_or(default);
    let (first, last) = (number(1, 0), number(2, 9));
    let only = arguments.get(3).cloned().unwrap_or_default();
    let verbose = arguments.get(4).is_some();
    let mut sounds: BTreeMap<&str, Count> = BTreeMap::new();
    let mut breaks: BTreeMap<String, Count> = BTreeMap::new();
    let mut placed = Count::default();
    let mut advice = 0;
    for style in STYLES.iter().filter(|style| only.is_empty() || style.name == only) {
        for seed in first..=last {
            sound(style, seed, &mut sounds, &mut advice, verbose);
            let (width, height) = art::sides(seed);
            let own: Raster = art::drawn(style, Repeat::Block, seed, width, height);
            let kind = format!("{:?}", style.kind);
            let cropped = judged(&art::tile(broken::crop(style, seed, width, height, 1.0)), style.ground);
            breaks.entry(format!("crop          {kind:8} {}", style.name)).or_default().add(held(&cropped));
            if verbose && !held(&cropped) {
                println!(
                    "MISSED crop {} seed {seed} {width}x{height} {:?}{}",
                    style.name,
                    cropped.joins_as,
                    detail(&cropped)
                );
            }
            for (name, part) in [("whole", 1.0), ("third", 0.334), ("tenth", 0.1)] {
                let mut chance = Chance::new(seed ^ 0xB4EA);
                let stretch = Stretch { from: chance.unit(), part };
                let by = (i64::from(chance.whole(20, 120)), i64::from(chance.whole(20, 120)));
                let made = broken::displaced(&own, stretch, by);
                let strength = broken::strength(&own, &made, stretch);
                if strength < 2.0 {
                    continue;
                }
                let found = judged(&art::tile(made), style.ground);
                breaks.entry(format!("{name}         {kind:8} {}", style.name)).or_default().add(held(&found));
                if held(&found) {
                    placed.add(touches(&found, stretch, width as u32));
                } else if verbose {
                    println!(
                        "MISSED {name} {} seed {seed} {width}x{height} strength {strength:.1} {:?}{}",
                        style.name,
                        found.joins_as,
                        detail(&found)
                    );
                }
            }
            if style.kind != Kind::Regular {
                for levels in [2.0, 4.0, 8.0] {
                    let made = broken::ramp(&own, levels);
                    let found = judged(&art::tile(made), style.ground);
                    breaks
                        .entry(format!("ramp {levels}        {kind:8} {}", style.name))
                        .or_default()
                        .add(held(&found));
                    if verbose && !held(&found) {
                        println!(
                            "MISSED ramp {levels} {} seed {seed} {width}x{height} {:?}{}",
                            style.name,
                            found.joins_as,
                            detail(&found)
                        );
                    }
                }
            }
        }
    }
    let (mut of, mut hit) = (0, 0);
    println!("\nfalse alarms on sound tiles");
    for (style, count) in &sounds {
        if count.hit > 0 {
            println!("  {style:16} {} of {}", count.hit, count.of);
        }
        of += count.of;
        hit += count.hit;
    }
    println!(
        "  all styles       {hit} of {of}; upper 95 % bound about {:.3} %; advice {advice}",
        300.0 * (hit as f64 + if hit > 0 { 2.0 } else { 0.0 }).max(1.0) / of as f64 / if hit > 0 { 3.0 } else { 1.0 }
    );
    println!("\nfound");
    for (name, count) in &breaks {
        println!("  {name:40} {:3} of {:3}", count.hit, count.of);
    }
    println!("  boxes touch the break: {} of {}", placed.hit, placed.of);
}
