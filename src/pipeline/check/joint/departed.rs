//! Departed: a border that is not what the design is everywhere inside, while the border that it joins is.
//!
//! Takes a tile and the unit of a part of it. In weaves, checks and plaids every line steps like a joint and a border that was
//! painted over or moved aside looks like the rest; beside the unit it does not. A frame departs on both sides, and a design
//! that ends on a line of its own does so at once: neither is told.

use super::line::Axis;
use super::periodic::fits_unit;
use super::telling::edges;
use crate::finding::{Area, Bound, Finding, Grade, Kind, MOST_BOXES, Measure};
use crate::pipeline::lattice::Part;
use crate::spec::Repeat;
use crate::tile::{Raster, Tile};

/// Pixels that differ by more levels than this are seen to.
const SEEN: u8 = 8;

/// Lines at a border that all have to depart.
const DEEP: i64 = 2;

/// At least so many places depart, and one in so many of a border.
const LEAST: usize = 4;
const OF_BORDER: usize = 50;

/// The border that follows departs at one in so many of those places at most.
const FOLLOWS: usize = 10;

/// A border was changed over no more than this part of the tile.
const REACHES: i64 = 3;

/// Lines over which the largest departure is taken: where a design comes back to itself for a while, it still departs.
const AROUND: usize = 24;

/// Where less than this part of what departs at the border is left, the design is itself again; where more than the other
/// part is left within [`AT_ONCE`] lines of it, it departs at once.
const ITSELF: f64 = 0.1;
const MUCH: f64 = 0.5;
const AT_ONCE: usize = 3;

/// Places of one stretch are no further apart than this many pixels.
const APART: usize = 12;

/// Tells borders that depart from the unit of a part of the tile, and takes back the layouts that need them, when the tile's
/// sides are moves of that unit.
pub fn departed(
    tile: &Tile,
    demand: Option<Repeat>,
    part: &Part,
    joins_as: &mut Vec<Repeat>,
    findings: &mut Vec<Finding>,
) {
    let raster = &tile.raster;
    if !fits_unit(part.unit, raster, demand) {
        return;
    }
    let told = Axis::BOTH.map(|axis| finding(raster, part, axis));
    if told.iter().any(Option::is_some) {
        let one_way = [Repeat::Across, Repeat::Down].into_iter().zip(&told).filter(|(_, told)| told.is_none());
        *joins_as = one_way.map(|(repeat, _)| repeat).collect();
        findings.extend(told.into_iter().flatten());
    }
}

/// One border of a tile, as lines counted from it inward.
struct Border<'a> {
    raster: &'a Raster,
    part: &'a Part,
    axis: Axis,
    /// Whether it is the one before the joint: bottom or right.
    near: bool,
}

impl Border<'_> {
    fn length(&self) -> usize {
        self.axis.length(self.raster)
    }

    /// The pixel at a place of a line.
    fn at(&self, line: i64, place: usize) -> (i64, i64) {
        let lines = self.axis.lines(self.raster) as i64;
        let line = if self.near { lines - 1 - line } else { line };
        if self.axis == Axis::Rows { (place as i64, line) } else { (line, place as i64) }
    }

    /// By how many levels a pixel differs from its like in the part; 0 where that cannot be told.
    fn apart(&self, line: i64, place: usize) -> u8 {
        let (x, y) = self.at(line, place);
        let Some((like_x, like_y)) = self.part.like(x, y) else { return 0 };
        let (own, like) = (self.raster.pixel(x as u32, y as u32), self.raster.pixel(like_x, like_y));
        if own[3] != 255 || like[3] != 255 {
            return 0;
        }
        own.iter().zip(like).map(|(own, like)| own.abs_diff(like)).max().unwrap_or(0)
    }

    /// The places where the outermost lines all depart.
    fn departing(&self) -> Vec<usize> {
        let departs = |place: &usize| (0..DEEP).all(|line| self.apart(line, *place) > SEEN);
        (0..self.length()).filter(departs).collect()
    }

    /// Whether the design departs bit by bit toward the border, over no more than a part of the tile.
    fn fades(&self, places: &[usize]) -> bool {
        let reach = self.axis.lines(self.raster) as i64 / REACHES;
        let mean = |line: i64| {
            places.iter().map(|place| f64::from(self.apart(line, *place))).sum::<f64>() / places.len().max(1) as f64
        };
        let departs: Vec<f64> = (0..reach).map(mean).collect();
        let around: Vec<f64> = departs.windows(AROUND).map(|lines| lines.iter().copied().fold(0.0, f64::max)).collect();
        let most = departs.iter().copied().fold(0.0, f64::max);
        let Some(itself) = around.iter().position(|departs| *departs < ITSELF * most) else { return false };
        around[itself.saturating_sub(AT_ONCE)..itself].iter().all(|departs| *departs < MUCH * most)
    }
}

