//! One tile of a sweep as it is told: its row, what is with it, and the sentence about it.
//!
//! Takes what the ledger knows, yields lines. Reads no file except to prove that a good copy of a damaged one is good.

use super::report::{Integrity, Line, State, Verdicts};
use crate::disk::{self, spelled};
use crate::finding::{Finding, Verdict};
use crate::ledger::{Ledger, LedgerError, Member, MemberState, News};
use crate::ticket::Ticket;
use crate::tile::Content;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// One tile of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct Tile {
    /// What is known of it now.
    pub member: Member,
    /// What this sweep found out.
    pub state: State,
    /// Whether there is news about it.
    pub told: bool,
    /// Its judgment, where this sweep reached it and the ledger does not keep it: in a dry run.
    pub ticket: Option<Box<Ticket>>,
}

impl Tile {
    /// One about which there was nothing to do.
    #[must_use]
    pub fn still(member: Member) -> Self {
        let state = match member.state {
            MemberState::Present => State::Unchanged,
            MemberState::Damaged { .. } => State::Damaged,
            MemberState::Vanished => State::Vanished,
        };
        Self { member, state, told: false, ticket: None }
    }

    /// Its judgment, from the ledger where that keeps it; `None` before it was judged.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn judgment(&self, ledger: Option<&Ledger>) -> Result<Option<Ticket>, LedgerError> {
        if let Some(ticket) = &self.ticket {
            return Ok(Some((**ticket).clone()));
        }
        match (ledger, self.member.key()) {
            (Some(ledger), Some(key)) => ledger.judgment(&key),
            _ => Ok(None),
        }
    }

    /// Counts it.
    pub fn count(&self, integrity: &mut Integrity, verdicts: &mut Verdicts) {
        if self.state == State::Vanished {
            integrity.vanished += u64::from(self.told);
            return;
        }
        integrity.files += 1;
        integrity.bytes += self.member.size();
        *match self.state {
            State::Unchanged | State::Vanished => &mut integrity.unchanged,
            State::New => &mut integrity.new,
            State::Changed => &mut integrity.changed,
            State::Damaged => &mut integrity.damaged,
            State::Healed | State::Returned => &mut integrity.restored,
            State::Moved { .. } => &mut integrity.moved,
            State::Left => &mut integrity.left,
        } += 1;
        if let Some(judged) = self.member.judged.as_ref().filter(|_| self.state != State::Damaged) {
            verdicts.count(judged.verdict);
        }
    }
}

/// The roots of everything the ledger knows, by the name of the folder there; of an output folder, `outputs/` stands before
/// it. A good copy of a damaged file may lie below any.
pub type Roots = BTreeMap<String, PathBuf>;

/// The line about a file with news; `None` where the news is good and needs no words: a new tile that is sound.
#[must_use]
pub fn line(member: &Member, judgment: Option<&Ticket>, copies: &[PathBuf]) -> Option<Line> {
    let finding = judgment.and_then(|ticket| ticket.findings.iter().find(|finding| !finding.silenced));
    let verdict = member.judged.as_ref().map(|judged| judged.verdict);
    let told =
        |state, says: String, remedy: String| Some(Line { path: member.path.clone(), state, verdict, says, remedy });
    let first = |finding: Option<&Finding>| match (finding, verdict) {
        (Some(finding), _) => (finding.says.clone(), finding.remedy.clone()),
        (None, Some(verdict)) => (verdict.plain().to_string(), String::new()),
        (None, None) => (String::new(), String::new()),
    };
    let of_interest = verdict.is_some_and(|verdict| verdict != Verdict::Sound);
    match &member.news {
        News::None => None,
        News::New => {
            let (says, remedy) = first(finding);
            of_interest.then(|| told(State::New, says, remedy)).flatten()
        }
        // That it is another drawing is a remark of its own.
        News::Reused { .. } => {
            let (says, remedy) = first(finding);
            of_interest.then(|| told(State::Changed, says, remedy)).flatten()
        }
        News::Changed => {
            let (says, remedy) = first(finding.filter(|_| of_interest));
            told(State::Changed, format!("written anew: {says}"), remedy)
        }
        News::Judged => {
            let (says, remedy) = first(finding.filter(|_| of_interest));
            told(State::Unchanged, says, remedy)
        }
        News::Damaged => {
            let remedy = match copies {
                [] => "put it back from a backup, and check the drive it is on".to_string(),
                [copy, ..] => {
                    format!("a good copy lies at {}; put that in its place, and check the drive", spelled(copy))
                }
            };
            let says = "its bytes are no longer those that were recorded, though nothing says that anyone wrote it";
            told(State::Damaged, says.into(), remedy)
        }
        News::Healed => told(State::Healed, "it has its recorded bytes again".into(), String::new()),
        News::Returned => told(State::Returned, "it is there again, as it was".into(), String::new()),
        News::Moved { from } => {
            told(State::Moved { from: from.clone() }, format!("it was {} before", spelled(from)), String::new())
        }
        News::Vanished => {
            told(State::Vanished, "it is no longer there".into(), "put it back, if you did not mean that".into())
        }
    }
}

/// Files that have bytes of this hash: in any archive, watched folder or output folder that the ledger knows. Each was read
/// just now and found to have them.
///
/// # Errors
/// When the ledger cannot be read.
pub fn lying(ledger: &Ledger, content: Content, roots: &Roots) -> Result<Vec<PathBuf>, LedgerError> {
    let mut found = Vec::new();
    for (folder, path) in ledger.places_of(content)? {
        let Some(root) = roots.get(&folder) else { continue };
        let full = root.join(path);
        if disk::open(&full).and_then(|file| disk::hash(&file, &full)).is_ok_and(|found| found == content) {
            found.push(full);
        }
    }
    Ok(found)
}
