//! The lattice rule: where a design's own moves are known exactly, so is whether the tile's sides are among them.
//!
//! Takes a tile, its lattice and what the other joint rules found; sets the layouts right, and tells sides that are no
//! move of the design: lines too many, lines too few, or an edge that meets another part of the unit. The only rule that
//! sees a wrong size in checks, weaves and plaids, whose every line has steps like those of the joint.

use super::line::Axis;
use super::telling::edges;
use crate::finding::{Area, Bound, Finding, Grade, Kind, Measure, Reading};
use crate::pipeline::lattice::{Count, Lattice, Move, Sheet, Unit};
use crate::spec::{Ground, Repeat};
use crate::tile::{Raster, Tile};

/// Layouts in the order of preference, each with the parts of the height and of the width by which its copies move.
const PLANE: [(Repeat, i64, i64); 5] = [
    (Repeat::Block, 0, 0),
    (Repeat::HalfDrop, 2, 0),
    (Repeat::Brick, 0, 2),
    (Repeat::ThirdDrop, 3, 0),
    (Repeat::QuarterDrop, 4, 0),
];
/// Lines at each border that must follow the lattice before it may speak for them.
const BORDER: usize = 4;
/// The border follows where at most one in so many of a one-pixel move's differences are seen there.
const FOLLOWS: u64 = 8;
/// It follows strictly, so that a joint is known to meet, where one in so many is.
const STRICTLY: u64 = 200;
/// Pairs across the joint differ where more than one in so many of them do.
const CROSSING: u64 = 16;
/// The same for edges, of which more waver inside.
const CROSSING_EDGES: u64 = 4;
/// And more than so many times as many as inside.
const TIMES_INSIDE: u64 = 8;
/// More lines than this, or than this part of the period, are no slip of a line or two.
const MOST_LINES: i64 = 16;
const PART_OF_PERIOD: i64 = 3;
/// So many lines are more than rounding makes of bands of uneven sizes, and no band of its own.
const SURE_LINES: std::ops::RangeInclusive<i64> = 2..=4;
/// Two lines are alike when at most one pixel in so many differs.
const ALIKE: u64 = 20;
/// A design is bands where such a share of neighboring lines are alike.
const IN_BANDS: (u64, u64) = (4, 5);
/// How deep boxes reach.
const DEPTH: u32 = 2;

/// A joint at which the design is out of step.
struct Misfit {
    axis: Axis,
    /// After how many pixels the design comes again along this axis.
    period: i64,
    /// Lines too many; too few when below zero; 0 when neither can be told.
    lines: i64,
    /// A line or too few inside an even band: on cloth nobody sees it.
    faint: bool,
    crossing: Count,
}

/// What the rule looks at.
struct Look<'a> {
    tile: &'a Tile,
    ground: Ground,
    demand: Option<Repeat>,
    sheet: &'a Sheet<'a>,
    lattice: &'a Lattice,
}

/// What the lattice alone says of the joints: the layouts, and what was measured; `None` where pixels have to be heard.
///
/// A tile whose sides are moves of its unit, and whose border follows the unit to the last line, meets its copies in
/// exactly these layouts.
pub fn settled(
    tile: &Tile,
    ground: Ground,
    demand: Option<Repeat>,
    lattice: &Lattice,
) -> Option<(Vec<Repeat>, Vec<Reading>)> {
    if demand == Some(Repeat::None) {
        return None;
    }
    let look = Look { tile, ground, demand, sheet: &Sheet::colors(tile, ground), lattice };
    let (raster, unit) = (&tile.raster, lattice.unit?);
    // With one move alone, the unit takes it for granted that the sides are moves: a joint would speak for itself.
    if lattice.moves.len() != 2 || look.follows(STRICTLY) != [true, true] {
        return None;
    }
    let mut sound: Vec<Repeat> = PLANE.iter().filter(|layout| fits(unit, raster, **layout)).map(|l| l.0).collect();
    let first = *sound.first()?;
    match demand {
        Some(one_way @ (Repeat::Across | Repeat::Down)) => sound.push(one_way),
        Some(demand) if !sound.contains(&demand) => return None,
        Some(_) | None => {}
    }
    let layout = demand.unwrap_or(first);
    let crossing = |axis| look.sheet.pairs(across_border(unit, vector(raster, axis, layout), axis));
    Some((sound, Axis::BOTH.map(|axis| reading(axis, crossing(axis))).into()))
}

