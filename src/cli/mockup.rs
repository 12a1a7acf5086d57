//! `mockup`: draws the repeat picture and the strike-off; of a held tile, the held picture.

use super::output;
use super::status::{Failure, Status};
use super::words::OneTile;
use crate::pipeline::Wants;
use std::path::Path;

/// Draws one file's pictures into the output folder.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &OneTile, settings: Option<&Path>) -> Result<Status, Failure> {
    let looked = output::look(words, settings, Wants { mend: false, mockups: true, held: true })?;
    output::give(looked, words)
}
