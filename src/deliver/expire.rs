//! Expiring: what was withdrawn long enough ago is removed from `earlier/`, if it is still what was put there.
//!
//! Takes a moment and a number of days as a span. Removes only files whose bytes are read and found to be the ledger's.

use super::error::DeliverError;
use super::layout::EARLIER;
use super::look::{Seen, see};
use super::outcome::Place;
use crate::disk::Disk;
use crate::ledger::{Change, Ledger, OutputState};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// What expiring did. Paths are relative to the output folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Expired {
    /// What was removed.
    pub removed: Vec<PathBuf>,
    /// What a person has changed and keeps for good.
    pub edited: Vec<PathBuf>,
}

/// Removes what was withdrawn at least `keep` before `now`.
///
/// A file that was found with the right bytes, not written here, is never removed; one that a person changed is theirs.
/// An absent output folder has nothing to expire.
///
/// # Errors
/// When a file cannot be read or removed, or the ledger cannot be written.
pub fn expire(
    disk: &Disk,
    ledger: &mut Ledger,
    place: &Place<'_>,
    keep: Duration,
    now: SystemTime,
) -> Result<Expired, DeliverError> {
    let is_due = |at: SystemTime| now.duration_since(at).is_ok_and(|age| age >= keep);
    let due = ledger.outputs_in(place.folder, |state| matches!(state, OutputState::Withdrawn(at) if is_due(*at)))?;
    let mut expired = Expired::default();
    if due.is_empty() || !place.checked.is_dir() {
        return Ok(expired);
    }
    let tree = disk.tree(place.checked)?;
    let mut changes = Vec::new();
    for output in due.into_iter().filter(|output| !output.found) {
        // The stamp is not trusted here: what is removed has been read.
        match see(&tree, &output.file, output.content, None)? {
            Seen::Intact(_) => {
                tree.remove(&output.file)?;
                let folders = output.file.ancestors().skip(1).take_while(|above| above.starts_with(EARLIER));
                for folder in folders.filter(|folder| *folder != Path::new(EARLIER)) {
                    if !tree.remove_empty(folder)? {
                        break;
                    }
                }
                expired.removed.push(output.file);
            }
            Seen::Other => expired.edited.push(output.file),
            Seen::Absent => {}
        }
        changes.extend(output.id.map(Change::Drop));
    }
    if !changes.is_empty() {
        ledger.apply(place.folder, &changes)?;
    }
    Ok(expired)
}
