//! Samples of the interior: crossings at pairs inside the tile, as many as it takes to clear a joint.
//!
//! A joint that does no more than some pair inside does cannot be beyond a limit above the largest of them; so most joints
//! are cleared by a few pairs, and only where a joint stands out are all of them measured.

use super::crossing::{Crossing, Soft, Voting};
use super::customary::Customary;
use super::cut;
use super::interior::PairOfLines;
use super::light::{self, BLOCKS, Light};
use super::limit::{limit, limit_within};
use super::line::{Axis, Line, View, mask};
use super::passage::{self, Band, DEEP, Passage};
use super::rare::Rare;
use super::reading::Reading;
use super::step;
use super::strip::{PAIRS, STRIP, stride, strips};
use super::tally::{Statistic, TALLIED, Tally};
use super::together::{self, LOOSE_FLOOR, Whole};
use super::uneven;
use crate::tile::Raster;
use std::cell::{OnceCell, RefCell};

/// Strips measured before a joint is looked at first.
const FIRST_STRIPS: usize = 2;

/// A sample of so many strips that does not clear a joint of its excess is given up: the survey of all is cheaper.
const MOST_STRIPS: usize = 8;

/// A tile of so many lines has more pairs than limits need.
const LARGE: usize = 1200;

/// A pair with less content than this share of the median's is damped.
const DAMPING: f64 = 0.15;

/// A joint votes for a shift only if it has this share of the content that pairs inside have.
const LEAST_CONTENT: f64 = 0.15;

/// What is believed only when a shift or a number of lines explains it may stand out by this part of the usual margin.
const CONFIRMED: f64 = 0.75;

/// How much hangs on a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Care {
    /// Nothing: a lay that nobody asked for, of a tile that meets straight. What a sample does not clear is not claimed.
    Glance,
    /// The verdict: what a sample does not clear is compared with the whole interior.
    Verdict,
    /// The layout: how far below the limit the joint lies matters too.
    Layout,
}

/// What is measured at a joint and compared with the same inside.
pub(super) struct AtJoint {
    /// How the art crosses.
    pub(super) crossing: Crossing,
    /// Which contours pass; nothing where it was not asked.
    pub(super) passage: Option<Passage>,
    /// How far light steps between blocks of [`BLOCKS`] lines; nothing where it cannot be told.
    pub(super) lights: Option<[f64; BLOCKS.len()]>,
}

/// What the crossings inside a tile do on one axis, measured as far as it was needed.
pub(super) struct Crossings<'a> {
    view: View,
    raster: &'a Raster,
    axis: Axis,
    measured: RefCell<Vec<Crossing>>,
    passages: RefCell<Vec<Passage>>,
    /// The pairs that were measured in every way, with their first lines; what art does by custom is not among it.
    wholes: RefCell<Vec<(usize, Whole)>>,
    /// The mean light of every line that was read.
    lights: RefCell<Vec<Option<Light>>>,
    /// The statistics of excess at every pair that was measured, in the order of [`Statistic::TALLIED`].
    excess: RefCell<[Vec<f64>; TALLIED]>,
    strips_done: RefCell<usize>,
    customary: OnceCell<Option<Customary>>,
    rare: OnceCell<Option<Rare>>,
}

impl<'a> Crossings<'a> {
    pub(super) fn new(view: View, raster: &'a Raster, axis: Axis) -> Self {
        let lights = RefCell::new(vec![None; axis.lines(raster)]);
        let (measured, passages, wholes, excess, strips_done) = Default::default();
        let (customary, rare) = Default::default();
        Self { view, raster, axis, measured, passages, wholes, lights, excess, strips_done, customary, rare }
    }

