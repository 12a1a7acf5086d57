//! The likeness of a tile: what is kept of it to find tiles that are one repeat under several names.
//!
//! Takes a decoded tile and how it is laid, yields plain data. Pure; knows no other tile, no files and no ledger.

pub mod wave;
pub mod grid;
pub mod field;
pub mod sign;
pub mod turn;
pub mod align;
pub mod exchange;
pub mod agree;
pub mod pair;
pub mod exact;
pub mod relation;
pub mod words;

use super::check::Judgment;
use crate::spec::{Repeat, Spec};
use crate::tile::{Deep, Raster, Tile};
use field::{Edges, FINEST, Tones};
use grid::{Extent, Grid};
use serde::{Deserialize, Serialize};
use sign::Sign;
use wave::Spectrum;

/// The version of the signatures: raised whenever the same tile can get others, so that kept ones are not compared with new ones.
pub const VERSION: u32 = 2;

/// What is kept of a tile.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Likeness {
    /// Pixels across and down.
    pub size: [u32; 2],
    /// The hash of its pixels, whatever file they are in: see [`pixels`].
    pub pixels: [u8; 32],
    /// Its colors, whatever is drawn in them.
    pub colors: Shades,
    /// Its signatures; none for a tile of one color.
    pub looks: Vec<Look>,
}

impl Likeness {
    /// The likeness of a tile in every layout in which it joins, that of its pictures first.
    #[must_use]
    pub fn judged(tile: &Tile, judgment: &Judgment, spec: &Spec) -> Self {
        let layouts: Vec<Repeat> =
            [judgment.layout(spec)].into_iter().chain(judgment.joins_as.iter().copied()).collect();
        Self::of(&tile.raster, tile.deep.as_ref(), &layouts)
    }

    /// The likeness of a tile that is laid in each of `repeats`; what does not cover the plane counts as block.
    #[must_use]
    pub fn of(raster: &Raster, deep: Option<&Deep>, repeats: &[Repeat]) -> Self {
        let mut laid: Vec<Repeat> = Vec::new();
        for &repeat in repeats.iter().take(MOST_REPEATS) {
            let plane =
                if matches!(repeat, Repeat::Across | Repeat::Down | Repeat::None) { Repeat::Block } else { repeat };
            if !laid.contains(&plane) {
                laid.push(plane);
            }
        }
        if laid.is_empty() {
            laid.push(Repeat::Block);
        }
        let block = Grid::of(raster, &Extent::of(raster, Repeat::Block));
        let colors = Shades::of(&block);
        let grid = |repeat| (repeat != Repeat::Block).then(|| Grid::of(raster, &Extent::of(raster, repeat)));
        let looks =
            laid.into_iter().flat_map(|repeat| looks(grid(repeat).as_ref().unwrap_or(&block), repeat)).collect();
        Self { size: [raster.width(), raster.height()], pixels: pixels(raster, deep), colors, looks }
    }
}

/// What of the colors of a tile does not depend on where it starts, how it lies, or how large it is, and hardly on a coder:
/// the means of red, green and blue under their coverage and of the coverage, as codes, and how far all colors and the green
/// ones lie from them, by steps of a 16th of an octave above [`NO_SPREAD`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shades(pub [u8; 6]);

/// A spread, in codes, below which differences mean nothing.
const NO_SPREAD: f64 = 8.0;

impl Shades {
    fn of(grid: &Grid) -> Self {
        let variance = |channel: &Vec<f32>| {
            let mean = channel.iter().map(|v| f64::from(*v)).sum::<f64>() / channel.len() as f64;
            channel.iter().map(|v| (f64::from(*v) - mean).powi(2)).sum::<f64>() / channel.len() as f64
        };
        let variances = grid.channels.each_ref().map(variance);
        let steps = |variance: f64| ((1.0 + variance.sqrt() / NO_SPREAD).log2() * 16.0).round() as u8;
        let [r, g, b, a] = grid.means.map(|mean| mean.round() as u8);
        Self([r, g, b, a, steps(variances.iter().sum()), steps(variances[1])])
    }
}

/// Most ways of laying that are looked at.
const MOST_REPEATS: usize = 3;

