//! Files that need not survive a power cut: what a worker hands over, and whole small files read for commands.
//!
//! Knows nothing of publishing; what a person sees goes through a tree.

use super::count::Disk;
use super::error::{Deed, DiskError};
use super::read::{hash, open};
use crate::tile::Content;
use std::fs::{self, File};
use std::os::unix::ffi::OsStrExt;
use std::path::Path;

impl Disk {
    /// Writes or replaces a file without waiting for the drive. Its folder must exist.
    ///
    /// # Errors
    /// When writing fails, a full disk for example.
    pub fn write_scratch(&self, path: &Path, bytes: &[u8]) -> Result<(), DiskError> {
        self.count(Deed::Write, path)?;
        fs::write(path, bytes).map_err(|error| DiskError::system(Deed::Write, path, error))
    }

    /// Makes or empties a file, open for writing; for logs.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn create_scratch(&self, path: &Path) -> Result<File, DiskError> {
        self.count(Deed::Write, path)?;
        File::create(path).map_err(|error| DiskError::system(Deed::Write, path, error))
    }

    /// Removes the folders in `folder` whose names begin with `prefix`, with all that is in them: what a killed process
    /// left behind. Links are removed, not followed; an absent folder has none.
    ///
    /// # Errors
    /// When one cannot be removed.
    pub fn clear_scratch(&self, folder: &Path, prefix: &str) -> Result<(), DiskError> {
        let Ok(entries) = fs::read_dir(folder) else { return Ok(()) };
        for entry in entries.filter_map(Result::ok) {
            if entry.file_name().as_bytes().starts_with(prefix.as_bytes()) {
                let path = entry.path();
                self.count(Deed::Remove, &path)?;
                fs::remove_dir_all(&path).map_err(|error| DiskError::system(Deed::Remove, &path, error))?;
            }
        }
        Ok(())
    }

    /// Adds to the end of a file, as a slow writer does.
    ///
    /// # Errors
    /// When writing fails, or the file is not there.
    pub fn append_scratch(&self, path: &Path, bytes: &[u8]) -> Result<(), DiskError> {
        use std::io::Write;
        self.count(Deed::Write, path)?;
        let opened = fs::OpenOptions::new().append(true).open(path);
        opened.and_then(|mut file| file.write_all(bytes)).map_err(|error| DiskError::system(Deed::Write, path, error))
    }
}

/// Opens a plain file that a person named; a link is followed, since they meant what it leads to.
///
/// # Errors
/// When it cannot be opened, or leads to a folder, a pipe or a device.
pub fn open_named(path: &Path) -> Result<File, DiskError> {
    let real = path.canonicalize().map_err(|error| DiskError::system(Deed::Read, path, error))?;
    open(&real).map_err(|error| DiskError { path: path.into(), ..error })
}

/// Opens and hashes a plain file that a person named.
///
/// # Errors
/// As [`open_named`].
pub fn hash_named(path: &Path) -> Result<Content, DiskError> {
    hash(&open_named(path)?, path)
}

/// Reads a whole file that a person named.
///
/// # Errors
/// As [`open_named`], and when reading fails.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, DiskError> {
    use std::io::Read;
    let mut bytes = Vec::new();
    open_named(path)?.read_to_end(&mut bytes).map_err(|error| DiskError::system(Deed::Read, path, error))?;
    Ok(bytes)
}

/// Reads a whole text file that a person named; bytes that are not UTF-8 are replaced.
///
/// # Errors
/// As [`read_bytes`].
pub fn read_text(path: &Path) -> Result<String, DiskError> {
    Ok(String::from_utf8_lossy(&read_bytes(path)?).into_owned())
}
