//! The panels of the held picture: the tile with a checker behind it, a place enlarged, a place at print size.
//!
//! Takes the plane and a window of it, yields opaque rasters. Knows no findings and no text.

use crate::pipeline::mockup::canvas::Box4;
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::reduce::{Axis, reduce};
use crate::pipeline::mockup::settings::MockupError;
use crate::pixel::light;
use crate::tile::Raster;

/// Squares of the checker behind see-through pixels, in pixels of the picture.
const SQUARE: i64 = 16;

/// The two grays of the checker, as codes: light, so that art on it is seen as on paper.
const CHECKER: [u8; 2] = [255, 212];

/// The scale of a panel as picture pixels per tile pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zoom {
    /// So many picture pixels for each tile pixel, each a plain square.
    Times(i64),
    /// So many tile pixels along a side averaged into each picture pixel.
    Part(i64),
}

impl Zoom {
    /// The strongest zoom.
    pub const MOST: Self = Self::Times(8);

    /// The strongest zoom of at most 8 at which `spot` can be taken in on a panel: of a line its thickness, of anything else
    /// both sides, in at most half the panel.
    #[must_use]
    pub fn onto(spot: Box4, panel: [i64; 2]) -> Self {
        let [width, height] = [spot.width(), spot.height()];
        let (level, upright) = (width > 4 * height, height > 4 * width);
        let fits = |side: i64, panel: i64| 2 * side <= panel;
        let seen = |times: i64, part: i64| {
            (level || fits(width * times, panel[0] * part)) && (upright || fits(height * times, panel[1] * part))
        };
        if let Some(times) = [8, 6, 4, 3, 2, 1].into_iter().find(|&times| seen(times, 1)) {
            return Self::Times(times);
        }
        Self::Part((2..1000).find(|&part| seen(1, part)).unwrap_or(1000))
    }

    /// How many tile pixels `picture` pixels show.
    #[must_use]
    pub fn covers(self, picture: i64) -> i64 {
        match self {
            Self::Times(n) => picture.div_euclid(n),
            Self::Part(n) => picture * n,
        }
    }

    /// Where a tile pixel's first edge lies on the panel, counted from the window's edge.
    #[must_use]
    pub fn onto_panel(self, tile: i64) -> i64 {
        match self {
            Self::Times(n) => tile * n,
            Self::Part(n) => tile.div_euclid(n),
        }
    }

    /// The zoom in words.
    #[must_use]
    pub fn says(self) -> String {
        match self {
            Self::Times(1) => "pixel for pixel".into(),
            Self::Times(n) => format!("enlarged {n} times"),
            Self::Part(n) => format!("reduced {n} times"),
        }
    }
}

/// The whole view at `size` pixels over a checker. Enlarged in plain squares where `size` is a multiple of the view.
///
/// # Errors
/// [`MockupError::NoCanvas`] when a side is 0.
pub fn map(plane: Plane<'_>, view: Box4, size: [u32; 2]) -> Result<Raster, MockupError> {
    let [across, down] = [(view.width(), size[0]), (view.height(), size[1])].map(|(p, q)| Axis::new(p as u32, q, q));
    let square =
        [0, 1].map(|i| f64::from(SQUARE as u32) * [view.width(), view.height()][i] as f64 / f64::from(size[i]));
    let (wide, high) = ((square[0].round() as i64).max(1), (square[1].round() as i64).max(1));
    averaged(plane, [view.left, view.top], &across, &down, |x, y| (x / wide + y / high) & 1 == 0)
}

/// A window of the plane that starts at `start`, over a checker.
///
/// # Errors
/// [`MockupError::NoCanvas`] when a side is 0.
pub fn enlarged(plane: Plane<'_>, start: [i64; 2], zoom: Zoom, size: [u32; 2]) -> Result<Raster, MockupError> {
    match zoom {
        Zoom::Times(n) => squares(plane, start, n, size),
        Zoom::Part(n) => {
            let [across, down] = size.map(|count| Axis::new(n as u32, 1, count));
            averaged(plane, start, &across, &down, |x, y| (x / (SQUARE * n) + y / (SQUARE * n)) & 1 == 0)
        }
    }
}

