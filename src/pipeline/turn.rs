//! Turning: the endless cloth of a tile, turned by an angle that closes on whole pixels, and the tile of the turned repeat.
//!
//! Takes a tile, its repeat and a wish; yields the new tile with its exact angle, scale and number of units, or the nearest
//! angles that close. The tile repeats by construction: it is filled from one unit by the turned lattice.

mod closing;
mod footprint;
mod tone;
mod surface;
mod resample;

use super::cloth::Cloth;
use super::cloth::lattice::Lattice;
use super::lay::{self, LayError};
use crate::codec::{Limits, deep};
use crate::spec::Repeat;
use crate::spec::wish::{Angle, Turn};
use crate::tile::{Deep, Raster, Tile};
use closing::Closing;
use rayon::prelude::*;
use resample::{Back, Manner, resampled};
use std::fmt;
use thiserror::Error;
use tone::Tone;

/// An angle that closes, as it is offered.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The direction to ask for.
    pub toward: [i64; 2],
    /// The angle in degrees.
    pub degrees: f64,
    /// Pixels across and down of the tile it would give.
    pub size: [i64; 2],
    /// The scale of its art.
    pub scale: f64,
}

impl fmt::Display for Choice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { toward: [right, down], degrees, size: [width, height], scale } = self;
        let off = (scale - 1.0) * 100.0;
        write!(f, "--by {right}:{down} is {degrees:.4} degrees, {width} x {height} px, scale {scale:.4} ({off:+.2} %)")
    }
}

/// Why a tile cannot be turned as wished.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum TurnError {
    /// It has no cloth.
    #[error(transparent)]
    Lay(#[from] LayError),
    /// The turned cloth meets the pixels nowhere near.
    #[error("{by} degrees close on no whole pixels: {}", offered(choices))]
    Open {
        /// The angle that was wished.
        by: Angle,
        /// The nearest that close.
        choices: Vec<Choice>,
    },
    /// No number of whole blocks has this size.
    #[error(
        "whole repeats of the turned tile do not fill {wanted}: the nearest that they fill is {nearest}, at scale \
         {scale:.4}; or keep the scale, which takes {kept}"
    )]
    Size {
        /// The size that was wished, as people read it.
        wanted: String,
        /// The nearest that can be had.
        nearest: String,
        /// The scale there.
        scale: f64,
        /// The size at the tile's own scale.
        kept: String,
    },
    /// The new tile would pass a limit.
    #[error("the turned tile would be {width} x {height} px: {limit}; ask for a smaller one with --size")]
    TooLarge {
        /// Pixels across.
        width: i64,
        /// Pixels down.
        height: i64,
        /// Which limit.
        limit: String,
    },
    /// Even at the smallest scale.
    #[error(
        "the smallest turned tile that repeats is {width} x {height} px, and the tile is smaller; use --keep-scale"
    )]
    TooSmall {
        /// Pixels across.
        width: i64,
        /// Pixels down.
        height: i64,
    },
}

fn offered(choices: &[Choice]) -> String {
    if choices.is_empty() {
        return "and no angle near it gives a tile within the limits; try --by 45".into();
    }
    let listed: Vec<String> = choices.iter().map(Choice::to_string).collect();
    format!("near it {}", listed.join("; "))
}

/// A tile turned.
#[derive(Clone, Debug)]
pub struct Turned {
    /// The new tile, to be laid as block; what its container says is still the old one's word.
    pub tile: Tile,
    /// The angle in degrees, clockwise.
    pub degrees: f64,
    /// The scale of its art.
    pub scale: f64,
    /// How many of the smallest repeats it holds.
    pub units: u64,
}

/// Most angles that are offered for one that does not close.
const MOST_OFFERED: usize = 5;

/// Offers keep at least this scale: smaller art is no answer to a wish for an angle.
const LEAST_OFFERED: f64 = 0.1;

/// A size and a scale step.
struct Plan {
    step: i64,
    size: [i64; 2],
}

