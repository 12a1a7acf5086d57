//! From a joint that does not meet to a finding: where, how much, what is seen, what to do.

use super::cause::Cause;
use super::drift::{Drift, HELD_FROM};
use super::line::Axis;
use super::reading::Reading;
use super::seam::{Seam, Standing};
use super::stretch::stretches;
use super::tally::Statistic;
use crate::finding::{Area, Bound, Finding, Grade, Kind, MOST_BOXES, Measure, Reading as Told};
use crate::pipeline::check::words;
use crate::spec::Repeat;
use crate::tile::Tile;
use std::ops::Range;

/// How many lines deep the boxes reach on each side of the border.
const DEPTH: u32 = 2;

/// Beyond this many times the largest step inside the tile the number says nothing more.
const BEYOND_WORDS: f64 = 50.0;

/// The finding for a joint of a tile judged as `repeat`; `joins_as` are the layouts it does join in.
pub(super) fn finding(tile: &Tile, seam: &Seam, repeat: Repeat, grade: Grade, joins_as: &[Repeat]) -> Finding {
    let stretches = stretches(seam);
    let [near, far] = edges(seam.axis);
    let layout = if repeat == Repeat::Block { String::new() } else { format!("laid as {repeat}, ") };
    let seen = match (seam.standing, seam.cause) {
        (Standing::Stripes, _) => format!(
            "the stripe at the {near} edge meets another at the {far} one than anywhere inside, which may be meant"
        ),
        (Standing::DrawnLine, _) => format!(
            "a line in one color runs along the {near} or {far} edge: whether the design goes on behind it cannot be told"
        ),
        (standing, Cause::Drift(drift)) => {
            let faint = if standing == Standing::Broken { "" } else { ", hardly to be seen on cloth" };
            format!("{} all along{faint}", lighter(&drift, near, far))
        }
        (Standing::Faint, _) => {
            format!("the {near} edge does not quite meet the {far} one: too faint to show on cloth")
        }
        (_, Cause::Doubled(lines)) => format!(
            "the last {} at the {near} edge {} the first at the {far} one once more: the tile is {} too {}",
            counted(lines, seam.axis),
            if lines == 1 { "is" } else { "are" },
            pixels(lines),
            large(seam.axis)
        ),
        (_, Cause::Missing(lines)) => format!(
            "{} {} missing between the {near} edge and the {far} one: everything that crosses is nicked",
            counted(lines, seam.axis),
            if lines == 1 { "is" } else { "are" }
        ),
        (_, Cause::Shift(aside)) => format!(
            "what crosses the {near} edge comes back at the {far} one {} {}",
            pixels(aside.unsigned_abs()),
            toward(aside, seam.axis)
        ),
        (_, Cause::Break) => {
            let cut = cut(tile, seam, &stretches);
            format!("the {near} edge does not meet the {far} one: {cut}{}", strength(seam.worst()))
        }
    };
    Finding {
        kind: kind(&seam.cause),
        grade,
        silenced: false,
        boxes: boxes(tile, seam, &stretches),
        measure: match seam.cause {
            Cause::Break => seam.worst().map(measure),
            Cause::Doubled(lines) => Some(Measure::new("lines too many", lines as f64, "px", Bound::Max, 0.0)),
            Cause::Missing(lines) => Some(Measure::new("lines missing", lines as f64, "px", Bound::Max, 0.0)),
            Cause::Shift(aside) => {
                Some(Measure::new("shift along the edge", aside.unsigned_abs() as f64, "px", Bound::Max, 0.0))
            }
            Cause::Drift(drift) => {
                Some(Measure::new("color step at the edge", drift.difference, "CIEDE2000", Bound::Max, HELD_FROM))
            }
        },
        says: format!("{layout}{seen}"),
        remedy: remedy(seam, joins_as),
    }
}

