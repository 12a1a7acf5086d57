//! The color and glare rules on drawn tiles, by hand: `cargo run --profile ground --example color_ground -- FIRST LAST`
//! over a range of seeds, or `-- FILES` for what they say of files and what they cost.
//!
//! Prints per style what is told of sound tiles (as drawn, moved on the torus, and through JPEG), and how many of the
//! changes of `art::colors` are found, in the right place, by strength.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::{STYLES, broken, colors};
use burler::codec::{self, Limits};
use burler::finding::{Area, Finding, Kind};
use burler::pipeline::check::{color, glare};
use burler::spec::Spec;
use burler::tile::{Raster, Tile};
use std::collections::BTreeMap;
use std::hint::black_box;
use std::time::Instant;

fn told(tile: &Tile, spec: &Spec) -> Vec<Finding> {
    let mut findings = color::judge(tile, spec).findings;
    findings.extend(glare::judge(tile, spec).finding);
    findings
}

fn touches(finding: &Finding, truth: Area) -> bool {
    let meet = |a: u32, long: u32, b: u32, other: u32| a < b + other && b < a + long;
    finding.boxes.iter().any(|b| meet(b.x, b.width, truth.x, truth.width) && meet(b.y, b.height, truth.y, truth.height))
}

#[derive(Default)]
struct Count([usize; 3]);

type Maker = fn(&Raster, u64, u32) -> Option<(Raster, Area)>;

fn file(path: &str) -> Result<(), Box<dyn std::error::Error>> {
    let bytes = std::fs::read(path)?;
    let tile = codec::decode(&bytes, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
    println!("{path}");
    let free = Spec::default();
    let limited = Spec { colors: Some(6), ..Spec::default() };
    for (name, spec) in [("no order sheet", &free), ("at most 6 colors", &limited)] {
        let mut times: Vec<f64> = (0..9)
            .map(|_| {
                let start = Instant::now();
                black_box(color::judge(&tile, spec));
                start.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        println!("  {name}: {:.2} ms", times[4]);
        let start = Instant::now();
        black_box(glare::judge(&tile, spec));
        println!("  stripes: {:.2} ms", start.elapsed().as_secs_f64() * 1e3);
        for finding in told(&tile, spec) {
            println!("    {} {:?}: {}; {}", finding.kind, finding.grade, finding.says, finding.boxes.len());
        }
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let seeds: Vec<u64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let &[first, last] = seeds.as_slice() else {
        return words.iter().try_for_each(|path| file(path));
    };
    let mut sound: BTreeMap<(&str, Kind), Count> = BTreeMap::new();
    let mut made: BTreeMap<(&str, u32), Count> = BTreeMap::new();
    let (mut tiles, mut flat_tiles, mut count_wrong) = (0, 0, 0);
    for seed in first..last {
        for style in STYLES {
            let (width, height) = art::sides(seed);
            let raster = art::drawn(style, burler::spec::Repeat::Block, seed, width, height);
            tiles += 1;
            let jpeg = codec::picture::encode_jpeg(&raster, 92, None)?;
            let jpeg = codec::decode(&jpeg, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
            let past = art::tile(jpeg.raster.clone());
            let moved = art::tile(broken::moved(&raster, 37 + seed as i64 % 11, 101));
            for (i, tile) in [&art::tile(raster.clone()), &moved, &jpeg, &past].into_iter().enumerate() {
                for finding in told(tile, &Spec::default()) {
                    let of = sound.entry((style.name, finding.kind)).or_default();
                    of.0[i.min(2)] += 1;
                    println!("SOUND {} seed {seed} variant {i} {}: {}", style.name, finding.kind, finding.says);
                }
            }
            if !colors::is_flat(&raster) {
                continue;
            }
            flat_tiles += 1;
            let limit = colors::flat_colors(&raster).len() as u32;
            let spec = Spec { colors: Some(limit), ..Spec::default() };
            for finding in told(&art::tile(raster.clone()), &spec).iter().filter(|f| f.kind == Kind::ColorCount) {
                count_wrong += 1;
                println!("COUNT {} seed {seed} limit {limit}: {}", style.name, finding.says);
            }
            let makers: [(&str, Kind, &Spec, Maker); 3] = [
                ("extra", Kind::ColorCount, &spec, colors::extra),
                ("twins", Kind::ColorTwins, &Spec::default(), colors::twins),
                ("stray", Kind::ColorStray, &Spec::default(), colors::stray),
            ];
            for (name, kind, spec, make) in makers {
                for strength in 0..4 {
                    let Some((changed, truth)) = make(&raster, seed, strength) else { continue };
                    let findings = told(&art::tile(changed), spec);
                    let hit = findings.iter().find(|finding| finding.kind == kind);
                    let of = made.entry((name, strength)).or_default();
                    of.0[0] += 1;
                    of.0[1] += usize::from(hit.is_some());
                    of.0[2] += usize::from(hit.is_some_and(|finding| touches(finding, truth)));
                    if hit.is_none() {
                        println!("MISS {name} {strength} {} seed {seed}", style.name);
                    }
                }
            }
        }
    }
    println!("{tiles} tiles, {flat_tiles} of them flat, {count_wrong} counted wrongly");
    for ((style, kind), Count([drawn, moved, jpeg])) in sound {
        println!("told of sound {style}: {kind} {drawn}, moved {moved}, through JPEG {jpeg}");
    }
    for ((name, strength), Count([of, found, placed])) in made {
        println!("{name} {strength}: {found} of {of} found, {placed} placed");
    }
    Ok(())
}
