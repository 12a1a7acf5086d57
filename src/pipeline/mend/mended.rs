//! What mending does to a tile, kept apart from the tile.
//!
//! Takes a tile and its survey, yields a [`Mended`] that can be laid over copies of the tile's samples. Knows no files.

use super::color::{Recolored, recolored};
use super::fill::Fill;
use crate::codec::Overlay;
use crate::pipeline::check::alpha::Survey;
use crate::pipeline::lattice::Unit;
use crate::pixel::mask::{Mask, Run};
use crate::pixel::over::Sample;
use crate::pixel::stored::View;
use crate::tile::{Deep, Raster, Tile};

/// What mending does to a tile: inside the mask every alpha becomes full, the stored color stays, few pixels get the color
/// that low alpha had rounded away, and holes, where that was wished, the color that other units show. Everything else stays as it is, by construction: only this is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mended {
    /// The pixels whose alpha becomes full; never empty.
    pub mask: Mask,
    /// How many pixels of the mask get an estimated color.
    pub estimated: u64,
    /// The pixels of the mask that had no color left and get the one that other units show, where that was wished.
    pub filled: Option<(Mask, Unit)>,
    shallow: Vec<Recolored<u8>>,
    deep: Vec<Recolored<u16>>,
}

/// Mends a tile; `None` when the survey's mask leaves nothing to mend.
///
/// Whether mending is all the tile needs is not judged here: holes and specks stay, their findings hold the tile.
#[must_use]
pub fn mend(tile: &Tile, survey: &Survey) -> Option<Mended> {
    let mask = survey.mask.clone();
    if mask.is_empty() {
        return None;
    }
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let (shallow, deep) = match &tile.deep {
        Some(deep) => {
            let deep = recolored(&View::new(&deep.0, width, height)?, &mask);
            (deep.iter().map(Recolored::rounded).collect(), deep)
        }
        None => (recolored(&View::new(tile.raster.samples(), width, height)?, &mask), Vec::new()),
    };
    Some(Mended { mask, estimated: shallow.len() as u64, filled: None, shallow, deep })
}

impl Mended {
    /// A mend, if any, that also fills holes.
    #[must_use]
    pub fn filling(mended: Option<Self>, fill: Fill) -> Self {
        let none = || Self { mask: Mask::default(), estimated: 0, filled: None, shallow: Vec::new(), deep: Vec::new() };
        let mended = mended.unwrap_or_else(none);
        Self {
            mask: mended.mask.union(&fill.mask),
            estimated: mended.estimated,
            filled: Some((fill.mask, fill.unit)),
            shallow: in_order(mended.shallow, fill.shallow),
            deep: in_order(mended.deep, fill.deep),
        }
    }

    /// The pixels that keep the color they had, or as much of it as was left.
    #[must_use]
    pub fn kept(&self) -> Mask {
        self.filled.as_ref().map_or_else(|| self.mask.clone(), |(filled, _)| self.mask.without(filled))
    }

    /// The mended picture in 8 bits, as a copy.
    #[must_use]
    pub fn raster(&self, tile: &Tile) -> Raster {
        let mut raster = tile.raster.clone();
        lay(raster.samples_mut(), tile.raster.width(), self.mask.runs(), &self.shallow, 0);
        raster
    }

    /// The mended samples in 16 bits, when the tile has them, as a copy.
    #[must_use]
    pub fn deep(&self, tile: &Tile) -> Option<Deep> {
        let mut deep = tile.deep.clone()?;
        lay(&mut deep.0, tile.raster.width(), self.mask.runs(), &self.deep, 0);
        Some(deep)
    }

    /// Mends the tile's own samples, and hands back what [`Mended::undo`] needs: a copy of a whole picture costs more than
    /// decoding a flat one.
    #[must_use]
    pub fn apply(&self, tile: &mut Tile) -> Undo {
        let width = tile.raster.width();
        let undo = Undo {
            shallow: self.pixels_of(tile.raster.samples(), width),
            deep: tile.deep.as_ref().map(|deep| self.pixels_of(&deep.0, width)).unwrap_or_default(),
        };
        lay(tile.raster.samples_mut(), width, self.mask.runs(), &self.shallow, 0);
        if let Some(deep) = &mut tile.deep {
            lay(&mut deep.0, width, self.mask.runs(), &self.deep, 0);
        }
        undo
    }

    /// Puts back what [`Mended::apply`] has changed.
    pub fn undo(&self, tile: &mut Tile, undo: &Undo) {
        let width = tile.raster.width() as usize;
        let places = || self.mask.pixels().map(|(x, y)| y as usize * width + x as usize);
        let shallow = tile.raster.samples_mut().as_chunks_mut::<4>().0;
        places().zip(&undo.shallow).for_each(|(at, pixel)| shallow[at] = *pixel);
        if let Some(deep) = &mut tile.deep {
            let deep = deep.0.as_chunks_mut::<4>().0;
            places().zip(&undo.deep).for_each(|(at, pixel)| deep[at] = *pixel);
        }
    }

    /// The mask's pixels, in its order.
    fn pixels_of<T: Sample>(&self, samples: &[T], width: u32) -> Vec<[T; 4]> {
        let pixels = samples.as_chunks::<4>().0;
        let runs = self.mask.runs().iter();
        runs.flat_map(|run| &pixels[at(run.start, run.y, width)..at(run.end, run.y, width)]).copied().collect()
    }
}

/// The pixels that a mend has changed, as they were.
#[derive(Clone, Debug)]
pub struct Undo {
    shallow: Vec<[u8; 4]>,
    deep: Vec<[u16; 4]>,
}

impl Overlay for Mended {
    fn touches(&self, y: u32) -> bool {
        !self.mask.row(y).is_empty()
    }

    fn lay(&self, y: u32, row: &mut [u8]) {
        lay(row, 0, self.mask.row(y), of_row(&self.shallow, y), y);
    }

    fn lay_deep(&self, y: u32, row: &mut [u16]) {
        lay(row, 0, self.mask.row(y), of_row(&self.deep, y), y);
    }
}

fn in_order<T>(mut colors: Vec<Recolored<T>>, more: Vec<Recolored<T>>) -> Vec<Recolored<T>> {
    colors.extend(more);
    colors.sort_by_key(|pixel| (pixel.y, pixel.x));
    colors
}

fn of_row<T>(colors: &[Recolored<T>], y: u32) -> &[Recolored<T>] {
    let from = colors.partition_point(|pixel| pixel.y < y);
    let long = colors[from..].partition_point(|pixel| pixel.y == y);
    &colors[from..from + long]
}

fn at(x: u32, y: u32, width: u32) -> usize {
    y as usize * width as usize + x as usize
}

/// Lays a mend onto straight RGBA samples of rows of `width` pixels, the first of which is row `top`.
fn lay<T: Sample>(samples: &mut [T], width: u32, runs: &[Run], colors: &[Recolored<T>], top: u32) {
    let pixels = samples.as_chunks_mut::<4>().0;
    for &Run { y, start, end } in runs {
        for pixel in &mut pixels[at(start, y - top, width)..at(end, y - top, width)] {
            pixel[3] = T::FULL;
        }
    }
    for &Recolored { x, y, color: [r, g, b] } in colors {
        pixels[at(x, y - top, width)] = [r, g, b, T::FULL];
    }
}
