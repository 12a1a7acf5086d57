//! One joint in one lay: its own statistics beside the limits that the interior sets, and what they come to.
//!
//! Takes the interior survey of its axis. Knows nothing of layouts and words.

use super::around::Around;
use super::border::{self, Intent};
use super::cause::{self, Cause};
use super::copied;
use super::customary::Departures;
use super::drift::{Drift, HELD_FROM};
use super::even;
use super::interior::Survey;
use super::light::BLOCKS;
use super::limit::{LEAST_MARGIN, Limit, margin};
use super::line::{Axis, View};
use super::passage::Passage;
use super::past;
use super::reading::Reading;
use super::sampling::{AtJoint, Care, Crossings};
use super::step::STRONG;
use super::tally::{Statistic, TALLIED, Tally};
use super::together::Whole;
use super::uneven;
use crate::tile::Raster;
use std::cell::OnceCell;

/// An axis with fewer lines or shorter ones cannot be judged by itself.
pub(super) const LEAST_SIDE: usize = 16;

/// An even step of more levels is an edge of the design or a cut, and excess speaks of it: patches and pinstripes have
/// such edges along whole lines.
const MOST_DRIFT: f64 = 48.0;

/// The share of a joint that steps where patches are sewn together.
const SEWN: f64 = 0.5;

/// Where the share of steps stands among what is tallied.
const SHARE: usize = 1;

/// Parts of a length by which no layout moves its copies, far from those by which one does.
const NO_LAYOUT: [(usize, u32); 2] = [(4, 11), (7, 17)];

/// Votes reach no further aside than this many pixels.
const FURTHEST_VOTE: usize = 8;

/// What a joint comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Nothing speaks against it.
    Meets,
    /// Beyond a limit, but too faint to be seen on cloth.
    Faint,
    /// Beyond a limit in a tile of straight stripes along the joint: any cut of stripes is stripes again.
    Stripes,
    /// The edge does not meet its copy.
    Broken,
    /// A line was drawn along the border: nothing can be told.
    DrawnLine,
    /// The tile is too small to be compared with itself, or too few pixels count.
    TooLittle,
}

impl Standing {
    /// Whether a tile can be laid over this joint.
    #[must_use]
    pub fn passes(self) -> bool {
        self != Self::Broken
    }
}

/// One joint in one lay.
#[derive(Clone, Debug)]
pub struct Seam {
    /// Whether it is the joint of top and bottom (rows) or of left and right (columns).
    pub axis: Axis,
    /// The copy is moved along the joint by 1/n of its length; 1 for a straight lay.
    pub divisor: u32,
    /// What it comes to.
    pub standing: Standing,
    /// What was measured; the statistic of the even step only where it was needed.
    pub readings: Vec<Reading>,
    /// What broke it, as far as it was asked.
    pub(super) cause: Cause,
    /// Whether the joint meets as well with the copy moved by anything else: then that it meets says nothing of the layout.
    pub(super) by_luck: bool,
    /// By how many pixels the copy is moved along the joint.
    pub(super) moved: usize,
    /// Excess along the joint, 0 where pixels do not count; empty where nothing was measured.
    pub(super) excess: Vec<u8>,
}

impl Seam {
    /// Patches that are sewn edge to edge cut their prints along whole lines. A joint that steps along most of its length, as
    /// lines inside do, is such a line: the places it cuts and
    /// the contours that end there prove nothing.
    fn forgive_borders(&mut self) {
        let sewn = |reading: &Reading| {
            reading.statistic == Statistic::Share && reading.joint >= SEWN && reading.inside >= reading.joint
        };
        if self.readings.iter().any(sewn) {
            let cut = |statistic| {
                matches!(statistic, Statistic::Cuts | Statistic::CutsOfThird)
                    || Statistic::ENDS.contains(&statistic)
                    || Statistic::TOGETHER.contains(&statistic)
            };
            self.readings.retain(|reading| !cut(reading.statistic) || !reading.beyond());
        }
    }

    /// Whether any reading is beyond its limit.
    fn beyond(&self) -> bool {
        self.readings.iter().any(Reading::beyond)
    }

    /// The worst violation over the readings.
    pub(super) fn violation(&self) -> f64 {
        self.readings.iter().map(Reading::violation).fold(0.0, f64::max)
    }

