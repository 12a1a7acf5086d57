//! The repeat picture: four tiles at half scale, the quick look every designer makes by hand.
//!
//! Takes a raster and its repeat, yields a sheet of copies and its JPEG. Knows no files and draws no text.

use crate::codec::picture::{self, Laid};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::reduce::{Axis, reduce};
use crate::pipeline::mockup::settings::{LEAST_SIDE, MockupError, Settings};
use crate::pixel::light;
use crate::spec::Repeat;
use crate::tile::Raster;

/// Tiny tiles are not enlarged: more copies are shown until a repeating side has this many pixels.
const LEAST_SHOWN: u32 = 512;

/// Reduced units are sought in whole JPEG blocks, because then copies are equal bit for bit once decoded.
const BLOCK: u32 = 8;

/// How far a unit's proportions and its resolution tag may be off, in parts of one.
const TOLERANCE: f64 = 0.0025;

/// Copies of a unit, not yet encoded.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// One tile at the sheet's scale: opaque, over white paper.
    pub unit: Raster,
    /// Copies across and down.
    pub copies: [u32; 2],
    /// How they are laid.
    pub repeat: Repeat,
    /// Pixels per inch across and down at the sheet's scale, when the tile's are known.
    pub per_inch: Option<[f64; 2]>,
}

/// The repeat picture as JPEG: see [`sheet`].
///
/// # Errors
/// When the encoder refuses.
pub fn picture(
    raster: &Raster,
    repeat: Repeat,
    per_inch: Option<f64>,
    settings: &Settings,
) -> Result<Vec<u8>, MockupError> {
    sheet(raster, repeat, per_inch, settings)?.encode(settings.quality)
}

/// Lays 2 x 2 tiles (2 x 1 and 1 x 2 for what repeats one way only, 1 for what does not repeat), averaged in linear light
/// over white paper.
///
/// - Scale: the tile's own where the copies fit into `max_side`, else one half, else as much less as `max_side` asks. A
///   side that the repeat cannot divide is reduced to the next one it can.
/// - A reduced unit has sides in whole JPEG blocks where its proportions stay within 0.25 %.
/// - Tiles too small to be looked at are not enlarged: more copies are laid, to at least 512 pixels.
/// - `per_inch` is the tile's resolution; the sheet's is true to its scale.
///
/// # Errors
/// [`MockupError::NoCanvas`], which no valid raster provokes.
pub fn sheet(
    raster: &Raster,
    repeat: Repeat,
    per_inch: Option<f64>,
    settings: &Settings,
) -> Result<Sheet, MockupError> {
    let most = settings.max_side.clamp(LEAST_SIDE, 65535);
    let repeats = Plane::new(raster, repeat).repeats();
    let tile = [raster.width(), raster.height()];
    let per_inch = per_inch.filter(|per_inch| per_inch.is_finite() && *per_inch > 0.0);
    let unit_size = unit_size(tile, repeat, repeats, per_inch, most);
    let [width, height] = unit_size;
    let copies = [0, 1].map(|axis| copies(unit_size[axis], repeats[axis], most));
    let samples = reduce(&Axis::new(tile[0], width, width), &Axis::new(tile[1], height, height), |y, row| {
        light::row_over(raster.row(y), light::FULL, row);
    });
    let unit = Raster::new(width, height, samples).ok_or(MockupError::NoCanvas(width, height))?;
    let per_inch = per_inch.map(|per_inch| [0, 1].map(|i| per_inch * f64::from(unit_size[i]) / f64::from(tile[i])));
    Ok(Sheet { unit, copies, repeat, per_inch })
}

