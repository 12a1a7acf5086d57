//! Carrying out a plan: everything slow first, then the exchange in one quick step, then the drive.
//!
//! Takes a plan and the parcels; yields the stamps of the files in their new places. Knows nothing of the ledger.

use super::error::DeliverError;
use super::layout::{MOCKUPS, mockups};
use super::outcome::Parcel;
use super::plan::Plan;
use crate::disk::{Cause, DiskError, Onto, Source, Stamp, Tree};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The stamps of what was moved or published, in the order of the plan.
#[derive(Debug, Default)]
pub struct Placed {
    /// Of what went to `earlier/`.
    pub withdrawn: Vec<Stamp>,
    /// Of what moved along.
    pub along: Vec<Stamp>,
    /// Of what is new.
    pub published: Vec<Stamp>,
}

/// Carries out a plan; `None` when the original changed before anything had its name.
///
/// # Errors
/// When a file cannot be written or moved. What was done by then stays; looking again tells what it was.
pub fn carry_out(
    tree: &Tree,
    plan: &Plan,
    parcels: &[Parcel],
    still_same: &mut dyn FnMut() -> bool,
) -> Result<Option<Placed>, DeliverError> {
    let mut staged = Vec::with_capacity(plan.publish.len());
    for (number, file) in &plan.publish {
        let parcel = &parcels[*number];
        match tree.stage(file, &parcel.source, parcel.content) {
            Ok(part) => staged.push(part),
            // The original itself is not what it was when it was judged.
            Err(DiskError { cause: Cause::Differs, .. }) if matches!(parcel.source, Source::Open(_)) => {
                return Ok(None);
            }
            Err(error) => return Err(error.into()),
        }
    }
    if !still_same() {
        return Ok(None);
    }

    let mut placed = Placed::default();
    for (output, goal) in &plan.withdraw {
        placed.withdrawn.push(tree.rename(&output.file, goal, output.content)?);
    }
    for (output, goal) in &plan.along {
        placed.along.push(tree.rename(&output.file, goal, output.content)?);
    }
    for part in staged {
        placed.published.push(part.publish(Onto::Nothing)?);
    }
    for folder in touched(plan) {
        tree.sync_folder(&folder)?;
    }
    Ok(Some(placed))
}

/// Removes the mock-up folders that nothing is left in, also when an earlier try was killed before it could. That one
/// stays is no fault, so nothing is said of it.
pub fn clear(tree: &Tree, plan: &Plan, name: &Path) {
    let left = plan.withdraw.iter().chain(&plan.along).filter_map(|(output, _)| output.file.parent());
    let own = mockups(name);
    let emptied: BTreeSet<&Path> = left.filter(|folder| folder.starts_with(MOCKUPS)).chain([own.as_path()]).collect();
    let used: BTreeSet<&Path> = plan.files().filter_map(Path::parent).collect();
    for folder in emptied.difference(&used) {
        let _ = tree.remove_empty(folder);
    }
}

/// Every folder in which a name has changed, and those above: one may have been made by a delivery that was killed
/// before it could wait for the drive.
fn touched(plan: &Plan) -> BTreeSet<PathBuf> {
    let moved = plan.withdraw.iter().chain(&plan.along).flat_map(|(output, goal)| [output.file.as_path(), goal]);
    moved
        .chain(plan.publish.iter().map(|(_, file)| file.as_path()))
        .flat_map(|file| file.ancestors().skip(1))
        .map(Path::to_path_buf)
        .collect()
}
