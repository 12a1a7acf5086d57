//! How well faults are told from intent, by hand: `cargo run --release --example scoreboard -- FIRST LAST [SIDE] [WORDS]`.
//!
//! Judges spoiled and sound tiles of every style at the seeds from FIRST to LAST (SIDE px each way, else mostly 600).
//! Words: `markdown` prints the table of the README, `all` makes every strength at every seed instead of one in turn,
//! `lines` also prints a line for each miss and wrong name, `style=NAME`, `fault=NAME|NAME`, `sound` and `spoiled` (only such
//! tiles) ask for less.
#![expect(clippy::print_stdout, clippy::print_stderr, reason = "figures are the program's answer, progress is not")]

#[path = "../art/mod.rs"]
mod art;
mod score;

use art::fault::MAKERS;
use rayon::prelude::*;
use score::{Board, Count, Item, Sound};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

struct Wish {
    first: u64,
    last: u64,
    side: Option<usize>,
    markdown: bool,
    all: bool,
    lines: bool,
    sound: bool,
    spoiled: bool,
    style: Option<String>,
    fault: Option<String>,
}

impl Wish {
    fn read(words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut numbers = Vec::new();
        let (mut markdown, mut all, mut lines, mut sound, mut spoiled) = (false, false, false, false, false);
        let (mut style, mut fault) = (None, None);
        for word in words {
            match word.split_once('=') {
                Some(("style", name)) => style = Some(name.to_owned()),
                Some(("fault", name)) => fault = Some(name.to_owned()),
                _ => match word.as_str() {
                    "markdown" => markdown = true,
                    "all" => all = true,
                    "lines" => lines = true,
                    "sound" => sound = true,
                    "spoiled" => spoiled = true,
                    _ => numbers
                        .push(word.parse::<u64>().map_err(|_| format!("`{word}` is no number and no word I know"))?),
                },
            }
        }
        let [first, last, ..] = numbers[..] else { return Err("say the first and the last seed".into()) };
        let side = numbers.get(2).map(|side| *side as usize);
        Ok(Self { first, last, side, markdown, all, lines, sound, spoiled, style, fault })
    }
}

fn main() -> Result<(), String> {
    let wish = Wish::read(std::env::args().skip(1))?;
    let start = Instant::now();
    let items: Vec<Item> = (wish.first..=wish.last)
        .flat_map(|seed| Item::all(seed, wish.side))
        .filter(|item| wish.style.as_ref().is_none_or(|style| item.style.name == style))
        .collect();
    let done = AtomicUsize::new(0);
    let board = items
        .par_iter()
        .map(|item| {
            let board = item.scored(!wish.spoiled, |maker| {
                let asked = |faults: &String| faults.split('|').any(|fault| MAKERS[maker].name.contains(fault));
                if wish.sound || wish.fault.as_ref().is_some_and(|faults| !asked(faults)) {
                    return Vec::new();
                }
                if wish.all { (0..4).collect() } else { vec![((item.seed + maker as u64) % 4) as usize] }
            });
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            if done.is_multiple_of(items.len().div_ceil(20)) {
                eprintln!("{} of {} drawings, {:.0} s", done, items.len(), start.elapsed().as_secs_f64());
            }
            board
        })
        .reduce(Board::default, Board::merge);
    if wish.markdown {
        markdown(&board);
    } else {
        text(&board);
    }
    let tiles = board.cells.values().map(|cell| cell.found.of).sum::<u64>() + board.alarms_over(|_, _| true).of;
    println!("\n{tiles} tiles of {} drawings, seeds {} to {}", items.len(), wish.first, wish.last);
    eprintln!("{:.0} s on {} threads", start.elapsed().as_secs_f64(), rayon::current_num_threads());
    let mut lines = board.alarms.clone();
    if wish.lines {
        lines.extend(board.misses.iter().cloned());
    }
    lines.sort();
    lines.iter().for_each(|line| println!("{line}"));
    Ok(())
}

fn percent(count: Count) -> String {
    count.percent().map_or_else(|| "-".into(), |share| format!("{share:.0}"))
}

