//! The proving ground of twins: `cargo run --profile ground --example twins_ground -- FIRST COUNT [lines]`.
//!
//! Draws COUNT works from seed FIRST on, in every style, each with copies whose relation to it is known (moved, turned,
//! mirrored, scaled, laid otherwise, encoded anew, recolored, and several at once) and with lookalikes that are none (the same
//! style and size from another seed, one place edited, halves exchanged), and prints precision and recall for each kind.
//! Tune on some seeds and report on others. `-- search TILES` measures the search alone, over random and clustered signatures.
//!
//! The thing to beat: an ordinary perceptual hash finds transformed copies with precision .341 and recall .079 (pHash at
//! distance 10 or less on UKBench, as the manual of the open-source library imagededup reports).
#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]

#[path = "../art/mod.rs"]
mod art;

use art::chance::Chance;
use art::copies::{self, Copy};
use burler::archive::twins::groups::{Family, Grouping, Link, Member, Question};
use burler::pipeline::likeness::Likeness;
use burler::pipeline::likeness::relation::{Colors, Relation, Side, relation};
use burler::tile::Content;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::time::Instant;

/// What a tile is made from: the number of its work and of its colors; a lookalike is a work of its own.
struct Made {
    copy: Copy,
    kind: &'static str,
    work: usize,
    colors: usize,
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if words.first().is_some_and(|word| word == "search") {
        return search(words.get(1).and_then(|word| word.parse().ok()).unwrap_or(100_000));
    }
    let number = |at: usize, usual: u64| words.get(at).and_then(|word| word.parse().ok()).unwrap_or(usual);
    let (first, count) = (number(0, 7000), number(1, 100));
    let lines = words.iter().any(|word| word == "lines");
    let only: Option<&str> = words.iter().find_map(|word| word.strip_prefix("style="));
    let start = Instant::now();
    let made: Vec<Made> =
        (0..count as usize).into_par_iter().flat_map(|at| works(first + at as u64, at, only)).collect();
    println!("{} tiles of {count} works drawn in {:.1} s", made.len(), start.elapsed().as_secs_f64());
    let start = Instant::now();
    let likenesses: Vec<Likeness> = made
        .par_iter()
        .map(|made| Likeness::of(&made.copy.raster, made.copy.deep.as_ref(), &[made.copy.repeat]))
        .collect();
    println!("likenesses: {:.1} ms a tile and core", start.elapsed().as_secs_f64() * 2e3 / made.len() as f64);
    let members = (0..)
        .zip(&likenesses)
        .map(|(at, likeness): (usize, _)| Member { content: Content::of(&at.to_le_bytes()), likeness: Some(likeness) });
    let start = Instant::now();
    let mut grouping = Grouping::new(members.collect());
    println!("search: {:.2} s", start.elapsed().as_secs_f64());
    let (mut asked, mut denied, start) = (0, 0, Instant::now());
    while let Some(question) = grouping.question() {
        let answer = asked_of(&question, &made, &likenesses);
        asked += 1;
        denied += usize::from(answer.is_none());
        grouping.answer(answer);
    }
    println!(
        "{asked} pairs compared ({denied} in vain), {:.0} ms each",
        start.elapsed().as_secs_f64() * 1e3 / f64::from(asked.max(1))
    );
    tell(&made, &grouping.families(), [lines, words.iter().any(|word| word == "quick")], &likenesses);
}

