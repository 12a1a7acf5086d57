//! Held pictures of drawn faults, to be looked at: `cargo run --profile ground --example pictures -- FOLDER SEED`.
//!
//! Writes one picture for every maker of faults, at the strength that SEED chooses, in a style that shows the fault.
#![expect(clippy::print_stdout, reason = "the list of pictures is the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::fault::{Case, MAKERS};
use art::{STYLES, drawn};
use burler::finding::Verdict;
use burler::pipeline::check;
use burler::pipeline::mockup::held::{HeldView, picture};
use burler::spec::Repeat;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let (Some(folder), Some(seed)) = (words.next(), words.next()) else {
        return Err("name a folder and a seed".into());
    };
    let seed: u64 = seed.parse()?;
    std::fs::create_dir_all(&folder)?;
    for (at, maker) in MAKERS.iter().enumerate() {
        let styles = STYLES.iter().cycle().skip((seed as usize * 7 + at * 11) % STYLES.len()).take(STYLES.len());
        for style in styles {
            let sound = drawn(style, Repeat::Block, seed ^ style.number(), 900, 900);
            let strength = (seed as usize + at) % 4;
            let Some(faulty) = (maker.make)(&Case { style, seed, unit: 1.0, sound: &sound }, strength) else {
                continue;
            };
            let tile = art::tile(faulty.raster);
            let judgment = check::judge(&tile, &faulty.spec);
            if judgment.verdict != Verdict::Held {
                continue;
            }
            let repeat = judgment.layout(&faulty.spec);
            let (findings, spec) = (&judgment.findings, &faulty.spec);
            let view = HeldView { tile: &tile, name: style.name, findings, repeat, spec, let_pass: true };
            let name = format!("{at:02}-{}.png", maker.name.replace([' ', ','], "-"));
            std::fs::write(Path::new(&folder).join(&name), picture(&view)?)?;
            println!("{name}: {} in {}", maker.strengths[strength], style.name);
            break;
        }
    }
    Ok(())
}
