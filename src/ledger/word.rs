//! Reading the artist's word: which pictures lie in the folder let-pass, and what they accept together.
//!
//! Yields plain data. Changes nothing.

use super::entry::{LetPass, Standing};
use super::error::LedgerError;
use super::rows::{self, STANDING, WORD};
use super::store::Ledger;
use crate::ticket::word::Mark;
use crate::tile::Content;
use rusqlite::params;
use std::collections::BTreeSet;

impl Ledger {
    /// The pictures of a folder's let-pass, by path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn words(&self, folder: &str) -> Result<Vec<LetPass>, LedgerError> {
        let sql = format!("SELECT {WORD} FROM words WHERE folder = ?1 ORDER BY path");
        self.all(&sql, params![folder], rows::word)
    }

    /// What the artist lets pass of a content in a folder: what all its pictures there accept together.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn let_pass(&self, folder: &str, content: Content) -> Result<BTreeSet<Mark>, LedgerError> {
        let sql = format!("SELECT {WORD} FROM words WHERE folder = ?1 AND content = ?2 ORDER BY path");
        let found = self.all(&sql, params![folder, content.0], rows::word)?;
        Ok(found.into_iter().filter_map(|one| one.word).flat_map(|word| word.marks).collect())
    }

    /// The hashes of the files in a folder's let-pass, as far as they were read.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn word_files(&self, folder: &str) -> Result<BTreeSet<Content>, LedgerError> {
        let sql = "SELECT file FROM words WHERE folder = ?1 AND file IS NOT NULL";
        let files = self.all(sql, params![folder], |row| row.get(0).map(Content))?;
        Ok(files.into_iter().collect())
    }

    /// The pictures found not to be ours after change number `after`, each with its folder's name, in the order of the
    /// changes.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn strangers_since(&self, after: i64) -> Result<Vec<(String, LetPass)>, LedgerError> {
        let sql =
            format!("SELECT {WORD}, folder FROM words WHERE content IS NULL AND changed > ?1 ORDER BY changed, path");
        self.all(&sql, params![after], |row| Ok((row.get(6)?, rows::word(row)?)))
    }

    /// The standings of a folder whose content the artist has said anything about, by path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn spoken_of(&self, folder: &str) -> Result<Vec<Standing>, LedgerError> {
        let sql = format!("SELECT {STANDING} FROM standings WHERE folder = ?1 AND let_pass <> '' ORDER BY path");
        self.all(&sql, params![folder], rows::standing)
    }
}