/// Sets `joins_as` and the joint findings of a tile right by what its lattice says, and yields what was measured.
///
/// Where colors have no lattice, the edges of a design laid in courses may have one.
pub fn heed(
    tile: &Tile,
    ground: Ground,
    demand: Option<Repeat>,
    lattice: &Lattice,
    joins_as: &mut Vec<Repeat>,
    findings: &mut Vec<Finding>,
) -> Vec<Reading> {
    if demand == Some(Repeat::None) {
        return Vec::new();
    }
    if !lattice.moves.is_empty() {
        let sheet = &Sheet::colors(tile, ground);
        return Look { tile, ground, demand, sheet, lattice }.told(joins_as, findings);
    }
    if lattice.ruled.is_none()
        && ground == Ground::Opaque
        && let Some(sheet) = Sheet::edges(tile)
    {
        return Look { tile, ground, demand, sheet: &sheet, lattice: &sheet.find() }.told(joins_as, findings);
    }
    Vec::new()
}

impl Look<'_> {
    /// Tells the sides that are no move of the design.
    fn told(&self, joins_as: &mut Vec<Repeat>, findings: &mut Vec<Finding>) -> Vec<Reading> {
        let raster = &self.tile.raster;
        let follows = self.follows(FOLLOWS);
        let wanted = |axis: &Axis| {
            self.demand != Some(if *axis == Axis::Rows { Repeat::Across } else { Repeat::Down })
                && follows[usize::from(*axis == Axis::Rows)]
        };
        let misfits: Vec<Misfit> = Axis::BOTH.into_iter().filter(wanted).filter_map(|axis| self.misfit(axis)).collect();
        let mut readings = Vec::new();
        for misfit in &misfits {
            readings.push(reading(misfit.axis, misfit.crossing));
            let told = |told: &Finding| told.kind.at_joint() && lies_on(told, raster, misfit.axis);
            match findings.iter().position(told) {
                Some(at) if !misfit.faint && (misfit.lines != 0 || findings[at].grade == Grade::Advice) => {
                    findings[at] = finding(raster, misfit);
                }
                Some(_) => {}
                None => findings.push(finding(raster, misfit)),
            }
        }
        if misfits.iter().any(|misfit| !misfit.faint) {
            let fits = |axis| !misfits.iter().any(|misfit| misfit.axis == axis && !misfit.faint);
            let one_way = [(Axis::Columns, Repeat::Across), (Axis::Rows, Repeat::Down)];
            *joins_as = one_way.into_iter().filter(|way| fits(way.0)).map(|way| way.1).collect();
        }
        readings
    }

    /// Whether the outermost lines of left and right, and of top and bottom, follow the moves: a frame or a broken edge
    /// does not, and then nothing can be told there.
    fn follows(&self, part: u64) -> [bool; 2] {
        let mut follows = [!self.lattice.moves.is_empty(); 2];
        for known in &self.lattice.moves {
            for (follows, count) in follows.iter_mut().zip(self.sheet.border_pairs(known.by, BORDER)) {
                *follows &= count.pairs > 0 && self.lattice.below(count, part);
            }
        }
        follows
    }

    /// How the tile's side along an axis misses the moves of the design, if it does in every layout that could be meant.
    fn misfit(&self, axis: Axis) -> Option<Misfit> {
        let (raster, lattice) = (&self.tile.raster, self.lattice);
        let along = usize::from(axis == Axis::Rows);
        let layouts: Vec<Repeat> = match self.demand {
            Some(demand) => vec![demand],
            None => PLANE.iter().filter(|layout| divides(raster, **layout)).map(|layout| layout.0).collect(),
        };
        let mut vectors: Vec<Move> = layouts.into_iter().map(|repeat| vector(raster, axis, repeat)).collect();
        vectors.dedup();
        let straight = vectors[0];
        let (period, crossings): (i64, Vec<Count>) = match (lattice.unit, lattice.moves.as_slice()) {
            (Some(unit), [_, _]) => {
                if vectors.iter().any(|v| unit.holds(*v)) {
                    return None;
                }
                let crossing = |v: &Move| self.sheet.pairs(across_border(unit, *v, axis));
                (unit.periods()[along], vectors.iter().map(crossing).collect())
            }
            (None, [known]) if known.by[1 - along] == 0 => {
                let period = known.by[along];
                let crossing = |v: &Move| self.sheet.pairs([known.by[0] - v[0], known.by[1] - v[1]]);
                (period, vectors.iter().map(crossing).collect())
            }
            _ => return None,
        };
        let above_inside = |count: &Count| {
            let share = |a: Count, b: Count| u128::from(a.differing) * u128::from(b.pairs);
            lattice
                .moves
                .iter()
                .all(|inside| share(*count, inside.count) > u128::from(TIMES_INSIDE) * share(inside.count, *count))
        };
        let crossing = if self.sheet.of_edges() { CROSSING_EDGES } else { CROSSING };
        // Pixels are heard last: copies that drift slowly fail the arithmetic and still meet.
        let differs = |count: &Count| {
            count.pairs > 0
                && !lattice.below(*count, crossing)
                && count.differing * 100 > count.pairs
                && above_inside(count)
        };
        if !crossings.iter().all(differs) {
            return None;
        }
        let side = straight[along];
        // Bands of uneven sizes, rounded to whole pixels, follow a long move by luck where there is little room to deny it.
        let long = period * 2 > side && lattice.moves.iter().any(|known| known.by[along].abs() * 3 > side);
        let holds = |lines: i64| {
            let mut v = straight;
            v[along] -= lines;
            match lattice.unit {
                Some(unit) => unit.holds(v),
                None => (side - lines) % period == 0,
            }
        };
        let most = MOST_LINES.min(period / PART_OF_PERIOD);
        let lines = (1..=most).flat_map(|lines| [lines, -lines]).find(|lines| holds(*lines)).unwrap_or(0);
        if long && !SURE_LINES.contains(&lines.abs()) {
            return None;
        }
        if lines == 0 && (self.sheet.of_edges() || !crossings.iter().all(|count| beyond_a_pixel(lattice, *count))) {
            return None;
        }
        let faint = lines.abs() == 1 && in_bands(self.tile, self.ground, axis);
        Some(Misfit { axis, period, lines, faint, crossing: crossings[0] })
    }
}

