//! Marks waiting to be looked at: bounded, merged, and paced. Pure.
//!
//! A full store becomes one mark for everything, so no event is ever dropped; and a folder that was just looked at rests
//! for a moment, so that a busy writer does not keep a core busy.

use super::look::LookAt;
use crate::clock::Tick;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Marks for one root.
#[derive(Debug)]
pub struct Marks {
    pace: Duration,
    most: usize,
    waiting: BTreeMap<PathBuf, Waiting>,
    resting: BTreeMap<PathBuf, Tick>,
}

#[derive(Clone, Copy, Debug)]
struct Waiting {
    deep: bool,
    due: Tick,
}

impl Marks {
    /// No marks. `pace` is the least time between two looks at one folder; `most` how many folders are told apart.
    #[must_use]
    pub fn new(pace: Duration, most: usize) -> Self {
        Self { pace, most: most.max(1), waiting: BTreeMap::new(), resting: BTreeMap::new() }
    }

    /// Adds a mark.
    pub fn add(&mut self, mark: LookAt, now: Tick) {
        let covered = mark.folder.ancestors().any(|above| self.waiting.get(above).is_some_and(|waiting| waiting.deep));
        if covered {
            return;
        }
        if mark.deep {
            self.waiting.retain(|folder, _| !folder.starts_with(&mark.folder));
        } else if self.waiting.contains_key(&mark.folder) {
            return;
        }
        let mark = if self.waiting.len() < self.most { mark } else { LookAt::everything() };
        if mark.folder.as_os_str().is_empty() && mark.deep {
            self.waiting.clear();
        }
        let due = self.resting.get(&mark.folder).map_or(now, |until| now.max(*until));
        self.waiting.insert(mark.folder, Waiting { deep: mark.deep, due });
    }

    /// The mark that has been due longest, if one is due. Its folder then rests.
    pub fn take(&mut self, now: Tick) -> Option<LookAt> {
        let (folder, waiting) = self.waiting.iter().min_by_key(|(_, waiting)| waiting.due)?;
        if waiting.due > now {
            return None;
        }
        let mark = LookAt { folder: folder.clone(), deep: waiting.deep };
        self.waiting.remove(&mark.folder);
        self.resting.retain(|_, until| *until > now);
        self.rest(&mark.folder, now.after(self.pace));
        Some(mark)
    }

    /// Notes that looking at a folder took `cost` until `now`: it rests nine times as long, so that looking never takes
    /// more than a tenth of the time.
    pub fn looked(&mut self, folder: &Path, cost: Duration, now: Tick) {
        self.rest(folder, now.after(cost.saturating_mul(9).max(self.pace)));
    }

    /// When the next mark is due.
    #[must_use]
    pub fn next_due(&self) -> Option<Tick> {
        self.waiting.values().map(|waiting| waiting.due).min()
    }

    fn rest(&mut self, folder: &Path, until: Tick) {
        if let Some(waiting) = self.waiting.get_mut(folder) {
            waiting.due = waiting.due.max(until);
        }
        let resting = self.resting.entry(folder.to_owned()).or_default();
        *resting = until.max(*resting);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const PACE: Duration = Duration::from_millis(200);

    fn at(folder: &str, deep: bool) -> LookAt {
        LookAt { folder: folder.into(), deep }
    }

    fn ms(ms: u64) -> Tick {
        Tick(Duration::from_millis(ms))
    }

    #[test]
    fn the_first_mark_goes_at_once_and_the_next_waits() {
        let mut marks = Marks::new(PACE, 8);
        marks.add(at("net", false), ms(0));
        assert_eq!(marks.take(ms(0)), Some(at("net", false)));
        for time in 1..50 {
            marks.add(at("net", false), ms(time));
        }
        marks.add(at("kelp", false), ms(60));
        assert_eq!(marks.take(ms(60)), Some(at("kelp", false)));
        assert_eq!((marks.take(ms(199)), marks.next_due()), (None, Some(ms(200))));
        assert_eq!(marks.take(ms(200)), Some(at("net", false)));
        assert_eq!(marks.next_due(), None);
    }

    #[test]
    fn a_deep_mark_takes_in_what_lies_below() {
        let mut marks = Marks::new(PACE, 8);
        for folder in ["a", "a/b", "ab", "c"] {
            marks.add(at(folder, false), ms(0));
        }
        marks.add(at("a", true), ms(1));
        marks.add(at("a/b/c", true), ms(1));
        let taken: Vec<_> = std::iter::from_fn(|| marks.take(ms(5))).collect();
        assert_eq!(taken, [at("ab", false), at("c", false), at("a", true)]);
    }

    #[test]
    fn a_full_store_becomes_one_mark_for_everything() {
        let mut marks = Marks::new(PACE, 3);
        for folder in ["a", "b", "c", "d", "e"] {
            marks.add(at(folder, false), ms(0));
        }
        assert_eq!(marks.take(ms(0)), Some(LookAt::everything()));
        assert_eq!(marks.take(ms(0)), None);
    }

    #[test]
    fn a_costly_folder_rests_longer() {
        let mut marks = Marks::new(PACE, 3);
        marks.add(at("", true), ms(0));
        marks.take(ms(0));
        marks.add(at("", true), ms(10));
        marks.looked(Path::new(""), Duration::from_millis(100), ms(100));
        assert_eq!(marks.next_due(), Some(ms(1000)));
    }

    fn covers(look: &LookAt, mark: &LookAt) -> bool {
        (look.deep && mark.folder.starts_with(&look.folder)) || (!mark.deep && look.folder == mark.folder)
    }

    proptest! {
        /// Whatever is marked is looked at afterwards, and never more folders wait than allowed.
        #[test]
        fn no_mark_is_lost(
            steps in prop::collection::vec((0usize..7, any::<bool>(), 0u64..300, any::<bool>()), 1..60),
            most in 1usize..5,
        ) {
            const FOLDERS: [&str; 7] = ["", "a", "a/b", "a/b/c", "a/d", "e", "ab"];
            let mut marks = Marks::new(PACE, most);
            let mut open: Vec<LookAt> = Vec::new();
            let mut now = Tick::default();
            for (folder, deep, wait, take) in steps {
                now = now.after(Duration::from_millis(wait));
                marks.add(at(FOLDERS[folder], deep), now);
                open.push(at(FOLDERS[folder], deep));
                prop_assert!(marks.waiting.len() <= most);
                if take && let Some(look) = marks.take(now) {
                    open.retain(|mark| !covers(&look, mark));
                }
            }
            while let Some(due) = marks.next_due() {
                let look = marks.take(due).expect("it is due");
                open.retain(|mark| !covers(&look, mark));
            }
            prop_assert!(open.is_empty(), "never looked at: {open:?}");
        }
    }
}
