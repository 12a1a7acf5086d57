//! What one reading of a file says: as recorded, written anew, or damaged.
//!
//! Takes what is known, what was read, and known files without a place; yields the file's new row, and whether that is
//! worth telling. Pure.

use super::plan::{Homeless, Task};
use super::report::State;
use crate::disk::Stamp;
use crate::ledger::{Member, MemberState, News, Verdicted};
use crate::tile::Content;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// What was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The file's stamp, the same before and after.
    pub stamp: Stamp,
    /// The hash of its bytes.
    pub content: Content,
    /// When.
    pub at: SystemTime,
    /// Whether the bytes were read; otherwise the hash is the recorded one and the file was only judged.
    pub read: bool,
}

/// What came of one file.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// What is with it.
    pub state: State,
    /// Its new row, with the verdict it had under the same bytes.
    pub member: Member,
    /// Whether that is worth telling.
    pub told: bool,
    /// The path under which it was known before, which is to be forgotten.
    pub strike: Option<PathBuf>,
}

/// Whether bytes other than the recorded ones are damage: nothing says that anyone wrote the file, its size and time of
/// writing being as recorded. Such a file replaces nothing that is known.
///
/// The time of the last change of its entry is no proof of writing: renaming, copying a whole disk and setting rights change
/// it too.
#[must_use]
pub fn is_damage(known: &Member, reading: &Reading) -> bool {
    known.content != reading.content
        && known.stamp.size == reading.stamp.size
        && known.stamp.mtime_ns == reading.stamp.mtime_ns
}

/// Compares a reading with what is known.
#[must_use]
pub fn compare(archive: &str, task: &Task, reading: &Reading, homeless: &mut Homeless) -> Compared {
    let Reading { stamp, content, at, read } = reading.clone();
    let Some(known) = &task.known else {
        return arrived(archive, &task.path, reading, homeless);
    };
    let told =
        |state, news, member: Member| Compared { state, member: Member { news, ..member }, told: true, strike: None };
    let verified = if read { at } else { known.verified };
    let there = Member { stamp, state: MemberState::Present, verified, ..known.clone() };
    if known.content == content {
        return match known.state {
            MemberState::Present => Compared { state: State::Unchanged, member: there, told: false, strike: None },
            MemberState::Damaged { .. } => told(State::Healed, News::Healed, there),
            MemberState::Vanished => told(State::Returned, News::Returned, there),
        };
    }
    if is_damage(known, reading) {
        let member = Member { state: MemberState::Damaged { found: content }, verified, ..known.clone() };
        return match known.state {
            MemberState::Damaged { .. } => Compared { state: State::Damaged, member, told: false, strike: None },
            MemberState::Present | MemberState::Vanished => told(State::Damaged, News::Damaged, member),
        };
    }
    told(State::Changed, News::Changed, Member { content, found: at, judged: None, ..there })
}

/// A file that was not known under its path.
fn arrived(archive: &str, path: &Path, reading: &Reading, homeless: &mut Homeless) -> Compared {
    let Reading { stamp, content, at, .. } = reading.clone();
    let new = |found, judged, news| Member {
        archive: archive.into(),
        path: path.into(),
        stamp,
        content,
        state: MemberState::Present,
        verified: at,
        found,
        judged,
        news,
        changed: 0,
    };
    match homeless.take(content, path) {
        Some(old) => Compared {
            state: State::Moved { from: old.path.clone() },
            member: new(old.found, old.judged, News::Moved { from: old.path.clone() }),
            told: true,
            strike: Some(old.path),
        },
        None => Compared { state: State::New, member: new(at, None, News::New), told: true, strike: None },
    }
}

impl Compared {
    /// Gives the file today's verdict; `differs` says whether verdict or findings are others than those of the verdict it had.
    pub fn judge(&mut self, today: Verdicted, differs: bool) {
        if self.member.judged.is_some() && differs && self.state == State::Unchanged {
            self.member.news = News::Judged;
            self.told = true;
        }
        self.member.judged = Some(today);
    }
}
