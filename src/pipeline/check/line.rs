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
        let t = std::time::Instant::now();
        let Some(found) = ridges(raster, scan, step) else { continue };
        let t1 = t.elapsed().as_secs_f64() * 1e3;
        let stretches = trace::traced(view, &found, i64::from(side / 10).max(24));
        if std::env::var("TIME").is_ok() { eprintln!("{scan:?} ridges {} {t1:.1} ms, traced {} {:.1} ms", found.count, stretches.len(), t.elapsed().as_secs_f64() * 1e3 - t1); }
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
