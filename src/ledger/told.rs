//! Reading what letters told: what is new since, and what was told of a path or a content.
//!
//! Yields plain data. Changes nothing.

use super::entry::{Standing, Told};
use super::error::LedgerError;
use super::fold::{bytes, path};
use super::rows::{self, STANDING, content, odd, time, verdict_of};
use super::store::Ledger;
use crate::tile::Content;
use rusqlite::{Row, params};
use std::path::Path;
use std::time::SystemTime;

/// The columns that [`told`] reads, in order.
const TOLD: &str = "folder, path, content, verdict, says, change, at_ms";

/// A standing that no letter has told since it changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Untold {
    /// What holds.
    pub standing: Standing,
    /// When it came about; `None` when an older Burler did not note that.
    pub since: Option<SystemTime>,
}

impl Ledger {
    /// Every present standing that changed and was not told since, in the order of the changes.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn news(&self) -> Result<Vec<Untold>, LedgerError> {
        let sql = format!(
            "SELECT {STANDING}, (SELECT at_ms FROM news WHERE news.change = standings.changed) FROM standings
             WHERE state = 'present' AND NOT EXISTS (
                 SELECT 1 FROM told WHERE told.folder = standings.folder AND told.path = standings.path
                 AND told.change >= standings.changed
             ) ORDER BY changed"
        );
        self.all(&sql, [], |row| {
            Ok(Untold { standing: rows::standing(row)?, since: row.get::<_, Option<i64>>(14)?.map(time) })
        })
    }

    /// What was told of a path last.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn told_of(&self, folder: &str, path: &Path) -> Result<Option<Told>, LedgerError> {
        let sql = format!("SELECT {TOLD} FROM told WHERE folder = ?1 AND path = ?2 ORDER BY change DESC LIMIT 1");
        Ok(self.all(&sql, params![folder, bytes(path)], told)?.pop())
    }

    /// What was told of a content in a folder, under any path, the latest last.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn told_of_content(&self, folder: &str, content: Content) -> Result<Vec<Told>, LedgerError> {
        let sql = format!("SELECT {TOLD} FROM told WHERE folder = ?1 AND content = ?2 ORDER BY change, path");
        self.all(&sql, params![folder, content.0], told)
    }

    /// Whether a letter ever told anything of a folder.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn told_anything(&self, folder: &str) -> Result<bool, LedgerError> {
        let sql = "SELECT 1 FROM told WHERE folder = ?1 LIMIT 1";
        Ok(!self.all(sql, params![folder], |_| Ok(()))?.is_empty())
    }

    /// The present standings that need the artist and were told as they are, each with what was told, the longest ago first.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn still_needing(&self) -> Result<Vec<(Standing, Told)>, LedgerError> {
        let sql = format!(
            "SELECT {STANDING} FROM standings WHERE state = 'present' AND verdict IN ('held', 'unreadable', 'mendable')
             ORDER BY folder, path"
        );
        let mut found = Vec::new();
        for standing in self.all(&sql, [], rows::standing)? {
            let told = self.told_of(&standing.folder, &standing.path)?;
            found.extend(told.filter(|told| told.change >= standing.changed).map(|told| (standing, told)));
        }
        found.sort_by_key(|(_, told)| told.at);
        Ok(found)
    }

    /// How many letters were ever noted.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn letters(&self) -> Result<i64, LedgerError> {
        Ok(self.all("SELECT coalesce(max(number), 0) FROM letters", [], |row| row.get(0))?.pop().unwrap_or(0))
    }
}

fn told(row: &Row<'_>) -> rusqlite::Result<Told> {
    let verdict: String = row.get(3)?;
    Ok(Told {
        folder: row.get(0)?,
        path: path(row.get_ref(1)?.as_blob()?).into(),
        content: content(row, 2)?,
        verdict: verdict_of(&verdict).ok_or_else(|| odd(3, &verdict))?,
        says: row.get(4)?,
        change: row.get(5)?,
        at: time(row.get(6)?),
    })
}
