//! What there is to tell of archives since a change: the section of a letter, as plain data.
//!
//! Takes the ledger; yields for each archive with news how it stands and the lines about single files. Reads no file except
//! to prove that a good copy of a damaged one is good.

use super::names::reused;
use super::report::{Integrity, Line, Remark, State, Verdicts};
use super::tile::{Roots, Tile, line, lying};
use crate::ledger::{LastSweep, Ledger, LedgerError, Member, News};
use std::collections::BTreeMap;

/// What there is to tell of one archive.
#[derive(Clone, Debug, PartialEq)]
pub struct Since {
    /// Its name.
    pub archive: String,
    /// When it was swept last.
    pub last: Option<LastSweep>,
    /// Tiles that were not known before, sound ones too.
    pub new: u64,
    /// How all its files stand now.
    pub integrity: Integrity,
    /// How all its tiles stand now.
    pub verdicts: Verdicts,
    /// What there is to tell of single files, by path: everything but new tiles that are sound.
    pub lines: Vec<Line>,
    /// Names under which another drawing lies now.
    pub reused: Vec<Remark>,
    /// What is new of twins, names and strays.
    pub remarks: Vec<Remark>,
}

/// What there is to tell after change number `after`, by archive; archives without news are left out.
///
/// # Errors
/// When the ledger cannot be read.
pub fn since(ledger: &Ledger, after: i64, roots: &Roots) -> Result<Vec<Since>, LedgerError> {
    let mut news: BTreeMap<String, Vec<Member>> = BTreeMap::new();
    for member in ledger.members_since(after)? {
        news.entry(member.archive.clone()).or_default().push(member);
    }
    for archive in ledger.remarked_since(after)? {
        news.entry(archive).or_default();
    }
    news.into_iter().map(|(archive, members)| of_one(ledger, archive, &members, after, roots)).collect()
}

fn of_one(ledger: &Ledger, archive: String, news: &[Member], after: i64, roots: &Roots) -> Result<Since, LedgerError> {
    let (mut integrity, mut verdicts) = (Integrity::default(), Verdicts::default());
    for member in ledger.members(&archive)? {
        Tile::still(member).count(&mut integrity, &mut verdicts);
    }
    let (mut lines, mut reused_names) = (Vec::new(), Vec::new());
    for member in news {
        let judgment = member.key().map(|key| ledger.judgment(&key)).transpose()?.flatten();
        let copies = if member.news == News::Damaged { lying(ledger, member.content, roots)? } else { Vec::new() };
        if let News::Reused { before } = member.news {
            reused_names.push(reused(&member.path, &lying(ledger, before, roots)?));
        }
        lines.extend(line(member, judgment.as_ref(), &copies));
    }
    lines.sort_by(|one: &Line, other: &Line| one.path.cmp(&other.path));
    integrity.vanished = lines.iter().filter(|line| line.state == State::Vanished).count() as u64;
    let new = news.iter().filter(|member| member.news == News::New).count() as u64;
    let last = ledger.last_sweep(&archive)?;
    let remarks = ledger.remarks_since(&archive, after)?.into_iter().map(Remark::from).collect();
    Ok(Since { archive, last, new, integrity, verdicts, lines, reused: reused_names, remarks })
}
