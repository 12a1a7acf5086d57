//! The lattice of drawn tiles beside a search by brute force, by hand: `cargo run --example lattice_ground -- FIRST LAST
//! [STYLE]` over a range of seeds, with what becomes of tiles some lines too large or too small; or `-- FILES` for what is found in given tiles and what it costs.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::chance::Chance;
use art::{STYLES, Style, broken};
use burler::codec::{self, Limits};
use burler::finding::{Kind, Verdict};
use burler::pipeline::check::joint;
use burler::pipeline::lattice::{self, Lattice};
use burler::spec::{Ground, Repeat};
use burler::tile::Raster;
use std::time::Instant;

/// All cyclic shifts that map a tile onto itself, up to two levels of rounding in few pixels.
fn shifts(raster: &Raster) -> Vec<[i64; 2]> {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let row = |y: usize| &raster.samples()[y % height * width * 4..][..width * 4];
    let alike = |right: usize, down: usize| {
        let mut unlike = 0;
        (0..height).all(|y| {
            let (p, q) = (row(y), row(y + down));
            let halves = [(&p[..(width - right) * 4], &q[right * 4..]), (&p[(width - right) * 4..], &q[..right * 4])];
            halves.iter().all(|(p, q)| {
                p == q
                    || p.iter().zip(*q).all(|(p, q)| {
                        unlike += usize::from(p != q);
                        p.abs_diff(*q) < 3 && unlike * 50 < width * height
                    })
            })
        })
    };
    let all = (0..height as i64).flat_map(|y| (0..width as i64).map(move |x| [x, y]));
    all.filter(|t| alike(t[0] as usize, t[1] as usize)).collect()
}

fn compare(name: &str, seed: u64, raster: &Raster, ground: Ground) -> bool {
    let tile = art::tile(raster.clone());
    let found: Lattice = lattice::find(&tile, ground);
    let truth = shifts(raster);
    let (width, height) = (raster.width(), raster.height());
    let right = match found.unit {
        None => truth.len() == 1 || found.ruled.is_some() || truth.len() as u32 == width * height,
        Some(unit) => {
            truth.iter().all(|t| unit.holds(*t))
                && unit.per_tile(width, height).is_some_and(|count| count as usize == truth.len())
        }
    };
    if !right {
        println!("{name} seed {seed} {width}x{height}: {} shifts, first {:?}; {found:?}", truth.len(), truth.get(1));
    }
    right
}

/// The upper left window of the block repeat: larger than the tile by lines that it begins with, or smaller.
fn sized(raster: &Raster, more: [i64; 2]) -> Raster {
    let (width, height) = (i64::from(raster.width()) + more[0], i64::from(raster.height()) + more[1]);
    let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    let rgba = places.flat_map(|(x, y)| raster.wrapped(x, y)).collect();
    Raster::new(width as u32, height as u32, rgba).expect("as many samples as pixels")
}

/// What the lattice rule alone says: held, and with which kinds.
fn judged(raster: &Raster, style: &Style) -> (bool, Vec<Kind>) {
    let tile = art::tile(raster.clone());
    let mut found = (vec![Repeat::Block], Vec::new());
    let lattice = lattice::find(&tile, style.ground);
    match joint::settled(&tile, style.ground, None, &lattice) {
        Some((joins_as, _)) => found.0 = joins_as,
        None => drop(joint::heed(&tile, style.ground, None, &lattice, &mut found.0, &mut found.1)),
    }
    let held = Verdict::over(&found.1) == Verdict::Held;
    (held, found.1.iter().map(|finding| finding.kind).collect())
}

#[derive(Default)]
struct Score {
    sound: u32,
    alarms: u32,
    wrong: u32,
    known: u32,
    held: u32,
    right_kind: u32,
}

impl Score {
    fn add(&mut self, style: &Style, seed: u64, raster: &Raster, say: bool) {
        let mut chance = Chance::new(seed ^ 0x1A77);
        for turn in 0..3 {
            let mut by = || i64::from(chance.whole(0, 5000));
            let raster = if turn == 0 { raster.clone() } else { broken::moved(raster, by(), by()) };
            let (held, kinds) = judged(&raster, style);
            self.sound += 1;
            self.alarms += u32::from(held);
            if held || !kinds.is_empty() && say {
                println!("ALARM {} seed {seed} turn {turn} held {held} {kinds:?}", style.name);
            }
            for lines in [-8, -3, -2, -1, 1, 2, 3, 8] {
                let more = if chance.odds(2) { [lines, 0] } else { [0, lines] };
                let made = sized(&raster, more);
                let lattice = lattice::find(&art::tile(made.clone()), style.ground);
                let (held, kinds) = judged(&made, style);
                let kind = if lines > 0 { Kind::JointDoubled } else { Kind::JointMissing };
                self.wrong += 1;
                self.known += u32::from(!lattice.moves.is_empty());
                self.held += u32::from(held);
                self.right_kind += u32::from(held && kinds.contains(&kind));
                if say && !lattice.moves.is_empty() && !(held && kinds.contains(&kind)) {
                    println!(
                        "MISSED {} seed {seed} turn {turn} {more:?} of {}x{}: held {held} {kinds:?} {:?} {:?}",
                        style.name,
                        made.width(),
                        made.height(),
                        lattice.unit,
                        lattice.moves.iter().map(|known| known.by).collect::<Vec<_>>()
                    );
                }
            }
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = arguments.iter().filter_map(|word| word.parse().ok()).collect();
    let [first, last] = numbers[..] else {
        for file in &arguments {
            let bytes = std::fs::read(file)?;
            let tile = codec::decode(&bytes, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())?;
            let mut times: Vec<f64> = (0..5)
                .map(|_| {
                    let start = Instant::now();
                    std::hint::black_box(lattice::find(&tile, Ground::Opaque));
                    start.elapsed().as_secs_f64() * 1e3
                })
                .collect();
            times.sort_by(f64::total_cmp);
            println!("{file}: {:.1} ms, {:?}", times[2], lattice::find(&tile, Ground::Opaque));
        }
        return Ok(());
    };
    let only = arguments.get(2);
    for style in STYLES.iter().filter(|style| only.is_none_or(|only| only == style.name)) {
        let (mut of, mut right, mut with) = (0, 0, 0);
        let mut score = Score::default();
        for seed in first..=last {
            let (width, height) = art::sides(seed);
            let raster = art::drawn(style, Repeat::Block, seed, width, height);
            of += 1;
            with += u32::from(lattice::find(&art::tile(raster.clone()), style.ground).unit.is_some());
            score.add(style, seed, &raster, only.is_some());
            right += u32::from(width * height > 200_000 || compare(style.name, seed, &raster, style.ground));
        }
        println!(
            "{:16} {right} of {of} right, {with} with a unit; alarms {} of {}; wrong sizes: held {} of {} ({} with moves), \
             right kind {}",
            style.name, score.alarms, score.sound, score.held, score.wrong, score.known, score.right_kind
        );
    }
    Ok(())
}
