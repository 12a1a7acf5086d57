//! Joints: does each edge meet its copy, judged against the tile's own interior, in every layout its sides allow.
//!
//! Takes a tile, what lies behind its motifs and the layout demanded; yields the layouts it joins in and `joint.break`.
//! No absolute step is a seam: a woven check has full steps everywhere and a wash has none. The joint is one more pair
//! of lines; it shows when a statistic lies far outside what the pairs inside the tile do.

mod line;
pub mod past;
mod step;
mod cut;
mod tally;
mod limit;
mod holes;
mod columns;
mod interior;
mod even;
mod border;
mod copied;
mod crossing;
mod contour;
mod passage;
mod custom;
mod light;
mod reading;
mod strip;
mod customary;
mod rare;
mod uneven;
mod together;
mod beside;
mod sampling;
mod drift;
mod course;
mod around;
mod cause;
mod seam;
mod layout;
mod stretch;
mod telling;
mod periodic;
mod departed;
#[cfg(test)]
mod sample;

pub use departed::departed;
pub use limit::{Limit, limit, margin};
pub use line::Axis;
pub use periodic::{heed, settled};
pub use reading::Reading;
pub use seam::{Seam, Standing};
pub use tally::Statistic;

use crate::finding::{Finding, Grade, Verdict};
use crate::spec::{Ground, Repeat};
use crate::tile::Tile;

/// What the joints of a tile come to.
#[derive(Clone, Debug, Default)]
pub struct Joints {
    /// The layouts the tile joins in, block first; `across` and `down` only where no layout of the plane passes.
    pub joins_as: Vec<Repeat>,
    /// The layout that the findings are about; `None` when nothing was judged.
    pub judged_as: Option<Repeat>,
    /// One finding per joint that does not meet, for the layout demanded, else for the most plausible one.
    pub findings: Vec<Finding>,
    /// Every joint that was judged, with what was measured.
    pub seams: Vec<Seam>,
    /// Whether the same little patches come again all over the tile, as far as it was asked.
    pub customary: bool,
}

impl Joints {
    /// What was measured at every joint, in words and units for people.
    pub fn readings(&self) -> impl Iterator<Item = crate::finding::Reading> {
        self.seams.iter().flat_map(telling::readings)
    }
}

/// Judges the joints of a tile on a ground, for a demanded layout or any.
///
/// A tile that is demanded not to repeat is not judged.
#[must_use]
pub fn judge(tile: &Tile, ground: Ground, demand: Option<Repeat>) -> Joints {
    if demand == Some(Repeat::None) {
        return Joints::default();
    }
    let view = line::View::of(tile, ground);
    let joints = judged(tile, view, demand);
    // A JPEG that was saved as another format since shows the same color steps at the border as a JPEG.
    if Verdict::over(&joints.findings) == Verdict::Held && !view.luma() && past::lossy(&tile.raster) {
        return judged(tile, view.in_luma(), demand);
    }
    joints
}

/// Judges the joints in one view of the tile.
fn judged(tile: &Tile, view: line::View, demand: Option<Repeat>) -> Joints {
    let raster = &tile.raster;
    let survey = interior::Survey::new(view, raster);
    let left_right = seam::Side::new(&survey, Axis::Columns);
    let top_bottom = seam::Side::new(&survey, Axis::Rows);
    let mut seams = layout::Seams::judge(raster, &left_right, &top_bottom);

    let mut joins_as = seams.joins_as(raster);
    let demand_passes = demand.is_some_and(|demand| seams.passes(demand, raster));
    if let Some(demand) = demand
        && demand_passes
        && !joins_as.contains(&demand)
    {
        joins_as.push(demand);
    }
    let plane_passes = joins_as.first().is_some_and(|repeat| !matches!(repeat, Repeat::Across | Repeat::Down));
    let judged_as = match demand {
        Some(demand) => demand,
        None if plane_passes => joins_as.first().copied().unwrap_or(Repeat::Block),
        None => seams.most_plausible(raster),
    };
    let mut findings = Vec::new();
    for seam in seams.of_mut(judged_as) {
        let side = if seam.axis == Axis::Columns { &left_right } else { &top_bottom };
        seam.cause = side.cause(seam);
        let grade = match seam.standing {
            Standing::Broken => Grade::Fault,
            Standing::Faint | Standing::Stripes | Standing::DrawnLine => Grade::Advice,
            Standing::Meets | Standing::TooLittle => continue,
        };
        findings.push(telling::finding(tile, seam, judged_as, grade, &joins_as));
    }
    let customary = left_right.customary() || top_bottom.customary();
    Joints { joins_as, judged_as: Some(judged_as), findings, seams: seams.into_all(), customary }
}
