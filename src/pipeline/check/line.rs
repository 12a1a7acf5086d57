//! Lines: half-transparent hairlines that were merged onto a paper color.
//!
//! Takes a tile and what lies behind its motifs, yields `line.flattened`. Such a line is opaque, one to three pixels wide,
//! straight, and off-color; what proves it is that one opacity and one paper explain it over several colors.

pub mod ridges;
pub mod trace;
pub mod course;
pub mod border;
pub mod palette;
pub mod veil;
pub mod proof;

use crate::finding::{Finding, Reading};
use crate::spec::Ground;
use crate::tile::Tile;
use ridges::{Scan, View, ridges};

/// What the lines of a tile come to.
#[derive(Clone, Debug, Default)]
pub struct Lines {
    /// Findings.
    pub findings: Vec<Finding>,
    /// Readings.
    pub readings: Vec<Reading>,
}

/// Probe.
#[must_use]
pub fn probe(tile: &Tile) -> Vec<String> {
    let raster = &tile.raster;
    let side = raster.width().min(raster.height());
    let step = (side as usize / 450).clamp(1, 8);
    let mut told = Vec::new();
    for scan in [Scan::Rows, Scan::Columns] {
        let view = View::of(raster, scan);
        let found = ridges(raster, scan, step);
        let stretches = trace::traced(view, &found, i64::from(side / 10).max(24));
        told.push(format!("{scan:?} ridges {} stretches {}", found.count, stretches.len()));
        let mut stretches = stretches;
        stretches.sort_by(|a, b| b.length().total_cmp(&a.length()));
        for stretch in stretches.iter().take(24) {
            let Some(course) = course::course(view, *stretch) else {
                told.push(format!("  {:.0}..{:.0} at {:.1} slope {:.3} no course", stretch.from, stretch.to, stretch.at, stretch.slope));
                continue;
            };
            let s = course.stretch;
            told.push(format!(
                "  {}..{} at {:.2} slope {:.4} half {} width {:.2} wobble {:.2} agree {:.2}/{:.2} strength {:.1}/{:.1} n {}",
                s.from, s.to, s.at, s.slope, course.half, course.width, course.wobble, course.agreeing, course.agreeing_beside, course.strength, course.noise, course.samples.len()
            ));
            if std::env::var("DUMP").is_ok() { for s in &course.samples { told.push(format!("      {} {:?} {:?} {:?}", s.along, s.side, s.outer, s.sum)); } }
            told.push(format!("    free {:.2?}", veil::fitted(&course)));
            told.push(format!("    white {:.2?}", veil::with_paper(&course, [255.0; 3])));
            told.push(format!("    black {:.2?}", veil::with_paper(&course, [0.0; 3])));
        }
    }
    told
}

/// Experiment.
#[must_use]
pub fn opinions(tile: &Tile) -> Vec<(Scan, trace::Stretch, Option<course::Course>, proof::Opinion)> {
    let raster = &tile.raster;
    let side = raster.width().min(raster.height());
    let step = (side as usize / 450).clamp(1, 8);
    let mut out = Vec::new();
    let papers = palette::common(raster);
    for scan in [Scan::Rows, Scan::Columns] {
        let view = View::of(raster, scan);
        let found = ridges(raster, scan, step);
        let stretches = trace::traced(view, &found, i64::from(side / 10).max(24));
        for stretch in stretches {
            let course = course::course(view, stretch);
            let opinion = course.as_ref().map_or(proof::Opinion::Art("no course"), |course| proof::opinion(course, &papers));
            out.push((scan, stretch, course, opinion));
        }
        for course in border::borders(view) {
            let opinion = proof::opinion(&course, &papers);
            out.push((scan, course.stretch, Some(course), opinion));
        }
    }
    out
}

/// Judges the lines of a tile.
#[must_use]
pub fn judge(_tile: &Tile, _ground: Ground) -> Lines {
    Lines::default()
}
