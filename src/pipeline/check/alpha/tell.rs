//! What a survey comes to, in findings and the designer's words.
//!
//! Takes a survey and its tile, yields findings. Decides nothing about pixels.

use super::boxes::hugging;
use super::classes::parts_on_canvas;
use super::fringe::Edge;
use super::lines::{Drawn, Line, drawn};
use super::survey::Survey;
use crate::finding::{Area, Bound, Finding, Grade, Kind, Measure};
use crate::pipeline::check::words::{self, count, middle, place, run_as};
use crate::pixel::mask::{Mask, Run, bounds};
use crate::spec::{Ground, GroundDemand};
use crate::tile::Tile;

/// Up to this many lines each get a finding of their own; more are told in groups by angle.
const MOST_LINES: usize = 8;

/// A line shorter than one in so many parts of the tile's smaller side is told with the rest.
const SHORTEST: u32 = 10;

/// Lines whose angles differ by less than this many degrees are told together.
const SAME_ANGLE: f64 = 2.0;

/// The findings of a survey, holes first. On an unclear ground all are advice; on a transparent one there are none.
#[must_use]
pub fn findings(survey: &Survey, tile: &Tile, demand: GroundDemand) -> Vec<Finding> {
    let teller =
        Teller { survey, tile, faults: !(survey.gap.is_empty() && survey.speck.is_empty() && survey.lost.is_empty()) };
    let canvas = u64::from(tile.raster.width()) * u64::from(tile.raster.height());
    if survey.ground == Ground::Transparent || survey.see_through == 0 {
        return Vec::new();
    }
    if demand == GroundDemand::Opaque && survey.bare(canvas) {
        return vec![teller.bare_ground(canvas)];
    }
    let mut told = Vec::new();
    if survey.ground == Ground::Unclear {
        told.push(teller.unclear_ground(canvas));
    }
    told.extend(teller.gaps());
    told.extend(teller.lost());
    told.extend(teller.specks());
    told.extend(teller.hairlines());
    told.extend(teller.fringe());
    told
}

struct Teller<'a> {
    survey: &'a Survey,
    tile: &'a Tile,
    /// Whether there is anything that mending cannot help.
    faults: bool,
}

