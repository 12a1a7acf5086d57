//! Lines: half-transparent hairlines that were merged onto a paper color.
//!
//! Takes a tile and what lies behind its motifs, yields `line.flattened`. Such a line is opaque, one to three pixels wide,
//! straight, and off-color; what proves it is that one opacity and one paper explain it over several colors. Sparse rows and
//! columns propose lines; only along those is every pixel looked at.

pub mod ridges;
pub mod trace;
pub mod course;
pub mod border;
pub mod palette;
pub mod veil;
pub mod proof;
pub mod seen;
mod tell;

use crate::finding::{Finding, Reading};
use crate::spec::Ground;
use crate::tile::Tile;
use course::{Course, course};
use proof::{Opinion, Paper, opinion, same_veil};
use ridges::{Scan, View, ridges};
use seen::Line;
use trace::traced;

/// What the lines of a tile come to.
#[derive(Clone, Debug, Default)]
pub struct Lines {
    /// One finding for all lines of a direction.
    pub findings: Vec<Finding>,
    /// What was measured at straight thin lines, told or not.
    pub readings: Vec<Reading>,
}

/// Tiles with a smaller side are not judged: a tenth of it is no line.
const SMALLEST: u32 = 96;

/// Rows and columns are scanned so that a line of a tenth of the side is crossed some 45 times.
const CROSSINGS: u32 = 450;

/// The most lines of one scan that are looked at from near, the longest first.
const MOST_LOOKED_AT: usize = 48;

/// Of more parallel lines than this the art is made, whatever explains them: turned drawings have few joins.
const MOST_PARALLEL: usize = 24;

/// Where there are more straight thin lines than this, one that is not proven is one of them.
const LONE: usize = 8;

/// Where more lines than this are art, one that seems to be merged onto a color of its own is art as well.
const MOST_ART: usize = 16;

/// Judges the lines of a tile on an opaque ground; on any other, see-through lines are the design.
#[must_use]
pub fn judge(tile: &Tile, ground: Ground) -> Lines {
    if ground != Ground::Opaque || tile.raster.width().min(tile.raster.height()) < SMALLEST {
        return Lines::default();
    }
    let lines = lines(tile);
    Lines { findings: tell::findings(&lines, tile), readings: tell::readings(&lines, tile) }
}

/// The straight thin lines of a tile, the longest of each scan first, with what is thought of each.
#[must_use]
pub fn lines(tile: &Tile) -> Vec<Line> {
    let raster = &tile.raster;
    let side = raster.width().min(raster.height());
    let step = (side / CROSSINGS).clamp(1, 8) as usize;
    let mut courses: Vec<(Scan, Course)> = Vec::new();
    for (scan, found) in [Scan::Rows, Scan::Columns].into_iter().zip(ridges(raster, step)) {
        let view = View::of(raster, scan);
        courses.extend(border::borders(view).into_iter().map(|course| (scan, course)));
        let Some(found) = found else { continue };
        let mut stretches = traced(view, &found, i64::from(side / 10).max(24));
        stretches.sort_by(|a, b| b.length().total_cmp(&a.length()));
        stretches.truncate(MOST_LOOKED_AT);
        courses.extend(stretches.into_iter().filter_map(|stretch| course(view, stretch)).map(|course| (scan, course)));
    }
    if courses.is_empty() {
        return Vec::new();
    }
    let papers = palette::common(raster);
    let mut lines: Vec<Line> = Vec::new();
    for (scan, course) in courses {
        let opinion = opinion(&course, &papers, side.into());
        let line = Line { scan, course, opinion };
        match lines.iter_mut().find(|other| same(other, &line, tile)) {
            // One line seen by both scans, or from inside and from both sides: the better proof counts.
            Some(other) if rank(&line.opinion) > rank(&other.opinion) => *other = line,
            Some(_) => {}
            None => lines.push(line),
        }
    }
    adopt(&mut lines);
    leave_art(&mut lines);
    lines
}

fn rank(opinion: &Opinion) -> u8 {
    match opinion {
        Opinion::Proven(..) => 2,
        Opinion::Plausible(..) => 1,
        Opinion::Art(_) => 0,
    }
}

/// Whether two lines are one: the middle of the shorter lies on the longer, and both run alike.
fn same(a: &Line, b: &Line, tile: &Tile) -> bool {
    let (long, short) = if a.course.stretch.length() >= b.course.stretch.length() { (a, b) } else { (b, a) };
    let (u, v) = (long.direction(), short.direction());
    let norm = u.0.hypot(u.1);
    if ((u.0 * v.1 - u.1 * v.0) / norm / v.0.hypot(v.1)).abs() > 0.02 {
        return false;
    }
    let (from, to) = (long.middle(), short.middle());
    let (width, height) = (f64::from(tile.raster.width()), f64::from(tile.raster.height()));
    let turns = |apart: f64, side: f64| {
        let nearest = (apart / side).round();
        [nearest - 1.0, nearest, nearest + 1.0].map(|turn| apart - turn * side)
    };
    turns(to.0 - from.0, width).iter().any(|x| {
        turns(to.1 - from.1, height).iter().any(|y| {
            let off = ((x * u.1 - y * u.0) / norm).abs();
            let along = ((x * u.0 + y * u.1) / norm).abs();
            off <= 3.0 && along <= long.course.stretch.length() / 2.0 + 8.0
        })
    })
}

/// What has the same veil as a proven line is a part of the same fault.
fn adopt(lines: &mut [Line]) {
    let best = lines
        .iter()
        .filter_map(|line| match line.opinion {
            Opinion::Proven(paper, veil) => Some((paper, veil)),
            _ => None,
        })
        .max_by(|a, b| a.1.certainty.total_cmp(&b.1.certainty));
    let Some((paper, veil)) = best else { return };
    for line in lines.iter_mut() {
        let is_line = match line.opinion {
            Opinion::Proven(..) => false,
            Opinion::Plausible(..) => true,
            Opinion::Art(why) => why.is_line(),
        };
        if is_line && let Some(veil) = same_veil(&line.course, paper, &veil) {
            line.opinion = Opinion::Proven(paper, veil);
        }
    }
}

/// Takes out what recurs too often to be a fault.
fn leave_art(lines: &mut Vec<Line>) {
    let straight = lines
        .iter()
        .filter(|line| match line.opinion {
            Opinion::Art(why) => why.is_line(),
            _ => true,
        })
        .count();
    let art = lines.iter().filter(|line| rank(&line.opinion) == 0).count();
    let angles: Vec<f64> = lines.iter().filter(|line| rank(&line.opinion) == 2).map(Line::angle).collect();
    let parallel = |angle: f64| {
        let near = |other: &&f64| {
            let apart = (*other - angle).abs();
            apart.min(180.0 - apart) < 1.0
        };
        angles.iter().filter(near).count()
    };
    lines.retain(|line| match line.opinion {
        Opinion::Proven(paper, _) => {
            let colored = matches!(paper, Paper::OfTile(_) | Paper::Other(_));
            parallel(line.angle()) <= MOST_PARALLEL && !(colored && art > MOST_ART)
        }
        Opinion::Plausible(..) => straight <= LONE,
        Opinion::Art(_) => true,
    });
}
