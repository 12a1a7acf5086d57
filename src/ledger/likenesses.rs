//! What is known of drawings: likenesses and sketches by content, what comparisons came to, and the contact sheets that were drawn.
//!
//! Takes and yields plain data. What an older version of the signatures wrote counts as unknown.

use super::error::LedgerError;
use super::fold::{bytes, path};
use super::likeness_rows::{self, text};
use super::store::Ledger;
use crate::pipeline::likeness::relation::{self, Relation};
use crate::pipeline::likeness::{Likeness, VERSION};
use crate::pipeline::sketch::{self, Sketch};
use crate::tile::Content;
use rusqlite::{OptionalExtension, Row, params};
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A contact sheet in an archive's output folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contact {
    /// Relative to the output folder.
    pub file: PathBuf,
    /// A digest of all that it shows.
    pub sheet: String,
    /// The hash of its bytes.
    pub content: Content,
}

impl Ledger {
    /// Every likeness that is kept.
    ///
    /// # Errors
    /// When the ledger cannot be read. One of an unknown shape counts as not kept.
    pub fn likenesses(&self) -> Result<HashMap<Content, Likeness>, LedgerError> {
        let read = |row: &Row<'_>| Ok((Content(row.get(0)?), row.get::<_, String>(1)?));
        let rows = self.all("SELECT content, likeness FROM likenesses WHERE version = ?1", [VERSION], read)?;
        Ok(rows.into_iter().filter_map(|(content, text)| Some((content, serde_json::from_str(&text).ok()?))).collect())
    }

    /// The likeness of a content.
    ///
    /// # Errors
    /// When the ledger cannot be read. One of an unknown shape counts as not kept.
    pub fn likeness(&self, content: Content) -> Result<Option<Likeness>, LedgerError> {
        let sql = "SELECT likeness FROM likenesses WHERE content = ?1 AND version = ?2";
        let found = self.all(sql, params![content.0, VERSION], |row| row.get::<_, String>(0))?.pop();
        Ok(found.and_then(|text| serde_json::from_str(&text).ok()))
    }

    /// The sketch of a content.
    ///
    /// # Errors
    /// When the ledger cannot be read. One of an unknown shape counts as not kept.
    pub fn sketch(&self, content: Content) -> Result<Option<Sketch>, LedgerError> {
        let sql = "SELECT sketch FROM sketches WHERE content = ?1 AND version = ?2";
        let found = self.all(sql, params![content.0, sketch::VERSION], |row| row.get::<_, Vec<u8>>(0))?.pop();
        Ok(found.and_then(|lights| Sketch::try_from(lights).ok()))
    }

    /// Keeps likenesses, in place of earlier ones.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn keep_likenesses(&mut self, likenesses: &[(Content, Likeness)]) -> Result<(), LedgerError> {
        self.write(|step| {
            likenesses.iter().try_for_each(|(content, likeness)| likeness_rows::liken(step, *content, likeness))
        })
    }

    /// What the comparison of two contents came to: `None` when they were not compared, `Some(None)` when they are nothing
    /// to each other.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn relation(&self, one: Content, other: Content) -> Result<Option<Option<Relation>>, LedgerError> {
        let found: Option<String> = self
            .db
            .prepare_cached("SELECT relation FROM relations WHERE one = ?1 AND other = ?2 AND version = ?3")
            .and_then(|mut ask| ask.query_row(params![one.0, other.0, relation::VERSION], |row| row.get(0)).optional())
            .map_err(|error| LedgerError::sql(&self.path, error))?;
        Ok(match found.as_deref() {
            None => None,
            Some("") => Some(None),
            Some(text) => serde_json::from_str(text).ok().map(Some),
        })
    }

    /// Keeps what comparisons came to.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn keep_relations(&mut self, relations: &[(Content, Content, Option<Relation>)]) -> Result<(), LedgerError> {
        self.write(|step| {
            let mut put = step.prepare_cached("INSERT OR REPLACE INTO relations VALUES (?1, ?2, ?3, ?4)")?;
            for (one, other, relation) in relations {
                let relation = relation.as_ref().map(text).transpose()?.unwrap_or_default();
                put.execute(params![one.0, other.0, relation::VERSION, relation])?;
            }
            Ok(())
        })
    }

    /// The contact sheets of a folder, by file.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn contacts(&self, folder: &str) -> Result<Vec<Contact>, LedgerError> {
        let read = |row: &Row<'_>| {
            Ok(Contact {
                file: path(&row.get::<_, Vec<u8>>(0)?).into(),
                sheet: row.get(1)?,
                content: Content(row.get(2)?),
            })
        };
        self.all("SELECT file, sheet, content FROM contacts WHERE folder = ?1 ORDER BY file", [folder], read)
    }

    /// Notes a contact sheet, in place of an earlier one of the same name.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_contact(&mut self, folder: &str, contact: &Contact) -> Result<(), LedgerError> {
        self.write(|step| {
            step.prepare_cached("INSERT OR REPLACE INTO contacts VALUES (?1, ?2, ?3, ?4)")?
                .execute(params![folder, bytes(&contact.file), contact.sheet, contact.content.0])
                .map(drop)
        })
    }

    /// Forgets a contact sheet.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn forget_contact(&mut self, folder: &str, file: &Path) -> Result<(), LedgerError> {
        self.write(|step| {
            step.prepare_cached("DELETE FROM contacts WHERE folder = ?1 AND file = ?2")?
                .execute(params![folder, bytes(file)])
                .map(drop)
        })
    }
}