    /// The statistics of excess at a joint beside those of a sample: `Ok` if the sample clears every one of them, since the
    /// largest of all pairs can only be larger than the largest of some.
    pub(super) fn cleared(&self, joint: &[f64; TALLIED], care: Care) -> Result<Vec<Reading>, Vec<Reading>> {
        let lines = self.axis.lines(self.raster);
        loop {
            let done = *self.strips_done.borrow();
            let mut excess = self.excess.borrow().clone();
            let readings: Vec<Reading> = Statistic::TALLIED
                .into_iter()
                .zip(joint)
                .zip(&mut excess)
                .map(|((statistic, joint), values)| {
                    let limit = limit(values, lines, statistic.floor());
                    let bounds = if values.is_empty() { [f64::NEG_INFINITY; 2] } else { [limit.most, limit.limit] };
                    let limit = if care == Care::Layout { bounds[0] } else { bounds[1] };
                    Reading { statistic, joint: *joint, inside: bounds[0], limit }
                })
                .collect();
            if !readings.iter().any(Reading::beyond) {
                return Ok(readings);
            }
            if done >= self.strips().min(if care == Care::Glance { MOST_STRIPS / 2 } else { MOST_STRIPS }) {
                return Err(readings);
            }
            self.measure(done.max(FIRST_STRIPS));
        }
    }

    /// What was measured at a joint beside what the interior does. With `thorough`, the interior is measured until either
    /// it clears the joint or all of it is known; else only a first sample is.
    pub(super) fn readings(&self, joint: &AtJoint, thorough: bool) -> Vec<Reading> {
        loop {
            let readings = self.beside(joint);
            let cleared = !readings.iter().any(Reading::beyond);
            let done = *self.strips_done.borrow();
            if (done > 0 && (cleared || !thorough)) || done >= self.strips() {
                return readings;
            }
            self.measure(done.max(FIRST_STRIPS));
        }
    }

    /// What the art does by custom; nothing in free art, which has none.
    pub(super) fn customary(&self) -> Option<&Customary> {
        self.customary.get_or_init(|| Customary::learned(self.view, self.raster, self.axis)).as_ref()
    }

    /// How rare the figures of edges are inside; nothing in a tile of too few lines.
    pub(super) fn rare(&self) -> Option<&Rare> {
        self.rare.get_or_init(|| Rare::learned(self.view, self.raster, self.axis)).as_ref()
    }

    /// Whether customs were asked for and found.
    pub(super) fn known_customary(&self) -> bool {
        self.customary.get().is_some_and(Option::is_some)
    }

    /// All that was measured at a joint together, beside pairs inside: as many as it takes to clear it, or all.
    pub(super) fn together(&self, joint: &Whole) -> Vec<Reading> {
        loop {
            let in_every_way = |(line, pair): &(usize, Whole)| {
                let departs = self.customary().and_then(|art| art.inside(*line)).unwrap_or(pair.departs);
                Some(Whole { departs, rare: self.rare()?.inside(*line)?, ..pair.clone() })
            };
            let inside: Vec<Whole> = self.wholes.borrow().iter().filter_map(in_every_way).collect();
            let done = *self.strips_done.borrow();
            if !inside.is_empty() {
                let readings = together::readings(joint, &inside);
                if !readings.iter().any(Reading::beyond) || done >= self.strips() {
                    return readings.into();
                }
            } else if done >= self.strips() {
                return Vec::new();
            }
            self.measure(done.max(FIRST_STRIPS));
        }
    }

    /// Votes are counted at one of so many pairs: in a large tile neighbors hardly differ.
    fn thinned(&self) -> usize {
        if self.axis.lines(self.raster) >= LARGE { 3 } else { 1 }
    }

    fn strips(&self) -> usize {
        strips(self.axis.lines(self.raster))
    }

