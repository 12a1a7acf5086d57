//! Scoring: spoiled tiles of every sort and sound ones of every sort, judged without an order, held against their truth.
#![allow(dead_code, reason = "the scoreboard and the test of a fixed slice each use their part")]

use crate::art::chance::Chance;
use crate::art::fault::{Case, Faulty, MAKERS};
use crate::art::moves::{self, Moves};
use crate::art::past::{self, Save};
use crate::art::{self, STYLES, Style, broken};
use burler::finding::{Area, Finding, Grade, Kind, Verdict};
use burler::pipeline::check::{self, Judgment};
use burler::pipeline::lattice;
use burler::spec::{Ground, Repeat, Spec};
use burler::tile::{Raster, Tile};
use std::collections::BTreeMap;

/// Of how many something held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Count {
    pub of: u64,
    pub hit: u64,
}

impl Count {
    pub fn add(&mut self, hit: bool) {
        self.of += 1;
        self.hit += u64::from(hit);
    }

    fn merge(&mut self, other: Self) {
        self.of += other.of;
        self.hit += other.hit;
    }

    /// The share in percent; nothing of nothing is nothing.
    pub fn percent(self) -> Option<f64> {
        (self.of > 0).then(|| 100.0 * self.hit as f64 / self.of as f64)
    }

    /// The one-sided upper 95 % bound of the share in percent (Clopper and Pearson, Biometrika 26(4), 1934): the share at
    /// which so few hits or fewer come in one of twenty series. For no hit it is about 3 / n.
    pub fn upper_bound(self) -> f64 {
        if self.of == 0 || self.hit == self.of {
            return 100.0;
        }
        let (mut low, mut high) = (self.hit as f64 / self.of as f64, 1.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if at_most(self.hit, self.of, middle) > 0.05 { low = middle } else { high = middle }
        }
        100.0 * high
    }
}

/// The chance of at most `hits` of `of` at a share.
fn at_most(hits: u64, of: u64, share: f64) -> f64 {
    let mut log_term = of as f64 * (1.0 - share).ln();
    let mut sum = log_term.exp();
    for k in 0..hits {
        log_term += ((of - k) as f64 / (k + 1) as f64).ln() + (share / (1.0 - share)).ln();
        sum += log_term.exp();
    }
    sum
}

/// What became of the tiles of one maker at one strength.
#[derive(Clone, Copy, Default)]
pub struct Cell {
    /// Made, and told of at least as gravely as is right.
    pub found: Count,
    pub verdict: Count,
    /// Of those found: named rightly, a box on the fault and boxes that do not bury it, the size within one pixel.
    pub kind: Count,
    pub placed: Count,
    pub sized: Count,
}

/// Sorts of sound tiles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sound {
    AsDrawn,
    Moved,
    OneRepeat,
    FullBlock,
    Jpeg,
    PngOfJpeg,
}

impl Sound {
    pub fn name(self) -> &'static str {
        match self {
            Self::AsDrawn => "as drawn",
            Self::Moved => "moved on the torus",
            Self::OneRepeat => "one repeat of a drop or brick",
            Self::FullBlock => "drop or brick as a full block",
            Self::Jpeg => "JPEG, quality 60 to 95",
            Self::PngOfJpeg => "PNG saved from a JPEG",
        }
    }

    pub fn through_jpeg(self) -> bool {
        matches!(self, Self::Jpeg | Self::PngOfJpeg)
    }
}

