//! The even step: a bend that more than half of the pixels along a pair of lines share, the mark of a tint or light that
//! ends at the border.
//!
//! The bend is the signed second difference of `step::bend`; "more than half share it" makes the statistic a median.

use super::line::{Axis, Line, View, mask, spread_holes};
use super::step::bend;
use crate::tile::Raster;

/// The largest bend, in half levels, that more than half of the counted pixels reach with the same sign in one channel;
/// `lines` are the two lines before and the two after the pair's middle. 0 when nothing counts.
pub(super) fn shared_bend(lines: [&Line; 4], counted: Option<&[u8]>) -> i16 {
    let [before, near, far, after] = lines.map(|line| &line.channels);
    let mut largest = 0;
    for (((before, near), far), after) in before.iter().zip(near).zip(far).zip(after) {
        let pixels = before.iter().zip(near).zip(far).zip(after);
        let mut bends: Vec<i16> = pixels
            .enumerate()
            .filter(|(at, _)| counted.and_then(|counted| counted.get(*at)).is_none_or(|counted| *counted != 0))
            .map(|(_, (((before, near), far), after))| bend([*before, *near, *far, *after]))
            .collect();
        if bends.is_empty() {
            continue;
        }
        bends.sort_unstable();
        // With n values, n/2 + 1 of them are more than half: they reach up to the value n/2 + 1 places from the top.
        let half = bends.len() / 2;
        largest = largest.max(bends[bends.len() - 1 - half]).max(-bends[half]);
    }
    largest
}

/// Whether at any interior pair of an axis more than half of the counted pixels bend by `least` half levels or more
/// with the same sign. `least` is at least 1.
pub(super) fn interior_reaches(view: View, raster: &Raster, axis: Axis, least: i16) -> bool {
    match axis {
        Axis::Rows => rows_reach(view, raster, least),
        Axis::Columns => columns_reach(view, raster, least),
    }
}

fn rows_reach(view: View, raster: &Raster, least: i16) -> bool {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    // Rows y-3 to y.
    let mut lines = [const { None }; 4].map(|_: Option<Line>| view.line(width));
    let mut counted = vec![255; width];
    for y in 0..height {
        lines.rotate_left(1);
        view.spread(raster.row(y as u32), &mut lines[3]);
        if y < 3 {
            continue;
        }
        let mut pixels = width;
        if view.masked() {
            counted.fill(255);
            for near in y.saturating_sub(4)..(y + 2).min(height) {
                spread_holes(raster.row(near as u32), &mut counted);
            }
            pixels = counted.iter().filter(|counted| **counted != 0).count();
        }
        for channel in 0..view.channels() {
            let [before, near, far, after] = [0, 1, 2, 3].map(|line: usize| &lines[line].channels[channel]);
            let (mut up, mut down) = (0u32, 0u32);
            for ((((before, near), far), after), counted) in before.iter().zip(near).zip(far).zip(after).zip(&counted) {
                let bend = bend([*before, *near, *far, *after]) & (i16::from(*counted as i8));
                up += u32::from(bend >= least);
                down += u32::from(bend <= -least);
            }
            if up.max(down) as usize * 2 > pixels {
                return true;
            }
        }
    }
    false
}

fn columns_reach(view: View, raster: &Raster, least: i16) -> bool {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let Some(pairs) = width.checked_sub(3) else { return false };
    let mut line = view.line(width);
    let (mut up, mut down) = (vec![vec![0u32; pairs]; view.channels()], vec![vec![0u32; pairs]; view.channels()]);
    let mut pixels = vec![height as u32; pairs];
    let (mut counted, mut of_pairs) = (vec![255u8; width], vec![255u8; pairs]);
    for y in 0..height {
        view.spread(raster.row(y as u32), &mut line);
        if view.masked() {
            counted.fill(255);
            for near in y.saturating_sub(1)..(y + 2).min(height) {
                spread_holes(raster.row(near as u32), &mut counted);
            }
            of_pairs.fill(255);
            for offset in 0..4 {
                mask(&mut of_pairs, &counted[offset..]);
            }
            for (pixels, counted) in pixels.iter_mut().zip(&of_pairs) {
                *pixels -= u32::from(*counted == 0);
            }
        }
        for (channel, (up, down)) in line.channels.iter().zip(up.iter_mut().zip(&mut down)) {
            let bends = channel.iter().zip(&channel[1..]).zip(&channel[2..]).zip(&channel[3..]).zip(&of_pairs);
            for (((((before, near), far), after), counted), (up, down)) in bends.zip(up.iter_mut().zip(down)) {
                let bend = bend([*before, *near, *far, *after]) & (i16::from(*counted as i8));
                *up += u32::from(bend >= least);
                *down += u32::from(bend <= -least);
            }
        }
    }
    up.iter().zip(&down).any(|(up, down)| {
        up.iter().zip(down).zip(&pixels).any(|((up, down), pixels)| u64::from(*up.max(down)) * 2 > u64::from(*pixels))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::check::joint::sample::gray;
    use crate::spec::Ground;

    fn line(values: &[u8]) -> Line {
        Line { channels: vec![values.to_vec()] }
    }

    #[test]
    fn a_bend_counts_when_more_than_half_share_it() {
        let flat = line(&[10, 10, 10, 10, 10]);
        let up = line(&[14, 14, 14, 10, 10]);
        assert_eq!(shared_bend([&flat, &flat, &up, &up], None), 8, "three of five step by 4");
        assert_eq!(shared_bend([&up, &up, &flat, &flat], None), 8, "down as well as up");
        let less = line(&[14, 14, 10, 10, 10]);
        assert_eq!(shared_bend([&flat, &flat, &less, &less], None), 0, "two of five");
        assert_eq!(shared_bend([&flat, &flat, &less, &less], Some(&[255, 255, 0, 0, 255])), 8, "two of three");
        assert_eq!(shared_bend([&flat, &flat, &less, &less], Some(&[0; 5])), 0);
        let mixed = line(&[14, 6, 14, 6, 14]);
        assert_eq!(shared_bend([&flat, &flat, &mixed, &mixed], None), 8);
    }

    #[test]
    fn the_interior_is_searched_on_both_axes() {
        // A step of 3 levels between rows 9 and 10, whole in one tile and over half of the row in the other.
        let whole = gray(20, 30, |_, y| if y < 10 { 50 } else { 53 });
        let half = gray(20, 30, |x, y| if y < 10 || x < 10 { 50 } else { 53 });
        let turned = gray(30, 20, |x, _| if x < 10 { 50 } else { 53 });
        let view = View::of(&whole, Ground::Opaque);
        assert!(interior_reaches(view, &whole.raster, Axis::Rows, 6));
        assert!(!interior_reaches(view, &whole.raster, Axis::Rows, 7));
        assert!(!interior_reaches(view, &whole.raster, Axis::Columns, 1));
        assert!(!interior_reaches(view, &half.raster, Axis::Rows, 1), "exactly half is not more than half");
        assert!(interior_reaches(view, &turned.raster, Axis::Columns, 6));
        assert!(!interior_reaches(view, &turned.raster, Axis::Columns, 7));
    }

    #[test]
    fn see_through_pixels_do_not_take_part() {
        let mut tile = gray(20, 30, |x, y| if y < 10 || x < 10 { 50 } else { 53 });
        for y in 0..30 {
            tile.raster.samples_mut()[(y * 20 + 3) * 4 + 3] = 100;
        }
        let view = View::of(&tile, Ground::Opaque);
        assert!(interior_reaches(view, &tile.raster, Axis::Rows, 6), "of 17 columns that count 10 step");
    }
}
