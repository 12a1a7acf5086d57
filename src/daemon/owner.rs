//! The one owner of the truth: which files are settling, which are in work, which are to be tried again.
//!
//! Takes happenings with the tick they came at, yields deeds. Reads no clock, no file, and starts nothing.

use super::happening::{Deed, End, FolderNumber, Happening, InLetPass};
use super::let_pass::LetPass;
use crate::arrival::{self, LookAt};
use crate::clock::Tick;
use crate::disk::Stamp;
use crate::settle::{Settled, Table};
use std::time::Duration;

/// The wait before the second try; it doubles from there.
const FIRST_WAIT: Duration = Duration::from_secs(5);
/// The longest wait between two tries.
const LONGEST_WAIT: Duration = Duration::from_secs(300);
/// How long a stop waits for tiles in work. They may be cut off anywhere, since every step can be taken again.
const LAST_WAIT: Duration = Duration::from_secs(3);

/// The least time between two words on the state, which cost a pass over all tables.
const PACE: Duration = Duration::from_secs(1);

/// A tile to be tried again.
#[derive(Debug)]
struct Retry {
    due: Tick,
    wait: Duration,
    folder: FolderNumber,
    settled: Settled,
    waiting: bool,
}

/// A folder as it is remembered at the start.
#[derive(Debug)]
pub struct Known {
    /// Its name in the configuration.
    pub name: String,
    /// Its tiles.
    pub tiles: Table,
    /// Its let-pass.
    pub let_pass: LetPass,
}

/// All that is known while the daemon runs.
#[derive(Debug)]
pub struct Owner {
    names: Vec<String>,
    tables: Vec<Table>,
    words: Vec<LetPass>,
    first_look: Vec<bool>,
    retries: Vec<Retry>,
    workers: usize,
    working: usize,
    done: u64,
    next: FolderNumber,
    leaving: bool,
    busy: bool,
    mail: String,
    said: String,
    said_at: Tick,
    news: bool,
}

impl Owner {
    /// An owner over folders.
    #[must_use]
    pub fn new(folders: Vec<Known>, workers: usize) -> Self {
        let mut owner = Self {
            first_look: vec![true; folders.len()],
            names: Vec::new(),
            tables: Vec::new(),
            words: Vec::new(),
            retries: Vec::new(),
            workers: workers.max(1),
            working: 0,
            done: 0,
            next: 0,
            leaving: false,
            busy: true,
            mail: String::new(),
            said: String::new(),
            said_at: Tick::default(),
            news: true,
        };
        for Known { name, tiles, let_pass } in folders {
            owner.names.push(name);
            owner.tables.push(tiles);
            owner.words.push(let_pass);
        }
        owner
    }

    /// Takes in one happening.
    #[must_use]
    pub fn handle(&mut self, happening: Happening, now: Tick) -> Vec<Deed> {
        self.news = true;
        let mut deeds = Vec::new();
        match happening {
            Happening::Told(folder, arrival::Happening::LookAt(at)) => deeds.push(Deed::Look(folder, at)),
            Happening::Told(folder, arrival::Happening::RootLost) => deeds.push(Deed::Warn(format!(
                "the exports folder of {} is not there; it is waited for, and nothing is forgotten",
                self.names[folder]
            ))),
            Happening::Told(folder, arrival::Happening::RootBack) => {
                deeds.push(Deed::Say(format!("the exports folder of {} is there", self.names[folder])));
            }
            Happening::Told(_, arrival::Happening::Trouble(trouble)) => deeds.push(Deed::Warn(trouble.to_string())),
            Happening::Looked(folder, look) => {
                let gone = self.tables[folder].note(&look, now);
                deeds.extend(gone.into_iter().map(|path| Deed::Gone(folder, path)));
                if std::mem::take(&mut self.first_look[folder]) {
                    let backlog = self.tables[folder].backlog();
                    deeds.push(Deed::Say(format!(
                        "{}: {} tiles to look at, {:.1} MB",
                        self.names[folder],
                        backlog.files,
                        backlog.bytes as f64 / 1e6
                    )));
                }
            }
            Happening::Answered(folder, ask, seen, structure) => self.tables[folder].answer(&ask, seen, structure, now),
            Happening::Finished(folder, settled, end) => deeds.extend(self.finished(folder, settled, end, now)),
            Happening::LetPass(folder, happening) => deeds.extend(self.let_pass(folder, happening, now)),
            Happening::LetterDue => deeds.push(Deed::Letter),
            Happening::Mail(says) => self.mail = says,
            Happening::Stop => {
                if !std::mem::replace(&mut self.leaving, true) {
                    deeds.push(Deed::Leave(LAST_WAIT));
                }
            }
        }
        deeds
    }

