//! The joint rules on drawn tiles, by hand: `cargo run --profile ground --example joint_ground -- FIRST LAST [STYLE]
//! [WHAT] [verbose]` over a range of seeds.
//!
//! Prints per style the false alarms on sound tiles (each also moved on the torus) with their upper 95 % bound, and per
//! kind of fault, style and strength: found (told), held, and named as what it is. WHAT is one of sound, break, ramp,
//! shift, lines, drift, or a letter list of them; `-` stands for all.
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::broken::{self, Stretch};
use art::chance::Chance;
use art::{Kind, STYLES, Style, joints as makers};
use burler::finding::{Grade, Kind as Fault, Verdict};
use burler::pipeline::check::joint::{self, Joints};
use burler::spec::{Ground, Repeat};
use burler::tile::{Raster, Tile};
use rayon::prelude::*;
use std::collections::BTreeMap;

const MOVES: u64 = 8;

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
        .map(|f| {
            let measure = f.measure.as_ref().map(|m| (&m.name, m.value, m.limit));
            format!("{:?} {} {} | {measure:?}", f.grade, f.kind, f.says)
        })
        .collect::<Vec<_>>()
        .join(" || ")
}

/// Per joint the standing and how far each statistic is toward its limit.
fn detail(joints: &Joints) -> String {
    let seams = joints.seams.iter().filter(|seam| seam.divisor == 1).map(|seam| {
        let readings =
            seam.readings.iter().map(|r| format!("{:?} {:.2}/{:.2}<{:.2}", r.statistic, r.joint, r.inside, r.limit));
        format!("\n    {:?}/{} {:?} {}", seam.axis, seam.divisor, seam.standing, readings.collect::<Vec<_>>().join(" "))
    });
    seams.collect()
}

/// What came of one style and seed.
#[derive(Default)]
struct Outcome {
    sound: (usize, usize),
    advice: usize,
    /// Per fault: told, held, right kind, of.
    faults: BTreeMap<String, [usize; 4]>,
    placed: [usize; 2],
    lines: Vec<String>,
}

struct Round {
    style: &'static Style,
    seed: u64,
    what: String,
    verbose: bool,
}

impl Round {
    fn wants(&self, what: &str) -> bool {
        self.what == "-" || self.what.is_empty() || self.what.contains(what)
    }

    fn run(&self) -> Outcome {
        let mut outcome = Outcome::default();
        if self.wants("sound") {
            self.sound(&mut outcome);
        }
        let (style, seed) = (self.style, self.seed);
        let (width, height) = art::sides(seed);
        let own = art::drawn(style, Repeat::Block, seed, width, height);
        let name = |what: &str| format!("{what:12} {:8} {}", format!("{:?}", style.kind), style.name);
        if self.wants("break") {
            let cropped = broken::crop(style, seed, width, height, 1.0);
            self.fault(&mut outcome, &name("crop"), cropped, &[Fault::JointBreak], None);
            for (what, part) in [("whole", 1.0), ("third", 0.334), ("tenth", 0.1)] {
                let mut chance = Chance::new(seed ^ 0xB4EA);
                let stretch = Stretch { from: chance.unit(), part };
                let by = (i64::from(chance.whole(20, 120)), i64::from(chance.whole(20, 120)));
                let made = broken::displaced(&own, stretch, by);
                if broken::strength(&own, &made, stretch) >= 2.0 {
                    self.fault(&mut outcome, &name(what), made, &[Fault::JointBreak], Some(stretch));
                }
            }
        }
        if self.wants("ramp") && style.kind != Kind::Regular {
            for levels in [2.0, 4.0, 8.0] {
                let made = broken::ramp(&own, levels);
                self.fault(&mut outcome, &name(&format!("ramp {levels}")), made, &[Fault::JointDrift], None);
            }
        }
        if self.wants("shift") {
            for by in [1, 2, 3, 8] {
                let made = makers::sheared(&own, if seed % 2 == 0 { by } else { -by });
                if broken::strength(&own, &made, Stretch { from: 0.0, part: 1.0 }) >= 0.5 {
                    self.fault(&mut outcome, &name(&format!("shift {by}")), made, &[Fault::JointShift], None);
                }
            }
        }
        if self.wants("lines") {
            for lines in [1, 2, 3, 6] {
                let made = makers::doubled(&own, lines);
                self.fault(&mut outcome, &name(&format!("doubled {lines}")), made, &[Fault::JointDoubled], None);
                let made = makers::missing(&own, lines);
                self.fault(&mut outcome, &name(&format!("missing {lines}")), made, &[Fault::JointMissing], None);
            }
        }
        if self.wants("drift") {
            for percent in [2, 4, 8, 16] {
                let made = makers::lightened(&own, percent as f32 / 100.0);
                let strength = broken::strength(&own, &made, Stretch { from: 0.0, part: 1.0 });
                if strength >= 0.5 {
                    self.fault(&mut outcome, &name(&format!("drift {percent:2} %")), made, &[Fault::JointDrift], None);
                }
            }
        }
        outcome
    }

