//! Turning at print size, by hand: `cargo run --profile ground --example turn_ground -- [FILES] [FIRST LAST]`.
//!
//! With two seeds, draws square tiles of every style at the seeds from FIRST to LAST and turns those that are sound by 45 degrees, on
//! their canvas and at their scale: how many of the turned tiles this program's own inspector calls sound, how many have a
//! pixel that is not opaque though the tile had none, and which styles are refused. Without seeds:
//!
//! Draws a two-color twill of 3600 x 3600 px by its formula, turns it, and compares every pixel with 16 x 16 samples of the
//! formula on the turned plane, averaged in light: mean and worst CIEDE2000, and how many pixels are not opaque. Then turns
//! the files given, and prints how long that takes.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::STYLES;
use burler::codec::{self, Limits, picture};
use burler::finding::Verdict;
use burler::pipeline::check;
use burler::pipeline::companion::{self, Source};
use burler::pipeline::turn::{Turned, turn};
use burler::pixel::difference::ciede2000;
use burler::pixel::light::{decode, encode};
use burler::spec::wish::{Angle, Turn, Wish};
use burler::spec::{Repeat, Spec};
use burler::tile::{Channels, Content, Format, Meta, Profile, Raster, Tile};
use rayon::iter::Either;
use rayon::prelude::*;
use std::ops::RangeInclusive;
use std::time::Instant;

const SIDE: u32 = 3600;
const THREAD: f64 = 25.0;
const INKS: [[u8; 4]; 2] = [[34, 58, 94, 255], [238, 228, 207, 255]];

fn twill(x: f64, y: f64) -> usize {
    let (column, row) = ((x / THREAD).floor() as i64, (y / THREAD).floor() as i64);
    usize::from((column - row).rem_euclid(4) < 2)
}

