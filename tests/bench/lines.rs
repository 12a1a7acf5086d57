//! The line rule on drawn tiles, by hand: `cargo run --profile ground --example line_ground -- FIRST LAST [STYLE [SIDE]]` over seeds,
//! or `-- FILES...` for what it says of pictures and how long that takes.
//!
//! Prints what it says of sound art (also moved on the torus, also through JPEG) with the upper 95 % bound, and how many
//! flattened lines it finds by style, strength and lay.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::chance::Chance;
use art::flattened::{self, Flattened, SHOWS};
use art::{Style, broken};
use burler::codec::{self, Limits};
use burler::finding::Grade;
use burler::pipeline::check::line;
use burler::spec::{Ground, Repeat};
use burler::tile::Tile;
use std::collections::BTreeMap;
use std::time::Instant;

#[derive(Default)]
struct Count {
    of: usize,
    fault: usize,
    advice: usize,
}

impl Count {
    /// Adds a judged tile; answers whether anything was told.
    fn add(&mut self, tile: &Tile) -> bool {
        let told = line::judge(tile, Ground::Opaque).findings;
        let fault = told.iter().any(|finding| finding.grade == Grade::Fault);
        self.of += 1;
        self.fault += usize::from(fault);
        self.advice += usize::from(!fault && !told.is_empty());
        !told.is_empty()
    }
}

fn told(tile: &Tile) -> String {
    let findings = line::judge(tile, Ground::Opaque).findings;
    findings.iter().map(|f| format!("{:?}: {} {:?}; ", f.grade, f.says, f.measure.as_ref().map(|m| m.value))).collect()
}

fn sides(seed: u64) -> (usize, usize) {
    if seed.is_multiple_of(3) { (600, 600) } else { art::sides(seed) }
}

/// The tile through a JPEG.
fn saved(tile: &Tile) -> Option<Tile> {
    let bytes = codec::picture::encode_jpeg(&tile.raster, 92, Some(300.0)).ok()?;
    codec::decode(&bytes, &Limits::default(), Vec::new()).ok()
}

/// A seed that differs from style to style.
fn mixed(style: &Style, seed: u64) -> u64 {
    style.name.bytes().fold(seed, |all, byte| all.wrapping_mul(257).wrapping_add(byte.into()))
}

/// Whether the boxes touch the line, and what share of the line's pixels lies in them.
fn placed(made: &Flattened, tile: &Tile) -> (bool, f64) {
    let (width, most) = (tile.raster.width(), made.mask.iter().copied().max().unwrap_or(0));
    let boxes: Vec<_> =
        line::judge(tile, Ground::Opaque).findings.into_iter().flat_map(|finding| finding.boxes).collect();
    let (mut on, mut held) = (0, 0);
    for (at, shows) in made.mask.iter().enumerate() {
        if 2 * u32::from(*shows) >= u32::from(most.max(1)) {
            let (x, y) = (at as u32 % width, at as u32 / width);
            on += 1;
            held += u32::from(
                boxes.iter().any(|b| (b.x..b.x + b.width).contains(&x) && (b.y..b.y + b.height).contains(&y)),
            );
        }
    }
    (held > 0, f64::from(held) / f64::from(on.max(1)))
}

