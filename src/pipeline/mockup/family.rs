//! Contact sheets: swatches of several tiles at one true scale with their names beneath, a family of colorways or two twins.
//!
//! Takes tiles one after another, so that only one is in memory; yields a PNG. Knows no files and judges nothing.

use crate::codec::picture;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, LIGHT};
use crate::pipeline::mockup::held::page::{BODY, MARGIN, PER_INCH, SMALL, WIDTH};
use crate::pipeline::mockup::held::panel;
use crate::pipeline::mockup::held::prose::Prose;
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::{Font, Style};
use crate::spec::{MM_PER_INCH, Repeat};
use crate::tile::Raster;
use serde::{Deserialize, Serialize};

/// Most swatches on one sheet.
pub const MOST: usize = 24;

/// White between swatches across, and below a swatch its name, its facts and white.
const GAP: i64 = 36;
const BENEATH: i64 = 116;

/// The finest a swatch is shown: picture pixels for each tile pixel.
const MOST_ENLARGED: f64 = 1.0;

/// One tile of a sheet, before it is decoded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its name as people read it.
    pub name: String,
    /// What is said beneath the name; empty for its size.
    pub says: String,
    /// How it is laid.
    pub repeat: Repeat,
    /// Pixels across and down.
    pub size: [u32; 2],
    /// Pixels per inch, across and down.
    pub per_inch: Option<[f64; 2]>,
    /// The place of its cloth that the swatch starts with, so that drawings lie on each other.
    pub start: [i64; 2],
}

/// What a sheet says above its swatches.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heading {
    /// In large letters.
    pub title: String,
    /// A sentence.
    pub says: String,
}

/// A sheet being filled.
pub struct Sheet<'a> {
    entries: &'a [Entry],
    heading: &'a Heading,
    /// Tile lengths (inches where all are known, else pixels) for each picture pixel.
    scale: f64,
    /// Whether lengths are inches.
    printed: bool,
    columns: usize,
    side: i64,
    swatches: Vec<Raster>,
}

impl<'a> Sheet<'a> {
    /// A sheet of up to [`MOST`] entries; what is beyond is left out and said.
    ///
    /// The scale is one for all: in print where every tile knows its resolution, else pixel for pixel. It is chosen so that
    /// the largest whole repeat fits a swatch; smaller ones are seen several times, as on cloth.
    #[must_use]
    pub fn new(entries: &'a [Entry], heading: &'a Heading) -> Self {
        let shown = entries.len().min(MOST);
        let columns = match shown {
            0..=2 => 2,
            3 | 5 | 6 | 9 => 3,
            _ => 4,
        };
        let side = (WIDTH - 2 * MARGIN - (columns as i64 - 1) * GAP) / columns as i64;
        let known =
            |entry: &Entry| entry.per_inch.is_some_and(|found| found.iter().all(|v| (1.0..=10_000.0).contains(v)));
        let printed = entries.iter().take(shown).all(known);
        let length = |entry: &Entry, i: usize| match entry.per_inch {
            Some(found) if printed => f64::from(entry.size[i]) / found[i],
            _ => f64::from(entry.size[i]),
        };
        let longest = entries.iter().take(shown).flat_map(|entry| [0, 1].map(|i| length(entry, i))).fold(0.0, f64::max);
        // Never so large that a pixel becomes a square.
        let finest = entries
            .iter()
            .take(shown)
            .flat_map(|entry| entry.per_inch.filter(|_| printed).map_or([1.0; 2], |found| found.map(|v| 1.0 / v)));
        let least = finest.fold(f64::MAX, f64::min) / MOST_ENLARGED;
        Self {
            entries: &entries[..shown],
            heading,
            scale: (longest / side as f64).max(least),
            printed,
            columns,
            side,
            swatches: Vec::with_capacity(shown),
        }
    }