/// A window of the plane that starts at `start`, over white paper, each picture pixel covering `step` tile pixels (a
/// fraction for each axis).
///
/// # Errors
/// [`MockupError::NoCanvas`] when a side is 0.
pub fn printed(
    plane: Plane<'_>,
    start: [i64; 2],
    step: [(u32, u32); 2],
    size: [u32; 2],
) -> Result<Raster, MockupError> {
    let [across, down] = [0, 1].map(|i| Axis::new(step[i].0, step[i].1, size[i]));
    averaged(plane, start, &across, &down, |_, _| true)
}

fn squares(plane: Plane<'_>, start: [i64; 2], n: i64, [width, height]: [u32; 2]) -> Result<Raster, MockupError> {
    let codes = light::to_codes();
    let papers = CHECKER.map(|code| light::of_codes()[usize::from(code)]);
    let mut rgba = vec![0; (width as usize).div_ceil(n as usize) * 4];
    let mut samples = vec![255; width as usize * height as usize * 4];
    for (y, row) in (0..).zip(samples.chunks_exact_mut((width as usize * 4).max(4))) {
        plane.row(start[0], start[1] + y / n, &mut rgba);
        for (x, out) in (0..).zip(row.chunks_exact_mut(4)) {
            let pixel = &rgba[(x / n) as usize * 4..][..4];
            let paper = papers[((x / SQUARE + y / SQUARE) & 1) as usize];
            for channel in 0..3 {
                let linear = light::of_codes()[usize::from(pixel[channel])];
                out[channel] = codes[usize::from(light::over(linear, pixel[3], paper))];
            }
        }
    }
    Raster::new(width, height, samples).ok_or(MockupError::NoCanvas(width, height))
}

fn averaged(
    plane: Plane<'_>,
    start: [i64; 2],
    across: &Axis,
    down: &Axis,
    is_light: impl Fn(i64, i64) -> bool,
) -> Result<Raster, MockupError> {
    let papers = CHECKER.map(|code| light::of_codes()[usize::from(code)]);
    let table = light::of_codes();
    let mut rgba = vec![0; across.source() as usize * 4];
    let samples = reduce(across, down, |y, row| {
        plane.row(start[0], start[1] + i64::from(y), &mut rgba);
        for (x, (out, &[red, green, blue, alpha])) in (0..).zip(row.iter_mut().zip(rgba.as_chunks::<4>().0)) {
            let paper = papers[usize::from(!is_light(x, i64::from(y)))];
            *out = [red, green, blue, 0].map(|code| light::over(table[usize::from(code)], alpha, paper));
        }
    });
    let (width, height) = (across.count(), down.count());
    Raster::new(width, height, samples).ok_or(MockupError::NoCanvas(width, height))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::Repeat;

    #[test]
    fn a_thin_line_is_enlarged_most_and_a_large_hole_is_reduced() {
        let panel = [728, 400];
        assert_eq!(Zoom::onto(Box4::new(0, 0, 3600, 2), panel), Zoom::Times(8));
        assert_eq!(Zoom::onto(Box4::new(0, 0, 2, 3600), panel), Zoom::Times(8));
        assert_eq!(Zoom::onto(Box4::new(0, 0, 60, 60), panel), Zoom::Times(3));
        assert_eq!(Zoom::onto(Box4::new(0, 0, 900, 900), panel), Zoom::Part(5));
        assert_eq!(Zoom::onto(Box4::new(0, 0, 60_000, 60_000), panel), Zoom::Part(300));
    }

    #[test]
    fn enlarged_pixels_are_plain_squares_and_a_clear_one_shows_the_checker() {
        let mut raster = Raster::new(8, 8, [10, 20, 30, 255].repeat(64)).unwrap();
        raster.samples_mut()[(3 * 8 + 4) * 4..][..4].copy_from_slice(&[0, 0, 0, 0]);
        let plane = Plane::new(&raster, Repeat::Block);
        let panel = enlarged(plane, [0, 0], Zoom::Times(8), [64, 64]).unwrap();
        for (x, y) in [(0, 0), (31, 31), (40, 24), (32, 23)] {
            assert_eq!(panel.pixel(x, y), [10, 20, 30, 255]);
        }
        assert_eq!(panel.pixel(32, 24), [212, 212, 212, 255]);
        assert_eq!(panel.pixel(39, 31), [212, 212, 212, 255]);
    }
}
