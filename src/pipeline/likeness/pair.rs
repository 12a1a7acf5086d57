//! Two tiles on one grid: every way the second could lie on the first, tried and measured.
//!
//! Takes rasters and how they are laid, yields measures. What they come to is decided in `relation`.

use super::agree::{self, Difference};
use super::align::{self, Laid};
use super::exchange::Channels;
use super::field::{Edges, Tones};
use super::grid::{Extent, Grid};
use super::turn::Turn;
use super::wave::{SIDE, Spectrum};
use crate::tile::Raster;

/// Steps of the grid by which a shift is refined, one after another.
const REFINED: [f32; 3] = [0.5, 0.25, 0.125];

/// Differences of [`Laid::edges`] that mean nothing.
const ALIKE: f32 = 0.02;

/// A tile on the grid, ready to be compared.
pub struct Sheet {
    channels: Channels,
    edges: Edges,
}

impl Sheet {
    /// What an extent of a cloth shows, waves finer than `finest` damped.
    #[must_use]
    pub fn of(raster: &Raster, extent: &Extent, finest: f32) -> Self {
        let grid = Grid::of(raster, extent);
        let tones = Tones::of(&grid).softened(finest);
        let mut channels = grid.channels;
        for (c, waves) in &tones.waves {
            channels[*c] = waves.field();
        }
        Self { channels, edges: Edges::of(&tones) }
    }
}

/// The finest waves that both keep, from the smaller of their sides in pixels.
#[must_use]
pub fn finest(extents: [&Extent; 2]) -> f32 {
    let least = extents.iter().flat_map(|extent| extent.size()).fold(f64::MAX, f64::min);
    (least as f32 / 6.0).min(SIDE as f32 / 6.0)
}

/// Every way worth looking at to lay the second onto the first with one of `turns`, the likeliest first; of equally likely
/// ones, which symmetric drawings have, the plainest.
#[must_use]
pub fn ways(one: &Sheet, other: &Sheet, turns: impl Iterator<Item = Turn>) -> Vec<Laid> {
    let own = align::waves(&one.edges, Turn::default());
    let mut all: Vec<Laid> = turns
        .flat_map(|turn| {
            let shifts = align::peaks(&own, &align::waves(&other.edges, turn));
            shifts.into_iter().map(move |shift| {
                let edges = align::same_way(&one.edges, &other.edges, turn, shift);
                Laid { turn, shift, edges }
            })
        })
        .collect();
    let likely = |laid: &Laid| (laid.edges / ALIKE).round() as i64;
    all.sort_by(|a, b| likely(b).cmp(&likely(a)).then(a.plainness().cmp(&b.plainness())));
    all
}

/// The second picture turned, as waves to be moved; a channel without change stays as it is.
struct Turned(Vec<(Vec<f32>, Option<Spectrum>)>);

impl Turned {
    fn of(sheet: &Sheet, turn: Turn) -> Self {
        let channels = sheet.channels.iter().map(|channel| {
            let field = turn.field(channel);
            let waves = field.iter().any(|value| *value != field[0]).then(|| Spectrum::of(&field));
            (field, waves)
        });
        Self(channels.collect())
    }

    fn moved(&self, shift: [f32; 2]) -> Channels {
        std::array::from_fn(|c| match &self.0[c] {
            (field, None) => field.clone(),
            (_, Some(waves)) => {
                let mut waves = waves.clone();
                waves.shift(shift);
                waves.field()
            }
        })
    }
}

/// Moves the second by parts of a step until its colors differ least, and says how far they then differ.
#[must_use]
pub fn settled(one: &Sheet, other: &Sheet, laid: &Laid) -> (Laid, Difference) {
    let turned = Turned::of(other, laid.turn);
    let differ = |shift| agree::in_colors(&one.channels, &turned.moved(shift));
    let mut best = (laid.shift, differ(laid.shift));
    for step in REFINED {
        // Nothing to be won, or another drawing.
        if best.1.worst <= 30 || best.1.whole > 250 {
            break;
        }
        for [right, down] in [[step, 0.0], [-step, 0.0], [0.0, step], [0.0, -step]] {
            let shift = [best.0[0] + right, best.0[1] + down];
            let found = differ(shift);
            if found.whole < best.1.whole || (found.whole == best.1.whole && found.worst < best.1.worst) {
                best = (shift, found);
            }
        }
    }
    (Laid { shift: best.0, ..*laid }, best.1)
}

/// How the two differ when colors may be exchanged, from the first to the second and back; `None` when either is over the
/// limit.
#[must_use]
pub fn exchanged(one: &Sheet, other: &Sheet, laid: &Laid, limit: Difference) -> Option<[Difference; 2]> {
    let other = Turned::of(other, laid.turn).moved(laid.shift);
    let there = Some(agree::exchanged(&one.channels, &other)).filter(|there| there.within(limit))?;
    let back = Some(agree::exchanged(&other, &one.channels)).filter(|back| back.within(limit))?;
    Some([there, back])
}