impl Sheet {
    /// All copies as one opaque raster: pixel by pixel what [`Plane`] says of the unit.
    ///
    /// # Errors
    /// [`MockupError::NoCanvas`], which no sheet made by [`sheet`] provokes.
    pub fn pixels(&self) -> Result<Raster, MockupError> {
        let (width, height) = (self.unit.width() * self.copies[0], self.unit.height() * self.copies[1]);
        let plane = Plane::new(&self.unit, self.repeat);
        let mut samples = vec![255; width as usize * height as usize * 4];
        for (y, row) in (0..).zip(samples.chunks_exact_mut(width as usize * 4)) {
            plane.row(0, y, row);
        }
        Raster::new(width, height, samples).ok_or(MockupError::NoCanvas(width, height))
    }

    /// The sheet as JPEG without chroma subsampling: from one encoded unit where copies fall on whole blocks, else whole.
    ///
    /// # Errors
    /// When the encoder refuses.
    pub fn encode(&self, quality: u8) -> Result<Vec<u8>, MockupError> {
        let lowered = self.repeat.drop_divisor().map_or(0, |n| self.unit.height() / n);
        let laid = Laid { copies: self.copies, lowered, slid: self.repeat == Repeat::Brick };
        if let Some(bytes) = picture::encode_laid_jpeg(&self.unit, laid, quality, self.per_inch)? {
            return Ok(bytes);
        }
        Ok(picture::encode_stretched_jpeg(&self.pixels()?, quality, self.per_inch)?)
    }
}

/// How many copies along one axis.
fn copies(side: u32, repeats: bool, most: u32) -> u32 {
    if !repeats {
        return 1;
    }
    let pairs = LEAST_SHOWN.div_ceil(2 * side).max(1);
    2 * pairs.min(most / (2 * side)).max(1)
}

/// The sides of one unit at the sheet's scale.
fn unit_size(tile: [u32; 2], repeat: Repeat, repeats: [bool; 2], per_inch: Option<f64>, most: u32) -> [u32; 2] {
    let parts = [if repeat == Repeat::Brick { 2 } else { 1 }, repeat.drop_divisor().unwrap_or(1)];
    let room = repeats.map(|repeats| if repeats { most / 2 } else { most });
    let fits = |size: [u32; 2]| size[0] <= room[0] && size[1] <= room[1];
    if fits(tile) {
        return [0, 1].map(|i| whole(tile[i], parts[i], tile[i]));
    }
    let half = tile.map(|side| f64::from(side) / 2.0);
    let scale = [0, 1].map(|i| (f64::from(room[i]) / half[i]).min(1.0));
    let scale = scale[0].min(scale[1]);
    let most_unit = half.map(|side| side * scale);

    let steps = [0, 1].map(|i| parts[i] * if repeats[i] { BLOCK } else { 1 });
    // The side with the finer grid in proportion is varied, the other follows.
    let lead = usize::from(most_unit[1] / f64::from(steps[1]) > most_unit[0] / f64::from(steps[0]));
    let follow = 1 - lead;
    let first = (most_unit[lead] + 1e-6) as u32 / steps[lead];
    let mut largest = None;
    for n in (first - first / 5..=first).rev().filter(|&n| n > 0) {
        let mut size = [0; 2];
        size[lead] = n * steps[lead];
        let wanted = f64::from(tile[follow]) * f64::from(size[lead]) / f64::from(tile[lead]);
        size[follow] = (wanted / f64::from(steps[follow])).round() as u32 * steps[follow];
        if size[follow] == 0 || !fits(size) || (f64::from(size[follow]) / wanted - 1.0).abs() > TOLERANCE {
            continue;
        }
        let said = per_inch.is_none_or(|per_inch| {
            let reduced = [0, 1].map(|i| per_inch * f64::from(size[i]) / f64::from(tile[i]));
            picture::density_error(reduced) <= TOLERANCE
        });
        if said {
            return size;
        }
        largest = largest.or(Some(size));
    }
    largest.unwrap_or_else(|| [0, 1].map(|i| whole(most_unit[i].round() as u32, parts[i], room[i])))
}

/// The largest multiple of `parts` up to `side`, at least one and at most what there is room for.
fn whole(side: u32, parts: u32, room: u32) -> u32 {
    (side.min(room) / parts).max(1) * parts
}
