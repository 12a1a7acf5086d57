//! What the lines of a tile come to, in findings and the designer's words.
//!
//! Takes lines and what is thought of each, yields findings and readings. Decides nothing about pixels.

use super::proof::Opinion;
use super::ridges::Scan;
use super::seen::Line;
use crate::finding::{Area, Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::check::alpha::boxes::hugging;
use crate::pipeline::check::words::{count, length, line, run_as};
use crate::pixel::difference::ciede2000;
use crate::pixel::mask::{Mask, Run};
use crate::tile::Tile;

/// The least CIEDE2000 between a line and its surroundings for it to be held: about a just noticeable difference.
pub const VISIBLE: f64 = 1.0;

/// Lines whose angles differ by less than this many degrees are told together.
const SAME_ANGLE: f64 = 2.0;

/// The most findings.
const MOST_FINDINGS: usize = 8;

/// The most readings of lines that are taken for art.
const MOST_READINGS: usize = 12;

/// The most places whose color differences are averaged.
const MOST_PLACES: usize = 64;

/// The findings over lines, those proven first; each of one direction and one weight.
#[must_use]
pub fn findings(lines: &[Line], tile: &Tile) -> Vec<Finding> {
    let mut groups: Vec<(Grade, Vec<&Line>)> = Vec::new();
    for grade in [Grade::Fault, Grade::Advice] {
        for line in lines.iter().filter(|line| weight(line) == Some(grade)) {
            let near = |other: &Line| {
                let apart = (other.angle() - line.angle()).abs();
                apart.min(180.0 - apart) < SAME_ANGLE
            };
            match groups.iter_mut().find(|(other, group)| *other == grade && near(group[0])) {
                Some((_, group)) => group.push(line),
                None => groups.push((grade, vec![line])),
            }
        }
    }
    groups.truncate(MOST_FINDINGS);
    groups.iter().map(|(grade, group)| finding(*grade, group, tile)).collect()
}

/// What was measured at each line, the told ones first.
#[must_use]
pub fn readings(lines: &[Line], tile: &Tile) -> Vec<Reading> {
    let told = lines.iter().filter(|line| weight(line).is_some()).map(|line| (line, against(line)));
    let art = lines.iter().filter_map(|line| match line.opinion {
        Opinion::Art(why) if why.is_line() => Some((line, why.measure())),
        _ => None,
    });
    told.take(MOST_FINDINGS)
        .chain(art.take(MOST_READINGS))
        .map(|(line, measure)| Reading { kind: Kind::LineFlattened, at: words(line, tile), measure })
        .collect()
}

/// How a line weighs; `None` for art.
fn weight(line: &Line) -> Option<Grade> {
    match line.opinion {
        Opinion::Proven(..) if difference(line) >= VISIBLE => Some(Grade::Fault),
        Opinion::Proven(..) | Opinion::Plausible(..) => Some(Grade::Advice),
        Opinion::Art(_) => None,
    }
}

/// The mean CIEDE2000 between the line's strongest pixel and the color beside it.
fn difference(line: &Line) -> f64 {
    let samples = &line.course.samples;
    let every = samples.len() / MOST_PLACES + 1;
    let color = |of: [f64; 3]| of.map(|v| v.round().clamp(0.0, 255.0) as u8);
    let (mut sum, mut n) = (0.0, 0.0);
    for sample in samples.iter().step_by(every) {
        let on = std::array::from_fn(|c| sample.side[c] + sample.peak[c]);
        sum += ciede2000(color(sample.side), color(on));
        n += 1.0;
    }
    sum / f64::max(n, 1.0)
}

fn against(line: &Line) -> Measure {
    Measure::new("line against its surroundings", difference(line), "CIEDE2000", Bound::Max, VISIBLE)
}

fn finding(grade: Grade, group: &[&Line], tile: &Tile) -> Finding {
    let parts = group.iter().map(|line| pixels(line, tile).runs().to_vec()).collect();
    let canvas = u64::from(tile.raster.width()) * u64::from(tile.raster.height());
    let strongest = group.iter().map(|line| against(line)).max_by(|a, b| a.value.total_cmp(&b.value));
    let runs = match group {
        [one] => words(one, tile),
        _ => format!("{} {}", count(group.len() as u64, "thin lines"), run_as(group[0].angle(), "run", "rise", "fall")),
    };
    let (says, remedy) = match group[0].opinion {
        Opinion::Proven(paper, veil) => {
            let share = (100.0 * veil.shows).round().max(1.0);
            let says = format!("{runs}: a see-through line was merged, {share} % of {} shows through", paper.name());
            let remedy = "close the seam between the pieces, or export without flattening: Burler can mend a line that is \
                          still see-through";
            (says, remedy.to_string())
        }
        Opinion::Plausible(paper, _) => (
            format!("{runs}: it could be a see-through line that was merged onto {}", paper.name()),
            "if this line is not meant, close the seam between the pieces before they are merged".to_string(),
        ),
        Opinion::Art(_) => (runs, String::new()),
    };
    Finding {
        kind: Kind::LineFlattened,
        grade,
        silenced: false,
        boxes: hugging(parts, canvas),
        measure: strongest,
        says,
        remedy,
    }
}

/// Where a line is and how it runs, for the designer.
fn words(of: &Line, tile: &Tile) -> String {
    let stretch = of.course.stretch;
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let middle = (stretch.from + stretch.to - 1) / 2;
    let across = stretch.middle(middle as f64).round() as i64;
    let (x, y) = if of.scan == Scan::Rows { (across, middle) } else { (middle, across) };
    let (x, y) = (x.rem_euclid(width.into()) as u32, y.rem_euclid(height.into()) as u32);
    let long = stretch.to - stretch.from;
    let thick = of.course.width.round().clamp(1.0, 3.0) as u32;
    // Straying by less than two pixels from end to end is level or upright to any eye.
    if (stretch.slope * long as f64).abs() < 2.0 {
        let start = |side: u32| (stretch.from.rem_euclid(side.into()) as u32, (long as u32).min(side));
        let area = if of.scan == Scan::Rows {
            let (y, height) = start(height);
            Area { x, y, width: thick, height }
        } else {
            let (x, width) = start(width);
            Area { x, y, width, height: thick }
        };
        return line("thin line", of.angle(), area, tile);
    }
    let resolution = tile.meta.resolution.map(|r| (r.x + r.y) / 2.0);
    let area = Area { x, y, width: 1, height: 1 };
    format!("{}, {} long", line("thin line", of.angle(), area, tile), length(stretch.length(), resolution))
}

/// The pixels of a line on the canvas.
fn pixels(of: &Line, tile: &Tile) -> Mask {
    let stretch = of.course.stretch;
    let (width, height) = (i64::from(tile.raster.width()), i64::from(tile.raster.height()));
    let reach = (of.course.width * (1.0 + stretch.slope * stretch.slope).sqrt() - 1.0).max(0.0) / 2.0;
    let mut runs = Vec::new();
    for along in stretch.from..stretch.to {
        let middle = stretch.middle(along as f64);
        for across in (middle - reach).round() as i64..=(middle + reach).round() as i64 {
            let (x, y) = if of.scan == Scan::Rows { (across, along) } else { (along, across) };
            let (x, y) = (x.rem_euclid(width) as u32, y.rem_euclid(height) as u32);
            runs.push(Run { y, start: x, end: x + 1 });
        }
    }
    Mask::of(runs)
}
