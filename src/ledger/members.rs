//! What is known of archives: their files, and when each was swept last.
//!
//! Takes and yields plain data. Knows nothing of what lies on the disk.

use super::error::LedgerError;
use super::fold::path;
use super::member::{Member, archive_folder};
use super::member_rows::{MEMBER, member};
use super::rows::{millis, time};
use super::store::Ledger;
use crate::tile::Content;
use rusqlite::{Row, params};
use std::path::PathBuf;
use std::time::SystemTime;

/// When an archive was swept last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastSweep {
    /// When it began.
    pub began: SystemTime,
    /// When it came to its end; `None` when it was interrupted, or its time was up.
    pub ended: Option<SystemTime>,
}

impl Ledger {
    /// Every file of an archive that is known, by path, vanished ones too.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn members(&self, archive: &str) -> Result<Vec<Member>, LedgerError> {
        let sql = format!("SELECT {MEMBER} FROM members WHERE folder = ?1 ORDER BY path");
        self.all(&sql, params![archive_folder(archive)], member)
    }

    /// Files of all archives whose recorded bytes have this hash, by archive and path.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn members_of(&self, content: Content) -> Result<Vec<Member>, LedgerError> {
        let sql = format!("SELECT {MEMBER} FROM members WHERE content = ?1 ORDER BY folder, path");
        self.all(&sql, params![content.0], member)
    }

    /// Files of all archives about which there is news after change number `after`, in the order of the changes.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn members_since(&self, after: i64) -> Result<Vec<Member>, LedgerError> {
        let sql = format!("SELECT {MEMBER} FROM members WHERE changed > ?1 ORDER BY changed");
        self.all(&sql, params![after], member)
    }

    /// Every place where the ledger knows a file of this hash to have lain last: the folder's name and the path below it.
    /// Originals of watched folders and archives, and what was published; of the latter, the name begins with `outputs/`.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn places_of(&self, content: Content) -> Result<Vec<(String, PathBuf)>, LedgerError> {
        let sql = "SELECT folder, path FROM members WHERE content = ?1 AND state = 'present'
                   UNION SELECT folder, path FROM standings WHERE content = ?1 AND state NOT IN ('gone', 'kept')
                   UNION SELECT 'outputs/' || folder, file FROM outputs
                         WHERE content = ?1 AND state IN ('published', 'withdrawn')
                   ORDER BY 1, 2";
        self.all(sql, params![content.0], |row| Ok((row.get(0)?, path(row.get_ref(1)?.as_blob()?).into())))
    }

    /// When an archive was swept last; `None` when it never was.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn last_sweep(&self, archive: &str) -> Result<Option<LastSweep>, LedgerError> {
        let sql = "SELECT began_ms, ended_ms FROM sweeps WHERE folder = ?1";
        let read =
            |row: &Row<'_>| Ok(LastSweep { began: time(row.get(0)?), ended: row.get::<_, Option<i64>>(1)?.map(time) });
        Ok(self.all(sql, params![archive_folder(archive)], read)?.pop())
    }

    /// Notes when an archive was swept.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_sweep(&mut self, archive: &str, sweep: LastSweep) -> Result<(), LedgerError> {
        self.write(|step| {
            step.prepare_cached("INSERT OR REPLACE INTO sweeps (folder, began_ms, ended_ms) VALUES (?1, ?2, ?3)")?
                .execute(params![archive_folder(archive), millis(sweep.began), sweep.ended.map(millis)])
                .map(drop)
        })
    }
}
