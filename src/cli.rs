//! The command line: words to meaningful types, one file per command, each a few lines over the library.
//!
//! Standard output carries only the answer; everything else goes to standard error.

pub mod status;
pub mod words;
pub mod repeats;
pub mod plain;
pub mod input;
pub mod bench;
pub mod config;
pub mod output;
pub mod inspect;
pub mod mend;
pub mod turn;
pub mod lay;
pub mod mockup;
pub mod standing;
pub mod progress;
pub mod swept;
pub mod tidy;
pub mod names;
pub mod sweep;
pub mod watch;
pub mod digest;
pub mod demo;

use clap::{Parser, Subcommand};
use status::{Failure, Status};
use std::path::PathBuf;

/// Inspects repeat tiles, mends see-through lines, and gives the checked files back.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100)]
pub struct Arguments {
    /// The configuration file [default: burler/burler.toml in your configuration folder, when it is there]
    #[arg(long, global = true, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Watch the configured folders and give checked files back, until told to stop
    Watch(watch::Arguments),
    /// Say what is wrong with tiles; writes nothing
    Inspect(inspect::Arguments),
    /// Mend see-through lines and wrong resolution tags, and prove it
    Mend(words::OneTile),
    /// Turn the repeat by an angle, so that no lines arise
    Turn(turn::Arguments),
    /// Lay the tile in another repeat without changing the endless cloth
    Lay(lay::Arguments),
    /// Draw the repeat picture and the strike-off at true print scale
    Mockup(words::OneTile),
    /// What the ledger knows: what is ready, what needs you
    Status(standing::Arguments),
    /// Look through archives of older tiles: what is new, damaged or gone, what needs you
    Sweep(sweep::Arguments),
    /// Write the next letter now: what needs you, what was mended
    Digest(digest::Arguments),
    /// Draw the tiles of an invented studio and run the real watch over them
    Demo(demo::Arguments),
    /// Make, check or show the configuration
    Config(config::Arguments),
    /// Inspect on behalf of another Burler, over the socket that is standard input
    #[command(hide = true)]
    Worker,
}

/// Does what was asked.
///
/// # Errors
/// What went wrong and with which exit status.
pub fn run(arguments: Arguments) -> Result<Status, Failure> {
    let settings = arguments.config.as_deref();
    match arguments.command {
        Command::Watch(words) => watch::run(&words, settings),
        Command::Inspect(words) => inspect::run(words, settings),
        Command::Mend(words) => mend::run(&words, settings),
        Command::Turn(words) => turn::run(&words, settings),
        Command::Lay(words) => lay::run(&words, settings),
        Command::Mockup(words) => mockup::run(&words, settings),
        Command::Status(words) => standing::run(&words, settings),
        Command::Sweep(words) => sweep::run(&words, settings),
        Command::Digest(words) => digest::run(&words, settings),
        Command::Demo(words) => demo::run(words),
        Command::Config(words) => config::run(words, settings),
        Command::Worker => crate::worker::serve::serve_standard_input().map(|()| Status::Fine).map_err(Failure::io),
    }
}
