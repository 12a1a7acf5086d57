//! The stray unit rule on drawn tiles, by hand: `cargo run --profile ground --example unit_ground -- FIRST LAST` over a range
//! of seeds, or `-- FILES` for what it says of files.
//!
//! Prints false alarms on sound tiles of every style (also moved on the torus, and through JPEG) and how many stray units are
//! found, in the right place and with the right move, by strength.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::{STYLES, broken, stray};
use burler::codec::{self, Limits};
use burler::finding::{Area, Finding};
use burler::pipeline::{check::unit, lattice};
use burler::pixel::mask::Mask;
use burler::spec::{Ground, Repeat};
use burler::tile::Tile;
use std::collections::BTreeMap;
use std::time::Instant;

fn told(tile: &Tile, ground: Ground) -> Option<Finding> {
    unit::judge(tile, &lattice::find(tile, ground), &Mask::default()).finding
}

fn touches(finding: &Finding, truth: Area) -> bool {
    let meet = |a: u32, long: u32, b: u32, other: u32| a < b + other && b < a + long;
    finding.boxes.iter().any(|b| meet(b.x, b.width, truth.x, truth.width) && meet(b.y, b.height, truth.y, truth.height))
}

fn file(path: &str) -> Result<(), Box<dyn std::error::Error>> {
    let bytes = std::fs::read(path)?;
    let tile = codec::decode(&bytes, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
    let timed = |start: Instant| start.elapsed().as_secs_f64() * 1e3;
    let start = Instant::now();
    let lattice = lattice::find(&tile, Ground::Opaque);
    let sought = timed(start);
    let start = Instant::now();
    let found = unit::judge(&tile, &lattice, &Mask::default());
    let took = timed(start);
    println!(
        "{path}: lattice {sought:.2} ms, unit {took:.2} ms, {:?} nearly {:?}",
        lattice.unit,
        lattice.nearly.map(|nearly| nearly.map(|known| known.by))
    );
    if let Some(finding) = found.finding {
        println!("  {} {:?}", finding.says, finding.boxes);
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let seeds: Vec<u64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let &[first, last] = seeds.as_slice() else {
        return words.iter().try_for_each(|path| file(path));
    };
    let (mut sound, mut alarms) = (0, 0);
    let mut made: BTreeMap<(String, u32), [usize; 4]> = BTreeMap::new();
    for seed in first..last {
        let mut tiles = vec![("field", Ground::Opaque, stray::field(seed, None).0)];
        for style in STYLES {
            let (width, height) = art::sides(seed);
            tiles.push((style.name, style.ground, art::drawn(style, Repeat::Block, seed, width, height)));
        }
        for (name, ground, raster) in &tiles {
            let jpeg = codec::picture::encode_jpeg(raster, 92, None)?;
            let jpeg = codec::decode(&jpeg, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
            let moved = broken::moved(raster, 37 + seed as i64 % 11, 101);
            let past = art::tile(jpeg.raster.clone());
            for tile in [art::tile(raster.clone()), art::tile(moved), jpeg, past] {
                sound += 1;
                if let Some(finding) = told(&tile, *ground) {
                    alarms += 1;
                    println!(
                        "FALSE {name} seed {seed} lossy {}: {} {:?}",
                        tile.meta.lossy, finding.says, finding.boxes
                    );
                }
            }
        }
        for strength in 0..4 {
            let (drawn, truth) = stray::field(seed, Some(strength));
            let mut changed: Vec<_> =
                truth.into_iter().map(|(area, by)| ("field", Ground::Opaque, drawn.clone(), area, Some(by))).collect();
            for (name, ground, raster) in &tiles {
                if let Some((out, area)) = stray::stray(raster, seed, strength) {
                    changed.push((name, *ground, out, area, None));
                }
            }
            for (name, ground, raster, area, by) in changed {
                let tile = art::tile(raster);
                let found = told(&tile, ground);
                let of = made.entry((name.into(), strength)).or_default();
                of[0] += 1;
                of[1] += usize::from(found.is_some());
                of[2] += usize::from(found.as_ref().is_some_and(|finding| touches(finding, area)));
                let far = by.map_or(0.0, |[x, y]| ((x * x + y * y) as f64).sqrt());
                let told =
                    found.as_ref().and_then(|finding| finding.measure.as_ref()).map_or(0.0, |measure| measure.value);
                of[3] += usize::from(by.is_none() || (told - far).abs() < 0.5);
                if found.is_none() {
                    let lattice = lattice::find(&tile, ground);
                    println!(
                        "MISS {name} {strength} seed {seed} {:?} unit {:?} nearly {:?} moves {:?} truth {area:?}",
                        tile.raster,
                        lattice.unit,
                        lattice.nearly.map(|nearly| nearly.map(|known| known.by)),
                        lattice.moves,
                    );
                }
            }
        }
    }
    println!("{alarms} false alarms on {sound} sound tiles, below {:.2} % at 95 %", 300.0 / f64::from(sound));
    for ((name, strength), [of, found, placed, right]) in made {
        println!("{name} {strength}: {found} of {of} found, {placed} placed, {right} with the right move");
    }
    Ok(())
}