/// The kind of a cause.
fn kind(cause: &Cause) -> Kind {
    match cause {
        Cause::Break => Kind::JointBreak,
        Cause::Doubled(_) => Kind::JointDoubled,
        Cause::Missing(_) => Kind::JointMissing,
        Cause::Drift(_) => Kind::JointDrift,
        Cause::Shift(_) => Kind::JointShift,
    }
}

/// "row", "3 rows", "2 columns".
fn counted(lines: usize, axis: Axis) -> String {
    let name = if axis == Axis::Rows { "row" } else { "column" };
    if lines == 1 { format!("{name} of pixels") } else { format!("{lines} {name}s of pixels") }
}

fn pixels(count: usize) -> String {
    format!("{count} px")
}

fn large(axis: Axis) -> &'static str {
    if axis == Axis::Rows { "high" } else { "wide" }
}

/// Which way along the joint.
fn toward(aside: isize, axis: Axis) -> &'static str {
    match (axis, aside > 0) {
        (Axis::Rows, true) => "further right",
        (Axis::Rows, false) => "further left",
        (Axis::Columns, true) => "lower",
        (Axis::Columns, false) => "higher",
    }
}

/// Which edge is lighter, or that the tint differs, and by how much.
fn lighter(drift: &Drift, near: &str, far: &str) -> String {
    if let Some(percent) = drift.percent {
        // Told from the darker edge on.
        let (light, dark, by) = if percent > 0.0 {
            (far, near, percent)
        } else {
            (near, far, 100.0 * (1.0 / (1.0 + percent / 100.0) - 1.0))
        };
        return format!("the {light} edge is about {:.0} % lighter than the {dark} one", by.max(1.0));
    }
    let sum: f64 = drift.levels.iter().sum();
    let size: f64 = drift.levels.iter().map(|step| step.abs()).sum();
    if sum.abs() > 0.7 * size {
        let (light, dark) = if sum > 0.0 { (far, near) } else { (near, far) };
        format!("the {light} edge is lighter than the {dark} one by about {:.0} of 255", drift.largest().max(1.0))
    } else {
        format!("the tint of the {near} edge differs from that of the {far} one")
    }
}

/// What was measured at a joint, for those who want to argue with the verdict.
pub(super) fn readings(seam: &Seam) -> Vec<Told> {
    let [near, far] = edges(seam.axis);
    let at = match (seam.divisor, seam.axis) {
        (0 | 1, _) => format!("{near} and {far} edge"),
        (divisor, Axis::Columns) => format!("{near} and {far} edge, lowered by {} of the height", part(divisor)),
        (divisor, Axis::Rows) => format!("{near} and {far} edge, moved by {} of the width", part(divisor)),
    };
    let told = |reading: &Reading| Told {
        kind: match reading.statistic {
            Statistic::Even | Statistic::LightOfFour | Statistic::LightOfEight => Kind::JointDrift,
            Statistic::Shift | Statistic::Aside | Statistic::Parallel => Kind::JointShift,
            Statistic::Advance => Kind::JointMissing,
            _ => Kind::JointBreak,
        },
        at: at.clone(),
        measure: measure(reading),
    };
    seam.readings.iter().filter(|reading| reading.limit.is_finite()).map(told).collect()
}

/// The edge before the joint and the one after it.
pub(super) fn edges(axis: Axis) -> [&'static str; 2] {
    match axis {
        Axis::Columns => ["right", "left"],
        Axis::Rows => ["bottom", "top"],
    }
}