    /// Whether the joint does what the interior does: what is asked of a layout that nobody demanded when the straight one
    /// fails. That a joint is not proven broken is no proof that the tile was drawn for its layout.
    pub(super) fn convinces(&self, lines: usize) -> bool {
        let excess = self.readings.iter().filter(|reading| Statistic::TALLIED.contains(&reading.statistic));
        let violation = excess.map(Reading::violation).fold(0.0, f64::max);
        self.standing.passes() && !self.by_luck && violation * margin(lines) <= LEAST_MARGIN
    }

    /// The reading that speaks loudest against the joint.
    pub(super) fn worst(&self) -> Option<&Reading> {
        self.readings.iter().max_by(|a, b| a.violation().total_cmp(&b.violation()))
    }
}

/// One axis, and what is needed to judge its joint.
pub(super) struct Side<'a> {
    view: View,
    raster: &'a Raster,
    axis: Axis,
    survey: &'a Survey<'a>,
    lights: OnceCell<Option<[f64; BLOCKS.len()]>>,
    intent: OnceCell<Intent>,
    crossings: Crossings<'a>,
}

impl<'a> Side<'a> {
    /// For the joint of `axis`; the survey of the interior is made when it is needed.
    pub(super) fn new(survey: &'a Survey<'a>, axis: Axis) -> Self {
        let (view, raster) = (survey.view, survey.raster);
        let crossings = Crossings::new(view, raster, axis);
        Self { view, raster, axis, survey, lights: OnceCell::new(), intent: OnceCell::new(), crossings }
    }

    /// Judges the joint with the copy moved along it by 1/`divisor` of its length; `thorough` where a verdict hangs on it.
    pub(super) fn judge(&self, divisor: u32, thorough: bool) -> Seam {
        let length = self.axis.length(self.raster);
        let moved = if divisor > 1 { length / divisor as usize } else { 0 };
        self.judge_moved(divisor, moved, thorough)
    }

    /// Whether the art was found to have customs.
    pub(super) fn customary(&self) -> bool {
        self.crossings.known_customary()
    }

    /// Whether the joint meets with the copy moved by parts of its length that no layout has.
    pub(super) fn meets_anyhow(&self) -> bool {
        let (lines, length) = (self.axis.lines(self.raster), self.axis.length(self.raster));
        NO_LAYOUT.iter().all(|(part, of)| self.judge_moved(*of, length * *part / *of as usize, true).convinces(lines))
    }

    fn judge_moved(&self, divisor: u32, moved: usize, thorough: bool) -> Seam {
        let (lines, length) = (self.axis.lines(self.raster), self.axis.length(self.raster));
        let mut seam = Seam {
            axis: self.axis,
            divisor,
            standing: Standing::TooLittle,
            cause: Cause::Break,
            readings: Vec::new(),
            by_luck: false,
            moved,
            excess: Vec::new(),
        };
        let care = match (thorough, divisor) {
            (false, _) => Care::Glance,
            (true, 1) => Care::Verdict,
            (true, _) => Care::Layout,
        };
        if lines < LEAST_SIDE || length < LEAST_SIDE {
            return seam;
        }
        let joint = Around::joint(self.view, self.raster, self.axis, moved);
        let Some(readings) = self.excess_readings(&joint, &mut seam.excess, care) else { return seam };
        let excess = std::array::from_fn(|at| readings.get(at).map_or(0.0, |reading: &Reading| reading.joint));
        let mut aside = 0.0f64;
        seam.readings = readings;
        seam.forgive_borders();
        if !seam.beyond() {
            seam.readings.extend(self.even_step(&joint));
        }
        if !seam.beyond() {
            let lights = || if joint.masked() { None } else { joint.lights(self.view, self.raster, self.axis) };
            let lights = *self.lights.get_or_init(lights);
            let passage =
                if self.view.luma() { None } else { Passage::at_joint(self.view, self.raster, self.axis, moved) };
            aside = passage.map_or(0.0, |passage| passage.distance);
            let at_joint = AtJoint { crossing: joint.crossing(), passage, lights };
            seam.readings.extend(self.crossings.readings(&at_joint, thorough));
            seam.forgive_borders();
            self.disbelieve_votes(&mut seam, &joint);
            if !seam.beyond()
                && thorough
                && !joint.masked()
                && let Some(passage) = passage
            {
                let mut departs = Departures::default();
                if let Some(customary) = self.crossings.customary() {
                    departs = customary.at_joint(self.view, self.raster, self.axis, moved);
                    seam.readings.extend(customary.readings(&departs));
                }
                if !seam.beyond() && seam.readings.iter().any(Reading::shows) {
                    let rare =
                        self.crossings.rare().map(|rare| rare.at_joint(self.view, self.raster, self.axis, moved));
                    let (rare, uneven) = (rare.unwrap_or_default(), uneven::of(&seam.excess));
                    let whole = Whole { excess, crossing: at_joint.crossing, passage, departs, rare, uneven };
                    seam.readings.extend(self.crossings.together(&whole));
                    seam.forgive_borders();
                }
            }
        }
        self.disbelieve_ringing(&mut seam);
        seam.standing = if seam.beyond() { self.weigh(&seam.readings) } else { Standing::Meets };
        let may_be_doubled = thorough && !self.view.luma() && seam.standing != Standing::DrawnLine;
        let doubled = if may_be_doubled { copied::lines(self.raster, self.axis, moved) } else { 0 };
        if doubled > 0 {
            (seam.standing, seam.cause) = (Standing::Broken, Cause::Doubled(doubled));
        } else if seam.standing == Standing::Broken
            && let Some(drift) = joint.drift(self.view, self.raster, self.axis)
        {
            seam.standing = self.weigh_drift(&joint, &drift);
            seam.cause = Cause::Drift(drift);
        }
        if seam.standing == Standing::Broken
            && seam.readings.iter().any(|r| r.statistic == Statistic::Parallel && r.beyond())
        {
            seam.cause = Cause::Shift(aside.round() as isize);
        }
        seam
    }

