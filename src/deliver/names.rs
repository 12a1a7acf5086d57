//! Names: which one a path gets below the output folder.
//!
//! Takes what is claimed in the ledger; yields the first free form of a name. Knows nothing of what lies on the disk.

use super::error::DeliverError;
use super::layout::{aside, fits};
use crate::ledger::Ledger;
use std::path::{Path, PathBuf};

/// How many forms of a name are tried.
const TURNS: u32 = 100;

/// Who asks for a name.
#[derive(Clone, Copy, Debug)]
pub struct Claimant<'a> {
    /// The folder's name in the configuration.
    pub folder: &'a str,
    /// The original's path.
    pub path: &'a Path,
    /// The path the original was renamed from, whose names pass on.
    pub from: Option<&'a Path>,
}

impl Claimant<'_> {
    /// Whether this name may be claimed.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn may(&self, ledger: &Ledger, name: &Path) -> Result<bool, DeliverError> {
        Ok(ledger.is_free(self.folder, name, &[self.path, self.from.unwrap_or(self.path)])?)
    }

    /// The name itself, or else the first of its other forms that is free.
    ///
    /// When a folder on the way is claimed as a file's name, that folder gets another form too.
    ///
    /// # Errors
    /// When the ledger cannot be read or no form is free.
    pub fn choose(&self, ledger: &Ledger, wanted: &Path) -> Result<PathBuf, DeliverError> {
        let mut name = PathBuf::new();
        let mut parts = wanted.components().peekable();
        while let Some(part) = parts.next() {
            let whole = name.join(part);
            let is_last = parts.peek().is_none();
            name = self.free_form(ledger, &whole, is_last)?;
        }
        Ok(name)
    }

    fn free_form(&self, ledger: &Ledger, whole: &Path, is_file: bool) -> Result<PathBuf, DeliverError> {
        for turn in 0..=TURNS {
            let name = match turn {
                0 if is_file && !fits(whole) => continue,
                0 => whole.to_path_buf(),
                // The files of one folder keep together: its form comes from the folder's path.
                _ => aside(whole, if is_file { self.path } else { whole }, turn - 1),
            };
            let owners = [self.path, self.from.unwrap_or(self.path)];
            let free = if is_file {
                ledger.is_free(self.folder, &name, &owners)?
            } else {
                !ledger.is_a_file(self.folder, &name, &owners)?
            };
            if free {
                return Ok(name);
            }
        }
        Err(DeliverError::NoName { path: whole.into() })
    }
}