/// The boxes of the stretches, on both sides of the border.
fn boxes(tile: &Tile, seam: &Seam, stretches: &[Range<usize>]) -> Vec<Area> {
    let length = seam.excess.len();
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let area = |near_side: bool, stretch: Range<usize>| {
        let (start, extent) = (stretch.start as u32, stretch.len() as u32);
        match seam.axis {
            Axis::Columns => {
                let x = if near_side { width.saturating_sub(DEPTH) } else { 0 };
                Area { x, y: start, width: DEPTH.min(width), height: extent }
            }
            Axis::Rows => {
                let y = if near_side { height.saturating_sub(DEPTH) } else { 0 };
                Area { x: start, y, width: extent, height: DEPTH.min(height) }
            }
        }
    };
    let mut boxes: Vec<Area> = Vec::new();
    for stretch in stretches.iter().filter(|stretch| !stretch.is_empty()) {
        boxes.push(area(true, stretch.clone()));
        // The pixel that meets place p of the edge before the joint is p - moved on the one after it, wrapping.
        let start = (stretch.start + length - seam.moved) % length;
        let end = start + stretch.len();
        boxes.push(area(false, start..end.min(length)));
        if end > length {
            boxes.push(area(false, 0..end - length));
        }
    }
    boxes.truncate(MOST_BOXES);
    boxes
}

/// What shows, and where along the edge.
fn cut(tile: &Tile, seam: &Seam, stretches: &[Range<usize>]) -> String {
    if seam.readings.iter().any(|reading| reading.statistic == Statistic::Even && reading.beyond()) {
        return "light or color steps evenly along the whole edge".into();
    }
    let resolution = tile.meta.resolution;
    let (per_inch, from) = match seam.axis {
        Axis::Columns => (resolution.map(|resolution| resolution.y), "top"),
        Axis::Rows => (resolution.map(|resolution| resolution.x), "left"),
    };
    let place = |place: usize| words::length(place as f64, per_inch);
    let Some(longest) = stretches.iter().max_by_key(|stretch| stretch.len()) else {
        return "a cut shows".into();
    };
    if longest.len() * 10 >= seam.excess.len() * 9 {
        return "a cut shows along the whole edge".into();
    }
    let range = format!("from {} to {} from the {from}", place(longest.start), place(longest.end));
    match stretches.len() {
        1 => format!("a cut shows {range}"),
        count => format!("cuts show at {count} places, the longest {range}"),
    }
}

/// How much stronger the cut is than anything inside the tile.
fn strength(worst: Option<&Reading>) -> String {
    match worst {
        Some(worst) if worst.statistic.in_levels() && worst.joint > 1.5 * worst.inside => {
            let times = worst.joint / worst.inside.max(f64::MIN_POSITIVE);
            if times > BEYOND_WORDS {
                ", and no line inside the tile steps like it".into()
            } else {
                format!(", {times:.1} times the strongest line inside the tile")
            }
        }
        _ => String::new(),
    }
}

/// A reading in the designer's units.
fn measure(reading: &Reading) -> Measure {
    let (name, unit, scale) = match reading.statistic {
        Statistic::Mean => ("step along the whole edge", "levels of 255", 1.0),
        Statistic::Twelfth => ("step along a twelfth of the edge", "levels of 255", 1.0),
        Statistic::Sixth => ("step along a sixth of the edge", "levels of 255", 1.0),
        Statistic::Even => ("even step along the edge", "levels of 255", 1.0),
        Statistic::Cuts => ("part of the edge where something is cut", "%", 100.0),
        Statistic::CutsOfThird => ("part of a third of the edge where something is cut", "%", 100.0),
        Statistic::LightOfFour => ("even step over four lines", "levels of 255", 1.0),
        Statistic::LightOfEight => ("even step over eight lines", "levels of 255", 1.0),
        Statistic::Aside => ("part of what crosses the edge that goes on to one side", "%", 100.0),
        Statistic::Shift => ("what crosses the edge goes on aside by", "px", 1.0),
        Statistic::Advance => ("what crosses the edge goes on too far by", "lines", 1.0),
        Statistic::Loose
        | Statistic::LooseThird
        | Statistic::LooseSixth
        | Statistic::LooseTwelfth
        | Statistic::LooseTwentyFourth => ("loose ends", "", 1.0),
        Statistic::Ends => ("lines that end at the edge", "", 1.0),
        Statistic::EndsThird => ("lines that end at a third of the edge", "", 1.0),
        Statistic::EndsTwelfth => ("lines that end at a twelfth of the edge", "", 1.0),
        Statistic::EndsTwentyFourth => ("lines that end at a twenty-fourth of the edge", "", 1.0),
        Statistic::Few | Statistic::FewOfThird => {
            let part = if reading.statistic == Statistic::Few { "the edge" } else { "every third of the edge" };
            let lines = |few: f64| 1.0 / few - 2.0;
            let name = format!("lines that go on over {part}");
            return Measure::new(&name, lines(reading.joint), "", Bound::Min, lines(reading.limit).max(0.0));
        }
        Statistic::Departs => ("departure from what the art does elsewhere", "levels of 255", 1.0),
        Statistic::DepartsOfThird => ("departure over a third of the edge", "levels of 255", 1.0),
        Statistic::DepartsOfTwelfth => ("departure over a twelfth of the edge", "levels of 255", 1.0),
        Statistic::Parallel => ("lines that go on equally far aside", "", 1.0),
        Statistic::OddCourse => ("oddity of the edge in how the art goes on", "", 1.0),
        Statistic::OddFigures => ("oddity of the edge in its figures", "", 1.0),
        Statistic::Together => ("oddity of the edge in all that was measured", "", 1.0),
        Statistic::Share => ("part of the edge that steps", "%", 100.0),
    };
    Measure::new(name, reading.joint * scale, unit, Bound::Max, reading.limit * scale)
}