    /// A drift that is hardly seen is told and not held, if the joint meets but for it.
    fn weigh_drift(&self, joint: &Around, drift: &Drift) -> Standing {
        let meets = || {
            let readings = self.excess_readings(&joint.without(drift), &mut Vec::new(), Care::Verdict);
            readings.is_some_and(|readings| !readings.iter().any(Reading::beyond))
        };
        if drift.difference < HELD_FROM && meets() { Standing::Faint } else { Standing::Broken }
    }

    /// The readings of excess, which goes into `excess`; `None` when too few pixels count.
    ///
    /// A sample of the interior clears most joints. Where it does not, a verdict is drawn from all of the interior; a
    /// glance clears nothing more.
    fn excess_readings(&self, joint: &Around, excess: &mut Vec<u8>, care: Care) -> Option<Vec<Reading>> {
        let pair = joint.measure();
        let mut tally = Tally::new(self.axis.length(self.raster), 1);
        tally.add_pair(0, &pair.excess, &pair.places, joint.masked().then_some(&pair.counted));
        *excess = pair.excess;
        let values = tally.values();
        let mut at_joint = [0.0; TALLIED];
        for (at_joint, values) in at_joint.iter_mut().zip(&values) {
            *at_joint = *values.first()?;
        }
        match self.crossings.cleared(&at_joint, care) {
            Ok(readings) => Some(readings),
            Err(readings) if care == Care::Glance => Some(readings),
            Err(_) => {
                let limits = self.survey.limits(self.axis).iter().zip(Statistic::TALLIED);
                let reading = |(joint, (limit, statistic)): (f64, (&Limit, Statistic))| Reading {
                    statistic,
                    joint,
                    inside: limit.most,
                    limit: limit.limit,
                };
                Some(at_joint.into_iter().zip(limits).map(reading).collect())
            }
        }
    }

    /// What broke a joint: by how much the art comes back aside, or how many lines are too many or too few, if that alone
    /// explains it; what was found before, else.
    pub(super) fn cause(&self, seam: &Seam) -> Cause {
        if seam.standing != Standing::Broken || seam.cause != Cause::Break {
            return seam.cause;
        }
        let joint = Around::joint(self.view, self.raster, self.axis, seam.moved);
        let length = self.axis.length(self.raster);
        let meets_aside = |aside: isize| {
            let moved = (seam.moved as isize - aside).rem_euclid(length as isize) as usize;
            let moved = Around::joint(self.view, self.raster, self.axis, moved);
            let excess = self.excess_readings(&moved, &mut Vec::new(), Care::Verdict);
            let readings = excess.map(|readings| {
                let at_joint = AtJoint { crossing: moved.crossing(), passage: None, lights: None };
                readings.into_iter().chain(self.crossings.readings(&at_joint, true)).collect::<Vec<Reading>>()
            });
            readings.is_some_and(|readings| !readings.iter().any(Reading::beyond))
        };
        cause::explain(self.view, self.raster, self.axis, &joint, meets_aside)
    }

