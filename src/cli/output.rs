//! Commands on one tile: looking at it, giving what was made to the output folder in the daemon's layout, telling it.

use super::bench::{Bench, Seen};
use super::status::{Failure, Status};
use super::words::OneTile;
use super::{input, plain};
use crate::config::Config;
use crate::deliver::{self, DeliverError, Loose, Parcel, write_loose};
use crate::disk::{Disk, Source};
use crate::finding::Verdict;
use crate::pipeline::{Product, Wants};
use crate::spec::Spec;
use crate::spec::wish::Wish;
use std::path::Path;

/// A tile that was looked at.
pub struct Looked {
    /// What came of it.
    pub seen: Seen,
    config: Config,
    /// Owns the scratch folder in which what was made lies.
    _bench: Bench,
}

/// Makes one companion of a command's tile and gives it; a held tile gets its picture instead. Status 1 when the tile needs the
/// artist or the companion cannot be made.
///
/// # Errors
/// When words or configuration are wrong, or something cannot be read or written.
pub fn companion(words: &OneTile, settings: Option<&Path>, wish: Wish) -> Result<Status, Failure> {
    let wants = Wants { mend: true, held: true, companions: true, ..Wants::default() };
    let mut looked = look_for(words, settings, wants, vec![wish])?;
    // The mended file itself is `mend`'s to give.
    looked.seen.made.retain(|(product, ..)| *product != Product::Mended);
    let refused = looked.seen.ticket.companions.iter().any(|entry| entry.refused.is_some() && entry.width == 0);
    let status = give(looked, words)?;
    Ok(if refused { status.or(Status::Held) } else { status })
}

/// Looks at the tile of a command.
///
/// # Errors
/// When words or configuration are wrong, or the file cannot be read.
pub fn look(words: &OneTile, settings: Option<&Path>, wants: Wants) -> Result<Looked, Failure> {
    look_for(words, settings, wants, Vec::new())
}

fn look_for(words: &OneTile, settings: Option<&Path>, wants: Wants, companions: Vec<Wish>) -> Result<Looked, Failure> {
    let config = input::configuration(settings)?;
    let spec = Spec { companions, ..input::spec(&words.demands, &config, &words.file)? };
    let mut bench = Bench::new(&config)?;
    let seen = bench.look(&words.file, spec, wants)?;
    Ok(Looked { seen, config, _bench: bench })
}

/// Writes what was made of a tile and tells it. With a dry run it is only told. Status 1 when the tile needs the artist.
///
/// # Errors
/// When something is in the way or cannot be written.
pub fn give(looked: Looked, words: &OneTile) -> Result<Status, Failure> {
    let Looked { mut seen, config, _bench } = looked;
    let parcels: Vec<Parcel> = seen
        .made
        .iter()
        .map(|(product, path, content)| Parcel {
            role: deliver::role(*product, &seen.ticket.format),
            source: Source::Path(path.clone()),
            content: *content,
        })
        .collect();
    let exports: Vec<_> = config.folders.iter().map(|folder| folder.exports.clone()).collect();
    let file = &words.file;
    let name = file.file_name().ok_or_else(|| Failure::usage(format!("{} is no file", file.display())))?;
    let wish = Loose {
        root: &words.output.output,
        name: Path::new(name),
        input: Some(file),
        exports: &exports,
        force: words.output.force,
        dry_run: words.output.dry_run,
    };
    let written = write_loose(&Disk::new(), &wish, &parcels).map_err(|error| match error {
        // Without what the daemon would do next.
        DeliverError::Disk(error) => Failure::io(error),
        error => Failure::io(error),
    })?;
    seen.ticket.outputs = written.iter().map(|written| written.path().to_string_lossy().into_owned()).collect();
    if words.json {
        plain::answer(&seen.ticket.to_line().map_err(Failure::io)?);
    } else {
        let dry = words.output.dry_run && !written.is_empty();
        let note = if dry { "\n  nothing was written: this was a dry run" } else { "" };
        plain::answer(&format!("{}{note}", plain::ticket(&seen.ticket)));
    }
    Ok(if matches!(seen.ticket.verdict, Verdict::Held | Verdict::Unreadable) { Status::Held } else { Status::Fine })
}
