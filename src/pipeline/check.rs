//! Checks: each a pure rule over a tile and its spec that yields findings.
//!
//! Takes a tile and a spec, yields a judgment. Cannot fail; knows nothing of files, time or mending.

pub mod words;
pub mod size;
pub mod container;
pub mod alpha;
pub mod joint;
pub mod smaller;

use super::lattice::{self, Lattice};
use crate::finding::{Finding, Kind, Reading, Verdict};
use crate::spec::{Ground, Repeat, Spec};
use crate::tile::Tile;

/// What all rules together say of a tile.
#[derive(Clone, Debug)]
pub struct Judgment {
    /// What lies behind the motifs.
    pub ground: Ground,
    /// The layouts in which both joints hold, block first.
    pub joins_as: Vec<Repeat>,
    /// The moves that map the design onto itself.
    pub lattice: Lattice,
    /// The see-through pixels, sorted out; what a mend may touch.
    pub survey: alpha::Survey,
    /// All findings, gravest first.
    pub findings: Vec<Finding>,
    /// What was measured, in the order of the rules; what passed as well as what did not.
    pub readings: Vec<Reading>,
    /// What they come to.
    pub verdict: Verdict,
}

impl Judgment {
    /// The layout that pictures show: the demanded one, else the first in which the tile joins, else block.
    #[must_use]
    pub fn layout(&self, spec: &Spec) -> Repeat {
        spec.repeat.or_else(|| self.joins_as.first().copied()).unwrap_or(Repeat::Block)
    }
}

/// Judges a tile by every rule. The ground comes first, since what is a hole on one ground is the design on another.
#[must_use]
pub fn judge(tile: &Tile, spec: &Spec) -> Judgment {
    let silent = |kind| spec.silence.contains(&kind);
    // What the order sheet silences is not mended either.
    let survey = alpha::survey(tile, spec.ground).leaving(silent(Kind::AlphaHairline), silent(Kind::AlphaFringe));
    let lattice = lattice::find(tile, survey.ground);
    let mut joints = joint::judge(tile, survey.ground, spec.repeat);
    let heeded = joint::heed(tile, survey.ground, spec.repeat, &lattice, &mut joints.joins_as, &mut joints.findings);
    let mut findings = container::findings(tile, spec);
    findings.extend(size::findings(tile, spec));
    findings.extend(alpha::findings(&survey, tile, spec.ground));
    let mut readings = size::readings(tile, spec);
    readings.extend(alpha::readings(&survey, tile, spec.ground));
    readings.extend(joints.readings());
    readings.extend(heeded);
    readings.extend(smaller::reading(tile, &lattice));
    findings.extend(smaller::finding(tile, &lattice, spec.blocks));
    findings.extend(joints.findings);
    settle(&mut findings, spec);
    let verdict = Verdict::over(&findings);
    Judgment { ground: survey.ground, joins_as: joints.joins_as, lattice, survey, findings, readings, verdict }
}

/// Marks what the spec silences and puts the gravest first, then by kind and place, so that equal judgments read equal.
fn settle(findings: &mut [Finding], spec: &Spec) {
    for finding in findings.iter_mut() {
        finding.silenced = spec.silence.contains(&finding.kind);
    }
    findings.sort_by_key(|finding| {
        (finding.silenced, std::cmp::Reverse(finding.grade), finding.kind, finding.boxes.clone())
    });
}