impl Teller<'_> {
    fn finding(&self, kind: Kind, parts: Vec<Vec<Run>>, measure: Measure, says: String, remedy: String) -> Finding {
        let grade = match (self.survey.ground, kind) {
            (Ground::Unclear, _) => Grade::Advice,
            (_, Kind::AlphaHairline | Kind::AlphaFringe) => Grade::Mend,
            _ => Grade::Fault,
        };
        let canvas = u64::from(self.tile.raster.width()) * u64::from(self.tile.raster.height());
        let boxes = hugging(parts, canvas);
        Finding { kind, grade, silenced: false, boxes, measure: Some(measure), says, remedy }
    }

    fn bare_ground(&self, canvas: u64) -> Finding {
        let (says, remedy) = match self.opacity(canvas) {
            Some(percent) => (
                format!("the whole tile is see-through, {percent}, and the order wants an opaque ground"),
                "set the layer to full opacity, or put the ground color behind it, and export again",
            ),
            None => (
                format!("{} of the tile is see-through, and the order wants an opaque ground", self.percent(canvas)),
                "put the ground color behind the motifs and export again, or choose an order with a see-through ground",
            ),
        };
        self.finding(Kind::AlphaGround, Vec::new(), self.share(canvas), says, remedy.into())
    }

    /// How opaque a tile is that has no opaque pixel and no clear one: a layer whose opacity was turned down, as a rule.
    fn opacity(&self, canvas: u64) -> Option<String> {
        if self.survey.see_through < canvas {
            return None;
        }
        let percent = |alpha: u8| (u32::from(alpha) * 100).div_ceil(255);
        let (least, most) = self
            .tile
            .raster
            .samples()
            .as_chunks::<4>()
            .0
            .iter()
            .fold((255, 0), |(least, most), pixel| (pixel[3].min(least), pixel[3].max(most)));
        match (percent(least), percent(most).min(99)) {
            (0, _) => None,
            (least, most) if least >= most => Some(format!("{most} % opaque")),
            (least, most) => Some(format!("{least} to {most} % opaque")),
        }
    }

    fn unclear_ground(&self, canvas: u64) -> Finding {
        let says = format!("{} of the tile is see-through; whether that is meant cannot be told", self.percent(canvas));
        let remedy = "say in the order sheet whether the ground is opaque or transparent; until then nothing is mended";
        self.finding(Kind::AlphaGround, Vec::new(), self.share(canvas), says, remedy.into())
    }

    fn percent(&self, canvas: u64) -> String {
        format!("{:.1} %", 100.0 * self.survey.see_through as f64 / canvas as f64)
    }

    fn share(&self, canvas: u64) -> Measure {
        let percent = 100.0 * self.survey.see_through as f64 / canvas as f64;
        Measure::new("see-through area", percent, "% of the tile", Bound::Max, 0.0)
    }

    fn gaps(&self) -> Option<Finding> {
        let mut holes = parts_on_canvas(&self.survey.gap, self.tile.raster.width(), self.tile.raster.height());
        holes.sort_by_key(|runs| std::cmp::Reverse(pixels(runs)));
        let largest = bounds(holes.first()?)?;
        let (wide, high) = (count(largest.width.into(), "px"), count(largest.height.into(), "px"));
        let where_ = place(largest, self.tile);
        let says = match (self.empty_edge(largest), holes.len()) {
            (Some(edge), 1) => {
                format!("the {edge} edge is empty, {} deep", count(largest.width.min(largest.height).into(), "px"))
            }
            (_, 1) => format!("a hole, {wide} wide and {high} high, {where_}"),
            (_, n) => {
                format!("{} holes, the largest {wide} wide and {high} high, {where_}", count(n as u64, "").trim())
            }
        };
        let measure = Measure::new("pixels in holes", self.survey.gap.count() as f64, "px", Bound::Max, 0.0);
        let remedy = self.advice("fill what is empty and export again");
        Some(self.finding(Kind::AlphaGap, holes, measure, says, remedy))
    }

    /// The side along which a hole takes up the outermost lines, if it does.
    fn empty_edge(&self, hole: Area) -> Option<&'static str> {
        let (width, height) = (self.tile.raster.width(), self.tile.raster.height());
        let (level, upright) =
            (hole.height <= 3 && hole.width * 2 >= width, hole.width <= 3 && hole.height * 2 >= height);
        match () {
            () if level && hole.y == 0 => Some("top"),
            () if level && hole.y + hole.height == height => Some("bottom"),
            () if upright && hole.x == 0 => Some("left"),
            () if upright && hole.x + hole.width == width => Some("right"),
            () => None,
        }
    }

    fn lost(&self) -> Option<Finding> {
        let area = self.survey.lost.bounds()?;
        let says = format!("a line so see-through that no color is left in it, {}", place(middle(area), self.tile));
        let remedy = self.advice("color the line again and export once more");
        let parts = vec![self.survey.lost.runs().to_vec()];
        Some(self.finding(Kind::AlphaGap, parts, self.lowest(&self.survey.lost), says, remedy))
    }

    fn specks(&self) -> Option<Finding> {
        let specks = parts_on_canvas(&self.survey.speck, self.tile.raster.width(), self.tile.raster.height());
        let first = place(bounds(specks.first()?)?, self.tile);
        let all = self.survey.speck.count();
        let says = match specks.len() {
            1 => format!("a see-through speck of {}, {first}", count(all, "px")),
            n => format!("{}, the first {first}", count(n as u64, "see-through specks")),
        };
        let measure = Measure::new("pixels in specks", all as f64, "px", Bound::Max, 0.0);
        Some(self.finding(Kind::AlphaSpeck, specks, measure, says, self.advice("fill the specks and export again")))
    }

    fn hairlines(&self) -> Vec<Finding> {
        let side = self.tile.raster.width().min(self.tile.raster.height());
        // Of circles that fit the tile, no chord longer than the root of 20 sides looks straight to within 2.5 px.
        let Drawn { lines, rest } = drawn(&self.survey.hairline, (side / SHORTEST).max((25 * side).isqrt()));
        let mut told: Vec<Finding> = Vec::new();
        if lines.len() <= MOST_LINES {
            told.extend(lines.iter().map(|line| self.hairline(vec![&line.pixels], self.one_line(line))));
        } else {
            let mut by_angle: Vec<Vec<&Line>> = Vec::new();
            for line in &lines {
                let near = |other: &[&Line]| {
                    let apart = (other[0].angle - line.angle).abs();
                    apart.min(180.0 - apart) < SAME_ANGLE
                };
                match by_angle.iter_mut().find(|other| near(other)) {
                    Some(group) => group.push(line),
                    None => by_angle.push(vec![line]),
                }
            }
            let others: Vec<&Line> = by_angle.drain(by_angle.len().min(MOST_LINES)..).flatten().collect();
            for group in by_angle {
                let says = if group.len() == 1 {
                    self.one_line(group[0])
                } else {
                    format!(
                        "{} {}",
                        count(group.len() as u64, "see-through lines"),
                        run_as(group[0].angle, "run", "rise", "fall")
                    )
                };
                told.push(self.hairline(group.iter().map(|line| &line.pixels).collect(), says));
            }
            if !others.is_empty() {
                let says = format!("{} in other directions", count(others.len() as u64, "more see-through lines"));
                told.push(self.hairline(others.iter().map(|line| &line.pixels).collect(), says));
            }
        }
        if let Some(area) = rest.bounds() {
            let says = if told.is_empty() {
                format!("short or curved see-through lines, around {}", place(middle(area), self.tile))
            } else {
                format!("short or curved see-through bits beside the lines, {}", count(rest.count(), "px"))
            };
            let finding = self.hairline(vec![&rest], says);
            told.push(Finding { remedy: self.mending("they are"), ..finding });
        }
        told
    }

    fn hairline(&self, lines: Vec<&Mask>, says: String) -> Finding {
        let masks = Mask::of(lines.iter().flat_map(|mask| mask.runs()).copied().collect());
        let remedy = self.mending(if lines.len() == 1 { "the line is" } else { "the lines are" });
        let parts = lines.into_iter().map(|mask| mask.runs().to_vec()).collect();
        self.finding(Kind::AlphaHairline, parts, self.lowest(&masks), says, remedy)
    }

    fn one_line(&self, line: &Line) -> String {
        line.pixels
            .bounds()
            .map_or_else(String::new, |area| words::line("see-through line", line.angle, area, self.tile))
    }

    fn fringe(&self) -> Option<Finding> {
        let edges = &self.survey.fringe;
        let (last, others) = edges.split_last()?;
        let others: Vec<&str> = others.iter().map(|edge| edge.side.name()).collect();
        let (sides, edges_are) = match others.as_slice() {
            [] => (last.side.name().into(), "edge is"),
            _ => (format!("{} and {}", others.join(", "), last.side.name()), "edges are"),
        };
        // The mean depth, rounded: where a line meets the border single pixels lie deeper.
        let deep = |edge: &Edge| {
            let long = edge.pixels.bounds().map_or(1, |area| u64::from(area.width.max(area.height)));
            (2 * edge.pixels.count() + long) / (2 * long)
        };
        let deep = edges.iter().map(deep).max().unwrap_or(1).max(1);
        let says = format!("the {sides} {edges_are} see-through, {} deep", count(deep, "px"));
        let parts = edges.iter().map(|edge| edge.pixels.runs().to_vec()).collect();
        let remedy = self.mending(&format!("the {edges_are}"));
        Some(self.finding(Kind::AlphaFringe, parts, self.lowest(&self.survey.fringed()), says, remedy))
    }

    /// The lowest alpha of a mask in the file's own depth, beside what it should be.
    fn lowest(&self, mask: &Mask) -> Measure {
        let width = self.tile.raster.width() as usize;
        let at = |(x, y): (u32, u32)| (y as usize * width + x as usize) * 4 + 3;
        let (lowest, full) = match &self.tile.deep {
            Some(deep) => (mask.pixels().map(|pixel| deep.0[at(pixel)]).min(), u16::MAX),
            None => (mask.pixels().map(|pixel| self.tile.raster.samples()[at(pixel)].into()).min(), 255),
        };
        let unit = format!("of {full}");
        Measure::new("lowest alpha", lowest.unwrap_or(full).into(), &unit, Bound::Min, full.into())
    }

    /// What to do about what is mended; `what` ends in "is" or "are".
    fn mending(&self, what: &str) -> String {
        match (self.survey.ground, self.faults) {
            (Ground::Unclear, _) => {
                "if the ground is meant to be opaque, say so in the order sheet and this is mended".into()
            }
            (_, false) => format!("nothing: {what} mended"),
            (_, true) => format!("nothing here: {what} mended once the holes and specks are filled"),
        }
    }

    /// What to do about what only the artist can mend.
    fn advice(&self, remedy: &str) -> String {
        if self.survey.ground == Ground::Unclear { format!("if this is not meant, {remedy}") } else { remedy.into() }
    }
}

fn pixels(runs: &[Run]) -> u64 {
    runs.iter().map(|run| run.count()).sum()
}
