//! Words that several commands share: files, demands, output.

use clap::Args;
use std::path::PathBuf;

/// Files named on the command line or in a list.
#[derive(Debug, Args)]
pub struct Files {
    /// The tiles
    #[arg(value_name = "FILE", required_unless_present = "files_from")]
    pub files: Vec<PathBuf>,
    /// Read more names from a list, one a line; "-" is standard input
    #[arg(long, value_name = "LIST")]
    pub files_from: Option<PathBuf>,
}

/// What the tiles are judged against.
#[derive(Debug, Args)]
pub struct Demands {
    /// An order sheet of the configuration
    #[arg(long, value_name = "NAME")]
    pub spec: Option<String>,
    /// The ground, when it should not be inferred: opaque, transparent or either
    #[arg(long, value_name = "GROUND")]
    pub ground: Option<String>,
    /// The repeat, when it should not be inferred: block, half-drop, third-drop, quarter-drop, brick, across, down or none
    #[arg(long, value_name = "REPEAT")]
    pub repeat: Option<String>,
}

/// Where files are written.
#[derive(Debug, Args)]
pub struct Output {
    /// The folder to write into
    #[arg(long, value_name = "FOLDER", default_value = "checked")]
    pub output: PathBuf,
    /// Say what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Replace files in the output folder that are in the way
    #[arg(long)]
    pub force: bool,
}

/// One tile, and where what is made of it goes.
#[derive(Debug, Args)]
pub struct OneTile {
    /// The tile; it is only read
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// What it is judged against.
    #[command(flatten)]
    pub demands: Demands,
    /// Where files are written.
    #[command(flatten)]
    pub output: Output,
    /// The ticket as JSON
    #[arg(long)]
    pub json: bool,
}
