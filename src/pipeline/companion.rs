//! Companions: what is made of a sound or mended tile beside itself, written, read back and compared.
//!
//! Takes the tile, its file and its judgment, yields the file of a companion and what there is to say of it, or why there is
//! none. Knows nothing of where files go.

use super::check::{self, Judgment};
use super::lay::{self, LayError};
use super::turn::{self, TurnError};
use crate::codec::{self, Limits};
use crate::finding::Verdict;
use crate::spec::wish::{Lay, Turn, Wish};
use crate::spec::{Ground, GroundDemand, Repeat, Spec};
use crate::ticket::Companion;
use crate::tile::{Channels, Tile};
use thiserror::Error;

/// Why a companion is not made.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum CompanionError {
    /// Inks are not light.
    #[error("the colors are printing inks (CMYK), which are not turned or laid anew; export the tile in RGB")]
    Inks,
    /// It cannot be laid so.
    #[error(transparent)]
    Lay(#[from] LayError),
    /// It cannot be turned so.
    #[error(transparent)]
    Turn(#[from] TurnError),
    /// The file could not be written.
    #[error("the new tile could not be written: {0}")]
    Write(String),
    /// The file, read back, is not what was written.
    #[error("the new tile did not pass its proof, so it was not given: {0}; please report the file")]
    Unproven(String),
}

/// A tile to make companions of.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// The bytes of its file, for what they say beside the pixels.
    pub bytes: &'a [u8],
    /// The tile.
    pub tile: &'a Tile,
    /// What was said of it.
    pub judgment: &'a Judgment,
    /// What it was judged against.
    pub spec: &'a Spec,
}

/// A new tile before it is written.
struct Fresh {
    tile: Tile,
    units: u64,
    repeat: Repeat,
    degrees: Option<f64>,
    scale: Option<f64>,
}

/// Makes the companions that the spec wants: the entry of each in the ticket, and the files of those that could be made.
/// `limits` are the tile's own.
#[must_use]
pub fn all(source: Source<'_>, limits: &Limits) -> (Vec<Companion>, Vec<(Wish, Vec<u8>)>) {
    let tile = source.tile;
    // A companion lies in memory beside its tile, twice when it is read back: the limits leave room for that.
    let own = u64::from(tile.raster.width()) * u64::from(tile.raster.height());
    let room = limits.max_pixels.saturating_sub(own);
    let limits = Limits { max_pixels: if tile.deep.is_some() { room / 2 } else { room }, ..*limits };
    let mut files = Vec::new();
    let entry = |wish: &Wish| match make(source, wish, &limits) {
        Ok((file, entry)) => {
            files.push((*wish, file));
            entry
        }
        Err(error) => refused(tile, wish, &error),
    };
    let entries = source.spec.companions.iter().map(entry).collect();
    (entries, files)
}

/// Makes one companion: its file, and its entry in the ticket.
///
/// # Errors
/// Why there is none.
pub fn make(source: Source<'_>, wish: &Wish, limits: &Limits) -> Result<(Vec<u8>, Companion), CompanionError> {
    let Source { bytes, tile, judgment, spec } = source;
    if tile.meta.channels == Channels::Cmyk {
        return Err(CompanionError::Inks);
    }
    let repeat = judgment.layout(spec);
    let fresh = match wish {
        Wish::Lay(wish) => laid(tile, repeat, wish, limits)?,
        Wish::Turn(wish) => turned(tile, repeat, wish, limits)?,
    };
    if matches!(wish, Wish::Turn(_)) {
        sound(source, &fresh.tile)?;
    }
    let file = codec::encode_derived(bytes, &fresh.tile).map_err(|error| CompanionError::Write(error.to_string()))?;
    prove(bytes, &fresh.tile, &file, limits)?;
    let entry = Companion {
        wish: wish.to_string(),
        width: fresh.tile.raster.width(),
        height: fresh.tile.raster.height(),
        units: fresh.units,
        repeat: fresh.repeat.name().into(),
        degrees: fresh.degrees,
        scale: fresh.scale,
        refused: None,
    };
    Ok((file, entry))
}

/// The entry of a companion that was not made; with the tile's own sides where the tile is what was wished for.
#[must_use]
pub fn refused(tile: &Tile, wish: &Wish, error: &CompanionError) -> Companion {
    let own = matches!(error, CompanionError::Lay(LayError::Already(_)));
    let (width, height) = if own { (tile.raster.width(), tile.raster.height()) } else { (0, 0) };
    Companion {
        wish: wish.to_string(),
        width,
        height,
        units: 0,
        repeat: String::new(),
        degrees: None,
        scale: None,
        refused: Some(error.to_string()),
    }
}

fn laid(tile: &Tile, repeat: Repeat, wish: &Lay, limits: &Limits) -> Result<Fresh, LayError> {
    let laid = lay::lay(tile, repeat, wish, limits)?;
    let pixels = u64::from(laid.tile.raster.width()) * u64::from(laid.tile.raster.height());
    let units = pixels / laid.lattice.area().unsigned_abs().max(1);
    Ok(Fresh { tile: laid.tile, units, repeat: wish.repeat, degrees: None, scale: None })
}

fn turned(tile: &Tile, repeat: Repeat, wish: &Turn, limits: &Limits) -> Result<Fresh, TurnError> {
    let turned = turn::turn(tile, repeat, wish, limits)?;
    Ok(Fresh {
        tile: turned.tile,
        units: turned.units,
        repeat: Repeat::Block,
        degrees: Some((turned.degrees * 1e4).round() / 1e4),
        scale: Some((turned.scale * 1e6).round() / 1e6),
    })
}

/// Runs the checks on a turned tile: on the ground of the old one it must be sound as a block.
fn sound(source: Source<'_>, made: &Tile) -> Result<(), CompanionError> {
    let ground = match source.judgment.ground {
        Ground::Opaque => GroundDemand::Opaque,
        Ground::Transparent => GroundDemand::Transparent,
        Ground::Unclear => GroundDemand::Either,
    };
    let (silence, tell) = (source.spec.silence.clone(), source.spec.tell.clone());
    let spec = Spec { ground, repeat: Some(Repeat::Block), silence, tell, ..Spec::default() };
    let judgment = check::judge(made, &spec);
    match judgment.verdict {
        Verdict::Sound => Ok(()),
        _ => Err(CompanionError::Unproven(
            judgment.findings.first().map_or_else(String::new, |found| found.says.clone()),
        )),
    }
}

/// Decodes the written file anew: every sample is what was made, and what the original says beside its pixels is there.
fn prove(original: &[u8], made: &Tile, file: &[u8], limits: &Limits) -> Result<(), CompanionError> {
    let again = codec::decode(file, limits, Vec::new()).map_err(|refusal| CompanionError::Unproven(refusal.says()))?;
    let differs = || CompanionError::Unproven("read back, its pixels differ".into());
    match (&made.deep, &again.deep) {
        (Some(made), Some(again)) if made == again => {}
        (None, None) if made.raster == again.raster => {}
        _ => return Err(differs()),
    }
    codec::metadata_kept(original, file, &[]).map_err(CompanionError::Unproven)
}