/// Turns the cloth of `tile`, laid as `repeat`.
///
/// The scale is the nearest to 1 at which whole blocks fill the canvas; without a wish for a size the canvas is the tile's own,
/// or, where no blocks fill that, the largest below it. The center of the first pixel stays where it is.
///
/// # Errors
/// Why that cannot be done, with what can.
pub fn turn(tile: &Tile, repeat: Repeat, wish: &Turn, limits: &Limits) -> Result<Turned, TurnError> {
    let lattice = lay::lattice_of(tile, repeat)?;
    let own = [i64::from(tile.raster.width()), i64::from(tile.raster.height())];
    let Some(closing) = Closing::by(&lattice, wish.by) else {
        let around = Closing::around(&lattice, wish.by.degrees());
        let offers = around.iter().rev().filter_map(|closing| offer(closing, own, wish, limits));
        return Err(TurnError::Open { by: wish.by, choices: offers.take(MOST_OFFERED).collect() });
    };
    let Plan { step, size } = planned(&closing, own, wish)?;
    let [width, height] =
        lay::within(size, limits).map_err(|limit| TurnError::TooLarge { width: size[0], height: size[1], limit })?;
    let ([e, f], divisor) = closing.back(step);
    let back = Back { step: [e, f], divisor };
    let manner = if wish.palette_only { Manner::Majority } else { Manner::Mean };
    let turned = closing.at(step);
    let (shallow, samples) = lay::on_cloth(
        tile,
        repeat,
        |cloth| (Some(filled_with(&cloth, &turned, back, [width, height], manner)), None),
        |cloth| (None, Some(filled_with(&cloth, &turned, back, [width, height], manner))),
    )?;
    let rgba = match (shallow, &samples) {
        (Some(rgba), _) => rgba,
        (None, Some(samples)) => deep::view_of(samples),
        (None, None) => Vec::new(),
    };
    let raster = Raster::new(width, height, rgba).ok_or(LayError::OneWay(repeat))?;
    Ok(Turned {
        tile: Tile { raster, deep: samples.map(Deep), meta: tile.meta.clone(), content: tile.content },
        degrees: closing.degrees(),
        scale: closing.scale(step),
        units: (size[0] * size[1] / turned.area()).unsigned_abs(),
    })
}

/// How far a scale is from 1, as a ratio.
fn away(scale: f64) -> f64 {
    scale.max(1.0 / scale)
}

fn planned(closing: &Closing, own: [i64; 2], wish: &Turn) -> Result<Plan, TurnError> {
    let block = closing.block();
    let nearest = |steps: &mut dyn Iterator<Item = i64>| {
        steps.min_by(|&a, &b| away(closing.scale(a)).total_cmp(&away(closing.scale(b))))
    };
    if wish.keep_scale {
        let step = closing.kept();
        return Ok(Plan { step, size: block.map(|side| side * step) });
    }
    let canvas = wish.size.map_or(own, |size| size.map(i64::from));
    if let Some(step) = nearest(&mut closing.filling(canvas)) {
        return Ok(Plan { step, size: canvas });
    }
    // Whole blocks below the canvas, at the scale nearest to 1 that fits.
    let most = (canvas[0] / block[0]).min(canvas[1] / block[1]);
    let Some(step) = nearest(&mut (1..=most)) else {
        return Err(TurnError::TooSmall { width: block[0], height: block[1] });
    };
    let size = [0, 1].map(|axis| canvas[axis] / (block[axis] * step) * block[axis] * step);
    if wish.size.is_none() {
        return Ok(Plan { step, size });
    }
    let spelled = |[width, height]: [i64; 2]| format!("{width} x {height} px");
    Err(TurnError::Size {
        wanted: spelled(canvas),
        nearest: spelled(size),
        scale: closing.scale(step),
        kept: spelled(block.map(|side| side * closing.kept())),
    })
}

fn offer(closing: &Closing, own: [i64; 2], wish: &Turn, limits: &Limits) -> Option<Choice> {
    let Plan { step, size } = planned(closing, own, wish).ok()?;
    lay::within(size, limits).ok()?;
    let (scale, degrees) = (closing.scale(step), closing.degrees());
    (scale >= LEAST_OFFERED).then_some(Choice { toward: closing.toward, degrees, size, scale })
}

/// The samples of a tile of the turned cloth: one unit resampled, and laid by the turned lattice.
fn filled_with<T: Tone>(
    cloth: &Cloth<'_, T>,
    turned: &Lattice,
    back: Back,
    [width, height]: [u32; 2],
    manner: Manner,
) -> Vec<T> {
    let (across, down) = (turned.a as usize, turned.d as usize);
    let unit = resampled(cloth, back, across, down, manner);
    if [across, down] == [width as usize, height as usize] {
        return unit;
    }
    let unit = unit.as_chunks::<4>().0;
    let mut out = vec![T::FULL; width as usize * height as usize * 4];
    out.par_chunks_exact_mut(width as usize * 4).enumerate().for_each(|(y, row)| {
        for (piece, column) in row.as_chunks_mut::<4>().0.chunks_mut(across).zip(0_i64..) {
            let [_, from] = turned.reduced([column * turned.a, y as i64]);
            piece.copy_from_slice(&unit[from as usize * across..][..piece.len()]);
        }
    });
    out
}