    /// Measures so many more strips, spread over the tile.
    fn measure(&self, more: usize) {
        let (count, length) = (self.strips(), self.axis.length(self.raster));
        let lines = self.axis.lines(self.raster);
        let mut lights = self.lights.borrow_mut();
        let (mut measured, mut done) = (self.measured.borrow_mut(), self.strips_done.borrow_mut());
        let mut voting = Voting::new(length);
        for turn in *done..(*done + more).min(count) {
            // Steps of about the golden section visit the strips evenly, however many are visited.
            let strip = turn * stride(count) % count;
            let first = (strip * PAIRS).min(lines.saturating_sub(STRIP));
            let strip = self.view.strip(self.raster, self.axis, first, STRIP);
            for (light, (line, _)) in lights[first..].iter_mut().zip(&strip) {
                *light = Some(light::of(line));
            }
            let excess = self.measure_excess(&strip);
            let soft: Vec<Soft> = strip.iter().map(|(line, counted)| Soft::new(line, counted.as_deref())).collect();
            let before = measured.len();
            let pairs = soft.windows(4).step_by(self.thinned());
            measured.extend(pairs.map(|four| voting.measure([&four[0], &four[1], &four[2], &four[3]])));
            if !self.view.luma() {
                let band = Band::new(&soft);
                for line in (DEEP - 1..soft.len().saturating_sub(DEEP)).step_by(self.thinned()) {
                    let passage = band.passage(line, &soft);
                    self.passages.borrow_mut().push(passage);
                    // The first pair of four lines is that of lines 1 and 2.
                    let crossing = measured.get(before + (line - 1) / self.thinned());
                    if let (Some(crossing), Some(excess)) = (crossing, excess.get(line - 1)) {
                        let (excess, uneven) = *excess;
                        let (departs, rare) = Default::default();
                        let whole = Whole { excess, crossing: *crossing, passage, departs, rare, uneven };
                        self.wholes.borrow_mut().push((first + line, whole));
                    }
                }
            }
        }
        *done = (*done + more).min(count);
    }

    /// Adds the excess of the pairs of a strip, and yields it pair by pair where all pixels count.
    fn measure_excess(&self, strip: &[(Line, Option<Vec<u8>>)]) -> Vec<([f64; TALLIED], [f64; uneven::PARTS.len()])> {
        let length = self.axis.length(self.raster);
        let steps: Vec<[Vec<u8>; 2]> = strip
            .windows(2)
            .map(|two| {
                let (mut steps, mut wide) = (vec![0; length], vec![0; length]);
                step::across(&two[0].0, &two[1].0, &mut steps);
                cut::widen(&steps, &mut wide);
                [steps, wide]
            })
            .collect();
        let mut tally = Tally::new(length, steps.len().saturating_sub(2));
        let mut pair = PairOfLines::new(length);
        let mut unevenness = Vec::new();
        for (number, (steps, lines)) in steps.windows(3).zip(strip.windows(4)).enumerate() {
            let masked = lines.iter().any(|(_, counted)| counted.is_some());
            if masked {
                pair.counted.fill(255);
                lines.iter().filter_map(|(_, counted)| counted.as_ref()).for_each(|line| mask(&mut pair.counted, line));
            }
            pair.measure([&steps[0][0], &steps[1][0], &steps[2][0]], [&steps[0][1], &steps[2][1]], masked);
            tally.add_pair(number, &pair.excess, &pair.places, masked.then_some(&pair.counted));
            unevenness.push(uneven::of(&pair.excess));
        }
        let values = tally.values();
        for (excess, more) in self.excess.borrow_mut().iter_mut().zip(&values) {
            excess.extend(more);
        }
        let all_count = strip.iter().all(|(_, counted)| counted.is_none());
        let pairs = if all_count { values[0].len() } else { 0 };
        (0..pairs).zip(unevenness).map(|(pair, uneven)| (std::array::from_fn(|at| values[at][pair]), uneven)).collect()
    }

    /// The statistics of a joint beside those of the pairs that were measured.
    fn beside(&self, joint: &AtJoint) -> Vec<Reading> {
        let lines = self.axis.lines(self.raster);
        let mut readings =
            beside(&joint.crossing, &self.measured.borrow(), lines / self.thinned(), &Statistic::OF_LINES);
        if let Some(passage) = &joint.passage {
            readings.extend(passed(passage, &self.passages.borrow(), lines / self.thinned()));
        }
        for (at, (block, statistic)) in BLOCKS.into_iter().zip(Statistic::LIGHT).enumerate() {
            let Some(joint) = joint.lights.map(|lights| lights[at]) else { continue };
            let mut values = self.light_steps(block);
            // Blocks that overlap say much the same: so many are independent.
            let limit = limit(&mut values, lines / block, statistic.floor());
            let inside = if values.is_empty() { f64::NEG_INFINITY } else { limit.most };
            readings.push(Reading { statistic, joint, inside, limit: limit.limit });
        }
        readings
    }

