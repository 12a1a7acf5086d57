//! Laying: the same endless cloth, cut into tiles of another repeat.
//!
//! Takes a tile, the repeat it is laid in and the one that is wished; yields the new tile, every sample as it was. Knows no
//! files and no metadata.

use super::cloth::Cloth;
use super::cloth::lattice::Lattice;
use crate::codec::{Limits, Refusal};
use crate::spec::Repeat;
use crate::spec::wish::Lay;
use crate::tile::{Deep, Raster, Tile};
use thiserror::Error;

/// Why a tile cannot be laid as wished.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum LayError {
    /// It is not laid in two directions.
    #[error(
        "the repeat of the tile is {0}, which does not cover the plane, so there is no endless cloth to cut anew; name \
         another with --repeat if that is not what the tile is meant for"
    )]
    OneWay(Repeat),
    /// The side that its own repeat divides is not divisible.
    #[error(
        "the tile is {width} x {height} px and is laid as {repeat}, which would move copies by parts of a pixel; export \
         it with {side} that can be divided by {divisor}"
    )]
    Uneven {
        /// Its repeat.
        repeat: Repeat,
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Which side.
        side: &'static str,
        /// By what.
        divisor: u32,
    },
    /// It is already what is wished.
    #[error("the tile is laid as {0} already, and there is no smaller one that makes the same cloth")]
    Already(Repeat),
    /// The new tile would pass a limit.
    #[error("as {repeat} the tile would be {width} x {height} px: {limit}")]
    TooLarge {
        /// The repeat that is wished.
        repeat: Repeat,
        /// Pixels across.
        width: i64,
        /// Pixels down.
        height: i64,
        /// Which limit.
        limit: String,
    },
    /// Tiles of the size that is wished do not make the cloth.
    #[error(
        "a tile of {wanted} px does not hold whole repeats as {repeat}; the nearest that does is {nearest} px, the \
         smallest {smallest} px"
    )]
    Size {
        /// The repeat that is wished.
        repeat: Repeat,
        /// The size that was wished, as people read it.
        wanted: String,
        /// The nearest that can be had.
        nearest: String,
        /// The smallest.
        smallest: String,
    },
}

/// A tile cut anew.
#[derive(Clone, Debug)]
pub struct Laid {
    /// The new tile; what its container says is still the old one's word.
    pub tile: Tile,
    /// The finest moves of the cloth.
    pub lattice: Lattice,
}

/// A size as people read it.
fn spelled([width, height]: [i64; 2]) -> String {
    format!("{width} x {height}")
}

/// The moves of a tile laid as `repeat`: as they are laid, and the finest of its own samples.
///
/// # Errors
/// When it cannot be laid so exactly.
pub fn lattice_of(tile: &Tile, repeat: Repeat) -> Result<Lattice, LayError> {
    on_cloth(tile, repeat, |cloth| cloth.lattice(), |cloth| cloth.lattice())
}

/// Hands the tile's cloth to one of two functions, that of 8 or that of 16 bits.
pub(super) fn on_cloth<R>(
    tile: &Tile,
    repeat: Repeat,
    shallow: impl FnOnce(Cloth<'_, u8>) -> R,
    deep: impl FnOnce(Cloth<'_, u16>) -> R,
) -> Result<R, LayError> {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let done = match &tile.deep {
        Some(samples) => Cloth::new(&samples.0, width, height, repeat).map(deep),
        None => Cloth::new(tile.raster.samples(), width, height, repeat).map(shallow),
    };
    done.ok_or_else(|| match (repeat, repeat.drop_divisor()) {
        (Repeat::Brick, _) => LayError::Uneven { repeat, width, height, side: "a width", divisor: 2 },
        (_, Some(divisor)) => LayError::Uneven { repeat, width, height, side: "a height", divisor },
        _ => LayError::OneWay(repeat),
    })
}

/// The sides as whole pixels within the limits.
///
/// # Errors
/// In plain words, which limit is passed.
pub(super) fn within([width, height]: [i64; 2], limits: &Limits) -> Result<[u32; 2], String> {
    let side = |side: i64| u32::try_from(side).unwrap_or(u32::MAX);
    match limits.admit_sides(side(width), side(height)) {
        Ok(()) => Ok([side(width), side(height)]),
        Err(Refusal::TooLarge(_)) if width.max(height) > i64::from(limits.max_side) => {
            Err(format!("a side may have {} at most", limits.max_side))
        }
        Err(_) => {
            Err(format!("with the tile beside it there is room for {} million pixels", limits.max_pixels / 1_000_000))
        }
    }
}

/// Cuts the cloth of `tile`, laid as `repeat`, into a tile of the repeat that is wished: the smallest, or one of the size that
/// is wished. The first pixel stays the first.
///
/// # Errors
/// Why that cannot be done.
pub fn lay(tile: &Tile, repeat: Repeat, wish: &Lay, limits: &Limits) -> Result<Laid, LayError> {
    let lattice = lattice_of(tile, repeat)?;
    let smallest = lattice.smallest(wish.repeat).ok_or(LayError::OneWay(wish.repeat))?;
    let size = match wish.size {
        None => smallest,
        Some(size) if lattice.takes(wish.repeat, size.map(i64::from)) => size.map(i64::from),
        Some(size) => {
            let wanted = size.map(i64::from);
            let nearest = lattice.nearest(wish.repeat, wanted, limits.max_side.into()).unwrap_or(smallest);
            return Err(LayError::Size {
                repeat: wish.repeat,
                wanted: spelled(wanted),
                nearest: spelled(nearest),
                smallest: spelled(smallest),
            });
        }
    };
    let [width, height] = within(size, limits).map_err(|limit| LayError::TooLarge {
        repeat: wish.repeat,
        width: size[0],
        height: size[1],
        limit,
    })?;
    if (width, height, wish.repeat) == (tile.raster.width(), tile.raster.height(), repeat) {
        return Err(LayError::Already(repeat));
    }
    let deep = match &tile.deep {
        Some(_) => on_cloth(tile, repeat, |_| None, |cloth| Some(Deep(cloth.cut(width, height))))?,
        None => None,
    };
    // The 8-bit view follows its own samples: what is equal in 16 bits is equal in 8.
    let shallow = Cloth::new(tile.raster.samples(), tile.raster.width(), tile.raster.height(), repeat)
        .map(|cloth| cloth.cut(width, height));
    let raster = shallow.and_then(|samples| Raster::new(width, height, samples)).ok_or(LayError::OneWay(repeat))?;
    Ok(Laid { tile: Tile { raster, deep, meta: tile.meta.clone(), content: tile.content }, lattice })
}
