//! Writing the ledger: changes, applied all or none in one short transaction.
//!
//! Takes changes of one folder. Knows nothing of why they are made.

use super::entry::{Key, LetPass, Letter, Output, Standing, StandingState, Told, kept_judgment};
use super::error::LedgerError;
use super::fold::{bytes, folded};
use super::likeness_rows;
use super::member::Member;
use super::member_rows;
use super::rows::{millis, stamp_text, state_columns, state_name};
use super::schema;
use crate::disk::{Deed, Disk};
use crate::pipeline::likeness::Likeness;
use crate::pipeline::sketch::Sketch;
use crate::ticket::Ticket;
use crate::ticket::word;
use crate::tile::Content;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    pub(super) db: Connection,
    pub(super) path: PathBuf,
    disk: Disk,
    writable: bool,
}

/// One change of what is known about a folder.
#[derive(Clone, Debug)]
pub enum Change {
    /// Keeps a judgment, in place of an earlier one under the same key.
    Judge(Key, Box<Ticket>),
    /// Reserves a name for a path. A name that another path has is not given away: see [`Ledger::is_free`].
    Claim {
        /// The name, relative to a role's folder.
        name: PathBuf,
        /// The original's path.
        path: PathBuf,
    },
    /// Passes all names of a path on to another.
    Pass {
        /// The path that has them.
        from: PathBuf,
        /// The path that gets them.
        to: PathBuf,
    },
    /// Gives back all names of a path.
    Release(PathBuf),
    /// Sets what holds for a path; its number of change rises when it is `told`.
    Stand {
        /// The new standing. Its folder is the one the changes are for and its number is set here.
        standing: Box<Standing>,
        /// Whether the change is worth telling.
        told: bool,
    },
    /// Marks a path's standing.
    Mark {
        /// The original's path.
        path: PathBuf,
        /// What it becomes.
        state: StandingState,
        /// Whether the change is worth telling.
        told: bool,
    },
    /// Forgets what holds for a path.
    Forget(PathBuf),
    /// Stores an output, new or by its number.
    Put(Output),
    /// Forgets an output by its number.
    Drop(i64),
    /// Notes a picture in let-pass, in place of an earlier one under its path. One that is not ours is worth telling and
    /// gets its number of change here.
    Hear(LetPass),
    /// Forgets the picture in let-pass under this path.
    Unhear(PathBuf),
    /// Stores what is known of a file of an archive, in place of what was; its number of change rises when it is `told`.
    Enroll {
        /// The file. The changes are for the folder of its archive.
        member: Box<Member>,
        /// Whether the change is worth telling.
        told: bool,
    },
    /// Forgets the file of an archive under this path.
    Strike(PathBuf),
    /// Keeps the likeness of a content, in place of an earlier one.
    Liken(Content, Box<Likeness>),
    /// Keeps the sketch of a content, in place of an earlier one.
    Sketch(Content, Box<Sketch>),
}

impl Ledger {
    /// Opens the ledger at `path` for writing, making its folder and itself when missing.
    ///
    /// # Errors
    /// When a newer Burler or another program wrote it, or it cannot be used.
    pub fn open(disk: &Disk, path: &Path) -> Result<Self, LedgerError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            disk.make_folders(folder)?;
        }
        Ok(Self { db: schema::open(disk, path)?, path: path.into(), disk: disk.clone(), writable: true })
    }

    /// Opens the ledger at `path` for reading only; one that a newer Burler wrote is read as far as it can be.
    ///
    /// # Errors
    /// When there is none, or it cannot be used.
    pub fn open_to_read(path: &Path) -> Result<Self, LedgerError> {
        Ok(Self { db: schema::open_to_read(path)?, path: path.into(), disk: Disk::new(), writable: false })
    }

    /// Applies changes to `folder`, all or none. Returns the numbers of newly stored outputs, in their order.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long, or a claimed name is another path's.
    pub fn apply(&mut self, folder: &str, changes: &[Change]) -> Result<Vec<i64>, LedgerError> {
        self.write(|step| {
            let mut stored = Vec::new();
            for change in changes {
                stored.extend(apply_one(step, folder, change)?);
            }
            Ok(stored)
        })
    }

    /// Notes a letter and what it told, once and together: the same Message-ID again changes nothing.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_letter(&mut self, letter: &Letter, told: &[Told]) -> Result<(), LedgerError> {
        self.write(|step| insert_letter(step, letter, told))
    }

    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, LedgerError> {
        if !self.writable {
            return Err(LedgerError::ReadOnly { path: self.path.clone() });
        }
        let failed = |error| LedgerError::sql(&self.path, error);
        let step = self.db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
        let done = work(&step).map_err(failed)?;
        self.disk.count(Deed::Commit, &self.path)?;
        step.commit().map_err(failed)?;
        Ok(done)
    }
}

