//! One tile of the demo: what is drawn, what went wrong with it, how it was saved, and what is promised of it.
//!
//! Yields the bytes of a file as a drawing program would save it. Knows no motifs, no checks and no folders on disk.

use super::flaws::Flaw;
use super::torus::{Ink, Torus};
use super::{planks, weave};
use crate::codec::deep::encode_png_deep;
use crate::codec::picture::{PictureError, encode_jpeg, encode_png};
use crate::finding::{Kind, Verdict};
use crate::spec::Repeat;
use crate::tile::Raster;
use thiserror::Error;

/// Why a tile of the demo could not be drawn.
#[derive(Debug, Error)]
pub enum DrawError {
    /// The encoder refused.
    #[error("cannot save the demo's tile {0}: {1}")]
    Save(&'static str, PictureError),
    /// A canvas without pixels.
    #[error("the demo's tile {0} has no pixels")]
    Empty(&'static str),
}

/// A drawing on a torus.
#[derive(Clone, Copy, Debug)]
pub struct Sketch {
    /// Pixels across and down.
    pub size: [u32; 2],
    /// The layout it closes in.
    pub lay: Repeat,
    /// What lies behind the motifs.
    pub(super) ground: Ink,
    /// The drawing itself.
    pub(super) draw: fn(&mut Torus),
}

impl Sketch {
    /// The drawing with its own origin at `(x, y)` of the canvas: the same endless repeat, cut elsewhere.
    #[must_use]
    pub fn cut_at(&self, x: i64, y: i64) -> Option<Raster> {
        let mut torus = Torus::new(self.size[0], self.size[1], self.lay, self.ground).from_origin(x, y);
        (self.draw)(&mut torus);
        torus.into_raster()
    }
}

/// How a piece comes to be.
#[derive(Clone, Copy, Debug)]
pub enum Art {
    /// Drawn on a torus.
    Sketch(Sketch),
    /// A square weave of so many strands each way and pixels a strand, turned by 45 degrees into a canvas of a side.
    TurnedWeave([u32; 3]),
    /// Planks of 16 bits a sample, on a canvas of these sides.
    Planks([u32; 2]),
}

/// How a piece was saved; resolutions in pixels per inch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Saved {
    /// As PNG.
    Png(f64),
    /// As JPEG of a quality from 1 to 100.
    Jpeg(f64, u8),
    /// As PNG, of which only this many hundredths of the bytes arrived.
    CutShort(f64, usize),
}

/// One tile of the demo.
#[derive(Clone, Copy, Debug)]
pub struct Piece {
    /// Its file name.
    pub name: &'static str,
    /// The subfolder of the exports folder it is saved into; empty for the folder itself. A spec of that name applies.
    pub folder: &'static str,
    /// What its standing must come to.
    pub promised: Verdict,
    /// The kinds of its findings, advice aside, in the order of the vocabulary.
    pub kinds: &'static [Kind],
    /// What it shows, one line for the table.
    pub why: &'static str,
    /// What is drawn.
    pub art: Art,
    /// What went wrong before it was saved.
    pub flaw: Flaw,
    /// How it was saved.
    pub saved: Saved,
}

impl Piece {
    /// A sound piece.
    #[must_use]
    pub(super) const fn sound(path: (&'static str, &'static str), art: Art, saved: Saved, why: &'static str) -> Self {
        let (folder, name) = path;
        Self { name, folder, promised: Verdict::Sound, kinds: &[], why, art, flaw: Flaw::None, saved }
    }

    /// The same piece with a flaw and what must come of it.
    #[must_use]
    pub(super) const fn but(self, flaw: Flaw, promised: Verdict, kinds: &'static [Kind]) -> Self {
        Self { promised, kinds, flaw, ..self }
    }

    /// Its path under the exports folder, with `/`.
    #[must_use]
    pub fn path(&self) -> String {
        if self.folder.is_empty() { self.name.into() } else { format!("{}/{}", self.folder, self.name) }
    }

    /// The bytes of its file: the same ones on every call.
    ///
    /// # Errors
    /// When an encoder refuses, which these pictures do not provoke.
    pub fn draw(&self) -> Result<Vec<u8>, DrawError> {
        let save = |result: Result<Vec<u8>, PictureError>| result.map_err(|error| DrawError::Save(self.name, error));
        if let (Art::Planks([width, height]), Saved::Png(per_inch)) = (self.art, self.saved) {
            return save(encode_png_deep(width, height, &planks::samples(width, height), per_inch));
        }
        let raster = self.raster().and_then(|raster| self.flaw.spoil(raster)).ok_or(DrawError::Empty(self.name))?;
        match self.saved {
            Saved::Png(per_inch) => save(encode_png(&raster, Some(per_inch))),
            Saved::Jpeg(per_inch, quality) => save(encode_jpeg(&raster, quality, Some(per_inch))),
            Saved::CutShort(per_inch, hundredths) => {
                let mut bytes = save(encode_png(&raster, Some(per_inch)))?;
                bytes.truncate(bytes.len() / 100 * hundredths.min(100));
                Ok(bytes)
            }
        }
    }

    /// The picture before anything went wrong with it.
    fn raster(&self) -> Option<Raster> {
        match self.art {
            Art::Sketch(sketch) => sketch.cut_at(0, 0),
            Art::TurnedWeave([strands, pitch, side]) => weave::turned(&weave::square(strands, pitch)?, side),
            Art::Planks([width, height]) => {
                let high = planks::samples(width, height).into_iter().map(|sample| (sample >> 8) as u8);
                Raster::new(width, height, high.collect())
            }
        }
    }
}
