//! When to look a folder's let-pass over: what has come to rest in it, what has gone, what failed. Pure.
//!
//! Takes looks, answers and ends with the tick they came at; yields the questions to ask and the whole list of what lies
//! there once there is a reason to go through it. Knows no picture and no ledger.

use crate::arrival::Look;
use crate::clock::Tick;
use crate::deliver::Lying;
use crate::disk::Stamp;
use crate::settle::{Ask, Settings, Structure, Table};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The wait before the second try; it doubles from there.
const FIRST_WAIT: Duration = Duration::from_secs(5);
/// The longest wait between two tries.
const LONGEST_WAIT: Duration = Duration::from_secs(300);

/// What lies in one folder's let-pass.
#[derive(Debug)]
pub struct LetPass {
    table: Table,
    quiet: Duration,
    /// Whether something came to rest, or nothing is known yet, since the last review.
    news: bool,
    /// Whether any look was taken: before that nothing can be concluded.
    looked: bool,
    /// What is not seen any more, and since when.
    gone: BTreeMap<PathBuf, Tick>,
    reviewing: bool,
    /// After a review that failed: not before then, and how long was waited for it.
    retry: Option<(Tick, Duration)>,
}

impl LetPass {
    /// Nothing seen yet.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            table: Table::new(settings),
            quiet: settings.quiet,
            news: true,
            looked: false,
            gone: BTreeMap::new(),
            reviewing: false,
            retry: None,
        }
    }

    /// A picture the ledger knows: only another stamp of it is news, and so is its absence.
    pub fn remember(&mut self, path: &Path, stamp: Stamp) {
        self.table.remember(path, stamp);
    }

    /// Takes in a look.
    pub fn looked(&mut self, look: &Look, now: Tick) {
        self.looked = true;
        for path in self.table.note(look, now) {
            self.gone.insert(path, now);
        }
        for (path, _) in &look.files {
            self.gone.remove(path);
        }
    }

    /// Takes in an answer about a file's structure.
    pub fn answered(&mut self, ask: &Ask, seen: Option<Stamp>, structure: Structure, now: Tick) {
        self.table.answer(ask, seen, structure, now);
    }

    /// Questions that have come due.
    pub fn asks(&mut self, now: Tick) -> Vec<Ask> {
        self.table.poll(now)
    }

    /// Everything that lies there, when there is a reason to go through it now.
    ///
    /// A renamed picture is at first only gone, a new one still settling: so what has gone counts as being there until twice
    /// the quiet time has passed, and longer while others settle.
    pub fn review(&mut self, now: Tick) -> Option<Vec<Lying>> {
        while self.table.take().is_some() {
            self.news = true;
        }
        let gone = self.gone.values().any(|since| now >= self.ripe(*since));
        let waits = self.reviewing || self.retry.is_some_and(|(due, _)| now < due);
        if waits || !self.looked || !(self.news || gone) {
            return None;
        }
        let ripe: Vec<PathBuf> =
            self.gone.iter().filter(|(_, since)| now >= self.ripe(**since)).map(|(path, _)| path.clone()).collect();
        self.gone.retain(|path, _| !ripe.contains(path));
        self.news = false;
        self.reviewing = true;
        let here = self.table.at_rest().map(|(path, stamp)| (path.to_path_buf(), stamp));
        Some(here.chain(self.gone.keys().map(|path| (path.clone(), None))).collect())
    }

    /// Takes in the end of a review. One that failed is tried again, ever later. Yields whether it is the first to fail.
    pub fn reviewed(&mut self, succeeded: bool, now: Tick) -> bool {
        self.reviewing = false;
        if succeeded {
            self.retry = None;
            return false;
        }
        let before = self.retry.map(|(_, wait)| wait);
        let wait = before.map_or(FIRST_WAIT, |wait| (wait * 2).min(LONGEST_WAIT));
        self.retry = Some((now.after(wait), wait));
        self.news = true;
        before.is_none()
    }

    /// When there may be something due without anything happening.
    #[must_use]
    pub fn next_wake(&self) -> Option<Tick> {
        let own = match self.retry {
            // While a review is out, its end is what is waited for.
            _ if self.reviewing => None,
            Some((due, _)) => Some(due),
            None => self.gone.values().map(|since| self.ripe(*since)).min(),
        };
        self.table.next_wake().into_iter().chain(own).min()
    }

    /// When a picture that is gone counts as taken out.
    fn ripe(&self, since: Tick) -> Tick {
        let settling = self.table.at_rest().any(|(_, stamp)| stamp.is_none());
        since.after(self.quiet * if settling { 5 } else { 2 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const QUIET: Duration = Duration::from_secs(2);

    fn at(ms: u64) -> Tick {
        Tick(Duration::from_millis(ms))
    }

    fn stamp(mtime_ns: i128) -> Stamp {
        Stamp { size: 9, mtime_ns, ctime_ns: mtime_ns, inode: 1 }
    }

    fn look(files: &[(&str, i128)]) -> Look {
        let files = files.iter().map(|(name, mtime)| (PathBuf::from(name), stamp(*mtime))).collect();
        Look { folder: PathBuf::new(), files, kept: Vec::new() }
    }

    fn settled(words: &mut LetPass, now: Tick) -> Option<Vec<Lying>> {
        for ask in words.asks(now) {
            words.answered(&ask, Some(ask.stamp), Structure::Complete, now);
        }
        words.review(now)
    }

    fn words() -> LetPass {
        let mut words = LetPass::new(Settings { quiet: QUIET, ..Settings::default() });
        words.remember(Path::new("a.png"), stamp(1));
        words
    }

    fn begun() -> LetPass {
        let mut words = words();
        words.looked(&look(&[("a.png", 1)]), at(0));
        assert_eq!(words.review(at(0)), Some(vec![("a.png".into(), Some(stamp(1)))]));
        words.reviewed(true, at(0));
        words
    }

    #[test]
    fn nothing_is_concluded_before_the_first_look_and_everything_is_gone_through_after_it() {
        let mut words = words();
        assert_eq!(words.review(at(9000)), None);
        words.looked(&look(&[("a.png", 1), ("b.png", 1)]), at(9000));
        let first = words.review(at(9000)).unwrap();
        assert_eq!(first, [("a.png".into(), Some(stamp(1))), ("b.png".into(), None)], "one is still settling");
        assert_eq!(settled(&mut words, at(11_000)), None, "a review is out");
        words.reviewed(true, at(11_100));
        let second = words.review(at(11_100)).unwrap();
        assert_eq!(second, [("a.png".into(), Some(stamp(1))), ("b.png".into(), Some(stamp(1)))]);
        words.reviewed(true, at(11_200));
        assert_eq!((words.review(at(99_000)), words.next_wake()), (None, None));
    }

    #[test]
    fn what_is_taken_out_counts_a_little_later() {
        let mut words = begun();
        words.looked(&look(&[]), at(1000));
        assert_eq!((words.review(at(4999)), words.next_wake()), (None, Some(at(5000))));
        assert_eq!(words.review(at(5000)), Some(vec![]));
    }

    #[test]
    fn what_came_back_in_time_was_never_gone() {
        let mut words = begun();
        words.looked(&look(&[]), at(1000));
        words.looked(&look(&[("a.png", 1)]), at(1500));
        assert_eq!(settled(&mut words, at(3500)), Some(vec![("a.png".into(), Some(stamp(1)))]));
        words.reviewed(true, at(3500));
        assert_eq!(words.review(at(60_000)), None);
    }

    #[test]
    fn a_renamed_picture_is_heard_under_its_new_name_before_the_old_one_counts_as_gone() {
        for apart in [0, 1500, 3900] {
            let mut words = begun();
            words.looked(&look(&[]), at(1000));
            words.looked(&look(&[("z.png", 1)]), at(1000 + apart));
            assert_eq!(settled(&mut words, at(1000 + apart + 1999)), None, "{apart}");
            let review = settled(&mut words, at(1000 + apart + 2000)).unwrap();
            assert!(review.contains(&("z.png".into(), Some(stamp(1)))), "{apart}: {review:?}");
        }
        // One that never comes to rest does not hold the others up for long.
        let mut words = begun();
        words.looked(&look(&[]), at(1000));
        let mut review = None;
        for step in 1..100 {
            let now = at(1000 + step * 500);
            words.looked(&look(&[("busy.png", i128::from(step))]), now);
            review = review.or_else(|| settled(&mut words, now).map(|list| (now, list)));
        }
        assert_eq!(review, Some((at(11_000), vec![("busy.png".into(), None)])));
    }

    #[test]
    fn a_review_that_failed_is_tried_again_ever_later_and_told_once() {
        let mut words = words();
        words.looked(&look(&[("a.png", 1)]), at(0));
        assert!(words.review(at(0)).is_some());
        assert!(words.reviewed(false, at(100)));
        assert_eq!((words.review(at(5099)), words.next_wake()), (None, Some(at(5100))));
        assert!(words.review(at(5100)).is_some());
        assert!(!words.reviewed(false, at(5200)));
        assert_eq!(words.next_wake(), Some(at(15_200)));
        assert!(words.review(at(15_200)).is_some());
        words.reviewed(true, at(15_300));
        assert_eq!(words.next_wake(), None);
    }
}
