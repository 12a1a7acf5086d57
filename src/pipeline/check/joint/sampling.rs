//! Samples of the interior: crossings at pairs inside the tile, as many as it takes to clear a joint.
//!
//! A joint that does no more than some pair inside does cannot be beyond a limit above the largest of them; so most joints
//! are cleared by a few pairs, and only where a joint stands out are all of them measured.

use super::beside;
use super::crossing::{Crossing, Voting};
use super::customary::Customary;
use super::cut;
use super::interior::PairOfLines;
use super::light::{self, BLOCKS, Light};
use super::limit::limit;
use super::line::{Axis, Line, View, mask};
use super::passage::{Band, DEEP, Passage};
use super::rare::Rare;
use super::reading::Reading;
use super::step;
use super::strip::{Strip, strips};
use super::tally::{Statistic, TALLIED, Tally};
use super::together::{self, Whole};
use super::uneven;
use crate::tile::Raster;
use std::cell::{Cell, OnceCell, RefCell};
use std::rc::Rc;

/// Strips measured before a joint is looked at first.
const FIRST_STRIPS: usize = 2;

/// A sample of so many strips that does not clear a joint of its excess is given up: the survey of all is cheaper.
const MOST_STRIPS: usize = 8;

/// A tile of so many lines has more pairs than limits need.
const LARGE: usize = 1200;

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
    /// How many strips are looked at; each statistic is measured in them when it is first asked for.
    looked_at: Cell<usize>,
    measured: RefCell<Vec<Crossing>>,
    passages: RefCell<Vec<Passage>>,
    /// The pairs that were measured in every way, with their first lines; what art does by custom is not among it.
    wholes: RefCell<Vec<(usize, Whole)>>,
    /// The mean light of every line that was read.
    lights: RefCell<Vec<Option<Light>>>,
    /// The statistics of excess at every pair that was measured, in the order of [`Statistic::TALLIED`].
    excess: RefCell<[Vec<f64>; TALLIED]>,
    /// The same and how uneven it is pair by pair, strip by strip, nothing for a strip in which pixels do not count.
    excess_of_pairs: RefCell<Vec<Vec<Excess>>>,
    /// In how many strips crossings, passages, wholes and lights were measured.
    done: [Cell<usize>; 4],
    strips: RefCell<Vec<Rc<Strip>>>,
    customary: OnceCell<Option<Customary>>,
    rare: OnceCell<Option<Rare>>,
}

/// The excess of a pair, in the order of [`Statistic::TALLIED`], and how uneven it is, over [`uneven::PARTS`].
type Excess = ([f64; TALLIED], [f64; uneven::PARTS.len()]);

/// Which of the counts of strips is that of crossings, passages, wholes and lights.
const CROSSINGS: usize = 0;
const PASSAGES: usize = 1;
const WHOLES: usize = 2;
const LIGHTS: usize = 3;

/// Of a tile of so many pixels or fewer, strips are kept once they are read.
const KEPT: usize = 1 << 20;

impl<'a> Crossings<'a> {
    pub(super) fn new(view: View, raster: &'a Raster, axis: Axis) -> Self {
        let lights = RefCell::new(vec![None; axis.lines(raster)]);
        let (measured, passages, wholes, excess, excess_of_pairs) = Default::default();
        let (looked_at, done, strips, customary, rare) = Default::default();
        Self {
            view,
            raster,
            axis,
            looked_at,
            measured,
            passages,
            wholes,
            lights,
            excess,
            excess_of_pairs,
            done,
            strips,
            customary,
            rare,
        }
    }

    /// The statistics of excess at a joint beside those of a sample: `Ok` if the sample clears every one of them, since the
    /// largest of all pairs can only be larger than the largest of some.
    pub(super) fn cleared(&self, joint: &[f64; TALLIED], care: Care) -> Result<Vec<Reading>, Vec<Reading>> {
        let lines = self.axis.lines(self.raster);
        loop {
            let done = self.looked_at.get();
            self.measure_excess();
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
            let done = self.looked_at.get();
            if (done > 0 && (cleared || !thorough)) || done >= self.strips() {
                return readings;
            }
            self.measure(done.max(FIRST_STRIPS));
        }
    }

    /// What the art does by custom; nothing in free art, which has none.
    pub(super) fn customary(&self) -> Option<&Customary> {
        self.customary.get_or_init(|| Customary::learned(self.raster, self.axis, |turn| self.strip(turn))).as_ref()
    }