/// The search alone: works of about three tiles each whose signatures lie as near as those of real copies.
fn search(count: usize) {
    use burler::pipeline::likeness::sign::{LENGTH, Sign};
    use burler::pipeline::likeness::{Look, Shades};
    let mut chance = Chance::new(1);
    let start = Instant::now();
    let mut all: Vec<Likeness> = Vec::with_capacity(count);
    // Waves of art fall off with their fineness, each work in its own way; strengths scatter as those of noise do.
    let fresh = |chance: &mut Chance| -> Vec<f32> {
        let (fall, width) = (chance.between(0.3, 1.4), chance.between(0.2, 1.0));
        let values: Vec<f32> =
            (0..LENGTH).map(|at| (1.0 + at as f32 / 8.0).powf(-fall) * (width * chance.normal()).exp()).collect();
        let total = values.iter().map(|v| v * v).sum::<f32>().sqrt();
        values.iter().map(|v| v / total * 255.0).collect()
    };
    while all.len() < count {
        let works = [fresh(&mut chance), fresh(&mut chance)];
        let work = all.len() as u32;
        for _ in 0..chance.whole(1, 5) {
            // Of colors of its own, so that none is met for these.
            let shades: [u8; 6] = std::array::from_fn(|_| chance.between(20.0, 235.0) as u8);
            let [drawing, tone] = works.each_ref().map(|values| {
                let noise = chance.between(0.0, 1.5);
                Sign(values.iter().map(|v| (v + noise * chance.normal()).clamp(0.0, 255.0).round() as u8).collect())
            });
            let looks = vec![Look { repeat: burler::spec::Repeat::Block, copies: [1; 2], tone, drawing }];
            all.push(Likeness { size: [work, 1], pixels: [0; 32], colors: Shades(shades), looks });
        }
    }
    let planted: Vec<(u32, u32)> = planted(&all);
    println!("{} signatures made in {:.1} s", all.len(), start.elapsed().as_secs_f64());
    let tiles: Vec<Option<&Likeness>> = all.iter().map(Some).collect();
    let start = Instant::now();
    let near = burler::archive::twins::index::near(&tiles);
    println!("search: {:.2} s, {} pairs", start.elapsed().as_secs_f64(), near.len());
    let found: std::collections::HashSet<(u32, u32)> = near.iter().map(|near| (near.one.0, near.other.0)).collect();
    let met = planted.iter().filter(|pair| found.contains(pair)).count();
    println!("{met} of {} copies that lie near met", planted.len());
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    status.lines().filter(|line| line.starts_with("VmHWM")).for_each(|line| println!("{line}"));
}

/// Copies of one work, which come one after another, whose drawings lie near.
fn planted(all: &[Likeness]) -> Vec<(u32, u32)> {
    let near = |a: &Likeness, b: &Likeness| a.looks[0].drawing.apart(&b.looks[0].drawing) <= 1500;
    let after = |at: usize| (at + 1..all.len()).take_while(move |&other| all[other].size == all[at].size);
    let pairs = (0..all.len()).flat_map(|at| after(at).map(move |other| (at, other)));
    pairs.filter(|&(a, b)| near(&all[a], &all[b])).map(|(a, b)| (a as u32, b as u32)).collect()
}

fn asked_of(question: &Question, made: &[Made], likenesses: &[Likeness]) -> Option<Relation> {
    let side = |at: usize, look: usize| {
        let look = &likenesses[at].looks[look];
        Side { raster: &made[at].copy.raster, repeat: look.repeat, copies: look.copies }
    };
    relation(side(question.one, question.looks[0]), side(question.other, question.looks[1]), question.plain)
}

/// A work with its copies and lookalikes.
fn works(seed: u64, at: usize, only: Option<&str>) -> Vec<Made> {
    let styles: Vec<&art::Style> = art::STYLES
        .iter()
        .filter(|style| style.name != "plain" && only.is_none_or(|only| style.name.replace(' ', "-") == only))
        .collect();
    let style = styles[at % styles.len()];
    let mut chance = Chance::new(seed ^ 0x7715);
    let base = copies::original(style, seed);
    let works = at * 100;
    let mut all = vec![Made { copy: base.clone(), kind: "original", work: works, colors: works }];
    for (kind, make, other_colors) in copies::KINDS {
        if let Some(copy) = make(style, seed, &base, &mut chance) {
            let colors = if *other_colors { works + all.len() } else { works };
            all.push(Made { copy, kind, work: works, colors });
        }
    }
    for (number, (kind, make)) in copies::LOOKALIKES.iter().enumerate() {
        if let Some(copy) = make(style, seed, &base, &mut chance) {
            let own = works + 50 + number;
            all.push(Made { copy, kind, work: own, colors: own });
        }
    }
    all
}