    /// Whatever has come due: questions about files, tiles to work through, and what to tell about the state.
    #[must_use]
    pub fn due(&mut self, now: Tick) -> Vec<Deed> {
        if self.leaving {
            return Vec::new();
        }
        let mut deeds = Vec::new();
        for (folder, table) in self.tables.iter_mut().enumerate() {
            deeds.extend(table.poll(now).into_iter().map(|ask| Deed::Ask(folder, ask)));
        }
        for (folder, words) in self.words.iter_mut().enumerate() {
            deeds.extend(words.asks(now).into_iter().map(|ask| Deed::AskInLetPass(folder, ask)));
            deeds.extend(words.review(now).map(|lying| Deed::Review(folder, lying)));
        }
        while self.working < self.workers {
            let Some((folder, settled)) = self.take(now) else { break };
            self.working += 1;
            deeds.push(Deed::Work(folder, settled));
        }
        if self.news && now >= self.said_at.after(PACE) {
            self.news = false;
            self.said_at = now;
            self.busy =
                self.first_look.iter().any(|first| *first) || self.tables.iter().any(|table| table.backlog().files > 0);
            let status = self.status();
            if status != self.said {
                self.said.clone_from(&status);
                deeds.push(Deed::State(status));
            }
        }
        deeds
    }

    /// When there may be something due without anything happening.
    #[must_use]
    pub fn next_wake(&self) -> Option<Tick> {
        let retries = self.retries.iter().filter(|retry| retry.waiting).map(|retry| retry.due);
        let news = self.news.then(|| self.said_at.after(PACE));
        let words = self.words.iter().filter_map(LetPass::next_wake);
        self.tables.iter().filter_map(Table::next_wake).chain(words).chain(retries).chain(news).min()
    }

    /// How many tiles are in work.
    #[must_use]
    pub fn working(&self) -> usize {
        self.working
    }

    /// Whether tiles are being looked at or were a moment ago, or a folder was not looked at yet.
    #[must_use]
    pub fn busy(&self) -> bool {
        self.busy || self.working > 0
    }

    fn let_pass(&mut self, folder: FolderNumber, happening: InLetPass, now: Tick) -> Option<Deed> {
        let words = &mut self.words[folder];
        match happening {
            InLetPass::Told(arrival::Happening::LookAt(at)) => return Some(Deed::LookIntoLetPass(folder, at)),
            InLetPass::Told(arrival::Happening::RootLost) => {
                return Some(Deed::Warn(format!(
                    "the folder let-pass of {} is not there; what was let pass still holds, and an empty one put there takes                      it back",
                    self.names[folder]
                )));
            }
            InLetPass::Told(arrival::Happening::RootBack) => {
                return Some(Deed::Say(format!("the folder let-pass of {} is there", self.names[folder])));
            }
            InLetPass::Told(arrival::Happening::Trouble(trouble)) => return Some(Deed::Warn(trouble.to_string())),
            InLetPass::Looked(look) => words.looked(&look, now),
            InLetPass::Answered(ask, seen, structure) => words.answered(&ask, seen, structure, now),
            InLetPass::Reviewed(Ok(concerns)) => {
                words.reviewed(true, now);
                // One that is in work is worked through again; what was begun under the old word is not delivered.
                concerns.iter().for_each(|path| self.tables[folder].again(path));
            }
            InLetPass::Reviewed(Err(why)) => return words.reviewed(false, now).then_some(Deed::Warn(why)),
        }
        None
    }

