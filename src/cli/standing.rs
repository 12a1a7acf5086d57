//! `status`: what the ledger knows.

use super::input;
use super::plain::{self, printable};
use super::status::{Failure, Status};
use crate::config::Config;
use crate::daemon::hours;
use crate::daemon::mail;
use crate::daemon::shop::STRANGE;
use crate::deliver::LET_PASS;
use crate::ledger::{Ledger, Summary};
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Words of `status`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// One ticket as JSON a line, for every tile that is there
    #[arg(long)]
    json: bool,
}

/// Says what is ready and what needs the artist. Status 1 when something does.
///
/// # Errors
/// When there is no ledger yet, or it cannot be read.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::configuration(settings)?;
    let file = config.state.join("ledger.sqlite");
    if !file.exists() {
        return Err(Failure::io(format!(
            "{} is not there: nothing has been watched yet; run burler watch",
            file.display()
        )));
    }
    let ledger = Ledger::open_to_read(&file).map_err(Failure::io)?;
    let summary = ledger.summary().map_err(Failure::io)?;
    if words.json {
        for entry in ledger.entries_since(0).map_err(Failure::io)? {
            if let Some(ticket) = entry.ticket {
                plain::answer(&ticket.to_line().map_err(Failure::io)?);
            }
        }
    } else {
        let mut out = said(&summary, &config);
        for line in mail::at_a_glance(&config, &ledger).map_err(Failure::io)? {
            let _ = writeln!(out, "mail: {line}");
        }
        plain::answer(out.trim_end());
    }
    let waiting = summary.folders.iter().any(|folder| folder.held + folder.unreadable > 0);
    Ok(if waiting { Status::Held } else { Status::Fine })
}

fn said(summary: &Summary, config: &Config) -> String {
    let mut out = String::new();
    for folder in &summary.folders {
        let place = config.folders.iter().find(|known| known.name == folder.folder);
        let place = place.map_or("no longer configured".into(), |place| place.checked.display().to_string());
        let _ = writeln!(
            out,
            "{}: {} ready, {} of them mended; {} need you; {} cannot be opened ({place})",
            folder.folder,
            folder.sound + folder.mended,
            folder.mended,
            folder.held,
            folder.unreadable
        );
        let mut also = |count: i64, what: &str| {
            if count > 0 {
                let _ = writeln!(out, "  {count} {what}");
            }
        };
        also(folder.gone, "whose original has disappeared; what was given back stays");
        also(folder.unfinished, "being exchanged right now");
        for (tile, files) in &folder.kept {
            let file =
                files.first().map(|file| format!(" ({})", printable(&file.to_string_lossy()))).unwrap_or_default();
            let tile = printable(&tile.to_string_lossy());
            let _ = writeln!(
                out,
                "  name used again for another drawing: {tile}; what was given back of the one before stays{file}"
            );
        }
        for file in &folder.edited {
            let _ = writeln!(out, "  changed by someone, so left alone: {}", printable(&file.to_string_lossy()));
        }
        for file in &folder.removed {
            let _ = writeln!(out, "  taken away by someone, so not put back: {}", printable(&file.to_string_lossy()));
        }
        for (tile, says) in &folder.let_pass {
            let _ = writeln!(out, "  let pass by you: {}: {}", printable(&tile.to_string_lossy()), says.join("; "));
        }
        let in_let_pass = |file: &PathBuf| printable(&Path::new(LET_PASS).join(file).to_string_lossy());
        for file in &folder.strange {
            let _ = writeln!(out, "  {}: {STRANGE}", in_let_pass(file));
        }
        for file in &folder.idle {
            let _ = writeln!(out, "  {}: no tile has the content it shows, so it lets nothing pass", in_let_pass(file));
        }
    }
    for archive in &summary.archives {
        let _ =
            write!(out, "archive {}: {} tiles; {} need you", printable(&archive.archive), archive.tiles, archive.held);
        let _ = write!(out, "; {} cannot be opened; {} damaged", archive.unreadable, archive.damaged);
        let last = archive.last.and_then(|last| jiff::Timestamp::try_from(last.ended.unwrap_or(last.began)).ok());
        if let Some(last) = last {
            let day = jiff::ZonedDateTime::new(last, hours::zone(config)).strftime("%-d %B %Y, %H:%M").to_string();
            let _ = write!(out, "; swept {day}");
        }
        let _ = writeln!(out);
    }
    for held in &summary.newest_held {
        let name = printable(&held.standing.path.to_string_lossy());
        let _ = writeln!(out, "needs you: {name}: {}", held.says.as_deref().unwrap_or("see its picture in held/"));
    }
    match &summary.last_letter {
        Some(letter) => {
            let _ = writeln!(out, "last letter: {}", letter.file.display());
        }
        None => out.push_str("no letter yet\n"),
    }
    out
}
