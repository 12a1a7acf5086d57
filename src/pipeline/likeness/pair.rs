//! Two tiles on one grid: every way the second could lie on the first, tried and measured.
//!
//! Takes rasters and how they are laid, yields measures. What they come to is decided in `relation`.

use super::agree::{self, Cut, Difference, Limit};
use super::align::{Laid, Surface};
use super::exchange::Channels;
use super::field::{Edges, Tones};
use super::grid::{Extent, Grid};
use super::turn::Turn;
use super::wave::{SIDE, Spectrum};
use crate::tile::Raster;
use std::cell::OnceCell;

/// Steps of the grid by which a shift is refined, one after another.
const REFINED: [f32; 3] = [0.5, 0.25, 0.125];

/// Differences of [`Laid::edges`] that mean nothing.
const ALIKE: f32 = 0.02;

/// A tile on the grid, ready to be compared.
pub struct Sheet {
    channels: Channels,
    /// Channels that change, and their waves.
    tones: Tones,
    /// The waves of its edges, once they are asked for.
    edges: OnceCell<[Spectrum; 3]>,
}

impl Sheet {
    /// What an extent of a cloth shows, waves finer than `finest` damped: in light where the two are of different scales, since
    /// that is how one was reduced.
    #[must_use]
    pub fn of(raster: &Raster, extent: &Extent, finest: f32, scale: u32) -> Self {
        let grid = Grid::of(raster, extent);
        let (grid, tones) = if scale == 1000 {
            let tones = Tones::of(&grid).softened(finest);
            (grid, tones)
        } else {
            let grid = grid.softened(finest);
            let tones = Tones::of(&grid);
            (grid, tones)
        };
        let mut channels = grid.channels;
        for (c, waves) in &tones.waves {
            channels[*c] = waves.field();
        }
        Self { channels, tones, edges: OnceCell::new() }
    }

    fn edges(&self) -> &[Spectrum; 3] {
        self.edges.get_or_init(|| Edges::of(&self.tones).fields.map(|field| Spectrum::of(&field)))
    }

    /// The sum of squares about the mean colors.
    fn energy(&self) -> f64 {
        self.tones.waves.iter().map(|(_, waves)| waves.energy()).sum()
    }
}

/// The finest waves that both keep, from the smaller of their sides in pixels.
#[must_use]
pub fn finest(extents: [&Extent; 2]) -> f32 {
    let least = extents.iter().flat_map(|extent| extent.size()).fold(f64::MAX, f64::min);
    (least as f32 / 6.0).min(SIDE as f32 / 6.0)
}

/// Differences that mean nothing.
fn steps(value: f32) -> i64 {
    (value / ALIKE).round() as i64
}

/// Every way worth looking at to lay the second onto the first with one of `turns` in which their colors may be the same, the
/// likeliest first; each with how far they differ there, as a share. Of equally likely ones, which symmetric drawings have, the
/// plainest first. Edges are not looked at.
#[must_use]
pub fn in_colors(one: &Sheet, other: &Sheet, turns: impl Iterator<Item = Turn>) -> Vec<(Laid, f32)> {
    let energy = (one.energy() + other.energy()) as f32;
    let mut found = Vec::new();
    for turn in turns {
        let tones: Vec<(usize, Spectrum)> =
            other.tones.waves.iter().map(|(c, waves)| (*c, turn.waves(waves))).collect();
        let both = one
            .tones
            .waves
            .iter()
            .flat_map(|(c, own)| tones.iter().filter(move |(its, _)| its == c).map(move |(_, other)| (own, other)));
        let colors = Surface::of(both, false);
        let differ = |shift| 1.0 - 2.0 * colors.at(shift) / energy.max(1e-9);
        found.extend(colors.peaks().into_iter().map(|shift| (Laid { turn, shift, edges: 0.0 }, differ(shift))));
    }
    found.sort_by_key(|(laid, differ)| (steps(*differ), laid.plainness()));
    found
}

