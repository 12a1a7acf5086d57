//! Stored shapes of an archive's files: how one is spelled in a row, and read back. An unknown spelling is an error.

use super::fold::{bytes, path};
use super::member::{Member, MemberState, News, Verdicted, archive_of};
use super::rows::{millis, odd, stamp, stamp_text, time, verdict_of};
use crate::tile::Content;
use rusqlite::{Row, Transaction, params};
use std::path::Path;

/// The columns that [`member`] reads, in order.
pub(super) const MEMBER: &str = "folder, path, stamp, content, state, other, verified_ms, found_ms, spec_digest, rules, spec, \
                                 verdict, news, came_from, changed";

/// Stores a file of an archive, in place of what was known under its path, with the number of its last change.
pub(super) fn enroll(step: &Transaction<'_>, folder: &str, member: &Member, changed: i64) -> rusqlite::Result<()> {
    let (state, other) = match member.state {
        MemberState::Present => ("present", None),
        MemberState::Damaged { found } => ("damaged", Some(found.0)),
        MemberState::Vanished => ("vanished", None),
    };
    let (news, from) = spelled(&member.news);
    let judged = member.judged.as_ref();
    step.prepare_cached(
        "INSERT OR REPLACE INTO members (folder, path, stamp, content, state, other, verified_ms, found_ms, spec_digest,
         rules, spec, verdict, news, came_from, changed)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
    )?
    .execute(params![
        folder,
        bytes(&member.path),
        stamp_text(&member.stamp),
        member.content.0,
        state,
        other,
        millis(member.verified),
        millis(member.found),
        judged.map_or("", |judged| &judged.spec_digest),
        judged.map_or(0, |judged| judged.rules),
        judged.map_or("", |judged| &judged.spec),
        judged.map(|judged| judged.verdict.name()),
        news,
        from,
        changed,
    ])
    .map(drop)
}

/// Forgets what was known under a path.
pub(super) fn strike(step: &Transaction<'_>, folder: &str, path: &Path) -> rusqlite::Result<()> {
    step.prepare_cached("DELETE FROM members WHERE folder = ?1 AND path = ?2")?
        .execute(params![folder, bytes(path)])
        .map(drop)
}

fn spelled(news: &News) -> (&'static str, Option<&[u8]>) {
    match news {
        News::None => ("", None),
        News::New => ("new", None),
        News::Changed => ("changed", None),
        News::Reused { before } => ("reused", Some(&before.0)),
        News::Damaged => ("damaged", None),
        News::Healed => ("healed", None),
        News::Vanished => ("vanished", None),
        News::Returned => ("returned", None),
        News::Moved { from } => ("moved", Some(bytes(from))),
        News::Judged => ("judged", None),
    }
}

/// A file of an archive from its row.
pub(super) fn member(row: &Row<'_>) -> rusqlite::Result<Member> {
    let folder: String = row.get(0)?;
    let state: String = row.get(4)?;
    let state = match (state.as_str(), row.get::<_, Option<[u8; 32]>>(5)?) {
        ("present", None) => MemberState::Present,
        ("damaged", Some(found)) => MemberState::Damaged { found: Content(found) },
        ("vanished", None) => MemberState::Vanished,
        _ => return Err(odd(4, &state)),
    };
    let news: String = row.get(12)?;
    let news = match (news.as_str(), row.get::<_, Option<Vec<u8>>>(13)?) {
        ("", None) => News::None,
        ("new", None) => News::New,
        ("changed", None) => News::Changed,
        ("reused", Some(before)) => News::Reused { before: Content(before.try_into().map_err(|_| odd(13, "reused"))?) },
        ("damaged", None) => News::Damaged,
        ("healed", None) => News::Healed,
        ("vanished", None) => News::Vanished,
        ("returned", None) => News::Returned,
        ("moved", Some(from)) => News::Moved { from: path(&from).into() },
        ("judged", None) => News::Judged,
        _ => return Err(odd(12, &news)),
    };
    let judged = match row.get::<_, Option<String>>(11)? {
        None => None,
        Some(verdict) => Some(Verdicted {
            spec_digest: row.get(8)?,
            rules: row.get(9)?,
            spec: row.get(10)?,
            verdict: verdict_of(&verdict).ok_or_else(|| odd(11, &verdict))?,
        }),
    };
    Ok(Member {
        archive: archive_of(&folder).ok_or_else(|| odd(0, &folder))?.into(),
        path: path(row.get_ref(1)?.as_blob()?).into(),
        stamp: stamp(row, 2)?,
        content: row.get(3).map(Content)?,
        state,
        verified: time(row.get(6)?),
        found: time(row.get(7)?),
        judged,
        news,
        changed: row.get(14)?,
    })
}