/// Stores a letter and what it told, once: the same Message-ID again changes nothing.
pub(super) fn insert_letter(step: &Transaction<'_>, letter: &Letter, told: &[Told]) -> rusqlite::Result<()> {
    let new = step
        .prepare_cached(
            "INSERT INTO letters (upto, window_end_ms, message_id, file) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (message_id) DO NOTHING",
        )?
        .execute(params![letter.upto, millis(letter.window_end), letter.message_id, bytes(&letter.file)])?;
    if new == 0 {
        return Ok(());
    }
    let number = step.last_insert_rowid();
    told.iter().try_for_each(|told| tell(step, told, number))
}

fn apply_one(step: &Transaction<'_>, folder: &str, change: &Change) -> rusqlite::Result<Option<i64>> {
    let run = |sql: &str, values: &[&dyn rusqlite::ToSql]| step.prepare_cached(sql)?.execute(values).map(drop);
    match change {
        Change::Judge(key, ticket) => {
            let line = kept_judgment(ticket)
                .to_line()
                .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
            run(
                "INSERT INTO judgments VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT DO UPDATE SET ticket = excluded.ticket WHERE ticket <> excluded.ticket",
                params![key.content.0, key.spec_digest, key.rules, line],
            )?;
        }
        // A name of this path already claimed stays; one of another path stops at the primary key.
        Change::Claim { name, path } => run(
            "INSERT INTO claims (folder, folded, path) SELECT ?1, ?2, ?3
             WHERE NOT EXISTS (SELECT 1 FROM claims WHERE folder = ?1 AND folded = ?2 AND path = ?3)",
            params![folder, folded(name), bytes(path)],
        )?,
        Change::Pass { from, to } => {
            run(
                "UPDATE claims SET path = ?3 WHERE folder = ?1 AND path = ?2",
                params![folder, bytes(from), bytes(to)],
            )?;
        }
        Change::Release(path) => {
            run("DELETE FROM claims WHERE folder = ?1 AND path = ?2", params![folder, bytes(path)])?;
        }
        Change::Stand { standing, told } => stand(step, folder, standing, *told)?,
        Change::Mark { path, state, told } => {
            run(
                "UPDATE standings SET state = ?3 WHERE folder = ?1 AND path = ?2",
                params![folder, bytes(path), state_name(*state)],
            )?;
            if *told {
                let number = next_change(step)?;
                run(
                    "UPDATE standings SET changed = ?3 WHERE folder = ?1 AND path = ?2",
                    params![folder, bytes(path), number],
                )?;
            }
        }
        Change::Forget(path) => {
            run("DELETE FROM standings WHERE folder = ?1 AND path = ?2", params![folder, bytes(path)])?;
        }
        Change::Put(output) => return put(step, folder, output),
        Change::Drop(id) => run("DELETE FROM outputs WHERE id = ?1 AND folder = ?2", params![id, folder])?,
        Change::Hear(picture) => hear(step, folder, picture)?,
        Change::Unhear(path) => {
            run("DELETE FROM words WHERE folder = ?1 AND path = ?2", params![folder, bytes(path)])?;
        }
        Change::Enroll { member, told } => {
            let number = if *told { next_change(step)? } else { member.changed };
            member_rows::enroll(step, folder, member, number)?;
        }
        Change::Strike(path) => member_rows::strike(step, folder, path)?,
        Change::Liken(content, likeness) => likeness_rows::liken(step, *content, likeness)?,
        Change::Sketch(content, sketch) => likeness_rows::sketch(step, *content, sketch)?,
    }
    Ok(None)
}

