//! Stored shapes: how each value of the ledger is spelled in a row, and read back.
//!
//! Takes and yields one value at a time. An unknown spelling is an error, never a guess.

use super::entry::{Key, LetPass, Letter, Output, OutputState, Role, Standing, StandingState};
use super::fold::path;
use crate::disk::Stamp;
use crate::finding::Verdict;
use crate::ticket::word::{self, Mark, Word};
use crate::tile::Content;
use rusqlite::Row;
use rusqlite::types::{Type, ValueRef};
use std::collections::BTreeSet;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

type Read<T> = rusqlite::Result<T>;

/// The columns that [`standing`] reads, in order.
pub(super) const STANDING: &str =
    "folder, path, stamp, content, spec_digest, rules, spec, verdict, pictures, name, state, changed, at_ms, let_pass";

/// The columns that [`output`] reads, in order.
pub(super) const OUTPUT: &str = "id, path, file, role, content, origin, stamp, state, goal, withdrawn_ms, found";

/// The columns that [`word`] reads, in order.
pub(super) const WORD: &str = "path, stamp, file, content, marks, changed";

/// A standing from its row.
pub(super) fn standing(row: &Row<'_>) -> Read<Standing> {
    let state: String = row.get(10)?;
    let verdict: String = row.get(7)?;
    Ok(Standing {
        folder: row.get(0)?,
        path: path(row.get_ref(1)?.as_blob()?).into(),
        stamp: stamp(row, 2)?,
        key: Key { content: content(row, 3)?, spec_digest: row.get(4)?, rules: row.get(5)? },
        spec: row.get(6)?,
        verdict: verdict_of(&verdict).ok_or_else(|| odd(7, &verdict))?,
        pictures: row.get(8)?,
        name: path(row.get_ref(9)?.as_blob()?).into(),
        state: state_of(&state).ok_or_else(|| odd(10, &state))?,
        changed: row.get(11)?,
        at: time(row.get(12)?),
        let_pass: marks(row, 13)?,
    })
}

/// A picture in let-pass from its row.
pub(super) fn word(row: &Row<'_>) -> Read<LetPass> {
    let word = match row.get_ref(3)? {
        ValueRef::Null => None,
        _ => Some(Word { content: content(row, 3)?, marks: marks(row, 4)? }),
    };
    Ok(LetPass {
        path: path(row.get_ref(0)?.as_blob()?).into(),
        stamp: stamp(row, 1)?,
        file: row.get::<_, Option<[u8; 32]>>(2)?.map(Content),
        word,
        changed: row.get(5)?,
    })
}

fn marks(row: &Row<'_>, column: usize) -> Read<BTreeSet<Mark>> {
    let line: String = row.get(column)?;
    word::marks(&line).ok_or_else(|| odd(column, &line))
}

/// An output from its row.
pub(super) fn output(row: &Row<'_>) -> Read<Output> {
    let role: String = row.get(3)?;
    let state: String = row.get(7)?;
    let goal: Option<Vec<u8>> = row.get(8)?;
    let withdrawn: Option<i64> = row.get(9)?;
    let stored = match (state.as_str(), goal, withdrawn) {
        ("publishing", None, None) => OutputState::Publishing,
        ("published", None, None) => OutputState::Published,
        ("moving", Some(to), None) => OutputState::Moving { to: path(&to).into(), withdrawn: false },
        ("withdrawing", Some(to), None) => OutputState::Moving { to: path(&to).into(), withdrawn: true },
        ("withdrawn", None, Some(ms)) => OutputState::Withdrawn(time(ms)),
        ("removed", None, None) => OutputState::Removed,
        ("edited", None, None) => OutputState::Edited,
        _ => return Err(odd(7, &state)),
    };
    Ok(Output {
        id: row.get(0)?,
        path: path(row.get_ref(1)?.as_blob()?).into(),
        file: path(row.get_ref(2)?.as_blob()?).into(),
        role: Role::from_name(&role).ok_or_else(|| odd(3, &role))?,
        content: content(row, 4)?,
        origin: content(row, 5)?,
        stamp: row.get::<_, Option<String>>(6)?.map(|_| stamp(row, 6)).transpose()?,
        state: stored,
        found: row.get(10)?,
    })
}