/// The same in which their drawings may be the same.
#[must_use]
pub fn in_drawing(one: &Sheet, other: &Sheet, turns: impl Iterator<Item = Turn>) -> Vec<Laid> {
    let directions = |sheet: &Sheet| sheet.edges()[0].energy() + sheet.edges()[1].energy();
    let strength = (directions(one) * directions(other)).sqrt() as f32;
    let mut found = Vec::new();
    for turn in turns {
        let [cosine, sine] = turn.signs();
        let edges = [(0, cosine), (1, sine), (2, 1.0)].map(|(i, sign): (usize, f32)| {
            let mut waves = turn.waves(&other.edges()[i]);
            waves.change(|_, _, wave| *wave *= sign);
            waves
        });
        let pairs = || one.edges().iter().zip(&edges);
        let same_way = Surface::of(pairs().take(2), false);
        let laid = |shift| Laid { turn, shift, edges: same_way.at(shift) / strength.max(1e-9) };
        found.extend(Surface::of(pairs(), true).peaks().into_iter().map(laid));
    }
    found.sort_by_key(|laid| (-steps(laid.edges), laid.plainness()));
    found
}

/// The second picture turned, as waves to be moved; a channel without change stays as it is.
struct Turned(Vec<(Vec<f32>, Option<Spectrum>)>);

impl Turned {
    fn of(sheet: &Sheet, turn: Turn) -> Self {
        let channels = sheet.channels.iter().enumerate().map(|(c, channel)| {
            let waves = sheet.tones.waves.iter().find(|(its, _)| *its == c).map(|(_, waves)| turn.waves(waves));
            (if waves.is_some() { Vec::new() } else { channel.clone() }, waves)
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
pub fn settled(one: &Sheet, other: &Sheet, laid: &Laid, cut: Cut) -> (Laid, Difference) {
    let turned = Turned::of(other, laid.turn);
    let differ = |shift| agree::in_colors(&one.channels, &turned.moved(shift), cut);
    let first = differ(laid.shift);
    // Nothing to be won, or another drawing.
    if first.worst <= 30 || first.whole > 250 {
        return (*laid, first);
    }
    // They differ least where they correlate most, which their waves tell without laying one on the other.
    let mut product = Spectrum::none();
    for (c, own) in &one.tones.waves {
        if let (_, Some(its)) = &turned.0[*c] {
            product.add_product(own, its);
        }
    }
    let mut best = (laid.shift, product.value(laid.shift));
    for step in REFINED {
        for [right, down] in [[step, 0.0], [-step, 0.0], [0.0, step], [0.0, -step]] {
            let shift = [best.0[0] + right, best.0[1] + down];
            let found = product.value(shift);
            if found > best.1 {
                best = (shift, found);
            }
        }
    }
    let found = differ(best.0);
    if (found.whole, found.worst) < (first.whole, first.worst) {
        (Laid { shift: best.0, ..*laid }, found)
    } else {
        (*laid, first)
    }
}

/// How the two differ when colors may be exchanged, from the first to the second and back; `None` when either is over the
/// limit.
#[must_use]
pub fn exchanged(one: &Sheet, other: &Sheet, laid: &Laid, limit: Limit, cut: Cut) -> Option<[Difference; 2]> {
    let other = Turned::of(other, laid.turn).moved(laid.shift);
    let there = Some(agree::exchanged(&one.channels, &other, cut)).filter(|there| there.within(limit))?;
    let back = Some(agree::exchanged(&other, &one.channels, cut)).filter(|back| back.within(limit))?;
    Some([there, back])
}

/// Whether a picture is the same in each of so many equal parts, across and down, as far as `limit` asks.
#[must_use]
pub fn even(sheet: &Sheet, parts: [u32; 2], limit: Limit) -> bool {
    let turned = Turned::of(sheet, Turn::default());
    let part = parts.map(|parts| SIDE as f32 / parts as f32);
    [[part[0], 0.0], [0.0, part[1]]]
        .into_iter()
        .zip(parts)
        .filter(|(_, parts)| *parts > 1)
        .all(|(shift, _)| agree::in_colors(&sheet.channels, &turned.moved(shift), Cut::of([1.0; 2])).within(limit))
}