    /// The steps of light between blocks wherever all of their lines were read, those next to the joint left out.
    fn light_steps(&self, block: usize) -> Vec<f64> {
        let lights = self.lights.borrow();
        let inner = lights.get(1..lights.len().saturating_sub(1)).unwrap_or_default();
        let known = |four: &[Option<Light>]| four.iter().copied().collect::<Option<Vec<Light>>>();
        inner.windows(4 * block).filter_map(known).map(|lights| light::step(&lights, block)).collect()
    }
}

/// The statistics of a crossing beside those of pairs inside; `names` are those of shift, advance and loose ends.
fn beside(joint: &Crossing, inside: &[Crossing], lines: usize, names: &[Statistic]) -> Vec<Reading> {
    let middle = |value: fn(&Crossing) -> f64| together::middle(inside.iter().map(value).collect());
    let (content, slant) = (middle(|pair| pair.content), middle(|pair| pair.slant));
    let damped = |vote: f64, weight: f64, usual: f64| vote.abs() * weight / (weight + DAMPING * usual).max(1.0);
    let reading = |statistic: Statistic, floor: f64, value: &dyn Fn(&Crossing) -> f64| {
        let mut values: Vec<f64> = inside.iter().map(value).collect();
        let part = if statistic.confirmed() { CONFIRMED } else { 1.0 };
        let limit = limit_within(&mut values, lines, floor, part);
        let inside = if values.is_empty() { f64::NEG_INFINITY } else { limit.most };
        Reading { statistic, joint: value(joint), inside, limit: limit.limit }
    };
    let mut readings = Vec::with_capacity(names.len());
    for statistic in names {
        match statistic {
            Statistic::Aside if joint.content >= LEAST_CONTENT * content => {
                let part = |pair: &Crossing| pair.aside / pair.content.max(content).max(1.0);
                readings.push(reading(*statistic, statistic.floor(), &part));
            }
            Statistic::Shift if joint.content >= LEAST_CONTENT * content => {
                let floor = statistic.floor();
                readings.push(reading(*statistic, floor, &|pair| damped(pair.shift, pair.content, content)));
            }
            Statistic::Advance if joint.slant >= LEAST_CONTENT * slant => {
                let floor = statistic.floor();
                readings.push(reading(*statistic, floor, &|pair| damped(pair.advance, pair.slant, slant)));
            }
            _ => {}
        }
        if let Some(at) = Statistic::LOOSE.iter().position(|loose| loose == statistic) {
            readings.push(reading(*statistic, LOOSE_FLOOR * content + statistic.floor(), &|pair| pair.loose[at]));
        }
    }
    readings
}

/// The statistics of contours at a joint beside those of pairs inside.
fn passed(joint: &Passage, inside: &[Passage], lines: usize) -> Vec<Reading> {
    Statistic::OF_CONTOURS
        .into_iter()
        .enumerate()
        .map(|(at, statistic)| {
            let mut values: Vec<f64> = inside.iter().map(|pair| pair.values()[at]).collect();
            let found = limit(&mut values, lines, statistic.floor());
            let inside = if values.is_empty() { f64::NEG_INFINITY } else { found.most };
            // Where hardly a line passes anywhere, one line fewer is chance: at least two must be missed.
            let few = matches!(statistic, Statistic::Few | Statistic::FewOfThird);
            let limit = if few { passage::two_fewer(found.limit) } else { found.limit };
            Reading { statistic, joint: joint.values()[at], inside, limit }
        })
        .collect()
}