/// The BLAKE3 hash of sides and straight pixels: equal for equal pictures in any container. A sample of 16 bits equals one of
/// 8 when it is 257 times it; what lies under no alpha does not count.
#[must_use]
pub fn pixels(raster: &Raster, deep: Option<&Deep>) -> [u8; 32] {
    let mut hash = blake3::Hasher::new();
    hash.update(&raster.width().to_le_bytes());
    hash.update(&raster.height().to_le_bytes());
    let deep = deep.filter(|deep| deep.0.as_chunks::<4>().0.iter().any(|p| p[3] > 0 && p.iter().any(|v| v % 257 != 0)));
    let mut row = Vec::new();
    for y in 0..raster.height() as usize {
        row.clear();
        let width = raster.width() as usize;
        match deep {
            Some(deep) => {
                for pixel in deep.0[y * width * 4..][..width * 4].as_chunks::<4>().0 {
                    let pixel = if pixel[3] == 0 { [0; 4] } else { *pixel };
                    row.extend(pixel.iter().flat_map(|sample| sample.to_le_bytes()));
                }
                hash.update(&row);
            }
            None => {
                let pixels = raster.row(y as u32);
                if pixels.as_chunks::<4>().0.iter().all(|pixel| pixel[3] > 0) {
                    hash.update(pixels);
                } else {
                    row.extend(pixels.as_chunks::<4>().0.iter().flat_map(|p| if p[3] == 0 { [0; 4] } else { *p }));
                    hash.update(&row);
                }
            }
        }
    }
    *hash.finalize().as_bytes()
}

/// The signatures of one repeat.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Look {
    /// How the tile is laid.
    pub repeat: Repeat,
    /// How often the smallest straight repeat lies in the tile's own, across and down.
    pub copies: [u32; 2],
    /// Of the colors.
    pub tone: Sign,
    /// Of the drawing without its colors.
    pub drawing: Sign,
}

/// Most copies along a side that are looked for.
const MOST_COPIES: u32 = 80;

/// The share of power beside the waves of a smaller repeat below which it surely is one, and above which it is surely none:
/// between them, where a lossy coder may have been, both are kept.
const SURELY: [f32; 2] = [0.0005, 0.04];

/// The finest waves of a whole tile that are relied on, in periods a side.
const WHOLE_FINEST: f32 = 80.0;

/// The largest numbers of equal parts, across and down, into which a repeat can be cut so that at most this share of its power
/// lies beside the parts' waves.
fn parts(tones: &Tones, share: f32) -> [u32; 2] {
    let reach = 120;
    let mut along = [vec![0.0_f64; reach + 1], vec![0.0; reach + 1]];
    for k in 0..=reach as i32 {
        for l in -(reach as i32)..=reach as i32 {
            if (k, l) != (0, 0) {
                let power = f64::from(tones.power(k, l));
                along[0][k as usize] += power;
                along[1][l.unsigned_abs() as usize] += power;
            }
        }
    }
    along.map(|powers| {
        let all: f64 = powers.iter().sum();
        let beside = |n: u32| {
            let own = powers.iter().step_by(n as usize).sum::<f64>();
            all - own
        };
        // Nothing changes along this side: any cut would do, so none is made.
        if powers[0] >= all * (1.0 - f64::from(share)) {
            return 1;
        }
        (2..=MOST_COPIES).rev().find(|&n| beside(n) <= all * f64::from(share)).unwrap_or(1)
    })
}

/// The signatures of a tile laid as `repeat`, its straight repeat on a grid: one, or two where it is unclear whether it holds a smaller repeat. None when
/// there is nothing to be seen but one color.
#[must_use]
pub fn looks(grid: &Grid, repeat: Repeat) -> Vec<Look> {
    let whole = Tones::of(grid);
    if whole.waves.is_empty() {
        return Vec::new();
    }
    let mut copies = SURELY.map(|share| parts(&whole, share)).to_vec();
    copies.dedup();
    copies
        .into_iter()
        .map(|copies| {
            let most = copies[0].max(copies[1]) as f32;
            let tones = whole.folded(copies).softened(FINEST.min(WHOLE_FINEST / most));
            let edges = Edges::of(&tones).fields.map(|field| Spectrum::of(&field));
            let drawing = Sign::of(|k, l| edges.iter().map(|waves| waves.power(k, l)).sum());
            Look { repeat, copies, tone: Sign::of(|k, l| tones.power(k, l)), drawing }
        })
        .collect()
}