/// What to do about a joint.
fn remedy(seam: &Seam, joins_as: &[Repeat]) -> String {
    let [near, far] = edges(seam.axis);
    if seam.standing != Standing::Broken {
        return format!("nothing if it is meant; else look at the {near} and {far} edge side by side");
    }
    let moved = match (seam.divisor, seam.axis) {
        (0 | 1, _) => String::new(),
        (divisor, Axis::Columns) => format!(", lowered by {} of the height", part(divisor)),
        (divisor, Axis::Rows) => format!(", moved by {} of the width", part(divisor)),
    };
    let mended = match seam.cause {
        Cause::Break => format!("go on at the {far} edge with what the {near} edge cuts{moved}"),
        Cause::Doubled(lines) => format!("crop {} off one edge", counted_off(lines, seam.axis)),
        Cause::Missing(lines) => format!(
            "go back to the artwork before it was cropped or scaled: the tile should be {} {}",
            pixels(lines),
            if seam.axis == Axis::Rows { "taller" } else { "wider" }
        ),
        Cause::Drift(_) => format!("even out the light between the {near} and the {far} edge{moved}"),
        Cause::Shift(aside) => format!(
            "move what wraps around the {far} edge by {} {}",
            pixels(aside.unsigned_abs()),
            match (seam.axis, aside > 0) {
                (Axis::Rows, true) => "to the left",
                (Axis::Rows, false) => "to the right",
                (Axis::Columns, true) => "up",
                (Axis::Columns, false) => "down",
            }
        ),
    };
    let redraw = format!("{mended}, and export the tile again");
    let plane: Vec<&str> =
        joins_as.iter().filter(|r| !matches!(r, Repeat::Across | Repeat::Down)).map(|r| r.name()).collect();
    match plane.split_last() {
        None => redraw,
        Some((last, [])) => format!("order it as {last}, where its edges meet; or {redraw}"),
        Some((last, rest)) => format!("order it as {} or {last}, where its edges meet; or {redraw}", rest.join(", ")),
    }
}

/// "1 row", "3 columns".
fn counted_off(lines: usize, axis: Axis) -> String {
    let name = if axis == Axis::Rows { "row" } else { "column" };
    if lines == 1 { format!("one {name} of pixels") } else { format!("{lines} {name}s of pixels") }
}

fn part(divisor: u32) -> String {
    let named = [(2, "half"), (3, "a third"), (4, "a quarter")].into_iter().find(|(by, _)| *by == divisor);
    named.map_or_else(|| format!("1/{divisor}"), |(_, name)| name.into())
}
