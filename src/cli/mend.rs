//! `mend`: mends see-through lines and wrong resolution tags, proves it, and writes the mended file.

use super::output;
use super::plain;
use super::status::{Failure, Status};
use super::words::OneTile;
use crate::finding::Verdict;
use crate::pipeline::Wants;
use std::path::Path;

/// Mends one file into the output folder; a held one gets its picture there instead.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &OneTile, settings: Option<&Path>) -> Result<Status, Failure> {
    let looked = output::look(words, settings, Wants { mend: true, mockups: false, held: true, ..Wants::default() })?;
    let ticket = &looked.seen.ticket;
    if ticket.verdict == Verdict::Sound && !words.json {
        plain::answer(&format!("{}\n  nothing to mend, so nothing was written", plain::ticket(ticket)));
        return Ok(Status::Fine);
    }
    output::give(looked, words)
}