    /// How rare the figures of edges are inside; nothing in a tile of too few lines.
    pub(super) fn rare(&self) -> Option<&Rare> {
        self.rare.get_or_init(|| Rare::learned(self.raster, self.axis, |turn| self.strip(turn))).as_ref()
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
            self.measure_wholes();
            let inside: Vec<Whole> = self.wholes.borrow().iter().filter_map(in_every_way).collect();
            let done = self.looked_at.get();
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

    /// Looks at so many more strips, spread over the tile.
    fn measure(&self, more: usize) {
        self.looked_at.set((self.looked_at.get() + more).min(self.strips()));
    }

    /// The strip that is looked at in a turn.
    fn strip(&self, turn: usize) -> Rc<Strip> {
        if let Some(strip) = self.strips.borrow().get(turn) {
            return Rc::clone(strip);
        }
        let strip = Rc::new(Strip::of_turn(self.view, self.raster, self.axis, turn));
        let mut strips = self.strips.borrow_mut();
        if strips.len() == turn && self.raster.samples().len() <= 4 * KEPT {
            strips.push(Rc::clone(&strip));
        }
        strip
    }

    /// The strips that were looked at and in which one thing was not measured yet; from now on it is.
    fn unmeasured(&self, what: usize) -> impl Iterator<Item = (usize, Rc<Strip>)> {
        let turns = self.done[what].replace(self.looked_at.get())..self.looked_at.get();
        turns.map(|turn| (turn, self.strip(turn)))
    }

    /// Measures how art crosses the pairs of all strips that are looked at.
    fn measure_crossings(&self) {
        let mut voting = None;
        for (_, strip) in self.unmeasured(CROSSINGS) {
            let voting = voting.get_or_insert_with(|| Voting::new(self.axis.length(self.raster)));
            let pairs = strip.soft().windows(4).step_by(self.thinned());
            let measured = pairs.map(|four| voting.measure([&four[0], &four[1], &four[2], &four[3]]));
            self.measured.borrow_mut().extend(measured);
        }
    }

    /// How many pairs of a strip contours are followed over, with their lines; in a view of light alone none are.
    fn passing(&self, strip: &Strip) -> impl Iterator<Item = usize> + use<> {
        let end = if self.view.luma() { 0 } else { strip.lines.len().saturating_sub(DEEP) };
        (DEEP - 1..end).step_by(self.thinned())
    }

    /// Measures which contours pass the pairs of all strips that are looked at.
    fn measure_passages(&self) {
        for (_, strip) in self.unmeasured(PASSAGES) {
            let band = Band::new(strip.soft());
            let passages = self.passing(&strip).map(|line| band.passage(line, strip.soft()));
            self.passages.borrow_mut().extend(passages);
        }
    }

    /// Puts together what was measured at the pairs of all strips that are looked at.
    fn measure_wholes(&self) {
        self.measure_excess();
        self.measure_crossings();
        self.measure_passages();
        let (measured, passages) = (self.measured.borrow(), self.passages.borrow());
        let (of_pairs, mut wholes) = (self.excess_of_pairs.borrow(), self.wholes.borrow_mut());
        for (turn, strip) in self.unmeasured(WHOLES) {
            // All strips have as many pairs.
            let pairs = strip.lines.len().saturating_sub(3).div_ceil(self.thinned());
            let before = self.passing(&strip).count() * turn;
            for (number, line) in self.passing(&strip).enumerate() {
                // The first pair of four lines is that of lines 1 and 2.
                let crossing = measured.get(turn * pairs + (line - 1) / self.thinned());
                let excess = of_pairs[turn].get(line - 1);
                if let (Some(crossing), Some(excess), Some(passage)) = (crossing, excess, passages.get(before + number))
                {
                    let ((excess, uneven), crossing, passage) = (*excess, *crossing, *passage);
                    let (departs, rare) = Default::default();
                    let whole = Whole { excess, crossing, passage, departs, rare, uneven };
                    wholes.push((strip.first + line, whole));
                }
            }
        }
    }

    /// Measures the mean light of the lines of all strips that are looked at.
    fn measure_lights(&self) {
        for (_, strip) in self.unmeasured(LIGHTS) {
            for (light, (line, _)) in self.lights.borrow_mut()[strip.first..].iter_mut().zip(&strip.lines) {
                *light = Some(light::of(line));
            }
        }
    }

    /// Measures the excess of the pairs of all strips that are looked at.
    fn measure_excess(&self) {
        let mut of_pairs = self.excess_of_pairs.borrow_mut();
        for turn in of_pairs.len()..self.looked_at.get() {
            of_pairs.push(self.excess_of(&self.strip(turn).lines));
        }
    }

    /// Adds the excess of the pairs of a strip, and yields it pair by pair where all pixels count.
    fn excess_of(&self, strip: &[(Line, Option<Vec<u8>>)]) -> Vec<Excess> {
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
        self.measure_crossings();
        let mut readings =
            beside::crossed(&joint.crossing, &self.measured.borrow(), lines / self.thinned(), &Statistic::OF_LINES);
        if let Some(passage) = &joint.passage {
            self.measure_passages();
            readings.extend(beside::passed(passage, &self.passages.borrow(), lines / self.thinned()));
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
        self.measure_lights();
        let lights = self.lights.borrow();
        let inner = lights.get(1..lights.len().saturating_sub(1)).unwrap_or_default();
        let known = |four: &[Option<Light>]| four.iter().copied().collect::<Option<Vec<Light>>>();
        inner.windows(4 * block).filter_map(known).map(|lights| light::step(&lights, block)).collect()
    }
}
