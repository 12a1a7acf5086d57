//! Tells the see-through pixels of an opaque ground apart: thin line, hole, speck.
//!
//! Takes the planes of see-through and of clear pixels, yields masks that do not overlap. Knows no colors and no words.

use super::link::{Groups, linked};
use super::plane::{Plane, SeeThrough};
use super::strands::in_strands;
use crate::finding::Area;
use crate::pixel::mask::{Mask, Run, bounds};

/// The most pixels of a speck: a 3 x 3 blot, or a scratch too short to be called a line.
pub const MOST_OF_A_SPECK: u64 = 9;

/// How far apart, in pixels, parts of one line may lie: where two antialiased edges happen to fill a pixel, rounding
/// leaves a line in bits a pixel or two apart.
pub const LINE_GAP: u32 = 3;

/// The see-through pixels of an opaque ground, each in one set.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Classes {
    /// Thin lines of partly covered pixels between opaque ones, those along the border among them.
    pub lines: Mask,
    /// Clear pixels, and places too wide to be a hairline, with the soft rim around them.
    pub gap: Mask,
    /// Small groups, and pixels strewn without a line.
    pub speck: Mask,
    /// How many separate small holes and specks there are, and their pixels.
    pub strewn: (u64, u64),
    /// Pixels in places at least 5 px wide both ways, those left out where lines meet.
    pub wide: u64,
}

/// Sorts the see-through pixels of a `width` x `height` tile; `wide` holds those that survive opening with a 5 x 5 square.
#[must_use]
pub fn classes(planes: &SeeThrough, wide: &Plane, width: u32, height: u32) -> Classes {
    let mut lines = planes.partial.mask();
    let mut groups = linked(&lines, width, height, LINE_GAP);
    let is_speck = |groups: &Groups, group: u32| groups.sizes[group as usize] <= MOST_OF_A_SPECK;
    let specks = groups.picked(&lines, |group| is_speck(&groups, group));
    let Holes { mut gap, met } = holes(planes, &specks, wide, width, height);

    if !(specks.is_empty() && gap.is_empty()) {
        lines = lines.without(&specks).without(&gap);
        groups = linked(&lines, width, height, LINE_GAP);
    }
    let crumbs = groups.picked(&lines, |group| is_speck(&groups, group));
    if !crumbs.is_empty() {
        // What a hole leaves over of a line, or a soft rim: part of the hole.
        gap = gap.union(&crumbs);
        lines = lines.without(&crumbs);
        groups = linked(&lines, width, height, LINE_GAP);
    }
    let strands = in_strands(&lines, &groups, width, height);
    let loose = groups.picked(&lines, |group| !strands[group as usize]);
    let blots = linked(&loose, width, height, 1);
    let small = blots.picked(&loose, |group| is_speck(&blots, group));

    let gap = gap.union(&loose.without(&small));
    let speck = specks.union(&small);
    let strewn = strewn(&gap.union(&speck), width, height);
    let met = Plane::of(&met, width, height).within(wide).count();
    Classes { lines: lines.without(&loose), gap, speck, strewn, wide: wide.count() - met }
}

/// Where a ground is open.
#[derive(Default)]
struct Holes {
    /// Clear pixels and broad places, and what lies within a line's gap of them.
    gap: Mask,
    /// Broad places that are only lines meeting.
    met: Mask,
}

fn holes(planes: &SeeThrough, specks: &Mask, wide: &Plane, width: u32, height: u32) -> Holes {
    let SeeThrough { partial, clear, .. } = planes;
    let thin = partial.between().without(wide);
    let specks = (!specks.is_empty()).then(|| Plane::of(specks, width, height));
    let aside = |plane: Plane| match &specks {
        Some(specks) => plane.without(specks),
        None => plane,
    };
    let broad = aside(partial.clone().without(&thin));
    let (broad, clear) = match clear {
        Some(clear) => (broad.without(clear), Some(aside(clear.clone()))),
        None => (broad, None),
    };
    if broad.is_empty() && clear.is_none() {
        return Holes::default();
    }
    let met = junctions(partial, &broad.mask(), width, height);
    let mut open = broad.without(&Plane::of(&met, width, height));
    if let Some(clear) = &clear {
        open = open.with(clear);
    }
    let gap = if open.is_empty() { open } else { aside(open.dilated(LINE_GAP as isize).within(partial)) };
    Holes { gap: gap.mask(), met }
}