fn drawn() -> Option<Tile> {
    let pixels = (0..SIDE).flat_map(|y| (0..SIDE).map(move |x| (f64::from(x) + 0.5, f64::from(y) + 0.5)));
    let raster = Raster::new(SIDE, SIDE, pixels.flat_map(|(x, y)| INKS[twill(x, y)]).collect())?;
    let meta = Meta {
        format: Format::Png,
        bytes: 0,
        channels: Channels::Rgba,
        bit_depth: 8,
        resolution: None,
        profile: Profile::Untagged,
        interlaced: false,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Some(Tile { raster, deep: None, meta, content: Content::of(b"") })
}

/// The color of a turned pixel by 16 x 16 samples of the formula.
fn sampled(turned: &Turned, x: u32, y: u32) -> [u8; 3] {
    let (sin, cos) = turned.degrees.to_radians().sin_cos();
    let mut count = [0.0; 2];
    for i in 0..16 {
        for j in 0..16 {
            let (u, v) =
                (f64::from(x) + (f64::from(i) + 0.5) / 16.0 - 0.5, f64::from(y) + (f64::from(j) + 0.5) / 16.0 - 0.5);
            let (u, v) = ((u * cos + v * sin) / turned.scale, (v * cos - u * sin) / turned.scale);
            count[twill(u + 0.5, v + 0.5)] += 1.0 / 256.0;
        }
    }
    [0, 1, 2].map(|i| {
        let light = |ink: usize| count[ink] * decode(f64::from(INKS[ink][i]) / 255.0);
        (encode(light(0) + light(1)) * 255.0).round() as u8
    })
}

fn compared(turned: &Turned) -> (f64, f64, usize) {
    let raster = &turned.tile.raster;
    let rows = (0..raster.height()).into_par_iter().map(|y| {
        (0..raster.width()).fold((0.0, 0.0_f64, 0), |(sum, worst, clear), x| {
            let [r, g, b, alpha] = raster.pixel(x, y);
            let wanted = sampled(turned, x, y);
            let off = if wanted == [r, g, b] { 0.0 } else { ciede2000([r, g, b], wanted) };
            (sum + off, worst.max(off), clear + usize::from(alpha < 255))
        })
    });
    let add = |a: (f64, f64, usize), b: (f64, f64, usize)| (a.0 + b.0, a.1.max(b.1), a.2 + b.2);
    let (sum, worst, clear) = rows.reduce(|| (0.0, 0.0, 0), add);
    (sum / f64::from(raster.width()) / f64::from(raster.height()), worst, clear)
}

fn timed(tile: &Tile, wish: &Turn) -> Result<Turned, Box<dyn std::error::Error>> {
    let start = Instant::now();
    let turned = turn(tile, Repeat::Block, wish, &Limits::default())?;
    let seconds = start.elapsed().as_secs_f64();
    let (width, height) = (turned.tile.raster.width(), turned.tile.raster.height());
    let Turned { degrees, scale, units, .. } = &turned;
    println!("  {width} x {height} px, {degrees:.4} degrees, scale {scale:.6}, {units} repeats: {seconds:.2} s");
    Ok(turned)
}

/// Turns drawn tiles; prints how many come out sound.
fn proving(seeds: RangeInclusive<u64>, wishes: &[Turn]) -> Result<(), Box<dyn std::error::Error>> {
    let drawings: Vec<_> = STYLES.iter().flat_map(|style| seeds.clone().map(move |seed| (style, seed))).collect();
    let turned = drawings.par_iter().flat_map_iter(|(style, seed)| {
        // A turn by 45 degrees closes on few pixels where the sides are equal.
        let (side, _) = art::sides(*seed);
        let raster = art::drawn(style, Repeat::Block, *seed, side, side);
        let spec = Spec { repeat: Some(Repeat::Block), ..Spec::default() };
        let bytes = picture::encode_png(&raster, Some(300.0)).unwrap_or_default();
        let judged =
            codec::decode(&bytes, &Limits::default(), Vec::new()).ok().map(|tile| (check::judge(&tile, &spec), tile));
        wishes.iter().filter_map(move |wish| {
            let (judgment, tile) = judged.as_ref().filter(|(judgment, _)| judgment.verdict == Verdict::Sound)?;
            let source = Source { bytes: &bytes, tile, judgment, spec: &spec };
            let opaque = |tile: &Tile| tile.raster.samples().chunks_exact(4).all(|pixel| pixel[3] == 255);
            Some(match companion::make(source, &Wish::Turn(*wish), &Limits::default()) {
                Ok((file, _)) => {
                    let copy = codec::decode(&file, &Limits::default(), Vec::new());
                    Ok(copy.is_ok_and(|copy| opaque(tile) && !opaque(&copy)))
                }
                Err(why) => Err(format!("{}, seed {seed}, {side} px: {why}", style.name)),
            })
        })
    });
    let (made, refused): (Vec<bool>, Vec<String>) = turned.partition_map(|one| match one {
        Ok(leaks) => Either::Left(leaks),
        Err(why) => Either::Right(why),
    });
    let leaks = made.iter().filter(|leaks| **leaks).count();
    println!(
        "{} turned tiles are sound, {leaks} of them with pixels no longer opaque; not made: {}",
        made.len(),
        refused.len()
    );
    refused.iter().for_each(|why| println!("  {why}"));
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let wish = |by, keep_scale| Angle::parse(by).map(|by| Turn { by, size: None, keep_scale, palette_only: false });
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [first, last] = words.iter().filter_map(|word| word.parse::<u64>().ok()).collect::<Vec<_>>()[..] {
        return proving(first..=last, &[wish("45", false)?, wish("45", true)?]);
    }
    let tile = drawn().ok_or("no tile")?;
    for wish in [wish("45", false)?, wish("2:1", false)?] {
        println!("twill of {SIDE} px");
        let turned = timed(&tile, &wish)?;
        let (mean, worst, clear) = compared(&turned);
        println!("  against 16 x 16 samples: mean CIEDE2000 {mean:.4}, worst {worst:.2}, not opaque {clear}");
    }
    for file in words {
        println!("{file}");
        let bytes = std::fs::read(&file)?;
        let tile = codec::decode(&bytes, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
        for wish in [wish("45", false)?, wish("45", true)?] {
            timed(&tile, &wish)?;
        }
    }
    Ok(())
}
