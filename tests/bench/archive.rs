//! An archive for benchmarks: `cargo run --profile ground --example archive_ground -- FOLDER COUNT [SIDE] [FULL] [planted]`.
//!
//! Draws COUNT sound tiles of SIDE pixels (300 when not said), mixed styles, spread over a dozen subfolders, and FULL tiles of
//! 3600 pixels (none when not said); the same words draw the same bytes. Of 1,000 tiles and more only every tenth drawing is
//! new: the others are moved on their torus and lightened by a step, so that each content is one of its own. With `planted`
//! the tiles are works with twins, colorways and lookalikes, and the truth about them is written to FOLDER.truth.csv;
//! `night.py` sweeps such an archive and measures everything. By hand:
//!
//! ```text
//! burler sweep FOLDER --no-mend               first inspection, ledger included
//! burler sweep FOLDER --no-mend               nothing to do
//! burler sweep FOLDER --no-mend --full        everything read again
//! ```
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;
#[path = "planted.rs"]
mod planted;

use burler::codec::picture::encode_png;
use burler::spec::Repeat;
use burler::tile::Raster;
use rayon::prelude::*;
use std::fs;
use std::path::PathBuf;

/// Subfolders, as a designer's collections.
const COLLECTIONS: u64 = 12;
/// Tiles made of one drawing.
const OF_ONE: u64 = 10;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let (flags, words): (Vec<String>, Vec<String>) = std::env::args().skip(1).partition(|word| word == "planted");
    let number = |at: usize, default: u64| words.get(at).map_or(Ok(default), |word| word.parse());
    let folder = PathBuf::from(words.first().ok_or("say FOLDER COUNT [SIDE] [FULL]")?);
    let (count, side, full) = (number(1, 2000)?, number(2, 300)? as usize, number(3, 0)?);
    for collection in 0..COLLECTIONS {
        fs::create_dir_all(folder.join(format!("collection-{collection:02}")))?;
    }
    let of_one = if count >= 1000 { OF_ONE } else { 1 };
    let drawings = (0..count.div_ceil(of_one)).into_par_iter();
    let small: u64 = match flags.is_empty() {
        true => drawings.map(|seed| tiles(&folder, seed, of_one, count, side)).sum::<Result<u64, String>>()?,
        false => planted::draw(&folder, count, side, COLLECTIONS)?,
    };
    let large: u64 =
        (0..full).map(|seed| one(&folder, 1_000_000 + seed, 3600, 0, "full")).sum::<Result<u64, String>>()?;
    println!(
        "{count} tiles of {side} px, {:.1} MB; {full} of 3600 px, {:.1} MB",
        small as f64 / 1e6,
        large as f64 / 1e6
    );
    Ok(())
}

fn tiles(folder: &std::path::Path, seed: u64, of_one: u64, count: u64, side: usize) -> Result<u64, String> {
    (0..of_one).filter(|n| seed * of_one + n < count).map(|n| one(folder, seed, side, n, "tile")).sum()
}

/// One tile: the drawing of a seed, moved on its torus. Yields its bytes.
fn one(folder: &std::path::Path, seed: u64, side: usize, variant: u64, name: &str) -> Result<u64, String> {
    // Styles without a see-through ground, as most of an archive is.
    let styles: Vec<_> = art::STYLES.iter().filter(|style| style.ground == burler::spec::Ground::Opaque).collect();
    let style = styles[(seed % styles.len() as u64) as usize];
    let drawn = art::drawn(style, Repeat::Block, seed, side, side);
    let (dx, dy) = (variant as u32 * 37, variant as u32 * 23);
    let moved: Vec<u8> = (0..side as u32)
        .flat_map(|y| (0..side as u32).map(move |x| (x, y)))
        .flat_map(|(x, y)| {
            let [r, g, b, a] = drawn.wrapped(i64::from(x + dx), i64::from(y + dy));
            // A step of light in one channel: another content, the same art.
            [r, g, b ^ (variant as u8 & 1), a]
        })
        .collect();
    let raster = Raster::new(side as u32, side as u32, moved).ok_or("no picture")?;
    let bytes = encode_png(&raster, Some(300.0)).map_err(|error| error.to_string())?;
    let collection = (seed + variant) % COLLECTIONS;
    let file = folder.join(format!("collection-{collection:02}/{name}-{seed:06}-{variant}.png"));
    fs::write(&file, &bytes).map_err(|error| format!("{}: {error}", file.display()))?;
    Ok(bytes.len() as u64)
}
