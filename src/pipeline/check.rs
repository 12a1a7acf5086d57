//! Checks: each a pure rule over a tile and its spec that yields findings.
//!
//! Takes a tile and a spec, yields a judgment. Cannot fail; knows nothing of files, time or mending.

pub mod words;
pub mod size;
pub mod container;
pub mod alpha;
pub mod joint;
pub mod line;
pub mod smaller;
pub mod unit;
pub mod color;
pub mod glare;

use super::lattice::{self, Lattice};
use crate::finding::{Finding, Grade, Kind, Reading, Verdict, put_in_order};
use crate::spec::{Ground, Repeat, Spec};
use crate::tile::Tile;
use joint::Joints;

/// What all rules together say of a tile.
#[derive(Clone, Debug)]
pub struct Judgment {
    /// What lies behind the motifs.
    pub ground: Ground,
    /// The layouts in which both joints hold, block first.
    pub joins_as: Vec<Repeat>,
    /// The layout that joint findings are about.
    pub judged_as: Option<Repeat>,
    /// The moves that map the design onto itself.
    pub lattice: Lattice,
    /// The see-through pixels, sorted out; what a mend may touch.
    pub survey: alpha::Survey,
    /// How many flat colors were seen in it; `None` when its art is not flat.
    pub flat_colors: Option<u32>,
    /// All findings, gravest first.
    pub findings: Vec<Finding>,
    /// What was measured, in the order of the rules; what passed as well as what did not.
    pub readings: Vec<Reading>,
    /// What they come to.
    pub verdict: Verdict,
}

impl Judgment {
    /// The layout that pictures show: the demanded one, else the one whose joints do not meet, where some do not, else the
    /// first in which the tile joins, else block.
    #[must_use]
    pub fn layout(&self, spec: &Spec) -> Repeat {
        let broken = self.findings.iter().any(|finding| finding.grade == Grade::Fault && finding.kind.at_joint());
        let judged_as = self.judged_as.filter(|_| broken);
        spec.repeat.or(judged_as).or_else(|| self.joins_as.first().copied()).unwrap_or(Repeat::Block)
    }
}

/// Judges a tile by every rule. The ground comes first, since what is a hole on one ground is the design on another.
#[must_use]
pub fn judge(tile: &Tile, spec: &Spec) -> Judgment {
    let left = |kind| !spec.mends(kind);
    // What the order sheet silences, only tells or holds is not mended either.
    let survey = alpha::survey(tile, spec.ground).leaving(left(Kind::AlphaHairline), left(Kind::AlphaFringe));
    let lattice = lattice::find(tile, survey.ground);
    let (joints, heeded) = joints(tile, survey.ground, spec.repeat, &lattice);
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
    let lines = line::judge(tile, survey.ground);
    findings.extend(lines.findings);
    readings.extend(lines.readings);
    // A joint that does not meet makes units odd along it.
    if !findings.iter().any(|finding| finding.grade == Grade::Fault && finding.kind.at_joint()) {
        let units = unit::judge(tile, &lattice, &survey.mask);
        findings.extend(units.finding);
        readings.extend(units.readings);
    }
    let colors = color::judge(tile, spec);
    findings.extend(colors.findings);
    readings.extend(colors.readings);
    let glare = glare::judge(tile, spec);
    findings.extend(glare.finding);
    readings.extend(glare.readings);
    settle(&mut findings, spec);
    let verdict = Verdict::over(&findings);
    Judgment {
        ground: survey.ground,
        joins_as: joints.joins_as,
        judged_as: joints.judged_as,
        lattice,
        survey,
        flat_colors: colors.seen,
        findings,
        readings,
        verdict,
    }
}

/// The joints, and what the lattice says of them. Where it settles them alone, no line of pixels needs to be looked at.
fn joints(tile: &Tile, ground: Ground, demand: Option<Repeat>, lattice: &Lattice) -> (Joints, Vec<Reading>) {
    if let Some((joins_as, readings)) = joint::settled(tile, ground, demand, lattice) {
        return (Joints { joins_as, ..Joints::default() }, readings);
    }
    let mut joints = joint::judge(tile, ground, demand);
    let heeded = joint::heed(tile, ground, demand, lattice, &mut joints.joins_as, &mut joints.findings);
    let regular = joints.customary || lattice.moves.len() == 1;
    let asked = !matches!(demand, Some(Repeat::None | Repeat::Across | Repeat::Down));
    let meets = Verdict::over(&joints.findings) == Verdict::Sound;
    if regular
        && asked
        && meets
        && ground == Ground::Opaque
        && !tile.meta.lossy
        && let Some(part) = lattice::part(tile, ground)
    {
        joint::departed(tile, demand, &part, &mut joints.joins_as, &mut joints.findings);
    }
    (joints, heeded)
}

/// Gives each finding the weight the spec asks for and puts the gravest first, then by kind and place, so that equal judgments read equal.
fn settle(findings: &mut [Finding], spec: &Spec) {
    for finding in findings.iter_mut() {
        weigh(finding, spec);
    }
    put_in_order(findings);
}

/// What the spec silences, loosens or tightens by name.
fn weigh(finding: &mut Finding, spec: &Spec) {
    finding.silenced = spec.silence.contains(&finding.kind);
    let grade = match finding.kind {
        kind if spec.tell.contains(&kind) => Grade::Advice,
        kind if spec.hold.contains(&kind) => Grade::Fault,
        _ => return,
    };
    // The remedy of what would have been mended promises a mend that does not come.
    if finding.grade == Grade::Mend {
        finding.remedy = match grade {
            Grade::Fault => "mend it in the artwork and export again: the order sheet holds every tile with this",
            Grade::Mend | Grade::Advice => "nothing if it is meant: the order sheet has this told and not mended",
        }
        .into();
    }
    finding.grade = grade;
}
