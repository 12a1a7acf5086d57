//! What each stage costs on given tiles, warm, in one process: `cargo run --release --example stages -- FILES`.
//!
//! Prints the median of several rounds in milliseconds. Run by hand, on an idle machine, pinned to one core for
//! single-thread figures; quote ratios against something run beside it, not the milliseconds.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

use burler::codec::{self, Limits};
use burler::pipeline::check::{self, alpha, joint};
use burler::pipeline::{Order, Wants, mend, mockup, run};
use burler::spec::{Ground, Repeat, Spec};
use burler::tile::{Content, Tile};
use std::hint::black_box;
use std::time::Instant;

const ROUNDS: usize = 5;

fn median(mut work: impl FnMut()) -> f64 {
    work();
    let mut times: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[ROUNDS / 2]
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let limits = Limits::default();
    let (spec, settings) = (Spec::default(), mockup::Settings::default());
    for file in std::env::args().skip(1) {
        let bytes = std::fs::read(&file)?;
        let tile = codec::decode(&bytes, &limits, Vec::new()).map_err(|refusal| refusal.says())?;
        println!("{file}: {} x {}, {:.2} MB", tile.raster.width(), tile.raster.height(), bytes.len() as f64 / 1e6);
        let tell = |stage: &str, ms: f64| println!("  {stage:<24}{ms:9.1} ms");

        tell(
            "hash",
            median(|| {
                black_box(Content::of(&bytes));
            }),
        );
        let mut memory = Vec::new();
        tell(
            "decode",
            median(|| {
                if let Ok(tile) = codec::decode(&bytes, &limits, std::mem::take(&mut memory)) {
                    memory = tile.raster.into_samples();
                }
            }),
        );
        tell("alpha", median(|| drop(black_box(alpha::survey(&tile, spec.ground)))));
        tell("joints", median(|| drop(black_box(joint::judge(&tile, Ground::Opaque, None)))));
        tell("all checks", median(|| drop(black_box(check::judge(&tile, &spec)))));
        let survey = alpha::survey(&tile, spec.ground);
        if let Some(mended) = mend::mend(&tile, &survey) {
            tell("mend", median(|| drop(black_box(mend::mend(&tile, &survey)))));
            tell("lay the mend", median(|| drop(black_box(mended.raster(&tile)))));
            let changed = Tile { raster: mended.raster(&tile), ..tile.clone() };
            tell("encode", median(|| drop(black_box(codec::encode_mended(&bytes, &changed, None)))));
        } else {
            tell("encode", median(|| drop(black_box(codec::encode_mended(&bytes, &tile, None)))));
        }
        tell(
            "repeat picture",
            median(|| drop(black_box(mockup::repeat::picture(&tile.raster, Repeat::Block, Some(300.0), &settings)))),
        );
        tell(
            "strike-off",
            median(|| {
                drop(black_box(mockup::strike_off::picture(
                    &tile.raster,
                    Repeat::Block,
                    [300.0; 2],
                    "tile",
                    &settings,
                )));
            }),
        );
        let wants = Wants { mend: true, mockups: true, held: true, ..Wants::default() };
        let order = Order { name: "tile", spec: &spec, wants, mockup: &settings, limits: &limits, let_pass: None };
        let mut memory = Vec::new();
        tell("whole pipeline", median(|| memory = run(&bytes, &order, std::mem::take(&mut memory)).reuse));
    }
    Ok(())
}
