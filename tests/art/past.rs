//! A JPEG past: a tile through a lossy coder and back, with and without halved chroma.

use super::chance::Chance;
use burler::codec::{self, Limits};
use burler::tile::{Format, Raster, Tile};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

/// How a tile was saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Save {
    pub quality: u8,
    /// Chroma at half the resolution both ways (4:2:0), as most programs save by default.
    pub halved: bool,
}

impl Save {
    /// Quality 60 to 95, chroma whole or halved.
    pub fn any(chance: &mut Chance) -> Self {
        Self { quality: chance.whole(60, 95) as u8, halved: chance.odds(2) }
    }
}

/// The bytes of the file. Alpha is dropped.
pub fn jpeg(raster: &Raster, save: Save) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, save.quality);
    encoder.set_sampling_factor(if save.halved { SamplingFactor::R_4_2_0 } else { SamplingFactor::R_4_4_4 });
    let (width, height) = (raster.width() as u16, raster.height() as u16);
    encoder.encode(raster.samples(), width, height, ColorType::Rgba).expect("the side fits");
    bytes
}

/// The tile as it is read back from a JPEG.
pub fn through_jpeg(raster: &Raster, save: Save) -> Tile {
    codec::decode(&jpeg(raster, save), &Limits::default(), Vec::new()).expect("what was encoded decodes")
}

/// The same, saved as a PNG afterward: nothing in the file tells of its past.
pub fn through_jpeg_to_png(raster: &Raster, save: Save) -> Tile {
    let mut tile = through_jpeg(raster, save);
    tile.meta.format = Format::Png;
    tile.meta.lossy = false;
    tile
}