fn text(board: &Board) {
    println!(
        "{:37}{:20}{:>6}{:>7}{:>9}{:>6}{:>8}{:>6}",
        "fault", "strength", "made", "found", "verdict", "kind", "placed", "size"
    );
    for ((maker, strength), cell) in &board.cells {
        println!(
            "{:37}{:20}{:>6}{:>7}{:>9}{:>6}{:>8}{:>6}",
            MAKERS[*maker].name,
            MAKERS[*maker].strengths[*strength],
            cell.found.of,
            percent(cell.found),
            percent(cell.verdict),
            percent(cell.kind),
            percent(cell.placed),
            percent(cell.sized)
        );
    }
    println!("(in percent: found and verdict of those made; kind, placed and size of those found)");
    println!("\nmissed most, by style");
    for (at, maker) in MAKERS.iter().enumerate() {
        let mut styles: Vec<(&str, Count)> = board
            .by_style
            .iter()
            .filter(|((of, _), _)| *of == at)
            .map(|((_, style), count)| (*style, *count))
            .collect();
        styles.retain(|(_, count)| count.hit < count.of);
        styles.sort_by_key(|(style, count)| (count.hit as i64 - count.of as i64, *style));
        let list: Vec<String> = styles
            .iter()
            .take(9)
            .map(|(style, count)| format!("{style} {}/{}", count.of - count.hit, count.of))
            .collect();
        println!("  {:37}{}", maker.name, list.join(", "));
    }
    println!("\ntaken for something else");
    for ((maker, kind), count) in &board.taken_for {
        println!("  {maker:37}{:18}{count}", kind.name());
    }
    println!("\nfalse alarms on sound tiles (one-sided upper 95 % bound after Clopper and Pearson)");
    for (sort, count) in sorts(board) {
        println!("  {:37}{:>4} of {:<6} below {:.2} %", sort.name(), count.hit, count.of, count.upper_bound());
    }
    for (name, through) in [("all without a JPEG past", false), ("all with a JPEG past", true)] {
        let count = board.alarms_over(|_, sort| sort.through_jpeg() == through);
        println!("  {name:37}{:>4} of {:<6} below {:.2} %", count.hit, count.of, count.upper_bound());
    }
    println!("by style");
    for style in art::STYLES {
        let drawn = board.alarms_over(|name, sort| name == style.name && !sort.through_jpeg());
        let jpeg = board.alarms_over(|name, sort| name == style.name && sort.through_jpeg());
        if drawn.hit + jpeg.hit > 0 {
            println!(
                "  {:37}{:>4} of {:<6} below {:.2} %; JPEG past {} of {}",
                style.name,
                drawn.hit,
                drawn.of,
                drawn.upper_bound(),
                jpeg.hit,
                jpeg.of
            );
        }
    }
    for (style, count) in board.layout.iter().filter(|(_, count)| count.hit > 0) {
        println!("  {style:37}{:>4} of {:<6} not said to join as they do", count.hit, count.of);
    }
    for (name, counts) in [("exact moves found", &board.lattice), ("a repeat invented", &board.invented)] {
        let lacks = |count: &Count| if name.starts_with("exact") { count.hit < count.of } else { count.hit > 0 };
        let styles: Vec<String> = counts
            .iter()
            .filter(|(_, count)| lacks(count))
            .map(|(style, count)| format!("{style} {}/{}", count.hit, count.of))
            .collect();
        let sum = total(counts);
        println!("smallest repeat: {name} {} of {} {}", sum.hit, sum.of, styles.join(", "));
    }
    let advice: Vec<String> = board.advice.iter().map(|(kind, count)| format!("{kind} {count}")).collect();
    println!("told as advice on sound tiles: {}", advice.join(", "));
}

fn total(counts: &BTreeMap<&'static str, Count>) -> Count {
    counts.values().fold(Count::default(), |sum, count| Count { of: sum.of + count.of, hit: sum.hit + count.hit })
}

fn sorts(board: &Board) -> BTreeMap<Sound, Count> {
    let sorts: std::collections::BTreeSet<Sound> = board.sound.keys().map(|(_, sort)| *sort).collect();
    sorts.into_iter().map(|sort| (sort, board.alarms_over(|_, other| other == sort))).collect()
}

fn markdown(board: &Board) {
    println!(
        "| fault, from barely visible to gross | tiles | found, % | right verdict, % | right kind, % | placed, % |"
    );
    println!("|---|---|---|---|---|---|");
    for (at, maker) in MAKERS.iter().enumerate() {
        let cells: Vec<_> =
            board.cells.iter().filter(|((of, _), _)| *of == at).map(|((_, s), cell)| (*s, *cell)).collect();
        if cells.is_empty() {
            continue;
        }
        let of: u64 = cells.iter().map(|(_, cell)| cell.found.of).sum();
        let each = |what: fn(&score::Cell) -> Count| {
            cells.iter().map(|(_, cell)| percent(what(cell))).collect::<Vec<_>>().join(" · ")
        };
        let strengths: Vec<_> = cells.iter().map(|(strength, _)| maker.strengths[*strength]).collect();
        println!(
            "| {}: {} | {of} | {} | {} | {} | {} |",
            maker.name,
            strengths.join(" · "),
            each(|cell| cell.found),
            each(|cell| cell.verdict),
            each(|cell| cell.kind),
            each(|cell| cell.placed)
        );
    }
    println!("\n| sound tiles | false alarms | of | upper 95 % bound |");
    println!("|---|---|---|---|");
    let row = |name: &str, count: Count| {
        println!("| {name} | {} | {} | {:.2} % |", count.hit, count.of, count.upper_bound());
    };
    sorts(board).into_iter().for_each(|(sort, count)| row(sort.name(), count));
    row("all without a JPEG past", board.alarms_over(|_, sort| !sort.through_jpeg()));
    row("all with a JPEG past", board.alarms_over(|_, sort| sort.through_jpeg()));
    row("a smaller repeat invented", total(&board.invented));
    let exact = total(&board.lattice);
    println!("\nThe smallest repeat is found exactly in {} of {} tiles that hold one.", exact.hit, exact.of);
}
