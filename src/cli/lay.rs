//! `lay`: cuts the endless cloth of a tile into tiles of another repeat.

use super::output;
use super::status::{Failure, Status};
use super::words::OneTile;
use crate::spec::wish::{self, Lay, Wish};
use std::path::Path;

/// Words of `lay`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    tile: OneTile,
    /// The new repeat: block, half-drop, third-drop, quarter-drop or brick
    #[arg(long = "as", value_name = "REPEAT")]
    laid_as: String,
    /// The size of the new tile in pixels, such as 4800x2400 [default: the smallest]
    #[arg(long, value_name = "SIZE")]
    size: Option<String>,
}

/// Writes the new tile into the output folder; a held tile gets its picture there instead.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let size = words.size.as_deref().map(wish::size).transpose().map_err(Failure::usage)?;
    let wish = Lay::new(&words.laid_as, size).map_err(Failure::usage)?;
    output::companion(&words.tile, settings, Wish::Lay(wish))
}
