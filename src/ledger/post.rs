//! Letters on their way: how far each has come, whom it has reached, which of its pages are still to be put in place.
//!
//! Takes and yields plain data; a letter and the row that says its changes are told are stored in one step. Knows nothing
//! of how letters are sent.

use super::entry::{Letter, Told};
use super::error::LedgerError;
use super::fold::{bytes, path};
use super::rows::{millis, odd, time};
use super::store::{Ledger, insert_letter, next_change};
use rusqlite::{Row, Transaction, params};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How far a letter has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PostState {
    /// Somebody it is for has not been reached yet.
    Waiting,
    /// It has reached somebody, and nobody is left to be tried.
    Sent,
    /// It has reached nobody for certain, and is not tried again.
    Dead,
    /// No way to send letters was configured; it is kept.
    Kept,
}

impl PostState {
    const ALL: [Self; 4] = [Self::Waiting, Self::Sent, Self::Dead, Self::Kept];

    fn name(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Sent => "sent",
            Self::Dead => "dead",
            Self::Kept => "kept",
        }
    }
}

/// Whether somebody has been reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reached {
    /// Not yet.
    Waiting,
    /// The letter was handed over, and no answer came.
    Doubt,
    /// The other side has taken it.
    Accepted,
    /// Never will be.
    Refused,
}

impl Reached {
    const ALL: [Self; 4] = [Self::Waiting, Self::Doubt, Self::Accepted, Self::Refused];

    fn name(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Doubt => "doubt",
            Self::Accepted => "accepted",
            Self::Refused => "refused",
        }
    }
}

/// Somebody a letter is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Addressee {
    /// The address.
    pub address: String,
    /// Whether it has been reached.
    pub reached: Reached,
    /// What was last said about it; empty before the first try.
    pub answer: String,
}

/// One letter on its way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Post {
    /// Its Message-ID.
    pub message_id: String,
    /// The name of its files without folder and ending.
    pub name: String,
    /// Its subject.
    pub subject: String,
    /// When it was written.
    pub queued: SystemTime,
    /// How often it was tried.
    pub tries: u32,
    /// Not to be tried before.
    pub next: SystemTime,
    /// Whether it was being handed over when this was written; found at a start, nobody knows how that ended.
    pub handing: bool,
    /// How many tries ended without an answer after everything was handed over.
    pub doubts: u32,
    /// How far it has come.
    pub state: PostState,
    /// What was last said; empty before the first try.
    pub answer: String,
    /// The number of the last change worth telling; 0 before one.
    pub changed: i64,
    /// Whom it is for, in their order.
    pub addressees: Vec<Addressee>,
}

impl Post {
    /// Addresses that were reached.
    pub fn reached(&self) -> impl Iterator<Item = &Addressee> {
        self.addressees.iter().filter(|one| one.reached == Reached::Accepted)
    }

    /// Addresses that are still to be reached.
    pub fn open(&self) -> impl Iterator<Item = &Addressee> {
        self.addressees.iter().filter(|one| matches!(one.reached, Reached::Waiting | Reached::Doubt))
    }
}

/// The columns that [`post`] reads, in order.
const POST: &str = "message_id, name, subject, queued_ms, tries, next_ms, handing, doubts, state, answer, changed";

fn post(row: &Row<'_>) -> rusqlite::Result<Post> {
    let state: String = row.get(8)?;
    Ok(Post {
        message_id: row.get(0)?,
        name: row.get(1)?,
        subject: row.get(2)?,
        queued: time(row.get(3)?),
        tries: row.get(4)?,
        next: time(row.get(5)?),
        handing: row.get(6)?,
        doubts: row.get(7)?,
        state: PostState::ALL.into_iter().find(|one| one.name() == state).ok_or_else(|| odd(8, &state))?,
        answer: row.get(9)?,
        changed: row.get(10)?,
        addressees: Vec::new(),
    })
}

fn addressee(row: &Row<'_>) -> rusqlite::Result<Addressee> {
    let reached: String = row.get(1)?;
    Ok(Addressee {
        address: row.get(0)?,
        reached: Reached::ALL.into_iter().find(|one| one.name() == reached).ok_or_else(|| odd(1, &reached))?,
        answer: row.get(2)?,
    })
}

