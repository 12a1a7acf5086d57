//! The census: which flat colors a tile is made of, and what lies between them.
//!
//! Takes a raster, yields its flat colors, largest first, and the pixels of all others sorted into those that smooth an
//! edge and those that do not. A look at some rows comes first: it tells art that is not flat at almost no cost.

use super::between::{Palette, Place, place};
use super::spans::{CLEAR, Span, key, spans};
use super::tally::{Entry, MOST, Tally};
use crate::pixel::mask::{Mask, Run};
use crate::tile::Raster;

/// Pairs of neighboring rows in the first look.
const PAIRS: u32 = 128;

/// More flat colors than this in the first look are a gradient, a photograph or a lossy past, not a palette.
const LOOK_COLORS: usize = 256;

/// The share of the pixels, in percent, that flat colors take in flat art: antialiasing takes the rest.
const LOOK_COVERED: u64 = 80;

/// Pixels from which a color without an area of its own can be one, as that of hard lines one pixel wide.
const LINE: u64 = 160;

/// The most spans sorted into smoothing or not, and the largest part of the pixels; beyond either, art is not flat.
const MOST_ODD: usize = 1 << 20;
const ODD_PART: u64 = 4;

/// Spans that stand for all where only their number matters.
const SAMPLE: usize = 1 << 14;

/// In art whose every pixel differs from its neighbors, a color that takes one in so many is flat.
const DITHER: u64 = 50;

/// One flat color.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Swatch {
    /// Red, green, blue, alpha.
    pub rgba: [u8; 4],
    /// Its pixels; in a look only those looked at.
    pub pixels: u64,
    /// Its longest stretch in one row.
    pub stretch: Run,
}

/// What the first look tells.
#[derive(Debug)]
pub struct Look {
    /// The flat colors seen, largest first; the clear ground is none.
    pub colors: Vec<Swatch>,
    /// Pixels looked at.
    pub pixels: u64,
    /// Places where two flat colors meet without anything between.
    pub clean: u64,
    /// Stretches of other colors.
    pub odd: u64,
    /// Whether the art is flat.
    pub flat: bool,
}

/// What the whole tile holds.
#[derive(Debug)]
pub struct Census {
    /// The flat colors, largest first; the clear ground is none.
    pub colors: Vec<Swatch>,
    /// All different colors but the clear ground, flat or not, as far as they are told apart.
    pub distinct: u64,
    /// Whether there are more.
    pub more: bool,
    /// All pixels that were counted.
    pub pixels: u64,
    /// Pixels that smooth an edge; only where all were wanted.
    pub between: Mask,
    /// Pixels that are neither flat nor between.
    pub other: u64,
    /// Of these, the pixels that have no flat color near.
    pub deep: u64,
    /// Places along rows where two flat colors meet without anything between.
    pub clean: u64,
}

/// Looks at some pairs of rows.
pub fn look(raster: &Raster) -> Look {
    let height = raster.height();
    let pairs = PAIRS.min(height.div_ceil(2));
    let mut tally = Tally::new();
    let mut rows: Vec<Vec<Span>> = Vec::new();
    let mut below = Vec::new();
    for pair in 0..pairs {
        let y = (u64::from(pair) * u64::from(height) / u64::from(pairs)) as u32;
        let mut row = Vec::new();
        spans(raster.row(y), &mut row);
        tally.row(y, &row, &[], |_| ());
        if y + 1 < height {
            spans(raster.row(y + 1), &mut below);
            tally.row(y + 1, &below, &row, |_| ());
        }
        rows.push(row);
        // Noise, grain and photographs: hardly two pixels alike.
        if tally.spans * 2 > tally.pixels && tally.entries.len() > MOST / 16 {
            break;
        }
    }
    // A color has squares between the rows of a pair only, so half of those it has.
    let fills = |entry: &Entry| Entry { squares: entry.squares * 2, ..*entry }.fills();
    let flat: Vec<bool> = tally.entries.iter().map(fills).collect();
    let colors = swatches(&tally, &flat);
    let covered: u64 = tally.entries.iter().zip(&flat).filter(|(_, flat)| **flat).map(|(entry, _)| entry.pixels).sum();
    let few = tally.entries.len() <= LOOK_COLORS / 4;
    let is_flat = colors.len() <= LOOK_COLORS && (few || covered * 100 >= tally.pixels * LOOK_COVERED);
    let (mut clean, mut odd) = (0, 0);
    if is_flat {
        let holds = |span: &Span| tally.find(span.color).is_some_and(|entry| flat[entry]);
        for row in &rows {
            odd += row.iter().filter(|span| !holds(span)).count() as u64;
            clean += row.windows(2).filter(|pair| pair.iter().all(holds)).count() as u64;
        }
    }
    Look { colors, pixels: tally.pixels, clean, odd, flat: is_flat }
}