/// The move from a tile to the next one over the joint of an axis.
fn vector(raster: &Raster, axis: Axis, repeat: Repeat) -> Move {
    let (width, height) = (i64::from(raster.width()), i64::from(raster.height()));
    let (_, lowered, moved) = PLANE.into_iter().find(|layout| layout.0 == repeat).unwrap_or(PLANE[0]);
    let part = |of: i64, divisor: i64| if divisor == 0 { 0 } else { of / divisor };
    match axis {
        Axis::Columns => [width, part(height, lowered)],
        Axis::Rows => [part(width, moved), height],
    }
}

/// Whether a tile's sides allow the demanded layout, or any, and its moves are moves of a unit.
pub(super) fn fits_unit(unit: Unit, raster: &Raster, demand: Option<Repeat>) -> bool {
    let mut layouts = PLANE.into_iter().filter(|layout| demand.is_none_or(|demand| demand == layout.0));
    layouts.any(|layout| fits(unit, raster, layout))
}

/// Whether the sides allow a layout and both its moves are moves of the design.
fn fits(unit: Unit, raster: &Raster, layout: (Repeat, i64, i64)) -> bool {
    divides(raster, layout) && Axis::BOTH.into_iter().all(|axis| unit.holds(vector(raster, axis, layout.0)))
}

/// Whether the parts by which a layout moves copies are whole pixels.
fn divides(raster: &Raster, (_, lowered, moved): (Repeat, i64, i64)) -> bool {
    let whole = |side: u32, divisor: i64| divisor == 0 || i64::from(side) % divisor == 0;
    whole(raster.height(), lowered) && whole(raster.width(), moved)
}

/// A move whose pairs inside the canvas are pairs across the joint that `v` leads over.
fn across_border(unit: Unit, v: Move, axis: Axis) -> Move {
    let along = usize::from(axis == Axis::Rows);
    let longer = if unit.a[along].abs() >= unit.b[along].abs() { unit.a } else { unit.b };
    let t = if longer[along] < 0 { longer.map(|part| -part) } else { longer };
    [t[0] - v[0], t[1] - v[1]]
}

/// Whether clearly more pairs differ than if everything were moved by one pixel. Units of uneven sizes, rounded to whole
/// pixels, can follow a move exactly for a while; over the border they are then off by no more than that pixel.
fn beyond_a_pixel(lattice: &Lattice, count: Count) -> bool {
    !lattice.below(Count { differing: count.differing * 2, pairs: count.pairs * 3, unlike: 0 }, 1)
}

/// Whether the design is bands, of which each line but the last is like the next: a line more or less makes a band wider or
/// narrower by one pixel, as rounding the bands of a drawing to whole pixels does anywhere.
fn in_bands(tile: &Tile, ground: Ground, axis: Axis) -> bool {
    let raster = &tile.raster;
    let (width, height) = (raster.width(), raster.height());
    let pixel = |line: u32, place: u32| match axis {
        Axis::Columns => raster.pixel(line, place),
        Axis::Rows => raster.pixel(place, line),
    };
    let (lines, length) = if axis == Axis::Columns { (width, height) } else { (height, width) };
    let shown = |pixel: [u8; 4]| if ground == Ground::Transparent && pixel[3] == 0 { [0; 4] } else { pixel };
    let alike = |line: &u32| {
        let differs = |place: &u32| shown(pixel(*line, *place)) != shown(pixel(line + 1, *place));
        let differing = (0..length).filter(differs).count() as u64;
        differing * ALIKE <= u64::from(length)
    };
    let pairs = lines.saturating_sub(1);
    let even = (0..pairs).filter(alike).count() as u64;
    even * IN_BANDS.1 >= u64::from(pairs) * IN_BANDS.0
}