impl Ledger {
    /// Notes a letter and puts it on its way, in one step: from then on its changes are told. `pages` are to be put in
    /// place from its files.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long, or a letter of this name or Message-ID is there.
    pub fn queue_letter(
        &mut self,
        letter: &Letter,
        told: &[Told],
        post: &Post,
        pages: &[PathBuf],
    ) -> Result<(), LedgerError> {
        self.write(|step| {
            insert_letter(step, letter, told)?;
            step.prepare_cached(
                "INSERT INTO posts (message_id, name, subject, queued_ms, tries, next_ms, handing, doubts, state, answer,
                 changed) VALUES (?1, ?2, ?3, ?4, 0, 0, 0, 0, 'waiting', '', 0)",
            )?
            .execute(params![post.message_id, post.name, post.subject, millis(post.queued)])?;
            for page in pages {
                step.prepare_cached("INSERT INTO pages VALUES (?1, ?2)")?
                    .execute(params![post.message_id, bytes(page)])?;
            }
            update(step, post)
        })
    }

    /// Notes how far a letter has come and where its file belongs; its number of change rises when that is `told`.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_post(&mut self, post: &Post, file: &Path, told: bool) -> Result<(), LedgerError> {
        self.write(|step| {
            let mut post = post.clone();
            if told {
                post.changed = next_change(step)?;
            }
            step.prepare_cached("UPDATE letters SET file = ?2 WHERE message_id = ?1")?
                .execute(params![post.message_id, bytes(file)])?;
            update(step, &post)
        })
    }

    /// Notes that a letter is about to be handed over.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long; the letter then must not be handed over.
    pub fn note_handing(&mut self, message_id: &str) -> Result<(), LedgerError> {
        self.write(|step| {
            let sql = "UPDATE posts SET handing = 1 WHERE message_id = ?1";
            step.prepare_cached(sql)?.execute([message_id]).map(drop)
        })
    }

    /// Notes that a page has been put in place.
    ///
    /// # Errors
    /// When the ledger is read-only or busy for too long.
    pub fn note_page(&mut self, message_id: &str, page: &Path) -> Result<(), LedgerError> {
        self.write(|step| {
            let sql = "DELETE FROM pages WHERE message_id = ?1 AND file = ?2";
            step.prepare_cached(sql)?.execute(params![message_id, bytes(page)]).map(drop)
        })
    }

    /// Letters that are still to reach somebody, in the order they were written.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn posts_waiting(&self) -> Result<Vec<Post>, LedgerError> {
        self.posts("state = 'waiting' ORDER BY number", 0)
    }

    /// Letters of which something worth telling has happened after change number `after`, in the order of the changes.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn posts_told_since(&self, after: i64) -> Result<Vec<Post>, LedgerError> {
        self.posts("changed > ?1 ORDER BY changed", after)
    }

    /// The letter whose files have this name.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn post_named(&self, name: &str) -> Result<Option<Post>, LedgerError> {
        let sql = format!("SELECT {POST} FROM posts WHERE name = ?1");
        self.all(&sql, [name], post)?.pop().map(|post| self.with_addressees(post)).transpose()
    }

    /// Pages still to be put in place, each with the name of its letter's files and the letter's Message-ID.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn pages_waiting(&self) -> Result<Vec<(String, String, PathBuf)>, LedgerError> {
        let sql = "SELECT posts.name, pages.message_id, pages.file FROM pages JOIN posts USING (message_id)
                   ORDER BY posts.number, pages.file";
        self.all(sql, [], |row| Ok((row.get(0)?, row.get(1)?, path(row.get_ref(2)?.as_blob()?).into())))
    }

    fn posts(&self, which: &str, after: i64) -> Result<Vec<Post>, LedgerError> {
        // Every statement takes the number, whether it asks for it or not.
        let sql = format!("SELECT {POST} FROM posts WHERE ?1 >= 0 AND {which}");
        self.all(&sql, [after], post)?.into_iter().map(|post| self.with_addressees(post)).collect()
    }

    fn with_addressees(&self, post: Post) -> Result<Post, LedgerError> {
        let sql = "SELECT address, reached, answer FROM addressees WHERE message_id = ?1 ORDER BY place";
        Ok(Post { addressees: self.all(sql, [&post.message_id], addressee)?, ..post })
    }
}

fn update(step: &Transaction<'_>, post: &Post) -> rusqlite::Result<()> {
    step.prepare_cached(
        "UPDATE posts SET tries = ?2, next_ms = ?3, handing = ?4, doubts = ?5, state = ?6, answer = ?7, changed = ?8
         WHERE message_id = ?1",
    )?
    .execute(params![
        post.message_id,
        post.tries,
        millis(post.next),
        post.handing,
        post.doubts,
        post.state.name(),
        post.answer,
        post.changed,
    ])?;
    for (place, one) in post.addressees.iter().enumerate() {
        step.prepare_cached("INSERT OR REPLACE INTO addressees VALUES (?1, ?2, ?3, ?4, ?5)")?.execute(params![
            post.message_id,
            place as i64,
            one.address,
            one.reached.name(),
            one.answer
        ])?;
    }
    Ok(())
}
