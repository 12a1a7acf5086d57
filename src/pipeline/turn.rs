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
    #[error("a turn by {by} closes on no whole pixels: {}", offered(choices))]
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

/// Offers keep at least this scale: smaller art is no answer to a wish for an angle. With a kept scale they are this near.
const LEAST_OFFERED: f64 = 0.1;
const NEAR_OFFERED: f64 = 0.02;

/// A kept scale that is nearer to 1 than this needs no larger unit: half a millimeter on a foot.
const NEAR: f64 = 0.002;

/// How often a smallest repeat is put together with itself at most, so that pixels fall more finely.
const MOST_TOGETHER: i64 = 64;

/// A way to turn: what closes, at which scale step, and the size of the tile.
#[derive(Clone, Copy)]
struct Plan {
    closing: Closing,
    step: i64,
    size: [i64; 2],
}

impl Plan {
    fn scale(&self) -> f64 {
        self.closing.scale(self.step)
    }
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
    let cloth = Moves { finest: lattice, laid: Lattice::laid(repeat, own).unwrap_or(lattice) };
    let Some(closing) = Closing::by(&lattice, wish.by) else {
        let around = Closing::around(&lattice, wish.by.degrees());
        let offers = around.iter().rev().filter_map(|closing| offer(&cloth, closing, own, wish, limits));
        return Err(TurnError::Open { by: wish.by, choices: offers.take(MOST_OFFERED).collect() });
    };
    let plan = cloth.planned(&closing, own, wish, limits)?;
    let [width, height] = lay::within(plan.size, limits).map_err(|limit| TurnError::TooLarge {
        width: plan.size[0],
        height: plan.size[1],
        limit,
    })?;
    let (step, divisor) = plan.closing.back(plan.step);
    let back = Back { step, divisor };
    let manner = if wish.palette_only { Manner::Majority } else { Manner::Mean };
    let turned = plan.closing.at(plan.step);
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
    let together = plan.closing.area / lattice.area();
    Ok(Turned {
        tile: Tile { raster, deep: samples.map(Deep), meta: tile.meta.clone(), content: tile.content },
        degrees: closing.degrees(),
        scale: plan.scale(),
        units: (plan.size[0] * plan.size[1] / turned.area() * together).unsigned_abs(),
    })
}

/// How far a scale is from 1, as a ratio.
fn away(scale: f64) -> f64 {
    scale.max(1.0 / scale)
}

/// The moves of a cloth: all of them, and those by which its tile is laid.
struct Moves {
    finest: Lattice,
    laid: Lattice,
}

impl Moves {
    /// The ways in which the moves can be made to close toward a direction. Few moves close more finely than many: where all
    /// units fall on pixels alike, scales are coarse, so units are also taken several together, and the tile as a whole.
    fn closings(&self, toward: [i64; 2]) -> Vec<Closing> {
        let Lattice { a, b, d } = self.finest;
        let together = (1..=MOST_TOGETHER).map(|n| Lattice { a: n * a, b: n * b, d: n * d });
        together.chain([self.laid]).filter_map(|lattice| Closing::toward(&lattice, toward)).collect()
    }

    fn planned(&self, closing: &Closing, own: [i64; 2], wish: &Turn, limits: &Limits) -> Result<Plan, TurnError> {
        let closings = self.closings(closing.toward);
        if wish.keep_scale {
            return Ok(kept(&closings, limits).unwrap_or_else(|| at_scale(closing)));
        }
        let canvas = wish.size.map_or(own, |size| size.map(i64::from));
        let filling = closings.iter().filter_map(|closing| {
            let step = nearest(closing, closing.filling(canvas))?;
            Some(Plan { closing: *closing, step, size: canvas })
        });
        if let Some(plan) = best(filling) {
            return Ok(plan);
        }
        let below = best(closings.iter().filter_map(|closing| below(closing, canvas)));
        let block = closing.block();
        let plan = below.ok_or(TurnError::TooSmall { width: block[0], height: block[1] })?;
        if wish.size.is_none() {
            return Ok(plan);
        }
        let spelled = |[width, height]: [i64; 2]| format!("{width} x {height} px");
        Err(TurnError::Size {
            wanted: spelled(canvas),
            nearest: spelled(plan.size),
            scale: plan.scale(),
            kept: spelled(kept(&closings, limits).unwrap_or_else(|| at_scale(closing)).size),
        })
    }
}

/// The plan whose scale is nearest to 1, of equal ones the first.
fn best(plans: impl Iterator<Item = Plan>) -> Option<Plan> {
    let mut best: Option<Plan> = None;
    for plan in plans {
        if best.is_none_or(|best| away(plan.scale()) < away(best.scale()) - 1e-12) {
            best = Some(plan);
        }
    }
    best
}

/// The step whose scale is nearest to 1.
fn nearest(closing: &Closing, steps: impl Iterator<Item = i64>) -> Option<i64> {
    steps.min_by(|&a, &b| away(closing.scale(a)).total_cmp(&away(closing.scale(b))))
}

fn at_scale(closing: &Closing) -> Plan {
    let step = closing.kept();
    Plan { closing: *closing, step, size: closing.block().map(|side| side * step) }
}

/// One block at the scale nearest to 1 within the limits: the first that is near enough, else the nearest.
fn kept(closings: &[Closing], limits: &Limits) -> Option<Plan> {
    let fitting = || closings.iter().map(at_scale).filter(|plan| lay::within(plan.size, limits).is_ok());
    fitting().find(|plan| (plan.scale() - 1.0).abs() <= NEAR).or_else(|| best(fitting()))
}

/// Whole blocks below a canvas, at the scale nearest to 1 that fits.
fn below(closing: &Closing, canvas: [i64; 2]) -> Option<Plan> {
    let block = closing.block();
    let most = (canvas[0] / block[0]).min(canvas[1] / block[1]);
    let step = nearest(closing, 1..=most)?;
    let size = [0, 1].map(|axis| canvas[axis] / (block[axis] * step) * block[axis] * step);
    Some(Plan { closing: *closing, step, size })
}

fn offer(cloth: &Moves, closing: &Closing, own: [i64; 2], wish: &Turn, limits: &Limits) -> Option<Choice> {
    let plan = cloth.planned(closing, own, wish, limits).ok()?;
    lay::within(plan.size, limits).ok()?;
    let (scale, degrees) = (plan.scale(), closing.degrees());
    let near = !wish.keep_scale || (scale - 1.0).abs() <= NEAR_OFFERED;
    (near && scale >= LEAST_OFFERED).then_some(Choice { toward: closing.toward, degrees, size: plan.size, scale })
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
