//! The output folder: made on first use, and missed when it vanishes with what was in it. Likewise let-pass in it.

use super::error::DeliverError;
use super::layout::LET_PASS;
use super::outcome::Place;
use crate::disk::{Disk, Look, Tree};
use crate::ledger::{Ledger, OutputState};
use std::path::Path;

/// Opens the output folder, making it when nothing was ever published in it.
///
/// An absent folder with published files would otherwise look as if a person had taken every file away.
///
/// # Errors
/// [`DeliverError::FolderGone`] when it has vanished; otherwise when it cannot be made or opened.
pub fn output_folder(disk: &Disk, ledger: &Ledger, place: &Place<'_>) -> Result<Tree, DeliverError> {
    if !place.checked.is_dir() {
        if !ledger.outputs_in(place.folder, |state| *state == OutputState::Published)?.is_empty() {
            return Err(DeliverError::FolderGone { path: place.checked.into() });
        }
        disk.make_folder(place.checked)?;
    }
    let tree = disk.tree(place.checked)?;
    // A let-pass that has vanished with pictures in it is not made anew: an empty one would take every word back.
    if tree.look(Path::new(LET_PASS))? == Look::Absent && ledger.words(place.folder)?.is_empty() {
        disk.make_folder(&place.checked.join(LET_PASS))?;
    }
    Ok(tree)
}