/// Counts the whole tile; stops early where far more colors come than can be told apart. With `every` each pixel of no flat
/// color is sorted, else some stand for all.
pub fn census(raster: &Raster, every: bool) -> Census {
    let mut tally = Tally::new();
    let (mut row, mut above): (Vec<Span>, Vec<Span>) = (Vec::new(), Vec::new());
    let mut odd: Vec<Run> = Vec::new();
    let (mut odd_pixels, mut meetings) = (0, 0);
    for y in 0..raster.height() {
        let mut keep = |span: Span| {
            odd_pixels += span.count();
            if odd.len() < MOST_ODD {
                odd.push(Run { y, start: span.start, end: span.end });
            }
        };
        if y > 0 && raster.row(y) == raster.row(y - 1) {
            tally.row(y, &above, &above, &mut keep);
        } else {
            spans(raster.row(y), &mut row);
            tally.row(y, &row, &above, &mut keep);
            std::mem::swap(&mut row, &mut above);
        }
        meetings += above.len() as u64 - 1;
        if tally.lost * 2 > tally.pixels {
            break;
        }
    }
    let mut flat: Vec<bool> = tally.entries.iter().map(Entry::fills).collect();
    let too_many = odd.len() == MOST_ODD || odd_pixels * ODD_PART > tally.pixels;
    if too_many {
        for (entry, flat) in tally.entries.iter().zip(&mut flat) {
            *flat |= entry.pixels * DITHER >= tally.pixels;
        }
    }
    let odd_spans = odd.len() as u64;
    let stride = if every { 1 } else { odd.len().div_ceil(SAMPLE).max(1) };
    let odd: Vec<Run> = odd.into_iter().step_by(stride).collect();
    let mut sorted = Sorted::of(raster, &palette(&tally, &flat), odd);
    let lines = sorted.lines(raster, &tally, stride as u64);
    if !lines.is_empty() {
        lines.into_iter().for_each(|entry| flat[entry] = true);
        let Sorted { between, beside, deep } = sorted;
        sorted = Sorted::of(raster, &palette(&tally, &flat), [between, beside, deep].concat());
    }
    let distinct = tally.entries.iter().filter(|entry| entry.color != CLEAR).count() as u64;
    let [beside, deep] = [&sorted.beside, &sorted.deep].map(|runs| pixels_of(runs) * stride as u64);
    Census {
        colors: swatches(&tally, &flat),
        distinct,
        more: tally.lost > 0,
        pixels: tally.pixels,
        other: beside + deep,
        deep,
        between: if every { Mask::of(sorted.between) } else { Mask::default() },
        clean: meetings.saturating_sub(2 * odd_spans),
    }
}

/// Spans of other than flat colors.
struct Sorted {
    between: Vec<Run>,
    beside: Vec<Run>,
    deep: Vec<Run>,
}

impl Sorted {
    /// Sorts spans; those of a flat color are left out.
    fn of(raster: &Raster, palette: &Palette, odd: Vec<Run>) -> Self {
        let mut sorted = Self { between: Vec::new(), beside: Vec::new(), deep: Vec::new() };
        for run in odd {
            if palette.holds(raster.pixel(run.start, run.y)) {
                continue;
            }
            // A span is of one color: what its middle and both ends are, it is.
            let (first, last) = (run.start, run.end - 1);
            let at = |x: u32| place(raster, palette, x, run.y);
            let middle = at(u32::midpoint(first, last));
            let whole = if last - first < 2 { middle } else { middle.max(at(first)).max(at(last)) };
            match whole {
                Place::Between => sorted.between.push(run),
                Place::Beside => sorted.beside.push(run),
                Place::Deep => sorted.deep.push(run),
            }
        }
        sorted
    }

    /// Opaque colors without an area of their own that lie between nothing: hard lines and dots.
    fn lines(&self, raster: &Raster, tally: &Tally, stride: u64) -> Vec<usize> {
        let mut counts = vec![[0_u64; 2]; tally.entries.len()];
        for (kind, runs) in [(0, &self.between), (1, &self.beside), (1, &self.deep)] {
            for run in runs {
                if let Some(entry) = tally.find(key(raster.pixel(run.start, run.y))) {
                    counts[entry][kind] += run.count() * stride;
                }
            }
        }
        let line = |[between, other]: [u64; 2]| between + other >= LINE && other >= 3 * between;
        let opaque = |entry: &usize| tally.entries[*entry].color >> 24 == 255;
        counts
            .into_iter()
            .enumerate()
            .filter(|(_, counts)| line(*counts))
            .map(|(entry, _)| entry)
            .filter(opaque)
            .collect()
    }
}

fn pixels_of(runs: &[Run]) -> u64 {
    runs.iter().map(|run| run.count()).sum()
}

fn palette(tally: &Tally, flat: &[bool]) -> Palette {
    Palette::of(tally.entries.iter().zip(flat).filter(|(_, flat)| **flat).map(|(entry, _)| entry.color))
}

/// The flat colors, largest first, then by color. Those that differ only in how much they cover are one.
fn swatches(tally: &Tally, flat: &[bool]) -> Vec<Swatch> {
    let mut colors: Vec<Swatch> = tally
        .entries
        .iter()
        .zip(flat)
        .filter(|(entry, flat)| **flat && entry.color != CLEAR)
        .map(|(entry, _)| {
            let (span, y) = entry.longest;
            let stretch = Run { y, start: span.start, end: span.end };
            Swatch { rgba: entry.color.to_le_bytes(), pixels: entry.pixels, stretch }
        })
        .collect();
    colors.sort_by_key(|swatch| ([swatch.rgba[0], swatch.rgba[1], swatch.rgba[2]], std::cmp::Reverse(swatch.rgba[3])));
    colors.dedup_by(|next, kept| {
        let same = next.rgba[..3] == kept.rgba[..3];
        if same {
            kept.pixels += next.pixels;
        }
        same
    });
    colors.sort_by_key(|swatch| (std::cmp::Reverse(swatch.pixels), swatch.rgba));
    colors
}
