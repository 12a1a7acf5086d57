//! `mockup`: draws the repeat picture and the strike-off, of a tile to be mended as it will be; of a held tile, the held
//! picture.

use super::bench::Bench;
use super::status::{Failure, Status};
use super::words::{Demands, Output};
use super::{input, output};
use crate::finding::Verdict;
use crate::pipeline::{Product, Wants};
use std::path::{Path, PathBuf};

/// Words of `mockup`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The tile; it is only read
    #[arg(value_name = "FILE")]
    file: PathBuf,
    #[command(flatten)]
    demands: Demands,
    #[command(flatten)]
    output: Output,
    /// The ticket as JSON
    #[arg(long)]
    json: bool,
}

/// Draws one file's pictures into the output folder.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::configuration(settings)?;
    let spec = input::spec(&words.demands, &config, &words.file)?;
    let mut bench = Bench::new(&config)?;
    let mut seen = bench.look(&words.file, spec, Wants { mend: true, mockups: true, held: true })?;
    // The pictures show the tile as it will be printed, mended; the mended file itself is `mend`'s to give.
    seen.made.retain(|(product, ..)| *product != Product::Mended);
    if seen.ticket.verdict == Verdict::Mended {
        seen.ticket.verdict = Verdict::Mendable;
    }
    output::give(&mut seen, &words.file, &words.output, &config)?;
    output::tell_outcome(&seen, words.json, words.output.dry_run)?;
    Ok(if matches!(seen.ticket.verdict, Verdict::Held | Verdict::Unreadable) { Status::Held } else { Status::Fine })
}
