//! What mending does to a tile, kept apart from the tile.
//!
//! Takes a tile and its survey, yields a [`Mended`] that can be laid over copies of the tile's samples. Knows no files.

use super::color::{Recolored, recolored};
use crate::pipeline::check::alpha::Survey;
use crate::pixel::mask::{Mask, Run};
use crate::pixel::over::Sample;
use crate::pixel::stored::View;
use crate::tile::{Deep, Raster, Tile};

/// What mending does to a tile: inside the mask every alpha becomes full, the stored color stays, and few pixels get the
/// color that low alpha had rounded away. Everything else stays as it is, by construction: only this is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mended {
    /// The pixels whose alpha becomes full; never empty.
    pub mask: Mask,
    /// How many pixels of the mask get an estimated color.
    pub estimated: u64,
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
            (deep.iter().map(rounded).collect(), deep)
        }
        None => (recolored(&View::new(tile.raster.samples(), width, height)?, &mask), Vec::new()),
    };
    Some(Mended { mask, estimated: shallow.len() as u64, shallow, deep })
}

/// A pixel of 16 bits in the 8-bit view: 65535 is 257 times 255.
fn rounded(pixel: &Recolored<u16>) -> Recolored<u8> {
    let round = |sample: u16| u8::clamped((u64::from(sample) + 128) / 257);
    Recolored { x: pixel.x, y: pixel.y, color: pixel.color.map(round) }
}

impl Mended {
    /// The mended picture in 8 bits: the one full-size copy that mending makes.
    #[must_use]
    pub fn raster(&self, tile: &Tile) -> Raster {
        let mut raster = tile.raster.clone();
        lay(raster.samples_mut(), tile.raster.width(), &self.mask, &self.shallow);
        raster
    }

    /// The mended samples in 16 bits, when the tile has them.
    #[must_use]
    pub fn deep(&self, tile: &Tile) -> Option<Deep> {
        let mut deep = tile.deep.clone()?;
        lay(&mut deep.0, tile.raster.width(), &self.mask, &self.deep);
        Some(deep)
    }
}

/// Lays a mend onto the straight RGBA samples of a picture `width` pixels wide.
fn lay<T: Sample>(samples: &mut [T], width: u32, mask: &Mask, colors: &[Recolored<T>]) {
    let pixels = samples.as_chunks_mut::<4>().0;
    let at = |x: u32, y: u32| y as usize * width as usize + x as usize;
    for &Run { y, start, end } in mask.runs() {
        for pixel in &mut pixels[at(start, y)..at(end, y)] {
            pixel[3] = T::FULL;
        }
    }
    for &Recolored { x, y, color: [r, g, b] } in colors {
        pixels[at(x, y)] = [r, g, b, T::FULL];
    }
}