/// The finding for the joint of an axis, when one of its borders departs from the unit of a part and the other follows it.
fn finding(raster: &Raster, part: &Part, axis: Axis) -> Option<Finding> {
    let border = |near| Border { raster, part, axis, near };
    let borders = [border(true), border(false)];
    let departing = borders.each_ref().map(Border::departing);
    let departs = usize::from(departing[1].len() > departing[0].len());
    let (places, others) = (&departing[departs], &departing[1 - departs]);
    let length = axis.length(raster);
    if places.len() < LEAST.max(length / OF_BORDER)
        || others.len() * FOLLOWS > places.len()
        || !borders[departs].fades(places)
    {
        return None;
    }
    let edge = edges(axis)[departs];
    let other = edges(axis)[1 - departs];
    let share = places.len() as f64 * 100.0 / length.max(1) as f64;
    Some(Finding {
        kind: Kind::JointBreak,
        grade: Grade::Fault,
        silenced: false,
        boxes: boxes(raster, axis, places),
        measure: Some(Measure::new("part of the edge that is not the repeat inside", share, "%", Bound::Max, 0.0)),
        says: format!(
            "the {edge} edge does not meet the {other} one: inside, the design comes again and again, and toward the {edge} edge it becomes another"
        ),
        remedy: format!("look at what was painted, moved or blended near the {edge} edge, and export the tile again"),
    })
}

/// The stretches of places, on both sides of the border.
fn boxes(raster: &Raster, axis: Axis, places: &[usize]) -> Vec<Area> {
    let stretches = places.chunk_by(|a, b| b - a <= APART);
    let (width, height) = (raster.width(), raster.height());
    let deep = DEEP as u32;
    let mut boxes: Vec<Area> = stretches
        .filter_map(|stretch| Some((*stretch.first()? as u32, *stretch.last()? as u32 + 1)))
        .flat_map(|(first, end)| {
            [true, false].map(|near| match axis {
                Axis::Rows => Area {
                    x: first,
                    y: if near { height.saturating_sub(deep) } else { 0 },
                    width: end - first,
                    height: deep.min(height),
                },
                Axis::Columns => Area {
                    x: if near { width.saturating_sub(deep) } else { 0 },
                    y: first,
                    width: deep.min(width),
                    height: end - first,
                },
            })
        })
        .collect();
    boxes.truncate(MOST_BOXES);
    boxes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::lattice::Unit;

    /// Checks of 15 px, as a part of which the upper three quarters are known.
    fn checks(pixel: impl Fn(u32, u32) -> u32) -> (Raster, Part) {
        let value = |x: u32, y: u32| if (x / 15 + y / 15).is_multiple_of(2) { 40 } else { 200 };
        let (side, unit) = (300, Unit { a: [15, 15], b: [15, -15] });
        let samples = (0..side * side).flat_map(|at| {
            let (x, y) = (at % side, at / side);
            // So much of the place a few pixels further on, in hundredths.
            let part = pixel(x, y);
            let value = (value(x, y) * (100 - part) + value(x + 7, y + 4) * part) / 100;
            [value as u8, value as u8, value as u8, 255]
        });
        let raster = Raster::new(side, side, samples.collect()).expect("as many samples as pixels");
        (raster, Part { area: Area { x: 0, y: 0, width: side, height: 225 }, unit })
    }

    fn found(pixel: impl Fn(u32, u32) -> u32, axis: Axis) -> Option<Finding> {
        let (raster, part) = checks(pixel);
        finding(&raster, &part, axis)
    }

    /// From nothing at 60 lines from the bottom edge to all of it.
    fn toward_bottom(y: u32) -> u32 {
        (y.saturating_sub(240) * 2).min(100)
    }

    #[test]
    fn an_edge_that_becomes_another_is_told_where_it_does() {
        let found = found(|x, y| if x < 100 { toward_bottom(y) } else { 0 }, Axis::Rows).expect("a break");
        assert!(found.says.starts_with("the bottom edge"), "{}", found.says);
        assert!(found.boxes.iter().all(|b| b.x + b.width <= 100 && (b.y == 0 || b.y == 298)), "{:?}", found.boxes);
    }

    #[test]
    fn checks_that_are_themselves_to_the_border_are_not_told() {
        assert_eq!(Axis::BOTH.map(|axis| found(|_, _| 0, axis)), [None, None]);
    }

    #[test]
    fn a_frame_departs_on_both_sides() {
        assert_eq!(found(|_, y| toward_bottom(y).max(toward_bottom(299 - y)), Axis::Rows), None);
    }

    #[test]
    fn a_band_of_another_design_begins_at_once() {
        assert_eq!(found(|_, y| if y >= 260 { 100 } else { 0 }, Axis::Rows), None);
    }
}
