//! How a likeness is written down.

use crate::pipeline::likeness::{Likeness, VERSION};
use crate::tile::Content;
use rusqlite::{Transaction, params};

/// Stores the likeness of a content, in place of an earlier one.
pub(super) fn liken(step: &Transaction<'_>, content: Content, likeness: &Likeness) -> rusqlite::Result<()> {
    step.prepare_cached("INSERT OR REPLACE INTO likenesses VALUES (?1, ?2, ?3)")?
        .execute(params![content.0, VERSION, text(likeness)?])
        .map(drop)
}

/// What is stored as text.
pub(super) fn text<T: serde::Serialize>(value: &T) -> rusqlite::Result<String> {
    serde_json::to_string(value).map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))
}