    /// The next tile: folders in turn, the newest of each first, then what is to be tried again.
    fn take(&mut self, now: Tick) -> Option<(FolderNumber, Settled)> {
        for step in 0..self.tables.len() {
            let folder = (self.next + step) % self.tables.len();
            if let Some(settled) = self.tables[folder].take() {
                self.next = folder + 1;
                return Some((folder, settled));
            }
        }
        let retry = self.retries.iter_mut().find(|retry| retry.waiting && retry.due <= now)?;
        retry.waiting = false;
        Some((retry.folder, retry.settled.clone()))
    }

    fn finished(&mut self, folder: FolderNumber, settled: Settled, end: End, now: Tick) -> Option<Deed> {
        self.working = self.working.saturating_sub(1);
        let before = self.retries.iter().position(|retry| retry.folder == folder && retry.settled.path == settled.path);
        let before = before.map(|at| self.retries.swap_remove(at));
        // A file that has changed since is on its way through the table again.
        let current = self.tables[folder].stamp(&settled.path) == Some(settled.stamp);
        match end {
            End::Delivered => {
                self.done += 1;
                None
            }
            End::Superseded => {
                let within = settled.path.parent().map(ToOwned::to_owned).unwrap_or_default();
                // Under no real stamp, whatever the coming look sees is news, its absence too.
                self.tables[folder].remember(&settled.path, Stamp { size: 0, mtime_ns: 0, ctime_ns: 0, inode: 0 });
                Some(Deed::Look(folder, LookAt { folder: within, deep: false }))
            }
            End::Later(why) | End::Stuck(why) | End::Blocked(why) => {
                if current {
                    let wait = before.as_ref().map_or(FIRST_WAIT, |retry| (retry.wait * 2).min(LONGEST_WAIT));
                    self.retries.push(Retry { due: now.after(wait), wait, folder, settled, waiting: true });
                }
                // Told at the first try only; the state says that it stands.
                before.is_none().then_some(Deed::Warn(why))
            }
        }
    }