    fn fault(&self, outcome: &mut Outcome, name: &str, raster: Raster, kinds: &[Fault], place: Option<Stretch>) {
        let (width, height) = (raster.width(), raster.height());
        let found = judged(&art::tile(raster), self.style.ground);
        let count = outcome.faults.entry(name.into()).or_default();
        let (is_told, is_held) = (!found.findings.is_empty(), held(&found));
        let named = found.findings.iter().any(|f| kinds.contains(&f.kind));
        for (count, add) in count.iter_mut().zip([is_told, is_held, named, true]) {
            *count += usize::from(add);
        }
        if let (Some(stretch), true) = (place, is_held) {
            outcome.placed[0] += usize::from(touches(&found, stretch, width));
            outcome.placed[1] += 1;
        }
        if self.verbose && !(is_told && named) {
            outcome.lines.push(format!(
                "{} {name} seed {} {width}x{height} {:?} {}{}",
                if is_told { "MISNAMED" } else { "MISSED" },
                self.seed,
                found.joins_as,
                told(&found),
                detail(&found)
            ));
        }
    }

    fn sound(&self, outcome: &mut Outcome) {
        let (style, seed) = (self.style, self.seed);
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
                outcome.sound.0 += usize::from(alarm);
                outcome.sound.1 += 1;
                outcome.advice += found.findings.iter().filter(|f| f.grade == Grade::Advice).count();
                if alarm || (self.verbose && !found.findings.is_empty()) {
                    outcome.lines.push(format!(
                        "FALSE {} seed {seed} {width}x{height} {repeat} turn {turn}: {:?} {}",
                        style.name,
                        found.joins_as,
                        told(&found) + &if self.verbose { detail(&found) } else { String::new() }
                    ));
                }
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
    let word = |at: usize| arguments.get(at).cloned().unwrap_or_default();
    let (only, what, verbose) = (word(3), word(4), arguments.get(5).is_some());
    let wanted = |style: &&Style| only.is_empty() || only == "-" || only.split(',').any(|name| name == style.name);
    let rounds: Vec<Round> = STYLES
        .iter()
        .filter(wanted)
        .flat_map(|style| {
            let what = &what;
            (first..=last).map(move |seed| Round { style, seed, what: what.clone(), verbose })
        })
        .collect();
    let outcomes: Vec<(&Round, Outcome)> = rounds.par_iter().map(|round| (round, round.run())).collect();
    let mut sounds: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut faults: BTreeMap<&str, [usize; 4]> = BTreeMap::new();
    let (mut of_kind, mut placed, mut advice): (BTreeMap<String, [usize; 4]>, _, _) = (BTreeMap::new(), [0, 0], 0);
    for (round, outcome) in &outcomes {
        outcome.lines.iter().for_each(|line| println!("{line}"));
        let sound = sounds.entry(round.style.name).or_default();
        *sound = (sound.0 + outcome.sound.0, sound.1 + outcome.sound.1);
        for (name, more) in &outcome.faults {
            for counts in [faults.entry(name).or_default(), of_kind.entry(name[..21].into()).or_default()] {
                counts.iter_mut().zip(more).for_each(|(count, more)| *count += more);
            }
        }
        placed.iter_mut().zip(outcome.placed).for_each(|(placed, more)| *placed += more);
        advice += outcome.advice;
    }
    let (hit, of) = sounds.values().fold((0, 0), |sum, count| (sum.0 + count.0, sum.1 + count.1));
    println!("\nfalse alarms on sound tiles");
    for (style, count) in sounds.iter().filter(|(_, count)| count.0 > 0) {
        println!("  {style:16} {} of {}", count.0, count.1);
    }
    // Poisson: 3 for none, else about n + 2 sqrt(n) + 2.
    let most = if hit == 0 { 3.0 } else { hit as f64 + 2.0 * (hit as f64).sqrt() + 2.0 };
    println!(
        "  all styles       {hit} of {of}; upper 95 % bound about {:.3} %; advice {advice}",
        100.0 * most / of.max(1) as f64
    );
    println!("\n                                      told held named  of");
    for (name, [told, held, named, of]) in faults.iter().map(|(n, c)| (*n, c)) {
        println!("  {name:36} {told:4} {held:4} {named:4} {of:4}");
    }
    println!("\nin all");
    for (name, [told, held, named, of]) in &of_kind {
        println!("  {name:36} {told:4} {held:4} {named:4} {of:4}");
    }
    println!("  boxes touch the break: {} of {}", placed[0], placed[1]);
}
