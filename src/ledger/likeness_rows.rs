//! How a likeness and a sketch are written down.

use crate::pipeline::likeness::{Likeness, VERSION};
use crate::pipeline::sketch::{self, Sketch};
use crate::tile::Content;
use rusqlite::{Transaction, params};

/// Stores the likeness of a content, in place of an earlier one.
pub(super) fn liken(step: &Transaction<'_>, content: Content, likeness: &Likeness) -> rusqlite::Result<()> {
    step.prepare_cached("INSERT OR REPLACE INTO likenesses VALUES (?1, ?2, ?3)")?
        .execute(params![content.0, VERSION, text(likeness)?])
        .map(drop)
}

/// Stores the sketch of a content, in place of an earlier one.
pub(super) fn sketch(step: &Transaction<'_>, content: Content, sketch: &Sketch) -> rusqlite::Result<()> {
    step.prepare_cached("INSERT OR REPLACE INTO sketches VALUES (?1, ?2, ?3)")?
        .execute(params![content.0, sketch::VERSION, Vec::from(sketch.clone())])
        .map(drop)
}

/// What is stored as text.
pub(super) fn text<T: serde::Serialize>(value: &T) -> rusqlite::Result<String> {
    serde_json::to_string(value).map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))
}
