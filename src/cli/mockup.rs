//! `mockup`: draws the repeat picture and the strike-off, of a tile to be mended as it will be, and its mended places before
//! and after; of a held tile, the held picture, with the partly mended and the filled copy where there are any.

use super::output;
use super::status::{Failure, Status};
use super::words::OneTile;
use crate::finding::Verdict;
use crate::pipeline::{Product, Wants};
use std::path::Path;

/// Draws one file's pictures into the output folder.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &OneTile, settings: Option<&Path>) -> Result<Status, Failure> {
    let mut looked =
        output::look(words, settings, Wants { mend: true, mockups: true, held: true, ..Wants::default() })?;
    // The pictures show the tile as it will be printed, mended; the mended file itself is `mend`'s to give.
    looked.seen.made.retain(|(product, ..)| *product != Product::Mended);
    if looked.seen.ticket.verdict == Verdict::Mended {
        looked.seen.ticket.verdict = Verdict::Mendable;
    }
    output::give(looked, words)
}