    /// Votes for a shift or an advance can be chance, where patches of art begin and end. They are believed only if a small
    /// shift, or lines too many or too few, would let the art go on.
    fn disbelieve_votes(&self, seam: &mut Seam, joint: &Around) {
        let alone = seam.readings.iter().all(|reading| !reading.beyond() || reading.statistic.confirmed());
        if !alone || !seam.beyond() {
            return;
        }
        // Where patches are sewn together, what seems to go on elsewhere is another patch.
        let share = seam.readings.iter().find(|reading| reading.statistic == Statistic::Share).map_or(0.0, |r| r.joint);
        if share >= SEWN && self.survey.limits(self.axis)[SHARE].most >= share {
            seam.readings.retain(|reading| !reading.beyond());
            return;
        }
        match cause::explain(self.view, self.raster, self.axis, joint, |_| false) {
            Cause::Shift(aside) if aside.unsigned_abs() <= FURTHEST_VOTE => {}
            Cause::Missing(_) | Cause::Doubled(_) => {}
            Cause::Break | Cause::Drift(_) | Cause::Shift(_) => {
                seam.readings.retain(|reading| !reading.beyond());
            }
        }
    }

    /// A coder's ringing makes every patch new and moves edges, more so in the cut blocks at the border.
    fn disbelieve_ringing(&self, seam: &mut Seam) {
        let exact = |reading: &Reading| reading.beyond() && reading.statistic.of_exact_art();
        if seam.readings.iter().any(exact) && past::wavers(self.raster) {
            seam.readings.retain(|reading| !exact(reading));
        }
    }

    /// What readings of which one is beyond its limit come to.
    fn weigh(&self, readings: &[Reading]) -> Standing {
        let (view, raster, axis) = (self.view, self.raster, self.axis);
        match *self.intent.get_or_init(|| border::intent(view, raster, axis)) {
            Intent::DrawnLine => return Standing::DrawnLine,
            // Stripes have edges; one-colored lines without an edge inside are a gradient, and a gradient that ends shows.
            Intent::Stripes
                if readings.iter().any(|r| r.statistic == Statistic::Mean && r.inside > f64::from(STRONG)) =>
            {
                return Standing::Stripes;
            }
            Intent::Stripes | Intent::Unknown => {}
        }
        // What stands out is hardly visible, or, where places are counted, nothing at the joint is.
        let speaks = |reading: &&Reading| reading.beyond() && reading.statistic.in_levels();
        let counted = readings.iter().any(|reading| reading.beyond() && !reading.statistic.in_levels());
        if !(readings.iter().filter(speaks).any(Reading::shows) || counted && readings.iter().any(Reading::shows)) {
            return Standing::Faint;
        }
        Standing::Broken
    }

    /// The reading of the even step where the joint's is beyond its limit.
    ///
    /// The limit is most + margin (most + floor), so the joint T is beyond it if and only if no interior pair reaches
    /// (T - margin floor) / (1 + margin): one pass that counts decides, and medians of the interior are never needed.
    fn even_step(&self, joint: &Around) -> Option<Reading> {
        let margin = margin(self.axis.lines(self.raster));
        let floor = 2.0 * Statistic::Even.floor();
        let bend = even::shared_bend(
            [&joint.lines[0], &joint.lines[1], &joint.lines[2], &joint.lines[3]],
            joint.counted_by_all().as_deref(),
        );
        let least = ((f64::from(bend) - margin * floor) / (1.0 + margin)).ceil();
        let drifts = f64::from(bend) <= 2.0 * MOST_DRIFT;
        if !drifts || least < 1.0 || even::interior_reaches(self.view, self.raster, self.axis, least as i16) {
            return None;
        }
        // For the reader: the largest bend that the interior does reach.
        let (mut reached, mut not_reached) = (0, least as i16);
        while not_reached - reached > 1 {
            let middle = reached + (not_reached - reached) / 2;
            if even::interior_reaches(self.view, self.raster, self.axis, middle) {
                reached = middle;
            } else {
                not_reached = middle;
            }
        }
        let inside = f64::from(reached) / 2.0;
        Some(Reading {
            statistic: Statistic::Even,
            joint: f64::from(bend) / 2.0,
            inside,
            limit: inside + margin * (inside + Statistic::Even.floor()),
        })
    }
}
