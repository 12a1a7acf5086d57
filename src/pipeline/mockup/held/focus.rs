//! What to put in the middle of an enlarged place: the spot where the fault shows most.
//!
//! Takes the plane and a place, yields coordinates on the plane. Knows no drawing.

use crate::finding::Kind;
use crate::pipeline::mockup::canvas::Box4;
use crate::pipeline::mockup::plane::Plane;

/// Lines are looked along in stretches of this many pixels, about a quarter of what an enlarged panel shows.
const STRETCH: usize = 24;

/// How far from a spot's middle a see-through pixel is sought, in pixels.
const REACH: i64 = 100;

/// Whether a finding is a thin line wherever its boxes run, so that a slanted one is enlarged like a straight one.
#[must_use]
pub fn is_thin(kind: Kind) -> bool {
    matches!(kind, Kind::AlphaHairline | Kind::AlphaFringe | Kind::LineFlattened)
}

/// The point of `spot` to look at.
///
/// Along a straight line the stretch where the art differs most across it, over white paper; of a slanted line the
/// see-through pixel nearest the middle; else the middle.
#[must_use]
pub fn point(plane: Plane<'_>, kind: Kind, spot: Box4) -> [i64; 2] {
    let middle = [(spot.left + spot.right) / 2, (spot.top + spot.bottom) / 2];
    if spot.width() > 4 * spot.height() {
        let contrast = (spot.left..spot.right).map(|x| across(plane, spot.top, spot.bottom, |y| [x, y]));
        return [spot.left + strongest(contrast), middle[1]];
    }
    if spot.height() > 4 * spot.width() {
        let contrast = (spot.top..spot.bottom).map(|y| across(plane, spot.left, spot.right, |x| [x, y]));
        return [middle[0], spot.top + strongest(contrast)];
    }
    if is_thin(kind) {
        let near = Box4 { left: middle[0], top: middle[1], right: middle[0] + 1, bottom: middle[1] + 1 };
        let seen = near.grown(REACH).within(spot).unwrap_or(near);
        let all = (seen.top..seen.bottom).flat_map(|y| (seen.left..seen.right).map(move |x| [x, y]));
        let clear = all.filter(|&[x, y]| plane.pixel(x, y)[3] < 255);
        let nearest = clear.min_by_key(|&[x, y]| (x - middle[0]).pow(2) + (y - middle[1]).pow(2));
        return nearest.unwrap_or(middle);
    }
    middle
}

/// The largest difference between neighbors across a line that lies at `from..until`, one neighbor on each side included.
fn across(plane: Plane<'_>, from: i64, until: i64, at: impl Fn(i64) -> [i64; 2]) -> u64 {
    // A thick line shows at its rims; its inside is not needed.
    let rims = [from - 1..(from + 3).min(until), (until - 3).max(from)..until];
    let difference = |i: i64| {
        let [a, b] = [i, i + 1].map(|i| {
            let [x, y] = at(i);
            on_white(plane.pixel(x, y))
        });
        a.iter().zip(b).map(|(&a, b)| u64::from(a.abs_diff(b))).sum()
    };
    rims.into_iter().flatten().map(difference).max().unwrap_or(0)
}

fn on_white(pixel: [u8; 4]) -> [u32; 3] {
    let alpha = u32::from(pixel[3]);
    [0, 1, 2].map(|channel| u32::from(pixel[channel]) * alpha + 255 * (255 - alpha))
}

/// The middle of the stretch with the largest sum; of equal ones the one nearest the middle.
fn strongest(contrast: impl Iterator<Item = u64>) -> i64 {
    let all: Vec<u64> = contrast.collect();
    let stretch = STRETCH.min(all.len()).max(1);
    let middle = all.len() as i64 / 2;
    let sums = all.windows(stretch).map(|window| window.iter().sum::<u64>());
    let centers = (stretch as i64 / 2..).zip(sums);
    let best = centers.max_by_key(|&(center, sum)| (sum, -(center - middle).abs()));
    best.map_or(middle, |(center, _)| center)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::Repeat;
    use crate::tile::Raster;

    #[test]
    fn a_line_is_looked_at_where_it_shows() {
        let mut raster = Raster::new(400, 60, [240, 240, 240, 255].repeat(400 * 60)).unwrap();
        // A dark motif from 300 to 320 that a clear line cuts; over white ground the line does not show.
        for y in 0..60_usize {
            for x in 0..400_usize {
                let at = (y * 400 + x) * 4;
                if (300..320).contains(&x) {
                    raster.samples_mut()[at..at + 3].copy_from_slice(&[20, 30, 40]);
                }
                if (29..31).contains(&y) {
                    raster.samples_mut()[at + 3] = 100;
                }
            }
        }
        let plane = Plane::new(&raster, Repeat::Block);
        let [x, y] = point(plane, Kind::AlphaHairline, Box4::new(0, 29, 400, 2));
        assert!((300..320).contains(&x), "{x}");
        assert_eq!(y, 30);
    }

    #[test]
    fn a_slanted_line_is_looked_at_on_the_line() {
        let mut raster = Raster::new(60, 60, [9, 9, 9, 255].repeat(3600)).unwrap();
        for i in 0..60_usize {
            raster.samples_mut()[(i * 60 + (i + 25) % 60) * 4 + 3] = 190;
        }
        let plane = Plane::new(&raster, Repeat::Block);
        let [x, y] = point(plane, Kind::AlphaHairline, Box4::new(0, 0, 60, 60));
        assert_eq!(plane.pixel(x, y)[3], 190);
        assert_eq!(point(plane, Kind::AlphaGap, Box4::new(0, 0, 60, 60)), [30, 30]);
    }

    #[test]
    fn a_line_on_even_ground_is_looked_at_in_its_middle() {
        let raster = Raster::new(200, 8, [50, 60, 70, 255].repeat(1600)).unwrap();
        let plane = Plane::new(&raster, Repeat::Block);
        assert_eq!(point(plane, Kind::JointBreak, Box4::new(0, 3, 200, 2)), [100, 4]);
    }
}