    /// The entry whose tile comes next.
    #[must_use]
    pub fn awaits(&self) -> Option<&'a Entry> {
        self.entries.get(self.swatches.len())
    }

    /// Takes the next entry's tile; `None` leaves its swatch empty: it could not be opened.
    ///
    /// # Errors
    /// [`MockupError::NoCanvas`], which nothing provokes.
    pub fn add(&mut self, raster: Option<&Raster>) -> Result<(), MockupError> {
        let Some(entry) = self.awaits() else { return Ok(()) };
        let side = self.side as u32;
        let swatch = match raster {
            None => Raster::new(side, side, [245, 245, 245, 255].repeat(side as usize * side as usize)),
            Some(raster) => {
                let step = [0, 1].map(|i| {
                    let per_inch = entry.per_inch.filter(|_| self.printed).map_or(1.0, |found| found[i]);
                    ((self.scale * per_inch * 1000.0).round().clamp(1.0, 1e8) as u32, 1000)
                });
                // A border or a placement is shown whole, from its own corner.
                let start = if Plane::new(raster, entry.repeat).repeats() == [true; 2] { entry.start } else { [0; 2] };
                Some(panel::printed(Plane::new(raster, entry.repeat), start, step, [side, side])?)
            }
        };
        self.swatches.push(swatch.ok_or(MockupError::NoCanvas(side, side))?);
        Ok(())
    }

    /// The sheet as PNG, 1600 pixels wide.
    ///
    /// # Errors
    /// [`MockupError::Font`], or when the encoder refuses; nothing valid tiles provoke.
    pub fn finish(self) -> Result<Vec<u8>, MockupError> {
        let font = Font::bundled()?;
        let mut head = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
        head.add(&self.heading.title, Style::bold(44.0), BLACK, 2);
        head.space(6.0);
        head.add(&self.heading.says, Style::regular(BODY), BLACK, 4);
        let top = MARGIN + head.height() as i64 + 36;
        let rows = self.swatches.len().div_ceil(self.columns).max(1) as i64;
        let foot_at = top + rows * (self.side + BENEATH);
        let mut foot = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
        foot.add(&self.legend(), Style::regular(SMALL * 0.86), GRAY, 2);
        let mut canvas = Canvas::new(WIDTH as u32, (foot_at + foot.height() as i64 + MARGIN) as u32)?;
        head.draw(&mut canvas, MARGIN as f32, MARGIN as f32);
        for (at, (entry, swatch)) in self.entries.iter().zip(&self.swatches).enumerate() {
            let left = MARGIN + (at % self.columns) as i64 * (self.side + GAP);
            let top = top + (at / self.columns) as i64 * (self.side + BENEATH);
            let area = Box4::new(left, top, self.side, self.side);
            canvas.fill(area.grown(1), LIGHT);
            canvas.set_down(swatch, left, top, area);
            let (name, small) = (Style::bold(SMALL * 0.93), Style::regular(SMALL * 0.83));
            let width = self.side as f32;
            for line in font.wrap(&entry.name, name, width, 1) {
                canvas.text(&line, name, left as f32, (area.bottom + 40) as f32, BLACK);
            }
            let says = if entry.says.is_empty() { size(entry) } else { entry.says.clone() };
            for line in font.wrap(&says, small, width, 1) {
                canvas.text(&line, small, left as f32, (area.bottom + 74) as f32, GRAY);
            }
        }
        foot.draw(&mut canvas, MARGIN as f32, foot_at as f32);
        Ok(picture::encode_opaque_png(&canvas.finish()?, Some(PER_INCH))?)
    }

    fn legend(&self) -> String {
        if !self.printed {
            return "All at one scale, by pixels: not every tile says how large it prints.".into();
        }
        // True would be one picture pixel for each 200th of an inch.
        let share = 100.0 / (self.scale * PER_INCH);
        let long = self.scale * self.side as f64;
        format!(
            "All at one scale, {share:.0} % of print size: each swatch shows {long:.1} in ({:.0} mm) of cloth.",
            long * MM_PER_INCH
        )
    }
}

/// What a tile is, beneath its name.
fn size(entry: &Entry) -> String {
    let [width, height] = entry.size;
    match entry.per_inch {
        Some([x, y]) if x >= 1.0 && y >= 1.0 => {
            format!("{:.1} x {:.1} in · {width} x {height} px", f64::from(width) / x, f64::from(height) / y)
        }
        _ => format!("{width} x {height} px"),
    }
}
