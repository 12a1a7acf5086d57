//! The drawing without its colors: which way edges run, and how surely there is one.
//!
//! Takes a grid, yields three fields that hardly change when colors are exchanged. Knows no signatures.

use super::grid::Grid;
use super::wave::{SIDE, Spectrum};

/// Waves finer than about this many periods a side are damped before edges are sought: they do not survive a reduction or a
/// lossy coder.
pub const FINEST: f32 = 32.0;

/// The share of the mean edge strength at which an edge counts half. Small, so that weak and strong edges count alike and
/// recoloring changes little; above it lies what a lossy coder adds to flat areas.
const HALF_SURE: f32 = 0.03;

/// Strength, in squared codes per grid step, below which nothing is an edge anywhere.
const NOTHING: f32 = 0.01;

/// The waves of a grid's channels; a channel without any change is left out.
#[derive(Clone)]
pub struct Tones {
    /// Which channel each is: red, green, blue, alpha as 0 to 3; and its waves.
    pub waves: Vec<(usize, Spectrum)>,
    /// Width by height.
    pub aspect: f64,
}

impl Tones {
    /// The waves of all channels that change anywhere.
    #[must_use]
    pub fn of(grid: &Grid) -> Self {
        let changes = |channel: &Vec<f32>| channel.iter().any(|value| (value - channel[0]).abs() > 0.01);
        let channels = grid.channels.iter().enumerate().filter(|(_, channel)| changes(channel));
        Self { waves: channels.map(|(c, channel)| (c, Spectrum::of(channel))).collect(), aspect: grid.aspect }
    }

    /// The same with waves finer than about `finest` periods damped.
    #[must_use]
    pub fn softened(mut self, finest: f32) -> Self {
        self.waves.iter_mut().for_each(|(_, waves)| waves.soften(finest));
        self
    }

    /// The mean of the equal parts into which this can be cut, across and down, as one field: only waves that come again in
    /// each part stay, so that what a lossy coder did to one of them is averaged away.
    #[must_use]
    pub fn folded(&self, [across, down]: [u32; 2]) -> Self {
        let waves = self.waves.iter().map(|(c, waves)| (*c, waves.folded([across as i32, down as i32])));
        Self { waves: waves.collect(), aspect: self.aspect * f64::from(down) / f64::from(across) }
    }

    /// The summed power of a wave over the channels.
    #[must_use]
    pub fn power(&self, k: i32, l: i32) -> f32 {
        self.waves.iter().map(|(_, waves)| waves.power(k, l)).sum()
    }
}

/// Edges at each place of the grid: the direction as cosine and sine of twice its angle, each times how sure it is, and the
/// strength as a share of one (the structure tensor summed over channels: Di Zenzo, CVGIP 33:116-125, 1986).
///
/// The sum over channels does not change when channels are exchanged or inverted; where only two colors meet, another pair of
/// colors changes the strength and not the direction.
#[derive(Clone)]
pub struct Edges {
    /// Cosine, sine, strength.
    pub fields: [Vec<f32>; 3],
}

impl Edges {
    /// The edges of what these waves make.
    #[must_use]
    pub fn of(tones: &Tones) -> Self {
        let mut tensor = [(); 3].map(|()| vec![0.0_f32; SIDE * SIDE]);
        // A step to the right and one down are not equally long unless the repeat is square.
        let stretch = tones.aspect.sqrt() as f32;
        let [right, down] = [1.0 / stretch, stretch];
        for (_, waves) in &tones.waves {
            let field = waves.field();
            let row = |y: usize| &field[y % SIDE * SIDE..][..SIDE];
            // A row between its last value and its first one.
            let mut around = [0.0; SIDE + 2];
            for y in 0..SIDE {
                around[1..=SIDE].copy_from_slice(row(y));
                (around[0], around[SIDE + 1]) = (row(y)[SIDE - 1], row(y)[0]);
                let sums = tensor.each_mut().map(|sums| &mut sums[y * SIDE..][..SIDE]);
                let (before, after) = (&around[..SIDE], &around[2..]);
                let (above, below) = (row(y + SIDE - 1), row(y + 1));
                let [wide, slant, all] = sums;
                for x in 0..SIDE {
                    let gx = (after[x] - before[x]) * right;
                    let gy = (below[x] - above[x]) * down;
                    wide[x] += gx * gx - gy * gy;
                    slant[x] += 2.0 * gx * gy;
                    all[x] += gx * gx + gy * gy;
                }
            }
        }
        let mean = tensor[2].iter().map(|sum| f64::from(*sum)).sum::<f64>() / tensor[2].len() as f64;
        let half = (mean as f32 * HALF_SURE).max(NOTHING);
        let [mut wide, mut slant, mut all] = tensor;
        for ((wide, slant), all) in wide.iter_mut().zip(&mut slant).zip(&mut all) {
            let whole = *all + half;
            *wide /= whole;
            *slant /= whole;
            *all /= whole;
        }
        Self { fields: [wide, slant, all] }
    }
}
