//! What needs no exchange: an original touched but not changed, one that disappeared, and looking everything over at start.
//!
//! Takes a path or a folder; brings the ledger up to what is seen. Publishes and moves nothing.

use super::error::DeliverError;
use super::folder::output_folder;
use super::layout::OWN;
use super::look::{corrected, settled};
use super::outcome::{Delivered, Place};
use crate::disk::{Disk, Stamp};
use crate::ledger::{Change, Ledger, OutputState, Standing, StandingState};
use std::path::Path;
use std::time::SystemTime;

/// Notes that the original of a path, with the bytes and settings it was judged on, has a new stamp, and says what has
/// become of its outputs. `None` when there is no finished standing for it, so that it must be worked through.
///
/// # Errors
/// When the output folder cannot be looked at or the ledger cannot be written.
pub fn unchanged(
    disk: &Disk,
    ledger: &mut Ledger,
    place: &Place<'_>,
    path: &Path,
    stamp: Stamp,
    now: SystemTime,
) -> Result<Option<Delivered>, DeliverError> {
    let Some(before) = ledger.standing(place.folder, path)? else { return Ok(None) };
    if before.state == StandingState::Unfinished {
        return Ok(None);
    }
    let tree = output_folder(disk, ledger, place)?;
    let mut changes = Vec::new();
    let mut rows = Vec::new();
    for (was, is) in settled(&tree, ledger.outputs(place.folder, path)?, now)? {
        changes.extend(corrected(&was, is.as_ref()));
        rows.extend(is);
    }
    let standing = Standing { stamp, state: StandingState::Present, at: now, ..before };
    changes.push(Change::Stand { standing: Box::new(standing), told: false });
    ledger.apply(place.folder, &changes)?;
    let mut delivered = Delivered::default();
    delivered.list(&rows);
    Ok(Some(delivered))
}

/// Notes that the original of a path has disappeared from a folder that is there. Its outputs stay.
///
/// # Errors
/// When the ledger cannot be written.
pub fn gone(ledger: &mut Ledger, folder: &str, path: &Path) -> Result<(), DeliverError> {
    let path = path.to_path_buf();
    let change = match ledger.standing(folder, &path)? {
        Some(standing) if standing.state == StandingState::Gone => return Ok(()),
        Some(_) => Change::Mark { path, state: StandingState::Gone, told: false },
        // It disappeared before it was ever delivered: a name it may have been given is free again.
        None => Change::Release(path),
    };
    ledger.apply(folder, &[change])?;
    Ok(())
}

/// Looks a whole folder over, as at start: removes parts that a killed program left, and brings the ledger up to what
/// people and an interrupted delivery did with the outputs. Returns how many parts were removed.
///
/// # Errors
/// When the output folder has vanished or cannot be looked at, or the ledger cannot be written.
pub fn tidy(disk: &Disk, ledger: &mut Ledger, place: &Place<'_>, now: SystemTime) -> Result<usize, DeliverError> {
    let tree = output_folder(disk, ledger, place)?;
    let mut parts = 0;
    for own in OWN {
        parts += tree.sweep_parts(Path::new(own))?;
    }
    let all = ledger.outputs_in(place.folder, |state| !matches!(state, OutputState::Withdrawn(_)))?;
    let changes: Vec<Change> =
        settled(&tree, all, now)?.iter().filter_map(|(was, is)| corrected(was, is.as_ref())).collect();
    if !changes.is_empty() {
        ledger.apply(place.folder, &changes)?;
    }
    Ok(parts)
}
