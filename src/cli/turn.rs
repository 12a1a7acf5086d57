//! `turn`: turns the endless cloth of a tile and cuts it into a tile that repeats without a joint.

use super::output;
use super::status::{Failure, Status};
use super::words::OneTile;
use crate::spec::wish::{self, Angle, Turn, Wish};
use std::path::Path;

/// Words of `turn`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    tile: OneTile,
    /// The angle in degrees, clockwise, or the direction that the upper edge gets, such as 4:3 (four right, three down)
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    by: String,
    /// The size of the turned tile in pixels, such as 4800x4800 [default: the tile's own]
    #[arg(long, value_name = "SIZE", conflicts_with = "keep_scale")]
    size: Option<String>,
    /// Keep the scale as nearly as pixels allow, and take the size that this needs
    #[arg(long)]
    keep_scale: bool,
    /// Make no new colors, for prints with few inks: each pixel gets the color that covers most of it
    #[arg(long)]
    palette_only: bool,
}

/// Writes the turned tile into the output folder; a held tile gets its picture there instead.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let size = words.size.as_deref().map(wish::size).transpose().map_err(Failure::usage)?;
    let by = Angle::parse(&words.by).map_err(Failure::usage)?;
    let wish = Turn::new(by, size, words.keep_scale, words.palette_only).map_err(Failure::usage)?;
    output::companion(&words.tile, settings, Wish::Turn(wish))
}