fn tell(made: &[Made], families: &[Family], [lines, quick]: [bool; 2], likenesses: &[Likeness]) {
    let mut family_of = vec![None; made.len()];
    let mut repeat_of = vec![None; made.len()];
    for (number, family) in families.iter().enumerate() {
        for (colorway, members) in family.colorways.iter().enumerate() {
            for &member in members {
                family_of[member] = Some(number);
                repeat_of[member] = Some((number, colorway));
            }
        }
    }
    // Claims: every pair that holds a family together.
    let (mut right, mut wrong, mut unplanned) = (0, 0, 0);
    for pair in families.iter().flat_map(|family| &family.pairs) {
        let (one, other) = (&made[pair.one], &made[pair.other]);
        let exchanged = matches!(pair.link, Link::Compared(Relation { colors: Colors::Exchanged, .. }));
        let holds = one.work == other.work && (exchanged != (one.colors == other.colors));
        // Two plain drawings can be equal by chance: that every pixel follows is proof without the truth of the maker.
        let proven = !holds && !quick && copies::follows(&one.copy, &other.copy);
        right += usize::from(holds);
        unplanned += usize::from(proven);
        wrong += usize::from(!holds && !proven);
        if lines && !holds {
            println!(
                "  {} {} {} - {} {}: {:?} {:?} {} waves",
                if proven { "unplanned" } else { "WRONG" },
                one.copy.name,
                one.kind,
                other.copy.name,
                other.kind,
                pair.link,
                [one.copy.raster.clone(), other.copy.raster.clone()],
                likenesses[pair.one].looks[0].drawing.waves(),
            );
        }
    }
    println!("precision: {right} right, {wrong} wrong, {unplanned} right without being planned");
    let mut kinds: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    let mut base = 0;
    for (at, tile) in made.iter().enumerate() {
        if tile.kind == "original" {
            base = at;
            continue;
        }
        if tile.work != made[base].work {
            continue;
        }
        let same = tile.colors == made[base].colors;
        let found = if same {
            repeat_of[at].is_some() && repeat_of[at] == repeat_of[base]
        } else {
            family_of[at].is_some() && family_of[at] == family_of[base] && repeat_of[at] != repeat_of[base]
        };
        let counts = kinds.entry(tile.kind).or_default();
        counts[0] += usize::from(found);
        counts[1] += 1;
        if lines && !found {
            let apart = |sign: fn(&burler::pipeline::likeness::Look) -> &burler::pipeline::likeness::sign::Sign| {
                let pairs =
                    likenesses[at].looks.iter().flat_map(|a| likenesses[base].looks.iter().map(move |b| (a, b)));
                pairs.map(|(a, b)| sign(a).apart(sign(b))).min()
            };
            println!(
                "  missed {} {} {:?}: drawing {:?} colors {:?}, copies {:?} {:?}",
                tile.copy.name,
                tile.kind,
                tile.copy.raster,
                apart(|look| &look.drawing),
                apart(|look| &look.tone),
                likenesses[base].looks.iter().map(|look| look.copies).collect::<Vec<_>>(),
                likenesses[at].looks.iter().map(|look| look.copies).collect::<Vec<_>>(),
            );
        }
    }
    let (mut found, mut all) = (0, 0);
    for (kind, counts) in &kinds {
        println!("  {kind:<28} {:>5} of {:>5}  {:.3}", counts[0], counts[1], counts[0] as f64 / counts[1] as f64);
        found += counts[0];
        all += counts[1];
    }
    println!("recall: {found} of {all}, {:.4}", found as f64 / all.max(1) as f64);
}
