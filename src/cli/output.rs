//! Giving files to a command's output folder, in the daemon's layout, and saying what was written.

use super::bench::Seen;
use super::plain;
use super::status::Failure;
use super::words::Output;
use crate::config::Config;
use crate::deliver::{DeliverError, Loose, Parcel, Role, Written, write_loose};
use crate::disk::{Disk, Source};
use crate::pipeline::Product;
use crate::tile::Format;
use std::path::Path;

/// Writes what was made of a file, and lists it in the ticket. With a dry run it is only said.
///
/// # Errors
/// When something is in the way or cannot be written.
pub fn give(seen: &mut Seen, file: &Path, words: &Output, config: &Config) -> Result<Vec<Written>, Failure> {
    let parcels: Vec<Parcel> = seen
        .made
        .iter()
        .map(|(product, path, content)| Parcel {
            role: role(*product, &seen.ticket.format),
            source: Source::Path(path.clone()),
            content: *content,
        })
        .collect();
    let exports: Vec<_> = config.folders.iter().map(|folder| folder.exports.clone()).collect();
    let name = file.file_name().ok_or_else(|| Failure::usage(format!("{} is no file", file.display())))?;
    let wish = Loose {
        root: &words.output,
        name: Path::new(name),
        input: Some(file),
        exports: &exports,
        force: words.force,
        dry_run: words.dry_run,
    };
    let written = write_loose(&Disk::new(), &wish, &parcels).map_err(|error| match error {
        // Without what the daemon would do next.
        DeliverError::Disk(error) => Failure::io(error),
        error => Failure::io(error),
    })?;
    seen.ticket.outputs = written.iter().map(|written| written.path().to_string_lossy().into_owned()).collect();
    Ok(written)
}

/// Where a product goes in the layout.
#[must_use]
pub fn role(product: Product, format: &str) -> Role {
    match product {
        Product::Mended if format == Format::Png.name() => Role::Ready,
        Product::Mended => Role::ReadyAsPng,
        Product::Repeat => Role::Repeat,
        Product::StrikeOff => Role::StrikeOff,
        Product::Held => Role::Held,
    }
}

/// Tells the outcome, as a ticket for machines or in words.
///
/// # Errors
/// When the ticket has no JSON form, which does not happen.
pub fn tell_outcome(seen: &Seen, json: bool, dry_run: bool) -> Result<(), Failure> {
    if json {
        plain::answer(&seen.ticket.to_line().map_err(Failure::io)?);
    } else {
        let note =
            if dry_run && !seen.ticket.outputs.is_empty() { "\n  nothing was written: this was a dry run" } else { "" };
        plain::answer(&format!("{}{note}", plain::ticket(&seen.ticket)));
    }
    Ok(())
}