fn files(names: &[String]) {
    for name in names {
        let Ok(bytes) = std::fs::read(name) else { continue };
        let Ok(tile) = codec::decode(&bytes, &Limits::default(), Vec::new()) else { continue };
        let mut times: Vec<f64> = (0..5)
            .map(|_| {
                let start = Instant::now();
                let _ = std::hint::black_box(line::judge(&tile, Ground::Opaque));
                start.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let (width, height) = (tile.raster.width(), tile.raster.height());
        println!("{name}: {width} x {height}, {:.1} ms (least {:.1}) {}", times[2], times[0], told(&tile));
        if std::env::var_os("LINES").is_some() {
            for of in line::lines(&tile) {
                let c = &of.course;
                println!(
                    "  {:?} {}..{} at {:.1} slope {:.3} half {} width {:.2} wobble {:.2} agree {:.2}/{:.2} strength {:.0}/{:.0} n {} {:.2?}",
                    of.scan,
                    c.stretch.from,
                    c.stretch.to,
                    c.stretch.at,
                    c.stretch.slope,
                    c.half,
                    c.width,
                    c.wobble,
                    c.agreeing,
                    c.agreeing_beside,
                    c.strength,
                    c.noise,
                    c.samples.len(),
                    of.opinion
                );
            }
        }
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = arguments.iter().take(2).filter_map(|a| a.parse().ok()).collect();
    let [first, last] = numbers[..] else { return files(&arguments) };
    let only = arguments.get(2).map_or("", String::as_str);
    let large: Option<usize> = arguments.get(3).and_then(|side| side.parse().ok());
    let verbose = arguments.len() > 4;
    let mut sound: BTreeMap<(&str, &str), Count> = BTreeMap::new();
    let mut made_of: BTreeMap<String, [usize; 4]> = BTreeMap::new();
    let (mut touched, mut found, mut covered) = (0_usize, 0_u32, 0.0);
    let opaque = art::STYLES.iter().filter(|style| style.ground == Ground::Opaque);
    for style in opaque.filter(|style| only.is_empty() || style.name == only) {
        for seed in first..=last {
            let (width, height) = large.map_or_else(|| sides(seed), |side| (side, side));
            let unit = large.map_or(1.0, |side| side as f32 / 600.0);
            let raster = art::drawn_large(style, Repeat::Block, seed, width, height, unit);
            let mut chance = Chance::new(seed ^ 0xABCD);
            let move_by = |chance: &mut Chance| (i64::from(chance.whole(0, 600)), i64::from(chance.whole(0, 600)));
            let (right, down) = move_by(&mut chance);
            let tile = art::tile(raster.clone());
            let jpeg = saved(&tile);
            let moved = art::tile(broken::moved(&raster, right, down));
            for (what, tile) in [("drawn", Some(&tile)), ("moved", Some(&moved)), ("jpeg", jpeg.as_ref())] {
                let Some(tile) = tile else { continue };
                if sound.entry((what, style.name)).or_default().add(tile) {
                    println!("FALSE {what} {} seed {seed}: {}", style.name, told(tile));
                }
            }
            for strength in 0..SHOWS.len() {
                let made = flattened::flattened(&raster, mixed(style, seed), strength);
                let tile = art::tile(made.raster.clone());
                let mut count = Count::default();
                let hit = count.add(&tile);
                let seen = made.visible();
                for row in [
                    format!("{strength} all styles"),
                    format!("{strength} {}", style.name),
                    format!("{strength} lay {:?}", made.lay),
                    format!("{strength} wide {}", made.wide),
                    format!(
                        "{strength} paper {}",
                        if made.paper[0] == made.paper[1] && (made.paper[0] as u8).is_multiple_of(255) {
                            "white or black"
                        } else {
                            "of the tile"
                        }
                    ),
                ] {
                    let row = made_of.entry(row).or_default();
                    row[0] += 1;
                    row[1] += usize::from(seen);
                    row[2] += usize::from(seen && count.fault > 0);
                    row[3] += usize::from(seen && count.advice > 0);
                }
                if hit {
                    let (touches, share) = placed(&made, &tile);
                    found += 1;
                    touched += usize::from(touches);
                    covered += share;
                } else if seen && verbose {
                    println!(
                        "MISSED {} seed {seed} {width}x{height} strength {strength} {:?} wide {} paper {:?} difference {:.1} around {:.1}: {:?}",
                        style.name,
                        made.lay,
                        made.wide,
                        made.paper,
                        made.difference,
                        made.around,
                        line::lines(&tile)
                            .iter()
                            .map(|l| format!("{:?}", l.opinion))
                            .collect::<std::collections::BTreeSet<_>>()
                    );
                }
            }
        }
    }
    println!("\nsound art told of");
    for ((what, style), count) in &sound {
        if count.fault + count.advice > 0 {
            println!("  {what} {style}: {} faults, {} advice of {}", count.fault, count.advice, count.of);
        }
    }
    for what in ["drawn", "moved", "jpeg"] {
        let all = sound.iter().filter(|((of, _), _)| *of == what).map(|(_, count)| count);
        let (of, fault, advice) =
            all.fold((0_usize, 0_usize, 0_usize), |sum, c| (sum.0 + c.of, sum.1 + c.fault, sum.2 + c.advice));
        // The rule of three (Hanley and Lippman-Hand, JAMA 249, 1983), and a little above the exact bound for few.
        let bound = 100.0 * (3.0 + 2.0 * fault as f64) / of.max(1) as f64;
        println!("  all {what}: {fault} faults (upper 95 % bound about {bound:.2} %), {advice} advice of {of}");
    }
    println!("\nflattened lines: made, of these visible, of these held, of these advice");
    for (row, [made, seen, fault, advice]) in &made_of {
        println!("  {row:28} {made:4} {seen:4} {fault:4} {advice:4}");
    }
    println!(
        "  told: {found}, boxes touch the line in {touched}, hold {:.1} % of it",
        100.0 * covered / f64::from(found.max(1))
    );
}
