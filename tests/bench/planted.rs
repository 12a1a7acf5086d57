//! An archive in which it is known what is what: works of every style, each with twins, a colorway and a lookalike.
//!
//! All works have one size, so that every tile of a style looks like every other: what is told of two works is wrong. The truth
//! lies beside the archive, one line a tile: its path, the numbers of its work and of its colors, and how it was made.

use super::art::chance::Chance;
use super::art::copies::{self, Copy};
use super::art::{self, Style};
use burler::codec::picture::{encode_jpeg, encode_png};
use burler::spec::{Ground, Repeat};
use burler::tile::{Deep, Raster};
use rayon::prelude::*;
use std::fs;
use std::path::Path;

/// Tiles of one work; the last of them is a lookalike, a work of its own.
const OF_ONE: usize = 5;

/// A tile as its file is written.
struct Made {
    raster: Raster,
    /// As what: 8 or 16 bits, or lossy with a quality.
    saved: Saved,
    /// Pixels per inch in its file.
    per_inch: f64,
}

enum Saved {
    Png,
    Deep,
    Jpeg(u8),
}

impl Made {
    fn png(raster: Raster) -> Self {
        Self { raster, saved: Saved::Png, per_inch: 300.0 }
    }

    fn jpeg(raster: Raster, quality: u8) -> Self {
        Self { saved: Saved::Jpeg(quality), ..Self::png(raster) }
    }

    fn bytes(&self) -> Result<(Vec<u8>, &'static str), String> {
        let failed = |error: burler::codec::picture::PictureError| error.to_string();
        match self.saved {
            Saved::Png => Ok((encode_png(&self.raster, Some(self.per_inch)).map_err(failed)?, "png")),
            Saved::Jpeg(quality) => {
                Ok((encode_jpeg(&self.raster, quality, Some(self.per_inch)).map_err(failed)?, "jpg"))
            }
            Saved::Deep => Ok((deep(&self.raster, &copies::deepened(&self.raster))?, "png")),
        }
    }
}

/// A PNG of 16 bits a sample.
fn deep(raster: &Raster, deep: &Deep) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, raster.width(), raster.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Sixteen);
    let samples: Vec<u8> = deep.0.iter().flat_map(|sample| sample.to_be_bytes()).collect();
    let mut writer = encoder.write_header().map_err(|error| error.to_string())?;
    writer.write_image_data(&samples).map_err(|error| error.to_string())?;
    writer.finish().map_err(|error| error.to_string())?;
    Ok(bytes)
}

type Make = fn(&Raster, &mut Chance) -> Made;

/// The same repeat in the same colors. Those with `true` need an opaque ground.
const TWINS: [(&str, bool, Make); 14] = [
    ("same bytes", false, |base, _| Made::png(base.clone())),
    ("other metadata", false, |base, _| Made { per_inch: 72.0, ..Made::png(base.clone()) }),
    ("16 bits", false, |base, _| Made { saved: Saved::Deep, ..Made::png(base.clone()) }),
    ("moved", false, |base, chance| Made::png(copies::anywhere(base, chance))),
    ("turned", false, |base, chance| Made::png(copies::quarters(base, chance.whole(1, 3)))),
    ("mirrored", false, |base, _| Made::png(copies::mirrored(base))),
    ("mirrored, turned, moved", false, |base, chance| {
        Made::png(copies::anywhere(&copies::quarters(&copies::mirrored(base), chance.whole(0, 3)), chance))
    }),
    ("JPEG 90", true, |base, _| Made::jpeg(base.clone(), 90)),
    ("JPEG 70, moved", true, |base, chance| Made::jpeg(copies::anywhere(base, chance), 70)),
    ("JPEG 50, moved, turned", true, |base, chance| {
        Made::jpeg(copies::quarters(&copies::anywhere(base, chance), chance.whole(0, 3)), 50)
    }),
    ("half size", false, |base, _| Made::png(copies::scaled(base, 0.5))),
    ("scaled, moved", false, |base, chance| {
        Made::png(copies::scaled(&copies::anywhere(base, chance), chance.between(0.5, 0.95)))
    }),
    ("scaled, turned, JPEG 80", true, |base, chance| {
        let raster = copies::quarters(base, chance.whole(1, 3));
        Made::jpeg(copies::scaled(&raster, chance.between(0.5, 0.95)), 80)
    }),
    ("two side by side", false, |base, _| {
        let rows = (0..base.height()).flat_map(|y| [base.row(y), base.row(y)].concat()).collect();
        Made::png(Raster::new(base.width() * 2, base.height(), rows).unwrap_or_else(|| base.clone()))
    }),
];

