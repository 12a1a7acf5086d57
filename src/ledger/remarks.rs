//! What sweeps remarked on twins, names and strays: the remarks of the last whole sweep of each archive, and which of them are
//! new since a change.
//!
//! Takes and yields plain data. Knows nothing of how remarks come about.

use super::error::LedgerError;
use super::fold::{bytes, path};
use super::member::archive_folder;
use super::store::{Ledger, next_change};
use rusqlite::{Row, params};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// One remark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Noted {
    /// What it is, as machines read it.
    pub kind: String,
    /// The files, relative to the archive's folder, raw.
    pub paths: Vec<PathBuf>,
    /// What is seen, in a sentence.
    pub says: String,
    /// What to do; empty when nothing is.
    pub remedy: String,
}

impl Noted {
    /// No path holds a zero byte.
    fn files(&self) -> Vec<u8> {
        self.paths.iter().map(|path| bytes(path)).collect::<Vec<_>>().join(&0)
    }
}

fn noted(row: &Row<'_>) -> rusqlite::Result<Noted> {
    let files = row.get_ref(1)?.as_blob()?;
    Ok(Noted {
        kind: row.get(0)?,
        paths: files.split(|byte| *byte == 0).map(|one| path(one).into()).collect(),
        says: row.get(2)?,
        remedy: row.get(3)?,
    })
}

impl Ledger {
    /// Notes what a whole sweep of an archive remarked, in place of what the one before did. What that remarked too is no
    /// news; a sweep that remarked the same writes nothing.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_remarks(&mut self, archive: &str, remarks: &[Noted]) -> Result<(), LedgerError> {
        let folder = archive_folder(archive);
        let sql = "SELECT kind, files, says, remedy, changed FROM remarks WHERE folder = ?1";
        let known = self.all(sql, [&folder], |row| Ok((noted(row)?, row.get::<_, i64>(4)?)))?;
        let mut known: BTreeMap<(String, Vec<u8>, String), i64> =
            known.into_iter().map(|(one, changed)| ((one.kind.clone(), one.files(), one.says), changed)).collect();
        let mut fresh = Vec::new();
        for one in remarks {
            if known.remove(&(one.kind.clone(), one.files(), one.says.clone())).is_none() {
                fresh.push(one);
            }
        }
        if fresh.is_empty() && known.is_empty() {
            return Ok(());
        }
        self.write(|step| {
            for (kind, files, says) in known.keys() {
                step.prepare_cached(
                    "DELETE FROM remarks WHERE folder = ?1 AND kind = ?2 AND files = ?3 AND says = ?4",
                )?
                .execute(params![folder, kind, files, says])?;
            }
            for one in fresh {
                let number = next_change(step)?;
                step.prepare_cached("INSERT OR REPLACE INTO remarks VALUES (?1, ?2, ?3, ?4, ?5, ?6)")?
                    .execute(params![folder, one.kind, one.files(), one.says, one.remedy, number])?;
            }
            Ok(())
        })
    }

    /// What was remarked on an archive and is new after change number `after`, in the order it was remarked.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn remarks_since(&self, archive: &str, after: i64) -> Result<Vec<Noted>, LedgerError> {
        let sql = "SELECT kind, files, says, remedy FROM remarks WHERE folder = ?1 AND changed > ?2 ORDER BY changed";
        self.all(sql, params![archive_folder(archive), after], noted)
    }

    /// The archives of which something was remarked after change number `after`, by name.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn remarked_since(&self, after: i64) -> Result<Vec<String>, LedgerError> {
        let sql = "SELECT DISTINCT folder FROM remarks WHERE changed > ?1 ORDER BY folder";
        let folders = self.all(sql, [after], |row| row.get::<_, String>(0))?;
        Ok(folders.iter().filter_map(|folder| super::member::archive_of(folder)).map(str::to_string).collect())
    }
}