    fn status(&self) -> String {
        let waiting: usize = self.tables.iter().map(|table| table.backlog().files).sum();
        let mut parts = vec![format!("watching {} folder(s)", self.tables.len())];
        if waiting + self.working > 0 {
            parts.push(format!("{} tile(s) to look at", waiting + self.working));
        }
        if !self.retries.is_empty() {
            parts.push(format!("{} to be tried again", self.retries.len()));
        }
        parts.push(format!("{} done since the start", self.done));
        if !self.mail.is_empty() {
            parts.push(self.mail.clone());
        }
        parts.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arrival::Look;
    use crate::settle::{Settings, Structure};
    use std::path::{Path, PathBuf};

    fn at(ms: u64) -> Tick {
        Tick(Duration::from_millis(ms))
    }

    fn stamp(size: u64) -> Stamp {
        Stamp { size, mtime_ns: 1, ctime_ns: 1, inode: 1 }
    }

    fn look(files: &[(&str, u64)]) -> Happening {
        let files = files.iter().map(|(name, size)| (PathBuf::from(name), stamp(*size))).collect();
        Happening::Looked(0, Look { folder: PathBuf::new(), files, kept: Vec::new() })
    }

    fn owner(workers: usize) -> Owner {
        let let_pass = LetPass::new(Settings::default());
        Owner::new(vec![Known { name: "studio".into(), tiles: Table::new(Settings::default()), let_pass }], workers)
    }

    /// Answers every question with "complete" and gives back the tiles that are to be worked through.
    fn settled(owner: &mut Owner, now: Tick) -> Vec<Settled> {
        let mut work = Vec::new();
        let mut deeds = owner.due(now);
        while let Some(deed) = deeds.pop() {
            match deed {
                Deed::Ask(folder, ask) => {
                    let seen = Some(ask.stamp);
                    deeds.extend(owner.handle(Happening::Answered(folder, ask, seen, Structure::Complete), now));
                    deeds.extend(owner.due(now));
                }
                Deed::Work(_, settled) => work.push(settled),
                _ => {}
            }
        }
        work
    }

    #[test]
    fn no_more_tiles_are_in_work_than_there_are_workers() {
        let mut owner = owner(2);
        let _ = owner.handle(look(&[("a.png", 1), ("b.png", 2), ("c.png", 3)]), at(0));
        assert!(settled(&mut owner, at(1000)).is_empty(), "too early");
        let first = settled(&mut owner, at(2500));
        assert_eq!((first.len(), owner.working()), (2, 2));
        let _ = owner.handle(Happening::Finished(0, first[0].clone(), End::Delivered), at(2600));
        assert_eq!(settled(&mut owner, at(2600)).len(), 1);
    }

    #[test]
    fn what_failed_for_now_is_tried_again_ever_later_and_told_once() {
        let mut owner = owner(1);
        let _ = owner.handle(look(&[("a.png", 1)]), at(0));
        let tile = settled(&mut owner, at(2500)).remove(0);
        let full = || End::Later("the disk is full".into());
        let told = owner.handle(Happening::Finished(0, tile.clone(), full()), at(3000));
        assert_eq!(told, [Deed::Warn("the disk is full".into())]);
        assert!(settled(&mut owner, at(7900)).is_empty());
        assert_eq!(owner.next_wake(), Some(at(8000)), "five seconds after the first try");
        assert_eq!(settled(&mut owner, at(8000)), std::slice::from_ref(&tile));
        assert_eq!(owner.handle(Happening::Finished(0, tile.clone(), full()), at(8100)), [], "told already");
        assert!(settled(&mut owner, at(18_000)).is_empty(), "the wait doubles");
        assert_eq!(settled(&mut owner, at(18_100)), std::slice::from_ref(&tile));
        let _ = owner.handle(Happening::Finished(0, tile, End::Delivered), at(18_200));
        assert!(settled(&mut owner, at(500_000)).is_empty());
    }

    #[test]
    fn a_retry_is_dropped_once_the_file_has_changed() {
        let mut owner = owner(1);
        let _ = owner.handle(look(&[("a.png", 1)]), at(0));
        let old = settled(&mut owner, at(2500)).remove(0);
        let _ = owner.handle(look(&[("a.png", 9)]), at(2600));
        let _ = owner.handle(Happening::Finished(0, old, End::Later("busy".into())), at(2700));
        let work = settled(&mut owner, at(60_000));
        assert_eq!(work.len(), 1);
        assert_eq!(work[0].stamp, stamp(9));
    }

    #[test]
    fn what_changed_under_the_hands_is_looked_at_again_and_its_absence_is_noticed() {
        let mut owner = owner(1);
        let _ = owner.handle(look(&[("kelp/a.png", 1)]), at(0));
        let tile = settled(&mut owner, at(2500)).remove(0);
        let deeds = owner.handle(Happening::Finished(0, tile, End::Superseded), at(2600));
        assert_eq!(deeds, [Deed::Look(0, LookAt { folder: "kelp".into(), deep: false })]);
        let deeds = owner.handle(look(&[]), at(2700));
        assert_eq!(deeds, [Deed::Gone(0, Path::new("kelp/a.png").into())]);
    }

    #[test]
    fn a_tile_whose_word_has_changed_is_worked_through_again_even_while_it_is_in_work() {
        let mut owner = owner(2);
        let _ = owner.handle(look(&[("a.png", 1), ("b.png", 1)]), at(0));
        let first = settled(&mut owner, at(2500));
        assert_eq!(first.len(), 2);
        let concerns = ["a.png", "not-here.png"].map(PathBuf::from).into();
        let deeds = owner.handle(Happening::LetPass(0, InLetPass::Reviewed(Ok(concerns))), at(2600));
        assert_eq!((deeds, settled(&mut owner, at(2600))), (vec![], vec![]), "both workers are taken");
        for tile in first {
            let _ = owner.handle(Happening::Finished(0, tile, End::Superseded), at(2700));
        }
        let _ = owner.handle(look(&[("a.png", 1), ("b.png", 1)]), at(2800));
        let mut again: Vec<_> = settled(&mut owner, at(9000)).into_iter().map(|tile| tile.path).collect();
        again.sort();
        assert_eq!(again, ["a.png", "b.png"].map(PathBuf::from), "each once");

        let _ = owner.handle(
            Happening::Finished(
                0,
                Settled { path: "a.png".into(), stamp: stamp(1), structure: Structure::Complete },
                End::Delivered,
            ),
            at(9100),
        );
        let _ = owner.handle(Happening::LetPass(0, InLetPass::Reviewed(Ok([PathBuf::from("a.png")].into()))), at(9200));
        let next = settled(&mut owner, at(9200));
        assert_eq!(next.len(), 1, "at once, without waiting for it to settle anew");
        assert_eq!((next[0].path.as_path(), next[0].stamp), (Path::new("a.png"), stamp(1)));
    }

    #[test]
    fn let_pass_is_looked_at_asked_about_and_gone_through() {
        let mut owner = owner(1);
        let within = |happening| Happening::LetPass(0, happening);
        let at_all = LookAt::everything();
        let told = within(InLetPass::Told(arrival::Happening::LookAt(at_all.clone())));
        assert_eq!(owner.handle(told, at(0)), [Deed::LookIntoLetPass(0, at_all)]);
        let seen = Look { folder: PathBuf::new(), files: vec![("w.png".into(), stamp(3))], kept: Vec::new() };
        assert_eq!(owner.handle(within(InLetPass::Looked(seen)), at(0)), []);
        assert!(owner.due(at(0)).contains(&Deed::Review(0, vec![("w.png".into(), None)])));
        let _ = owner.handle(within(InLetPass::Reviewed(Ok(Default::default()))), at(10));
        let asks: Vec<_> =
            owner.due(at(2000)).into_iter().filter(|deed| matches!(deed, Deed::AskInLetPass(..))).collect();
        let [Deed::AskInLetPass(0, ask)] = asks.as_slice() else { panic!("{asks:?}") };
        let answer = InLetPass::Answered(ask.clone(), Some(stamp(3)), Structure::Complete);
        let _ = owner.handle(within(answer), at(2010));
        assert!(owner.due(at(2010)).contains(&Deed::Review(0, vec![("w.png".into(), Some(stamp(3)))])));
        let failed = within(InLetPass::Reviewed(Err("the ledger is busy".into())));
        assert_eq!(owner.handle(failed, at(2020)), [Deed::Warn("the ledger is busy".into())]);
        let lost = owner.handle(within(InLetPass::Told(arrival::Happening::RootLost)), at(2030));
        assert!(matches!(&lost[..], [Deed::Warn(text)] if text.contains("what was let pass still holds")));
    }

    #[test]
    fn a_stop_lets_nothing_new_begin() {
        let mut owner = owner(1);
        let _ = owner.handle(look(&[("a.png", 1)]), at(0));
        assert_eq!(owner.handle(Happening::Stop, at(2500)), [Deed::Leave(LAST_WAIT)]);
        assert_eq!(owner.handle(Happening::Stop, at(2501)), [], "once is enough");
        assert!(settled(&mut owner, at(60_000)).is_empty());
    }
}
