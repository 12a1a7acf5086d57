//! `inspect`: says what is wrong with tiles and writes nothing.

use super::bench::Bench;
use super::status::{Failure, Status};
use super::words::{Demands, Files};
use super::{input, plain};
use crate::finding::Verdict;
use crate::pipeline::Wants;
use std::path::Path;

/// Words of `inspect`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    files: Files,
    #[command(flatten)]
    demands: Demands,
    /// One ticket as JSON a line
    #[arg(long)]
    json: bool,
    /// Also say what was measured and passed, so that a verdict can be argued with
    #[arg(long)]
    explain: bool,
}

/// Looks at each file; one that cannot be read is told, and the rest still looked at.
///
/// # Errors
/// When words or configuration are wrong.
pub fn run(words: Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::configuration(settings)?;
    let mut bench = Bench::new(&config)?;
    let mut status = Status::Fine;
    let wants = Wants { explain: words.explain, ..Wants::default() };
    for file in input::files(words.files)? {
        let spec = input::spec(&words.demands, &config, &file)?;
        match bench.look(&file, spec, wants) {
            Ok(seen) => {
                if matches!(seen.ticket.verdict, Verdict::Held | Verdict::Unreadable) {
                    status = status.or(Status::Held);
                }
                plain::answer(&if words.json {
                    seen.ticket.to_line().map_err(Failure::io)?
                } else {
                    plain::ticket(&seen.ticket)
                });
            }
            Err(failure) => {
                plain::tell(&failure);
                status = status.or(failure.status);
            }
        }
    }
    Ok(status)
}
