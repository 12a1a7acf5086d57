//! Reading the ledger: what is known of a key, a path, a folder, and since a change.
//!
//! Yields plain data. Changes nothing.

use super::entry::{Entry, Key, Letter, Output, OutputState, Standing, ticket_of};
use super::error::LedgerError;
use super::fold::{self, bytes, folded};
use super::rows::{self, OUTPUT, STANDING};
use super::store::Ledger;
use crate::ticket::Ticket;
use crate::tile::Content;
use rusqlite::{OptionalExtension, Params, Row, params};
use std::path::Path;

impl Ledger {
    /// The kept judgment of a key, without the names of tile, spec and outputs.
    ///
    /// # Errors
    /// When the ledger cannot be read. A judgment of an unknown shape is no error and counts as not kept.
    pub fn judgment(&self, key: &Key) -> Result<Option<Ticket>, LedgerError> {
        let line: Option<String> = self
            .db
            .prepare_cached("SELECT ticket FROM judgments WHERE content = ?1 AND spec_digest = ?2 AND rules = ?3")
            .and_then(|mut ask| {
                ask.query_row(params![key.content.0, key.spec_digest, key.rules], |row| row.get(0)).optional()
            })
            .map_err(|error| LedgerError::sql(&self.path, error))?;
        Ok(line.and_then(|line| Ticket::from_line(&line).ok()))
    }

    /// What holds for a path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn standing(&self, folder: &str, path: &Path) -> Result<Option<Standing>, LedgerError> {
        let sql = format!("SELECT {STANDING} FROM standings WHERE folder = ?1 AND path = ?2");
        Ok(self.all(&sql, params![folder, bytes(path)], rows::standing)?.pop())
    }

    /// What holds in a folder, by path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn standings(&self, folder: &str) -> Result<Vec<Standing>, LedgerError> {
        let sql = format!("SELECT {STANDING} FROM standings WHERE folder = ?1 ORDER BY path");
        self.all(&sql, params![folder], rows::standing)
    }

    /// The standings in a folder whose original has these bytes, by path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn standings_of(&self, folder: &str, content: Content) -> Result<Vec<Standing>, LedgerError> {
        let sql = format!("SELECT {STANDING} FROM standings WHERE folder = ?1 AND content = ?2 ORDER BY path");
        self.all(&sql, params![folder, content.0], rows::standing)
    }

    /// The drawings that are kept of a path since another one has it, the latest last.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn kept_of(&self, folder: &str, path: &Path) -> Result<Vec<Standing>, LedgerError> {
        let sql = format!(
            "SELECT {STANDING} FROM standings WHERE folder = ?1 AND path > ?2 AND path < ?3 AND state = 'kept'
             ORDER BY at_ms, path"
        );
        let key = |end: u8| [bytes(path), &[end]].concat();
        self.all(&sql, params![folder, key(0), key(1)], rows::standing)
    }

    /// The outputs of a path, in every state but withdrawn, by file.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn outputs(&self, folder: &str, path: &Path) -> Result<Vec<Output>, LedgerError> {
        let sql = format!(
            "SELECT {OUTPUT} FROM outputs WHERE folder = ?1 AND path = ?2 AND state <> 'withdrawn' ORDER BY file, id"
        );
        self.all(&sql, params![folder, bytes(path)], rows::output)
    }

    /// The outputs of a whole folder in a state that `wanted` takes, by file.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn outputs_in(&self, folder: &str, wanted: impl Fn(&OutputState) -> bool) -> Result<Vec<Output>, LedgerError> {
        let sql = format!("SELECT {OUTPUT} FROM outputs WHERE folder = ?1 ORDER BY file, id");
        let mut found = self.all(&sql, params![folder], rows::output)?;
        found.retain(|output| wanted(&output.state));
        Ok(found)
    }

    /// Whether a name may be claimed by one of `owners`: no other path has it, a name above it, or a name below it,
    /// since a file cannot be where a folder is.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn is_free(&self, folder: &str, name: &Path, owners: &[&Path]) -> Result<bool, LedgerError> {
        for above in name.ancestors().filter(|above| !above.as_os_str().is_empty()) {
            if self.is_a_file(folder, above, owners)? {
                return Ok(false);
            }
        }
        // Names below sort between "name/" and "name0", whose last byte is the one after the slash.
        let others = |row: &Row<'_>| Ok(!owners.contains(&fold::path(row.get_ref(0)?.as_blob()?)));
        let below = "SELECT path FROM claims WHERE folder = ?1 AND folded > ?2 AND folded < ?3";
        let (mut from, mut to) = (folded(name), folded(name));
        from.push(b'/');
        to.push(b'/' + 1);
        Ok(!self.all(below, params![folder, from, to], others)?.contains(&true))
    }

    /// Whether a path that is none of `owners` has claimed exactly this name for a file.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn is_a_file(&self, folder: &str, name: &Path, owners: &[&Path]) -> Result<bool, LedgerError> {
        let others = |row: &Row<'_>| Ok(!owners.contains(&fold::path(row.get_ref(0)?.as_blob()?)));
        let sql = "SELECT path FROM claims WHERE folder = ?1 AND folded = ?2";
        Ok(self.all(sql, params![folder, folded(name)], others)?.contains(&true))
    }

    /// Everything that is or was last at its path whose verdict, findings or outputs changed after change number `after`, in the order of the changes.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn entries_since(&self, after: i64) -> Result<Vec<Entry>, LedgerError> {
        let sql = format!("SELECT {STANDING} FROM standings WHERE changed > ?1 AND state <> 'kept' ORDER BY changed");
        let standings = self.all(&sql, params![after], rows::standing)?;
        standings.into_iter().map(|standing| self.entry(standing)).collect()
    }

    /// A standing with its ticket and outputs.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn entry(&self, standing: Standing) -> Result<Entry, LedgerError> {
        let outputs = self.outputs(&standing.folder, &standing.path)?;
        let ticket = self.judgment(&standing.key)?.map(|judgment| ticket_of(judgment, &standing, &outputs));
        Ok(Entry { standing, ticket, outputs })
    }

    /// The number of the last change worth telling; 0 before the first.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn last_change(&self) -> Result<i64, LedgerError> {
        Ok(self.all("SELECT last FROM changes", [], |row| row.get(0))?.pop().unwrap_or(0))
    }

    /// The last letter.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn last_letter(&self) -> Result<Option<Letter>, LedgerError> {
        let sql = "SELECT upto, window_end_ms, message_id, file FROM letters ORDER BY number DESC LIMIT 1";
        Ok(self.all(sql, [], rows::letter)?.pop())
    }

    pub(super) fn all<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, LedgerError> {
        self.db
            .prepare_cached(sql)
            .and_then(|mut ask| ask.query_map(values, read)?.collect())
            .map_err(|error| LedgerError::sql(&self.path, error))
    }
}