/// The same drawing in other colors.
const COLORWAYS: [(&str, bool, Make); 5] = [
    ("recolored: palette", false, |base, chance| {
        // Soft art has no palette.
        Made::png(copies::exchanged(base, chance).unwrap_or_else(|| copies::curved(base, chance)))
    }),
    ("recolored: curves", false, |base, chance| Made::png(copies::curved(base, chance))),
    ("recolored, moved, turned", false, |base, chance| {
        let raster = copies::curved(&copies::anywhere(base, chance), chance);
        Made::png(copies::quarters(&raster, chance.whole(0, 3)))
    }),
    ("recolored, JPEG 85", true, |base, chance| Made::jpeg(copies::curved(base, chance), 85)),
    ("recolored, half size", false, |base, chance| Made::png(copies::scaled(&copies::curved(base, chance), 0.5))),
];

/// Draws `count` tiles of `side` pixels into `folder`, and the truth about them beside it. Yields their bytes.
pub fn draw(folder: &Path, count: u64, side: usize, collections: u64) -> Result<u64, String> {
    let works = (count as usize).div_ceil(OF_ONE);
    let drawn: Vec<(u64, String)> = (0..works)
        .into_par_iter()
        .map(|number| work(folder, number, side, collections, (count as usize - number * OF_ONE).min(OF_ONE)))
        .collect::<Result<_, String>>()?;
    let truth: String = drawn.iter().map(|(_, lines)| lines.as_str()).collect();
    let file = folder.with_extension("truth.csv");
    fs::write(&file, format!("path,work,colors,kind\n{truth}"))
        .map_err(|error| format!("{}: {error}", file.display()))?;
    Ok(drawn.iter().map(|(bytes, _)| bytes).sum())
}

/// One work with its copies and its lookalike: bytes and lines of the truth.
fn work(folder: &Path, number: usize, side: usize, collections: u64, count: usize) -> Result<(u64, String), String> {
    let styles: Vec<&Style> = art::STYLES.iter().filter(|style| style.name != "plain").collect();
    let style = styles[number % styles.len()];
    let opaque = style.ground == Ground::Opaque;
    let seed = 500_000 + number as u64;
    let mut chance = Chance::new(seed ^ 0x0A2C);
    // Every fourth drawing that can lie so is a half-drop, known by its straight tile.
    let drop = (style.free && number / styles.len() % 4 == 1)
        .then(|| copies::half_drop_and_block(style, seed, side / 2, side));
    let base = match &drop {
        Some([_, straight]) => straight.clone(),
        None => art::drawn(style, Repeat::Block, seed, side, side),
    };
    let turn = number / styles.len();
    let pick = |all: &[(&'static str, bool, Make)], at: usize| {
        let fitting: Vec<_> = all.iter().filter(|(_, lossy, _)| opaque || !lossy).copied().collect();
        fitting[at % fitting.len()]
    };
    let twins = [pick(&TWINS, number + 5 * turn), pick(&TWINS, number + 5 * turn + 3)];
    let (other, _, recolor) = pick(&COLORWAYS, number + turn);
    let (alike, lookalike) = copies::LOOKALIKES[(number + turn) % copies::LOOKALIKES.len()];
    let copy = Copy { name: String::new(), raster: base.clone(), deep: None, repeat: Repeat::Block };
    let mut all: Vec<(Made, &str, usize, usize)> = vec![(Made::png(base.clone()), "original", 0, 0)];
    match drop {
        Some([drop, _]) => all.push((Made::png(drop), "half-drop", 0, 0)),
        None => all.push(((twins[0].2)(&base, &mut chance), twins[0].0, 0, 0)),
    }
    all.push(((twins[1].2)(&base, &mut chance), twins[1].0, 0, 0));
    all.push((recolor(&base, &mut chance), other, 0, 1));
    // Where there is nothing to be seen of a change, another drawing in the same style.
    let alike_raster = lookalike(style, seed, &copy, &mut chance).map(|copy| copy.raster);
    let (raster, alike) = match alike_raster {
        Some(raster) => (raster, alike),
        None => (art::drawn(style, Repeat::Block, seed + 4_000_037, side, side), "another seed"),
    };
    all.push((Made::png(raster), alike, 1, 2));
    let (mut bytes, mut lines) = (0, String::new());
    for (at, (made, kind, own, colors)) in all.iter().enumerate().take(count) {
        let (data, ending) = made.bytes()?;
        // The names say nothing that the sweep could go by.
        let name = format!("{}-{}.{ending}", style.name.replace(' ', "-"), number * 10 + at);
        let path = format!("collection-{:02}/{name}", (number + at) as u64 % collections);
        let file = folder.join(&path);
        fs::write(&file, &data).map_err(|error| format!("{}: {error}", file.display()))?;
        bytes += data.len() as u64;
        lines += &format!("{path},{},{},\"{kind}\"\n", number * 10 + own, number * 10 + colors);
    }
    Ok((bytes, lines))
}
