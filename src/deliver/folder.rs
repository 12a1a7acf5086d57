//! The output folder: made on first use, and missed when it vanishes with what was in it.

use super::error::DeliverError;
use super::outcome::Place;
use crate::disk::{Disk, Tree};
use crate::ledger::{Ledger, OutputState};

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
    Ok(disk.tree(place.checked)?)
}
