//! `sweep`: looks an archive through: whether every file is as it was, and what each tile comes to under today's rules.

use super::words::Demands;
use std::path::PathBuf;

/// Words of `sweep`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Archives of the configuration, or folders [default: every archive of the configuration]
    #[arg(value_name = "ARCHIVE")]
    pub archives: Vec<PathBuf>,
    /// Read every file again in full, not only tonight's share
    #[arg(long)]
    pub full: bool,
    /// One line of JSON for every tile, and one of counts at the end
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// One line of comma-separated values for every tile, below a line of names
    #[arg(long)]
    pub csv: bool,
    /// Say what is there and what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Where mended copies and pictures of a folder that is not configured go [default: checked]
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Only tell: mend nothing and draw no pictures
    #[arg(long)]
    pub no_mend: bool,
    /// As the nightly sweep: with low priority, within the time window of the configuration
    #[arg(long)]
    pub scheduled: bool,
    /// What the tiles of a folder that is not configured are judged against.
    #[command(flatten)]
    pub demands: Demands,
}