/// A letter from (upto, window_end_ms, message_id, file).
pub(super) fn letter(row: &Row<'_>) -> Read<Letter> {
    Ok(Letter {
        upto: row.get(0)?,
        window_end: time(row.get(1)?),
        message_id: row.get(2)?,
        file: path(row.get_ref(3)?.as_blob()?).into(),
    })
}

/// The spelling, goal and time of an output's state.
pub(super) fn state_columns(state: &OutputState) -> (&'static str, Option<&[u8]>, Option<i64>) {
    match state {
        OutputState::Publishing => ("publishing", None, None),
        OutputState::Published => ("published", None, None),
        OutputState::Moving { to, withdrawn } => {
            (if *withdrawn { "withdrawing" } else { "moving" }, Some(super::fold::bytes(to)), None)
        }
        OutputState::Withdrawn(at) => ("withdrawn", None, Some(millis(*at))),
        OutputState::Removed => ("removed", None, None),
        OutputState::Edited => ("edited", None, None),
    }
}

/// The spelling of a standing's state.
pub(super) fn state_name(state: StandingState) -> &'static str {
    match state {
        StandingState::Present => "present",
        StandingState::Gone => "gone",
        StandingState::Kept => "kept",
        StandingState::Unfinished => "unfinished",
    }
}

fn state_of(name: &str) -> Option<StandingState> {
    [StandingState::Present, StandingState::Gone, StandingState::Kept, StandingState::Unfinished]
        .into_iter()
        .find(|state| state_name(*state) == name)
}

/// The verdict of a stored name.
pub(super) fn verdict_of(name: &str) -> Option<Verdict> {
    [Verdict::Sound, Verdict::Mendable, Verdict::Mended, Verdict::Held, Verdict::Unreadable]
        .into_iter()
        .find(|verdict| verdict.name() == name)
}

/// A stamp as text: the numbers in the order of its fields. Text holds every value exactly, which a database's integer
/// does not.
pub(super) fn stamp_text(stamp: &Stamp) -> String {
    format!("{} {} {} {}", stamp.size, stamp.mtime_ns, stamp.ctime_ns, stamp.inode)
}

/// A stamp from its text.
pub(super) fn stamp(row: &Row<'_>, column: usize) -> Read<Stamp> {
    let text: String = row.get(column)?;
    stamp_of(&text).ok_or_else(|| odd(column, &text))
}

fn stamp_of(text: &str) -> Option<Stamp> {
    let mut parts = text.split(' ');
    let stamp = Stamp {
        size: parts.next()?.parse().ok()?,
        mtime_ns: parts.next()?.parse().ok()?,
        ctime_ns: parts.next()?.parse().ok()?,
        inode: parts.next()?.parse().ok()?,
    };
    parts.next().is_none().then_some(stamp)
}

pub(super) fn content(row: &Row<'_>, column: usize) -> Read<Content> {
    row.get(column).map(Content)
}

/// Milliseconds since 1970, negative before.
pub(super) fn millis(time: SystemTime) -> i64 {
    let of = |span: Duration| i64::try_from(span.as_millis()).unwrap_or(i64::MAX);
    match time.duration_since(UNIX_EPOCH) {
        Ok(after) => of(after),
        Err(before) => -of(before.duration()),
    }
}

/// The time of milliseconds since 1970.
pub(super) fn time(millis: i64) -> SystemTime {
    let span = Duration::from_millis(millis.unsigned_abs());
    let time = if millis < 0 { UNIX_EPOCH.checked_sub(span) } else { UNIX_EPOCH.checked_add(span) };
    time.unwrap_or(UNIX_EPOCH)
}

/// The error for a value that no Burler writes.
pub(super) fn odd(column: usize, what: &str) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, format!("\"{what}\"").into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_and_times_come_back_exactly() {
        let stamp = Stamp { size: u64::MAX, mtime_ns: -5, ctime_ns: i128::from(u64::MAX) * 7, inode: u64::MAX };
        assert_eq!(stamp_of(&stamp_text(&stamp)), Some(stamp));
        assert_eq!(stamp_of("1 2 3"), None);
        assert_eq!(stamp_of("1 2 3 4 5"), None);
        for ms in [0, -1, 1_780_000_000_123, -62_135_596_800_000] {
            assert_eq!(millis(time(ms)), ms);
        }
    }
}
