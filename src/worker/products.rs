//! Products in the scratch folder: written under fixed names, with the hash that delivering will hold them to.

use super::job::{Made, scratch_name};
use crate::disk::{Disk, DiskError};
use crate::pipeline::Product;
use crate::tile::Content;
use std::path::Path;

/// Writes what the pipeline made.
///
/// # Errors
/// When the scratch folder cannot be written, a full disk for example.
pub fn keep(made: Vec<(Product, Vec<u8>)>, scratch: &Path) -> Result<Vec<Made>, DiskError> {
    made.into_iter()
        .map(|(product, bytes)| {
            Disk::new().write_scratch(&scratch.join(scratch_name(product)), &bytes)?;
            Ok(Made { product, blake3: Content::of(&bytes).to_string() })
        })
        .collect()
}