/// Whether a finding is about the joint of an axis: all its boxes touch a border that it joins and lie along it.
fn lies_on(finding: &Finding, raster: &Raster, axis: Axis) -> bool {
    !finding.boxes.is_empty()
        && finding.boxes.iter().all(|b| match axis {
            Axis::Columns => (b.x == 0 || b.x + b.width == raster.width()) && b.width <= b.height,
            Axis::Rows => (b.y == 0 || b.y + b.height == raster.height()) && b.height < b.width,
        })
}

fn reading(axis: Axis, crossing: Count) -> Reading {
    let [near, far] = edges(axis);
    Reading { kind: Kind::JointBreak, at: format!("{near} and {far} edge"), measure: share(crossing) }
}

fn share(crossing: Count) -> Measure {
    let share = crossing.differing as f64 * 100.0 / crossing.pairs.max(1) as f64;
    Measure::new("part of the repeat across the edge that differs", share, "%", Bound::Max, 1.0)
}

fn finding(raster: &Raster, misfit: &Misfit) -> Finding {
    let [near, far] = edges(misfit.axis);
    let (side, way, wide) = match misfit.axis {
        Axis::Columns => (i64::from(raster.width()), "across", "wide"),
        Axis::Rows => (i64::from(raster.height()), "down", "high"),
    };
    let (period, lines) = (misfit.period, misfit.lines.abs());
    let counted = if lines == 1 { "1 line".to_string() } else { format!("{lines} lines") };
    let again = format!("the design comes again every {period} px {way}");
    let right = side - misfit.lines;
    let (kind, says, remedy, measure) = match misfit.lines {
        1.. => (
            Kind::JointDoubled,
            format!(
                "{again}, and the tile is {counted} too {wide}: what the {far} edge begins with stands at the {near} edge already"
            ),
            format!(
                "take {counted} off at the {near} edge, so that the tile is {right} px {wide}, and export it again"
            ),
            Measure::new("lines too many", lines as f64, "px", Bound::Max, 0.0),
        ),
        ..0 => (
            Kind::JointMissing,
            format!(
                "{again}, and the tile is {counted} short of that: {} missing between the {near} and the {far} edge",
                if lines == 1 { "it is" } else { "they are" }
            ),
            format!("export the tile {right} px {wide}, with the lines that were cut off"),
            Measure::new("lines too few", lines as f64, "px", Bound::Max, 0.0),
        ),
        0 => (
            Kind::JointBreak,
            format!(
                "{again}, and the tile is {side} px {wide}, which is no multiple of that: the {near} edge does not meet the {far} one"
            ),
            format!(
                "export the tile {} or {} px {wide}",
                side.div_euclid(period).max(1) * period,
                (side.div_euclid(period) + 1) * period
            ),
            share(misfit.crossing),
        ),
    };
    let (grade, says, remedy) = if misfit.faint {
        (
            Grade::Advice,
            format!(
                "{again}, and the tile is one line {} that: a band at the edge is a line {} than elsewhere, too little to show on cloth",
                if misfit.lines > 0 { "more than" } else { "less than" },
                if misfit.lines > 0 { "wider" } else { "narrower" }
            ),
            "nothing if it is meant; else set the side to a multiple of the repeat".to_string(),
        )
    } else {
        (Grade::Fault, says, remedy)
    };
    Finding { kind, grade, silenced: false, boxes: boxes(raster, misfit), measure: Some(measure), says, remedy }
}

/// The lines on both sides of the border: as many as are too many, for either of them may go.
fn boxes(raster: &Raster, misfit: &Misfit) -> Vec<Area> {
    let (width, height) = (raster.width(), raster.height());
    let deep = u32::try_from(misfit.lines).unwrap_or(0).max(DEPTH);
    let whole = Area { x: 0, y: 0, width, height };
    match misfit.axis {
        Axis::Columns => {
            let deep = deep.min(width);
            vec![Area { x: width - deep, width: deep, ..whole }, Area { width: deep, ..whole }]
        }
        Axis::Rows => {
            let deep = deep.min(height);
            vec![Area { y: height - deep, height: deep, ..whole }, Area { height: deep, ..whole }]
        }
    }
}
