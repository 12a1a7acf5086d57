//! Keeping: when another drawing comes under a name already used, what was given back of the one before stays.
//!
//! Takes the standing of a path; moves it, its outputs and its names to a path of its own in the ledger, in one commit. No file
//! is touched, so that there is nothing that a kill could leave half done: afterwards the path is as if it were new.

use super::error::DeliverError;
use super::look::{corrected, settled};
use super::outcome::{Outcome, Place, Succession};
use crate::disk::Tree;
use crate::finding::Verdict;
use crate::ledger::{Change, Ledger, Output, OutputState, Standing, StandingState, kept_path};
use std::path::PathBuf;
use std::time::SystemTime;

/// Whether an outcome is another drawing than what holds for its path, of which a good tile was given back. Of one that needed
/// the artist there is a picture alone, of an original that is no more; and who mends a joint may well change so much that
/// the mended tile looks like another.
pub fn is_another(before: &Standing, outcome: &Outcome) -> bool {
    let was_good = matches!(before.verdict, Verdict::Sound | Verdict::Mended);
    was_good && before.key.content != outcome.content && matches!(outcome.succession, Succession::Another { .. })
}

/// Keeps what holds for a path as what a drawing that had it came to. Yields the files that stay; `None`, and nothing is
/// changed, when there are none.
///
/// # Errors
/// When the output folder cannot be looked at or the ledger cannot be written.
pub fn keep(
    tree: &Tree,
    ledger: &mut Ledger,
    place: &Place<'_>,
    before: &Standing,
    now: SystemTime,
) -> Result<Option<Vec<PathBuf>>, DeliverError> {
    let to = kept_path(&before.path, before.key.content);
    let (mut changes, mut files) = (Vec::new(), Vec::new());
    for (was, is) in settled(tree, ledger.outputs(place.folder, &before.path)?, now)? {
        match is {
            Some(is) if !matches!(is.state, OutputState::Withdrawn(_)) => {
                if matches!(is.state, OutputState::Published | OutputState::Edited) {
                    files.push(is.file.clone());
                }
                changes.push(Change::Put(Output { path: to.clone(), ..is }));
            }
            is => changes.extend(corrected(&was, is.as_ref())),
        }
    }
    if files.is_empty() {
        return Ok(None);
    }
    let kept = Standing { path: to.clone(), state: StandingState::Kept, at: now, ..before.clone() };
    changes.push(Change::Pass { from: before.path.clone(), to });
    changes.push(Change::Forget(before.path.clone()));
    changes.push(Change::Stand { standing: Box::new(kept), told: false });
    ledger.apply(place.folder, &changes)?;
    Ok(Some(files))
}
