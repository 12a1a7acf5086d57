//! A picture made small for a letter.
//!
//! Takes a raster and what of it to show, yields a JPEG of a mail's width. Knows nothing of the letter it goes into.

use crate::codec::picture::{PictureError, encode_jpeg};
use crate::finding::Area;
use crate::pipeline::mockup::look::Look;
use crate::pipeline::mockup::reduce::{Axis, reduce};
use crate::pixel::light;
use crate::tile::Raster;

/// The most pixels across: half as many again as the letter's column has dots, for screens with more pixels than dots.
const WIDEST: u32 = 840;
/// The most pixels down.
const HIGHEST: u32 = 1260;
/// JPEG qualities, tried in turn until the picture is small enough: at the first one text on it stays sharp.
const QUALITIES: [u8; 3] = [84, 70, 55];
/// Bytes below which a picture is small enough: some twenty of them go into a letter.
const SMALL: usize = 180_000;

/// A small picture as the bytes of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Preview {
    /// `image/jpeg` or `image/png`.
    pub mime: &'static str,
    /// The file.
    pub bytes: Vec<u8>,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

/// White between two parts.
const GAP: u32 = 16;

/// Makes a picture, or the parts of it that `look` names, small enough for a letter: at most 840 x 1260 pixels, see-through
/// parts on white.
///
/// # Errors
/// When the encoder refuses, which pictures of that size do not provoke.
pub fn preview(raster: &Raster, look: Option<&Look>) -> Result<Preview, PictureError> {
    let parts = look.and_then(|look| cut_out(raster, look));
    let raster = parts.as_ref().unwrap_or(raster);
    let small = reduced(raster, WIDEST, HIGHEST);
    let small = small.as_ref().unwrap_or(raster);
    let mut bytes = Vec::new();
    for quality in QUALITIES {
        bytes = encode_jpeg(small, quality, None)?;
        if bytes.len() < SMALL {
            break;
        }
    }
    Ok(Preview { mime: "image/jpeg", bytes, width: small.width(), height: small.height() })
}

/// The parts of a picture on one sheet of white; `None` when one of them lies outside.
fn cut_out(raster: &Raster, look: &Look) -> Option<Raster> {
    let inside = |part: &Area| {
        let end = |from: u32, length: u32, side: u32| from.checked_add(length).is_some_and(|end| end <= side);
        end(part.x, part.width, raster.width()) && end(part.y, part.height, raster.height())
    };
    if !look.parts.iter().all(inside) {
        return None;
    }
    let widths = look.parts.iter().map(|part| part.width);
    let heights = look.parts.iter().map(|part| part.height);
    let gaps = GAP * (look.parts.len() as u32).saturating_sub(1);
    let (width, height) = if look.beside {
        (widths.sum::<u32>() + gaps, heights.max()?)
    } else {
        (widths.max()?, heights.sum::<u32>() + gaps)
    };
    let mut samples = vec![255; width as usize * height as usize * 4];
    let (mut left, mut top) = (0, 0);
    for part in &look.parts {
        // A narrower part stands in the middle of its sheet.
        let (x, y) = if look.beside { (left, (height - part.height) / 2) } else { ((width - part.width) / 2, top) };
        for row in 0..part.height {
            let from = raster.row(part.y + row).get(part.x as usize * 4..)?.get(..part.width as usize * 4)?;
            let at = ((y + row) as usize * width as usize + x as usize) * 4;
            samples.get_mut(at..at + from.len())?.copy_from_slice(from);
        }
        left += part.width + GAP;
        top += part.height + GAP;
    }
    Raster::new(width, height, samples)
}

/// The picture on white, reduced so that it fits, by area averages in linear light. One that fits keeps its size.
fn reduced(raster: &Raster, widest: u32, highest: u32) -> Option<Raster> {
    let (from_w, from_h) = (raster.width(), raster.height());
    // The factor as a fraction: the tighter of the two limits, never enlarging.
    let (part, whole) =
        [(widest, from_w), (highest, from_h)].into_iter().fold((1, 1), |(part, whole), (limit, side)| {
            if u64::from(limit) * u64::from(whole) < u64::from(side) * u64::from(part) {
                (limit, side)
            } else {
                (part, whole)
            }
        });
    let side = |from: u32| (u64::from(from) * u64::from(part) / u64::from(whole)).max(1) as u32;
    let (width, height) = (side(from_w), side(from_h));
    let (across, down) = (Axis::new(from_w, width, width), Axis::new(from_h, height, height));
    let samples = reduce(&across, &down, |y, row| light::row_over(raster.row(y), light::FULL, row));
    Raster::new(width, height, samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
        let pixel = &pixel;
        Raster::new(width, height, (0..height).flat_map(|y| (0..width).flat_map(move |x| pixel(x, y))).collect())
            .unwrap()
    }

    #[test]
    fn a_checker_of_black_and_white_becomes_the_middle_of_light() {
        // Half the light of white is code 188 in sRGB (IEC 61966-2-1: 0.5 encodes to 187.516).
        let checker = raster(64, 64, |x, y| if (x + y) % 2 == 0 { [0, 0, 0, 255] } else { [255; 4] });
        let small = reduced(&checker, 32, 32).unwrap();
        assert_eq!((small.width(), small.height()), (32, 32));
        assert!(small.samples().chunks_exact(4).all(|pixel| pixel == [188, 188, 188, 255]));
    }

    #[test]
    fn a_picture_fits_both_limits_and_is_never_enlarged() {
        let size = |w, h| {
            let small = reduced(&raster(w, h, |_, _| [9, 9, 9, 255]), 840, 1260).unwrap();
            (small.width(), small.height())
        };
        assert_eq!(size(1680, 1000), (840, 500));
        assert_eq!(size(1000, 2520), (500, 1260));
        assert_eq!(size(300, 200), (300, 200));
        assert_eq!(size(9000, 2), (840, 1));
    }

    #[test]
    fn parts_are_set_one_below_the_other_or_side_by_side() {
        let shade = |x: u32, y: u32| [(10 * x) as u8, (10 * y) as u8, 7, 255];
        let picture = raster(12, 9, shade);
        let parts = vec![Area::from([2, 1, 4, 3]), Area::from([6, 5, 2, 4])];
        let below = cut_out(&picture, &Look { beside: false, parts: parts.clone() }).unwrap();
        assert_eq!((below.width(), below.height()), (4, 3 + GAP + 4));
        assert_eq!((below.pixel(0, 0), below.pixel(3, 2)), (shade(2, 1), shade(5, 3)));
        assert_eq!((below.pixel(1, 3 + GAP), below.pixel(2, 6 + GAP)), (shade(6, 5), shade(7, 8)));
        assert_eq!((below.pixel(0, 3 + GAP), below.pixel(1, 2 + GAP)), ([255; 4], [255; 4]));
        let beside = cut_out(&picture, &Look { beside: true, parts }).unwrap();
        assert_eq!((beside.width(), beside.height()), (4 + GAP + 2, 4));
        assert_eq!(beside.pixel(4 + GAP, 3), shade(6, 8));
        let outside = Look { beside: true, parts: vec![Area::from([0, 0, 12, 10])] };
        assert_eq!(cut_out(&picture, &outside), None);
        let small = preview(&picture, Some(&outside)).unwrap();
        assert_eq!((small.width, small.height), (12, 9), "the whole picture stands in");
    }

    #[test]
    fn what_is_see_through_lies_on_white() {
        let small = reduced(&raster(2, 2, |_, _| [0, 0, 0, 0]), 10, 10).unwrap();
        assert_eq!(small.pixel(0, 0), [255; 4]);
    }
}