/// The largest side of a hole that still counts as a small one, in pixels.
const SMALL_HOLE: u32 = 32;

/// How many of the mask's parts are small, and their pixels.
fn strewn(mask: &Mask, width: u32, height: u32) -> (u64, u64) {
    let parts = parts(mask, width, height);
    let small = parts
        .iter()
        .filter(|runs| bounds(runs).is_some_and(|area| area.width <= SMALL_HOLE && area.height <= SMALL_HOLE));
    small.fold((0, 0), |(holes, pixels), runs| (holes + 1, pixels + runs.iter().map(|run| run.count()).sum::<u64>()))
}

/// How near the border, in pixels, a place may lie to be cut by it: as far as half of two merging lines reaches.
const BORDER: u32 = 4;

/// Broad places that are nothing but lines meeting: at most 8 px thick, which is twice a soft hairline, without a clear
/// pixel, and left by at least three arms, or two where the border cuts the place. Two lines that cross at a small angle,
/// or three-pixel lines that cross at all, make such places.
fn junctions(all: &Plane, broad: &Mask, width: u32, height: u32) -> Mask {
    if broad.is_empty() {
        return Mask::default();
    }
    let core = all.eroded(4);
    let met = parts(broad, width, height).into_iter().filter(|runs| {
        let mut pixels = runs.iter().flat_map(|run| (run.start..run.end).map(|x| (i64::from(x), i64::from(run.y))));
        pixels.all(|(x, y)| !core.has(x, y))
            && bounds(runs).is_some_and(|place| {
                let near = |start: u32, long: u32, side: u32| start.min(side - start - long) <= BORDER;
                let cut = near(place.x, place.width, width) || near(place.y, place.height, height);
                arms(all, place, runs[0]) >= if cut { 2 } else { 3 }
            })
    });
    Mask::of(met.flatten().collect())
}

/// How many arms leave a place, the most on any of several rings around it: arms that part at a small angle are told apart
/// only some way off. Only what hangs together with `within`, a run of the place, inside the ring counts as an arm.
fn arms(all: &Plane, place: Area, within: Run) -> usize {
    let on_ring = |off: u32| {
        let (left, top) = (i64::from(place.x) - i64::from(off), i64::from(place.y) - i64::from(off));
        let (width, height) = (place.width + 2 * off, place.height + 2 * off);
        let row = |y: u32| {
            let set = move |x: &u32| all.has(left + i64::from(*x), top + i64::from(y));
            (0..width).filter(set).map(move |x| Run { y, start: x, end: x + 1 })
        };
        let square = Mask::of((0..height).flat_map(row).collect());
        let (x, y) = ((i64::from(within.start) - left) as u32, (i64::from(within.y) - top) as u32);
        let holds = |runs: &Vec<Run>| runs.iter().any(|run| run.y == y && run.start <= x && x < run.end);
        let own = parts_on_canvas(&square, width, height).into_iter().find(holds).map(Mask::of).unwrap_or_default();
        let (right, bottom) = (width - 1, height - 1);
        let ring = (0..right)
            .map(|x| (x, 0))
            .chain((0..bottom).map(|y| (right, y)))
            .chain((1..=right).rev().map(|x| (x, bottom)))
            .chain((1..=bottom).rev().map(|y| (0, y)));
        let ring: Vec<bool> = ring.map(|(x, y)| own.contains(x, y)).collect();
        let before = ring.iter().cycle().skip(ring.len().saturating_sub(1));
        ring.iter().zip(before).filter(|&(now, before)| *now && !before).count()
    };
    [2, 4, 8, 16, 32].into_iter().map(on_ring).max().unwrap_or(0)
}

/// The connected parts of a mask, each as its runs, in order; parts that meet across the border are one.
fn parts(mask: &Mask, width: u32, height: u32) -> Vec<Vec<Run>> {
    linked(mask, width, height, 1).runs(mask)
}

/// The connected parts of a mask as seen on the canvas: what meets only across the border is apart.
#[must_use]
pub fn parts_on_canvas(mask: &Mask, width: u32, height: u32) -> Vec<Vec<Run>> {
    // One empty column and row more, so that nothing meets around the back.
    parts(mask, width.saturating_add(1), height.saturating_add(1))
}
