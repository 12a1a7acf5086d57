//! What broke a joint: lines too many, lines too few, light that drifts, art that comes back aside, or a plain break.
//!
//! Takes a joint that does not meet. A cause is named only when it explains what is seen there.

use super::around::Around;
use super::course::Course;
use super::drift::Drift;
use super::line::{Axis, View};
use crate::tile::Raster;

/// How far a shift is looked for, in pixels, to each side.
const FURTHEST: isize = 64;

/// How many missing or doubled lines are looked for.
const MOST_LINES: isize = 12;

/// Art that is carried on to the right place is off by at most this share of what it is off at the joint.
const EXPLAINS: f32 = 0.7;

/// And by at most this many times what it is off between lines as far apart inside the tile.
const LIKE_INSIDE: f32 = 1.3;

/// And this many levels.
const ROUNDING: f32 = 0.3;

/// The share of edges, by their slant, that agree on the number of lines.
const AGREE: f32 = 0.4;

/// Places inside the tile that tell how far off is usual.
const PROBES: usize = 24;

/// What broke a joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cause {
    /// Something else, or a mixture.
    Break,
    /// So many of the first lines follow once more after the last.
    Doubled(usize),
    /// So many lines are missing between the last and the first.
    Missing(usize),
    /// Light or tint steps evenly.
    Drift(Drift),
    /// The art comes back so many pixels further along: down or to the right if positive.
    Shift(isize),
}

/// The cause that explains a joint; `meets_aside` tells whether it would meet with the copy moved back by so many pixels.
pub(super) fn explain(
    view: View,
    raster: &Raster,
    axis: Axis,
    joint: &Around,
    meets_aside: impl Fn(isize) -> bool,
) -> Cause {
    let [before, near, far, after] = &joint.lines;
    let course = Course::new([before, near, far, after]);
    let here = course.off(1.0, 0);
    let furthest = FURTHEST.min(axis.length(raster) as isize / 8);
    let best = |values: &mut dyn Iterator<Item = isize>, off: &dyn Fn(isize) -> f32| {
        values.map(|value| (value, off(value))).min_by(|a, b| a.1.total_cmp(&b.1))
    };
    let aside = best(&mut (-furthest..=furthest).filter(|aside| *aside != 0), &|aside| course.off(1.0, aside));
    let lines = best(&mut (1 - MOST_LINES..=1 + MOST_LINES).filter(|lines| *lines != 1), &|l| course.off(l as f32, 0));
    let usual = |lines: isize| {
        let gap = (lines - 1).max(0) as usize;
        let places = axis.lines(raster).saturating_sub(4 + gap);
        let mut off: Vec<f32> = (0..PROBES)
            .map(|probe| {
                let first = (2 * probe + 1) * places / (2 * PROBES);
                let inside = Around::inside(view, raster, axis, first, gap);
                let [before, near, far, after] = &inside.lines;
                Course::new([before, near, far, after]).off(lines.max(1) as f32, 0)
            })
            .collect();
        off.sort_unstable_by(f32::total_cmp);
        off[PROBES * 3 / 4]
    };
    let explains = |off: f32, lines: isize| off <= EXPLAINS * here && off <= LIKE_INSIDE * usual(lines) + ROUNDING;
    let lines = lines.filter(|(lines, off)| explains(*off, *lines));
    let aside = aside.filter(|(aside, off)| meets_aside(*aside) || explains(*off, 1));
    let by_edges =
        course.advance().filter(|(_, share)| *share >= AGREE).map(|(lines, _)| (lines - 1.0).round() as isize);
    if let (None, None, Some(missing)) = (lines, aside, by_edges)
        && (1..=MOST_LINES).contains(&missing)
    {
        return Cause::Missing(missing as usize);
    }
    match (lines, aside) {
        (Some((lines, off)), aside) if aside.is_none_or(|(_, off_aside)| off <= off_aside) => {
            if lines > 1 {
                Cause::Missing((lines - 1) as usize)
            } else {
                Cause::Doubled((1 - lines) as usize)
            }
        }
        (_, Some((aside, _))) => Cause::Shift(aside),
        _ => Cause::Break,
    }
}
