//! `digest`: writes the next letter now, or shows it.

use super::input;
use super::plain;
use super::status::{Failure, Status};
use crate::clock::Clock;
use crate::config::Config;
use crate::daemon::letters::{self, LetterError};
use crate::digest;
use crate::disk::{self, Disk, Onto, Source};
use crate::ledger::Ledger;
use crate::tile::Content;
use std::path::{Path, PathBuf};

/// Words of `digest`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Show the next letter as a page, without writing or noting it
    Preview(Preview),
}

#[derive(Debug, clap::Args)]
struct Preview {
    /// The page to write [default: next-letter.html]
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

const NOTHING: &str = "nothing new to tell, so no letter";

/// Writes the letter of everything new since the last one and says where it is, or shows the one that would be written.
///
/// # Errors
/// When nothing was ever watched, another letter is being written, or something cannot be written.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::watched_configuration(settings)?;
    let file = config.state.join("ledger.sqlite");
    if !file.exists() {
        return Err(Failure::io(format!(
            "{} is not there: nothing has been watched yet; run burler watch",
            file.display()
        )));
    }
    match &words.what {
        None => write(&config, &file),
        Some(What::Preview(words)) => preview(&config, &file, words),
    }
}

fn write(config: &Config, file: &Path) -> Result<Status, Failure> {
    let disk = Disk::new();
    let mut ledger = Ledger::open(&disk, file).map_err(Failure::io)?;
    match letters::write(config, &disk, &mut ledger, Clock::start()) {
        Ok(Some(written)) => {
            let pages: String = written.pages.iter().map(|page| format!("\n  {}", page.display())).collect();
            plain::answer(&format!("{}\n  {}{pages}", written.subject, written.mail.display()));
        }
        Ok(None) => plain::answer(NOTHING),
        Err(error @ LetterError::Busy) => return Err(Failure::new(Status::Busy, error)),
        Err(error) => return Err(Failure::io(error)),
    }
    Ok(Status::Fine)
}

fn preview(config: &Config, file: &Path, words: &Preview) -> Result<Status, Failure> {
    let ledger = Ledger::open_to_read(file).map_err(Failure::io)?;
    let Some(letter) = letters::preview(config, &ledger, Clock::start().wall()).map_err(Failure::io)? else {
        plain::answer(NOTHING);
        return Ok(Status::Fine);
    };
    let output = words.output.as_deref().unwrap_or(Path::new("next-letter.html"));
    let output = std::path::absolute(output).map_err(Failure::io)?;
    let (Some(folder), Some(name)) = (output.parent(), output.file_name()) else {
        return Err(Failure::usage(format!("{} is not a file; name one that ends in .html", output.display())));
    };
    // An earlier preview is ours to replace; nothing else is.
    if let Ok(there) = disk::read_bytes(&output)
        && !digest::is_page(&there)
    {
        return Err(Failure::io(format!(
            "{} is there already and is no letter of Burler; name another file with --output",
            output.display()
        )));
    }
    let page = digest::page(&letter).into_bytes();
    let content = Content::of(&page);
    Disk::new()
        .tree(folder)
        .and_then(|tree| tree.publish(Path::new(name), &Source::Bytes(page), content, Onto::Anything))
        .map_err(Failure::io)?;
    plain::answer(&format!("{}\n  {}", letter.subject, output.display()));
    Ok(Status::Fine)
}
