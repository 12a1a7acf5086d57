//! What a sweep has to do: every listed file against what is known of it.
//!
//! Takes the ledger's rows, the listing and the time; yields the files that must be read or judged, those about which there
//! is nothing to do, and those that are no longer there. Pure; what remains after an interruption follows from the rows
//! alone.

use super::listing::Listing;
use crate::disk::Stamp;
use crate::ledger::{Member, MemberState};
use crate::tile::Content;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

const DAY: Duration = Duration::from_hours(24);
/// What was read within this time counts for tonight: less than a day, so that a sweep may begin a little earlier than the
/// one before.
const TONIGHT: Duration = Duration::from_hours(20);

/// How files are chosen to be read again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rereading {
    /// Within how long every file is read again; counted in whole days, at least one.
    pub within: Duration,
    /// Whether all are read now.
    pub all: bool,
}

/// One file that must be looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// Relative to the archive's folder.
    pub path: PathBuf,
    /// Its stamp in the listing.
    pub stamp: Stamp,
    /// What is known of it.
    pub known: Option<Member>,
    /// Whether its bytes must be read and compared; otherwise it is only judged anew.
    pub read: bool,
}

/// What a sweep has to do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// What must be looked at: first what is not known or has another stamp, then what must be judged anew, last what is
    /// read again for its own sake, the longest unread first.
    pub tasks: Vec<Task>,
    /// Files about which there is nothing to do.
    pub still: Vec<Member>,
    /// Files that were there before and are not any more, by path.
    pub missing: Vec<Member>,
    /// Known files under whose path nothing lies, by content: a new file with the same bytes was moved from there.
    pub homeless: Homeless,
}

/// Known files without a place, by content.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Homeless(BTreeMap<Content, Vec<Member>>);

impl Homeless {
    /// Finds a home for one of this content; of several, the one with the same name, else the first path.
    pub fn take(&mut self, content: Content, new: &Path) -> Option<Member> {
        let all = self.0.get_mut(&content)?;
        let same_name = all.iter().position(|member| member.path.file_name() == new.file_name());
        let at = same_name.or_else(|| (!all.is_empty()).then_some(0))?;
        Some(all.remove(at))
    }

    fn add(&mut self, member: Member) {
        self.0.entry(member.content).or_default().push(member);
    }

    /// Whether this path still has no other home.
    #[must_use]
    pub fn holds(&self, member: &Member) -> bool {
        self.0.get(&member.content).is_some_and(|all| all.iter().any(|one| one.path == member.path))
    }
}

/// Compares the listing with what is known. `is_current` says whether the judgment of a file is today's.
#[must_use]
pub fn plan(
    known: Vec<Member>,
    listing: &Listing,
    now: SystemTime,
    rereading: Rereading,
    is_current: impl Fn(&Member) -> bool,
) -> Plan {
    let mut known: BTreeMap<PathBuf, Member> = known.into_iter().map(|member| (member.path.clone(), member)).collect();
    let (mut news, mut judged, mut calm) = (Vec::new(), Vec::new(), Vec::new());
    for (path, stamp) in &listing.tiles {
        let task = |known, read| Task { path: path.clone(), stamp: *stamp, known, read };
        match known.remove(path) {
            Some(member) if member.stamp != *stamp || member.state == MemberState::Vanished => {
                news.push(task(Some(member), true));
            }
            Some(member) if member.state == MemberState::Present && !is_current(&member) => {
                judged.push(task(Some(member), false));
            }
            Some(member) => calm.push(member),
            None => news.push(task(None, true)),
        }
    }
    let all = judged.iter().filter_map(|task| task.known.as_ref()).chain(&calm);
    let mut budget = Budget::new(all, now, rereading);
    for task in &mut judged {
        task.read = rereading.all;
    }
    calm.sort_by(|one, other| (one.verified, &one.path).cmp(&(other.verified, &other.path)));
    let mut plan = Plan { tasks: news, ..Plan::default() };
    plan.tasks.append(&mut judged);
    for member in calm {
        if budget.takes(&member) {
            let (path, stamp) = (member.path.clone(), member.stamp);
            plan.tasks.push(Task { path, stamp, known: Some(member), read: true });
        } else {
            plan.still.push(member);
        }
    }
    for member in known.into_values().filter(|member| !listing.is_unsure(&member.path)) {
        if member.state != MemberState::Vanished {
            plan.missing.push(member.clone());
        }
        plan.homeless.add(member);
    }
    plan
}

/// How much is read again tonight.
struct Budget {
    now: SystemTime,
    rereading: Rereading,
    /// Bytes of tonight's share that are not read yet.
    open: u64,
}

impl Budget {
    fn new<'a>(all: impl Iterator<Item = &'a Member>, now: SystemTime, rereading: Rereading) -> Self {
        let nights = (rereading.within.as_secs() / DAY.as_secs()).max(1);
        let (mut total, mut recent) = (0_u64, 0_u64);
        for member in all {
            // An empty file is read too.
            let weight = member.size().max(1);
            total += weight;
            if age(member, now) < TONIGHT {
                recent += weight;
            }
        }
        Self { now, rereading, open: total.div_ceil(nights).saturating_sub(recent) }
    }

    fn takes(&mut self, member: &Member) -> bool {
        // Half a day before it is due, since the next night would be too late.
        let late = age(member, self.now) + DAY / 2 >= self.rereading.within;
        let takes = self.rereading.all || self.open > 0 || late;
        if takes {
            self.open = self.open.saturating_sub(member.size().max(1));
        }
        takes
    }
}

/// How long ago a file was read in full. One read in the future, by a clock that was wrong, counts as long ago.
fn age(member: &Member, now: SystemTime) -> Duration {
    now.duration_since(member.verified).unwrap_or(Duration::MAX / 2)
}