/// All that was counted.
#[derive(Default)]
pub struct Board {
    /// By maker and strength.
    pub cells: BTreeMap<(usize, usize), Cell>,
    /// By maker and style: found.
    pub by_style: BTreeMap<(usize, &'static str), Count>,
    /// By style and sort: alarms.
    pub sound: BTreeMap<(&'static str, Sound), Count>,
    /// By style: sound tiles that are not said to join as they do.
    pub layout: BTreeMap<&'static str, Count>,
    /// By style: tiles that hold a smaller repeat exactly, and of how many its moves are found exactly.
    pub lattice: BTreeMap<&'static str, Count>,
    /// By style: tiles that hold none, and for how many one is invented.
    pub invented: BTreeMap<&'static str, Count>,
    /// Findings that are only told, on sound tiles, by kind.
    pub advice: BTreeMap<Kind, u64>,
    /// Of grave findings: which kind is taken for which.
    pub taken_for: BTreeMap<(&'static str, Kind), u64>,
    /// What went wrong, one line each.
    pub alarms: Vec<String>,
    pub misses: Vec<String>,
}

impl Board {
    pub fn merge(mut self, other: Self) -> Self {
        for (key, cell) in other.cells {
            let own = self.cells.entry(key).or_default();
            own.found.merge(cell.found);
            own.verdict.merge(cell.verdict);
            own.kind.merge(cell.kind);
            own.placed.merge(cell.placed);
            own.sized.merge(cell.sized);
        }
        other.by_style.into_iter().for_each(|(key, count)| self.by_style.entry(key).or_default().merge(count));
        other.sound.into_iter().for_each(|(key, count)| self.sound.entry(key).or_default().merge(count));
        other.layout.into_iter().for_each(|(key, count)| self.layout.entry(key).or_default().merge(count));
        other.lattice.into_iter().for_each(|(key, count)| self.lattice.entry(key).or_default().merge(count));
        other.invented.into_iter().for_each(|(key, count)| self.invented.entry(key).or_default().merge(count));
        other.advice.into_iter().for_each(|(key, count)| *self.advice.entry(key).or_default() += count);
        other.taken_for.into_iter().for_each(|(key, count)| *self.taken_for.entry(key).or_default() += count);
        self.alarms.extend(other.alarms);
        self.misses.extend(other.misses);
        self
    }

    /// The alarms over some sorts of sound tiles.
    pub fn alarms_over(&self, which: impl Fn(&'static str, Sound) -> bool) -> Count {
        let mut sum = Count::default();
        self.sound.iter().filter(|((style, sort), _)| which(style, *sort)).for_each(|(_, count)| sum.merge(*count));
        sum
    }
}

/// One style at one seed.
#[derive(Clone, Copy)]
pub struct Item {
    pub style: &'static Style,
    pub seed: u64,
    pub width: usize,
    pub height: usize,
    pub unit: f32,
}

impl Item {
    /// Every style at a seed. Most tiles are about 600 px, some from 200 to 1800; a side that is asked for goes for all.
    pub fn all(seed: u64, side: Option<usize>) -> impl Iterator<Item = Self> {
        const SIDES: [usize; 12] = [600, 600, 600, 600, 600, 600, 604, 480, 331, 720, 900, 200];
        STYLES.iter().enumerate().map(move |(at, style)| {
            let mut chance = Chance::new(seed ^ 0x51DE ^ (at as u64) << 32);
            let (mut width, mut height) = (*chance.pick(&SIDES), *chance.pick(&SIDES));
            // Large tiles hold larger motifs or more of them.
            let large = chance.odds(40);
            if large {
                (width, height) = (*chance.pick(&[1200, 1500, 1800]), *chance.pick(&[1200, 1500, 1800]));
            }
            (width, height) = side.map_or((width, height), |side| (side, side));
            let fitting = (width.min(height) as f32 / 600.0).max(1.0);
            let unit = if chance.odds(2) { fitting } else { 1.0 };
            Self { style, seed, width, height, unit }
        })
    }

    fn called(self) -> String {
        let Self { style, seed, width, height, unit } = self;
        format!("{} seed {seed} {width}x{height} unit {unit:.1}", style.name)
    }

    fn drawn(self, repeat: Repeat) -> Raster {
        art::drawn_large(self.style, repeat, self.seed, self.width, self.height, self.unit)
    }

    /// Draws, spoils and judges everything there is at this style and seed; `strengths` says which of a maker are made, and
    /// `sound` whether sound tiles are judged as well.
    pub fn scored(self, sound: bool, strengths: impl Fn(usize) -> Vec<usize>) -> Board {
        let mut board = Board::default();
        let own = self.drawn(Repeat::Block);
        if sound {
            self.score_sound(&mut board, &own);
            self.score_lattice(&mut board, &own);
        }
        let case = Case { style: self.style, seed: self.seed, unit: self.unit, sound: &own };
        for (at, maker) in MAKERS.iter().enumerate() {
            for strength in strengths(at) {
                if let Some(faulty) = (maker.make)(&case, strength) {
                    self.score(&mut board, (at, strength), faulty);
                }
            }
        }
        board
    }

    fn score_sound(self, board: &mut Board, own: &Raster) {
        let mut chance = Chance::new(self.seed ^ 0xABCD ^ self.style.number() << 32);
        self.alarm(board, Sound::AsDrawn, &art::tile(own.clone()), Repeat::Block, "");
        // A line along the border is a frame there and a line anywhere else.
        if self.style.name != "frame" {
            let by = (i64::from(chance.whole(1, own.width() - 1)), i64::from(chance.whole(1, own.height() - 1)));
            self.alarm(
                board,
                Sound::Moved,
                &art::tile(broken::moved(own, by.0, by.1)),
                Repeat::Block,
                &format!("by {by:?}"),
            );
        }
        if self.style.free {
            let repeat = *chance.pick(&[Repeat::HalfDrop, Repeat::Brick, Repeat::ThirdDrop, Repeat::QuarterDrop]);
            let round = Self { width: self.width / 12 * 12, height: self.height / 12 * 12, ..self };
            if chance.odds(2) {
                self.alarm(board, Sound::OneRepeat, &art::tile(round.drawn(repeat)), repeat, "");
            } else {
                // Half a block of art, and the whole block of it.
                let mut canvas = match repeat {
                    Repeat::Brick => art::canvas_for(repeat, round.width, round.height / 2),
                    _ => art::canvas_for(Repeat::HalfDrop, round.width / 2, round.height),
                };
                canvas.unit = self.unit;
                (self.style.draw)(&mut Chance::new(self.seed), &mut canvas);
                self.alarm(board, Sound::FullBlock, &art::tile(canvas.raster()), Repeat::Block, repeat.name());
            }
        }
        if self.style.ground == Ground::Opaque {
            let save = Save::any(&mut chance);
            if chance.odds(2) {
                self.alarm(board, Sound::Jpeg, &past::through_jpeg(own, save), Repeat::Block, &format!("{save:?}"));
            } else {
                self.alarm(
                    board,
                    Sound::PngOfJpeg,
                    &past::through_jpeg_to_png(own, save),
                    Repeat::Block,
                    &format!("{save:?}"),
                );
            }
        }
    }

    fn score_lattice(self, board: &mut Board, own: &Raster) {
        let truth = Moves::of(own);
        // What runs one way only comes again along itself wherever rounding lets it: there is no unit to be right about.
        if truth.per_tile() > 1 && ["slanted stripes", "gradient"].contains(&self.style.name) {
            return;
        }
        let found = lattice::find(&art::tile(own.clone()), self.style.ground).unit;
        // Edges drawn between pixels come again with another rounding: a repeat up to that is no invention.
        let rounded = found.is_some_and(|unit| moves::nearly(own, unit.a) && moves::nearly(own, unit.b));
        let right = if truth.discrete() && truth.per_tile() > 1 {
            let exact = found.is_some_and(|unit| truth.spanned_by(unit.a, unit.b));
            let finer = rounded && found.is_some_and(|unit| unit.area() * truth.per_tile() as u64 <= own_area(own));
            board.lattice.entry(self.style.name).or_default().add(exact || finer);
            exact || finer
        } else {
            let invented = found.is_some() && !rounded;
            board.invented.entry(self.style.name).or_default().add(invented);
            !invented
        };
        if !right {
            board.alarms.push(format!("LATTICE {}: {} per tile, but {found:?}", self.called(), truth.per_tile()));
        }
    }

    fn alarm(self, board: &mut Board, sort: Sound, tile: &Tile, repeat: Repeat, how: &str) {
        let judgment = check::judge(tile, &Spec::default());
        let alarm = judgment.verdict != Verdict::Sound;
        board.sound.entry((self.style.name, sort)).or_default().add(alarm);
        // What is held joins in no layout that matters.
        let joins = alarm || judgment.joins_as.contains(&repeat);
        board.layout.entry(self.style.name).or_default().add(!joins);
        for finding in judgment.findings.iter().filter(|finding| finding.grade == Grade::Advice) {
            *board.advice.entry(finding.kind).or_default() += 1;
        }
        if alarm || !joins {
            let what = if alarm { "ALARM" } else { "LAYOUT" };
            board.alarms.push(format!("{what} {} {} {how} {repeat}: {}", self.called(), sort.name(), told(&judgment)));
        }
    }

    fn score(self, board: &mut Board, (at, strength): (usize, usize), faulty: Faulty) {
        let maker = &MAKERS[at];
        let Faulty { raster, kind, or, verdicts, truth, size, spec } = faulty;
        let judgment = check::judge(&art::tile(raster), &spec);
        let family = |finding: &&Finding| {
            let of = |kind: Kind| kind.name().split('.').next().map(str::to_owned);
            of(finding.kind) == of(kind)
        };
        let told_only = verdicts.contains(&Verdict::Sound);
        let found = if told_only {
            judgment.verdict != Verdict::Sound || judgment.findings.iter().any(|finding| family(&finding))
        } else {
            gravity(judgment.verdict) >= verdicts.iter().map(|v| gravity(*v)).min().unwrap_or(0)
        };
        let cell = board.cells.entry((at, strength)).or_default();
        cell.found.add(found);
        cell.verdict.add(verdicts.contains(&judgment.verdict));
        board.by_style.entry((at, self.style.name)).or_default().add(found);
        if !found {
            let strength = maker.strengths[strength];
            board.misses.push(format!("MISSED {} ({strength}) {}: {}", maker.name, self.called(), told(&judgment)));
            return;
        }
        // What a designer reads first.
        let Some(first) = judgment.findings.first() else { return };
        let named = first.kind == kind || or.contains(&first.kind);
        cell.kind.add(named);
        if !named {
            *board.taken_for.entry((maker.name, first.kind)).or_default() += 1;
            board.misses.push(format!(
                "NAMED {} ({}) {}: {}",
                maker.name,
                maker.strengths[strength],
                self.called(),
                told(&judgment)
            ));
        }
        if !truth.is_empty() {
            let all = f64::from(judged_area(&judgment, &family));
            let faulty_area: f64 = truth.iter().map(|area| f64::from(area.width * area.height)).sum();
            let tile_area = (self.width * self.height) as f64;
            let touches = judgment
                .findings
                .iter()
                .filter(family)
                .flat_map(|finding| &finding.boxes)
                .any(|place| truth.iter().any(|area| meet(*place, *area)));
            let placed = touches && all <= (0.1 * tile_area).max(6.0 * faulty_area);
            cell.placed.add(placed);
            if !placed {
                board.misses.push(format!(
                    "PLACED {} ({}) {} touches {touches} covers {all} of {faulty_area}: {}",
                    maker.name,
                    maker.strengths[strength],
                    self.called(),
                    told(&judgment)
                ));
            }
        }
        if let (Some(size), true, Some(measure)) = (size, first.kind == kind, &first.measure) {
            cell.sized.add((measure.value.abs() - size).abs() <= 1.0);
        }
    }
}

fn own_area(tile: &Raster) -> u64 {
    u64::from(tile.width()) * u64::from(tile.height())
}

/// How grave a verdict is.
fn gravity(verdict: Verdict) -> u32 {
    match verdict {
        Verdict::Sound | Verdict::Mended => 0,
        Verdict::Mendable => 1,
        Verdict::Held | Verdict::Unreadable => 2,
    }
}

fn meet(a: Area, b: Area) -> bool {
    a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height
}

/// The area of all boxes of a family's findings.
fn judged_area(judgment: &Judgment, family: &impl Fn(&&Finding) -> bool) -> u32 {
    judgment.findings.iter().filter(family).flat_map(|finding| &finding.boxes).map(|b| b.width * b.height).sum()
}

/// A judgment in one line.
fn told(judgment: &Judgment) -> String {
    let findings = judgment.findings.iter().map(|finding| {
        let measure = finding.measure.as_ref().map(|m| format!(" [{} {} of {}]", m.name, m.value, m.limit));
        format!("{:?} {}: {}{}", finding.grade, finding.kind, finding.says, measure.unwrap_or_default())
    });
    let joins: Vec<_> = judgment.joins_as.iter().map(|repeat| repeat.name()).collect();
    format!("{} joins {joins:?}; {}", judgment.verdict.name(), findings.collect::<Vec<_>>().join(" | "))
}
