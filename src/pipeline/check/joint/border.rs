//! Lines of one color: a line drawn along the border on purpose, and stripes that run along the joint.
//!
//! Where somebody drew a line on the border, nothing can be told about what would continue across it.

use super::line::{Axis, Line, View};
use super::past;
use super::step;
use crate::tile::Raster;

/// A line is of one color when this share of its pixels is near the color.
const UNIFORM: f64 = 0.94;
/// How near, in levels, and how near after a lossy coder, which rings along the inner edge of a frame.
const NEAR: u8 = 3;
const NEAR_LOSSY: u8 = 12;
/// A border line is drawn there only if fewer interior lines than this share are of one color too: in dots and courses
/// of bricks they are common, and tell nothing.
const COMMON: f64 = 0.3;
/// Nearly all lines of one color: stripes.
const STRIPES: f64 = 0.9;
/// Lines next to the border that may be the drawn one.
const BORDER_LINES: usize = 3;
/// How far a band of the drawn color may reach inward.
const WIDEST_BAND: usize = 64;
/// The line after the band has at most this share of the band's color: the band ends at once, while the empty ground
/// between motifs fades away line by line.
const AFTER_BAND: f64 = 0.8;
/// Places along a line whose median is taken for its color.
const PROBES: usize = 9;

/// What lines of one color say about an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Intent {
    /// Nothing.
    Unknown,
    /// A line was drawn along the border.
    DrawnLine,
    /// The whole tile is stripes along the joint; any crop of stripes is stripes.
    Stripes,
}

/// What lines of one color say about the joint of `axis`.
pub(super) fn intent(view: View, raster: &Raster, axis: Axis) -> Intent {
    if view.luma() {
        return within(view, raster, axis, NEAR_LOSSY);
    }
    match within(view, raster, axis, NEAR) {
        // A coder's past is looked for last, since that reads the whole tile.
        Intent::Unknown if within(view, raster, axis, NEAR_LOSSY) == Intent::DrawnLine && past::wavers(raster) => {
            Intent::DrawnLine
        }
        intent => intent,
    }
}

/// The same where colors within so many levels are one.
fn within(view: View, raster: &Raster, axis: Axis, near: u8) -> Intent {
    let lines = axis.lines(raster);
    let uniform = |index: usize| {
        let line = view.take(raster, axis, index);
        let color = color(&line);
        share(&line, &color, near) >= UNIFORM
    };
    let last = lines.saturating_sub(1);
    let both_ends = uniform(0) && uniform(last);
    let drawn = (0..BORDER_LINES.min(lines)).any(|index| {
        ends_a_band(view, raster, axis, near, &mut (index..lines))
            || ends_a_band(view, raster, axis, near, &mut (0..lines - index).rev())
    });
    if !both_ends && !drawn {
        return Intent::Unknown;
    }
    let common = uniform_share(view, raster, axis, near);
    if both_ends && common >= STRIPES {
        Intent::Stripes
    } else if drawn && common < COMMON {
        Intent::DrawnLine
    } else {
        Intent::Unknown
    }
}

/// Whether the first of `indices` is of one color, and the band of that color that it begins ends at once.
fn ends_a_band(view: View, raster: &Raster, axis: Axis, near: u8, indices: &mut dyn Iterator<Item = usize>) -> bool {
    let Some(first) = indices.next() else { return false };
    let line = view.take(raster, axis, first);
    let band = color(&line);
    if share(&line, &band, near) < UNIFORM {
        return false;
    }
    for index in indices.take(WIDEST_BAND) {
        let share = share(&view.take(raster, axis, index), &band, near);
        if share < UNIFORM {
            return share < AFTER_BAND;
        }
    }
    false
}

/// The color of a line: the median of a few places, channel by channel. If 94 % of a line are near one color, so is it.
fn color(line: &Line) -> Vec<u8> {
    line.channels
        .iter()
        .map(|channel| median((0..PROBES).map(|probe| channel[probe_at(probe, channel.len())])))
        .collect()
}

/// Where probe `probe` lies on a line.
fn probe_at(probe: usize, length: usize) -> usize {
    (2 * probe + 1) * length / (2 * PROBES)
}

fn median(values: impl Iterator<Item = u8>) -> u8 {
    let mut values: Vec<u8> = values.collect();
    values.sort_unstable();
    values.get(values.len() / 2).copied().unwrap_or(0)
}

/// The share of a line's pixels that are near a color.
fn share(line: &Line, color: &[u8], near: u8) -> f64 {
    let length = line.channels.first().map_or(0, Vec::len);
    let even = Line { channels: color.iter().map(|value| vec![*value; length]).collect() };
    let mut steps = vec![0; length];
    step::across(line, &even, &mut steps);
    steps.iter().filter(|step| **step <= near).count() as f64 / length.max(1) as f64
}

/// The share of all lines of an axis that are of one color.
fn uniform_share(view: View, raster: &Raster, axis: Axis, near: u8) -> f64 {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let mut line = view.line(width);
    let uniform = match axis {
        Axis::Rows => (0..height)
            .filter(|y| {
                view.spread(raster.row(*y as u32), &mut line);
                let color = color(&line);
                share(&line, &color, near) >= UNIFORM
            })
            .count(),
        Axis::Columns => {
            let probes: Vec<Line> =
                (0..PROBES).map(|probe| view.take(raster, Axis::Rows, probe_at(probe, height))).collect();
            let mut colors = view.line(width);
            for (channel, colors) in colors.channels.iter_mut().enumerate() {
                for (x, color) in colors.iter_mut().enumerate() {
                    *color = median(probes.iter().map(|probe| probe.channels[channel][x]));
                }
            }
            let (mut alike, mut steps) = (vec![0u32; width], vec![0; width]);
            for y in 0..height {
                view.spread(raster.row(y as u32), &mut line);
                step::across(&line, &colors, &mut steps);
                for (alike, step) in alike.iter_mut().zip(&steps) {
                    *alike += u32::from(*step <= near);
                }
            }
            alike.iter().filter(|alike| f64::from(**alike) >= UNIFORM * height as f64).count()
        }
    };
    uniform as f64 / axis.lines(raster).max(1) as f64
}