fn hear(step: &Transaction<'_>, folder: &str, picture: &LetPass) -> rusqlite::Result<()> {
    let number = match (&picture.word, picture.changed) {
        (Some(_), _) => 0,
        (None, 0) => next_change(step)?,
        (None, told) => told,
    };
    let (content, marks) = match &picture.word {
        Some(heard) => (Some(heard.content.0), word::spelled(&heard.marks)),
        None => (None, String::new()),
    };
    step.prepare_cached(
        "INSERT OR REPLACE INTO words (folder, path, stamp, file, content, marks, changed)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        folder,
        bytes(&picture.path),
        stamp_text(&picture.stamp),
        picture.file.map(|file| file.0),
        content,
        marks,
        number
    ])
    .map(drop)
}

fn stand(step: &Transaction<'_>, folder: &str, standing: &Standing, told: bool) -> rusqlite::Result<()> {
    let earlier: Option<i64> = step
        .prepare_cached("SELECT changed FROM standings WHERE folder = ?1 AND path = ?2")?
        .query_row(params![folder, bytes(&standing.path)], |row| row.get(0))
        .optional()?;
    let number = if told { next_change(step)? } else { earlier.unwrap_or(standing.changed) };
    if told {
        step.prepare_cached("INSERT OR REPLACE INTO news (change, at_ms) VALUES (?1, ?2)")?
            .execute(params![number, millis(standing.at)])?;
    }
    step.prepare_cached(
        "INSERT OR REPLACE INTO standings (folder, path, stamp, content, spec_digest, rules, spec, verdict, pictures,
         name, state, changed, at_ms, let_pass)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    )?
    .execute(params![
        folder,
        bytes(&standing.path),
        stamp_text(&standing.stamp),
        standing.key.content.0,
        standing.key.spec_digest,
        standing.key.rules,
        standing.spec,
        standing.verdict.name(),
        standing.pictures,
        bytes(&standing.name),
        state_name(standing.state),
        number,
        millis(standing.at),
        word::spelled(&standing.let_pass),
    ])
    .map(drop)
}

fn tell(step: &Transaction<'_>, told: &Told, letter: i64) -> rusqlite::Result<()> {
    step.prepare_cached(
        "INSERT OR REPLACE INTO told (folder, path, content, verdict, says, change, letter, at_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?
    .execute(params![
        told.folder,
        bytes(&told.path),
        told.content.0,
        told.verdict.name(),
        told.says,
        told.change,
        letter,
        millis(told.at)
    ])
    .map(drop)
}

fn put(step: &Transaction<'_>, folder: &str, output: &Output) -> rusqlite::Result<Option<i64>> {
    let (state, goal, withdrawn) = state_columns(&output.state);
    step.prepare_cached(
        "INSERT OR REPLACE INTO outputs (id, folder, path, file, role, content, origin, stamp, state, goal,
         withdrawn_ms, found) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?
    .execute(params![
        output.id,
        folder,
        bytes(&output.path),
        bytes(&output.file),
        output.role.name(),
        output.content.0,
        output.origin.0,
        output.stamp.as_ref().map(stamp_text),
        state,
        goal,
        withdrawn,
        output.found,
    ])?;
    Ok(output.id.is_none().then(|| step.last_insert_rowid()))
}

/// Changes are numbered across all folders, without gaps that matter and never twice.
pub(super) fn next_change(step: &Transaction<'_>) -> rusqlite::Result<i64> {
    step.prepare_cached("UPDATE changes SET last = last + 1 RETURNING last")?.query_row([], |row| row.get(0))
}
