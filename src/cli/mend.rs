//! `mend`: mends see-through lines and wrong resolution tags, proves it, and writes the mended file.

use super::bench::Bench;
use super::status::{Failure, Status};
use super::words::{Demands, Output};
use super::{input, output, plain};
use crate::finding::Verdict;
use crate::pipeline::Wants;
use std::path::{Path, PathBuf};

/// Words of `mend`.
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

/// Mends one file into the output folder; a held one gets its picture there instead.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::configuration(settings)?;
    let spec = input::spec(&words.demands, &config, &words.file)?;
    let mut bench = Bench::new(&config)?;
    let mut seen = bench.look(&words.file, spec, Wants { mend: true, mockups: false, held: true })?;
    if seen.ticket.verdict == Verdict::Sound && !words.json {
        plain::answer(&format!("{}\n  nothing to mend, so nothing was written", plain::ticket(&seen.ticket)));
        return Ok(Status::Fine);
    }
    output::give(&mut seen, &words.file, &words.output, &config)?;
    output::tell_outcome(&seen, words.json, words.output.dry_run)?;
    Ok(if matches!(seen.ticket.verdict, Verdict::Held | Verdict::Unreadable) { Status::Held } else { Status::Fine })
}
