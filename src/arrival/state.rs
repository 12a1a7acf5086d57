//! What a lookout knows about its root: which folders are watched, what is in doubt, what is still to be told. Pure.

use super::identity::Identity;
use super::look::LookAt;
use super::marks::Marks;
use super::names;
use super::telling::{Happening, Settings};
use super::trouble::Trouble;
use super::watcher::Signal;
use crate::clock::Tick;
use std::collections::{BTreeMap, BTreeSet, HashSet, VecDeque};
use std::ops::Bound;
use std::path::{Component, Path, PathBuf};
use std::time::Duration;

/// Least time between two looks at one folder: a tenth of the usual quiet time, so that settling is hardly late.
const PACE: Duration = Duration::from_millis(200);

/// Marks told apart before they become one for everything.
const MOST_MARKS: usize = 256;

/// Troubles told one by one before the rest become "more".
const MOST_TROUBLES: usize = 16;

/// The root as it was seen last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Root {
    Unknown,
    Lost,
    Here(Identity),
}

/// All a lookout knows.
#[derive(Debug)]
pub(super) struct State {
    path: PathBuf,
    settings: Settings,
    marks: Marks,
    root: Root,
    /// The root may be another one although it looks the same.
    doubted: bool,
    /// What was told last about the root being here.
    told_here: bool,
    /// Watched folders, relative, each with the identity it had.
    armed: BTreeMap<PathBuf, Identity>,
    /// Some folder is not watched.
    blind: bool,
    next_scan: Tick,
    news: VecDeque<Trouble>,
    /// Troubles that stand.
    standing: BTreeSet<String>,
    /// During a look at everything: troubles that stood before it.
    stood: BTreeSet<String>,
}

impl State {
    /// Nothing known yet about the root at this path.
    pub(super) fn new(path: PathBuf, settings: Settings) -> Self {
        Self {
            path,
            settings,
            marks: Marks::new(PACE, MOST_MARKS),
            root: Root::Unknown,
            doubted: false,
            told_here: true,
            armed: BTreeMap::new(),
            blind: false,
            next_scan: Tick::default(),
            news: VecDeque::new(),
            standing: BTreeSet::new(),
            stood: BTreeSet::new(),
        }
    }

    /// Takes in a signal. Yields whether the root itself must be looked at.
    pub(super) fn signal(&mut self, signal: Signal, now: Tick) -> bool {
        let (path, moved) = match signal {
            Signal::Doubt => {
                self.mark(LookAt::everything(), now);
                return true;
            }
            Signal::Changed(path) => (path, false),
            Signal::Moved(path) => (path, true),
        };
        let Ok(path) = path.strip_prefix(&self.path) else {
            self.mark(LookAt::everything(), now);
            return true;
        };
        let Some(parent) = path.parent() else {
            self.doubted |= moved;
            return true;
        };
        let hidden = path.components().any(|part| matches!(part, Component::Normal(name) if names::is_hidden(name)));
        if moved {
            self.disarm_below(path);
        }
        if !hidden && (moved || names::is_tile(path)) {
            self.mark(LookAt { folder: parent.to_owned(), deep: false }, now);
        }
        false
    }

    /// Adds a mark.
    pub(super) fn mark(&mut self, mark: LookAt, now: Tick) {
        self.marks.add(mark, now);
    }

    /// Takes in a regular look at the root itself. Yields whether the watcher must be made anew.
    pub(super) fn beat(&mut self, seen: Option<Identity>, now: Tick) -> bool {
        let seen = seen.map_or(Root::Lost, Root::Here);
        let another = std::mem::take(&mut self.doubted) || seen != self.root;
        self.root = seen;
        if seen == Root::Lost {
            self.armed.clear();
            return false;
        }
        if another {
            self.armed.clear();
        }
        if another || now >= self.next_scan {
            self.mark(LookAt::everything(), now);
            self.next_scan = now.after(self.scan_wait());
        }
        another
    }

    /// Whether a walk goes into a folder that it came upon.
    pub(super) fn goes_into(&self, at: &LookAt, folder: &Path, identity: Identity) -> bool {
        at.deep || at.folder == folder || self.armed.get(folder) != Some(&identity)
    }

    /// Notes that a folder is about to be watched. It must be said before it is done: a signal that comes in between then
    /// takes it back, and the worst that can happen is that it is watched twice.
    pub(super) fn arming(&mut self, folder: &Path, identity: Identity) {
        self.armed.insert(folder.to_owned(), identity);
    }

    /// Notes that a folder could not be watched, and why unless it is simply gone.
    pub(super) fn refused(&mut self, folder: &Path, trouble: Option<Trouble>, now: Tick) {
        self.armed.remove(folder);
        if let Some(trouble) = trouble {
            self.blind = true;
            self.next_scan = self.next_scan.min(now.after(self.scan_wait()));
            self.trouble(trouble);
        }
    }

    /// Notes a trouble, which is told once for as long as it stands.
    pub(super) fn trouble(&mut self, trouble: Trouble) {
        let trouble = if self.standing.len() < MOST_TROUBLES { trouble } else { Trouble::More };
        let text = trouble.to_string();
        if !self.stood.contains(&text) && !self.standing.contains(&text) {
            self.news.push_back(trouble);
        }
        self.standing.insert(text);
    }

    /// Notes that a look begins. A look at everything comes upon all that is still wrong.
    pub(super) fn looking(&mut self, at: &LookAt) {
        if *at == LookAt::everything() {
            self.blind = false;
            self.stood = std::mem::take(&mut self.standing);
        }
    }

    /// Takes in the end of a look: what it cost, which folders it read and which it kept. Yields watched folders that are
    /// not there any more.
    pub(super) fn looked(
        &mut self,
        at: &LookAt,
        read: &HashSet<PathBuf>,
        kept: &[PathBuf],
        cost: Duration,
        now: Tick,
    ) -> Vec<PathBuf> {
        self.stood.clear();
        self.marks.looked(&at.folder, cost, now);
        let kept: HashSet<&Path> = kept.iter().map(PathBuf::as_path).collect();
        let gone = |folder: &&PathBuf| !read.contains(*folder) && !folder.ancestors().any(|above| kept.contains(above));
        let gone: Vec<PathBuf> = self.armed_below(&at.folder).filter(gone).cloned().collect();
        for folder in &gone {
            self.armed.remove(folder);
        }
        gone
    }

    /// The next thing to tell, if it is due.
    pub(super) fn take(&mut self, now: Tick) -> Option<Happening> {
        let here = match self.root {
            Root::Unknown => return None,
            Root::Lost => false,
            Root::Here(_) => true,
        };
        if here != std::mem::replace(&mut self.told_here, here) {
            return Some(if here { Happening::RootBack } else { Happening::RootLost });
        }
        if let Some(trouble) = self.news.pop_front() {
            return Some(Happening::Trouble(trouble));
        }
        if !here {
            return None;
        }
        self.marks.take(now).map(Happening::LookAt)
    }

    /// When there is next something to tell.
    pub(super) fn next_due(&self) -> Option<Tick> {
        let here = match self.root {
            Root::Unknown => return None,
            Root::Lost => false,
            Root::Here(_) => true,
        };
        if here != self.told_here || !self.news.is_empty() {
            return Some(Tick::default());
        }
        if here { self.marks.next_due() } else { None }
    }

    fn scan_wait(&self) -> Duration {
        if self.settings.polling || self.blind { self.settings.poll_every } else { self.settings.scan_every }
    }

    fn disarm_below(&mut self, folder: &Path) {
        let below: Vec<PathBuf> = self.armed_below(folder).cloned().collect();
        for folder in below {
            self.armed.remove(&folder);
        }
    }

    fn armed_below(&self, folder: &Path) -> impl Iterator<Item = &PathBuf> {
        let armed = self.armed.range::<Path, _>((Bound::Included(folder), Bound::Unbounded));
        armed.map(|(armed, _)| armed).take_while(move |armed| armed.starts_with(folder))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Tick = Tick(Duration::ZERO);

    fn some_folder() -> Identity {
        Identity::of(&std::fs::metadata(env!("CARGO_MANIFEST_DIR")).expect("the repository is there"))
    }

    fn later(seconds: u64) -> Tick {
        Tick(Duration::from_secs(seconds))
    }

    /// A state whose root is here and whose first look has been handed out.
    fn begun(settings: Settings) -> State {
        let mut state = State::new("/x".into(), settings);
        assert!(state.beat(Some(some_folder()), NOW));
        assert!(matches!(state.take(NOW), Some(Happening::LookAt(at)) if at == LookAt::everything()));
        state
    }

    fn marks(state: &mut State, now: Tick) -> Vec<LookAt> {
        std::iter::from_fn(|| state.take(now))
            .map(|happening| match happening {
                Happening::LookAt(at) => at,
                Happening::RootLost | Happening::RootBack | Happening::Trouble(_) => panic!("{happening:?}"),
            })
            .collect()
    }

    fn flat(folder: &str) -> LookAt {
        LookAt { folder: folder.into(), deep: false }
    }

    #[test]
    fn a_signal_marks_the_folder_it_happened_in() {
        for (signal, expected) in [
            (Signal::Changed("/x/kelp.png".into()), vec![flat("")]),
            (Signal::Changed("/x/a/b/kelp.png".into()), vec![flat("a/b")]),
            (Signal::Moved("/x/a/b".into()), vec![flat("a")]),
            (Signal::Changed("/x/a/notes.txt".into()), vec![]),
            (Signal::Changed("/x/a/.kelp.png".into()), vec![]),
            (Signal::Moved("/x/a/.kelp.png.x7".into()), vec![]),
            (Signal::Moved("/x/.cache/a".into()), vec![]),
            (Signal::Doubt, vec![LookAt::everything()]),
            (Signal::Moved("/elsewhere/a".into()), vec![LookAt::everything()]),
        ] {
            let mut state = begun(Settings::default());
            state.signal(signal.clone(), later(1));
            assert_eq!(marks(&mut state, later(1)), expected, "{signal:?}");
        }
    }

    #[test]
    fn a_root_that_looks_the_same_is_another_one_when_it_was_moved() {
        let mut state = begun(Settings::default());
        assert!(!state.beat(Some(some_folder()), later(1)));
        assert!(state.signal(Signal::Moved("/x".into()), later(2)));
        state.arming(Path::new("a"), some_folder());
        assert!(state.beat(Some(some_folder()), later(2)));
        assert_eq!(marks(&mut state, later(2)), [LookAt::everything()]);
        assert!(state.goes_into(&flat(""), Path::new("a"), some_folder()), "what was watched belongs to the old root");
        assert!(!state.beat(Some(some_folder()), later(3)));
    }

    #[test]
    fn a_lost_root_is_told_once_and_nothing_is_looked_at_until_it_is_back() {
        let mut state = begun(Settings::default());
        assert!(!state.beat(None, later(1)));
        assert!(!state.beat(None, later(2)));
        state.mark(flat("a"), later(2));
        assert!(matches!(state.take(later(2)), Some(Happening::RootLost)));
        assert!(state.take(later(2)).is_none() && state.next_due().is_none());
        assert!(state.beat(Some(some_folder()), later(3)));
        assert!(matches!(state.take(later(3)), Some(Happening::RootBack)));
        assert_eq!(marks(&mut state, later(3)), [LookAt::everything()]);
    }

    #[test]
    fn only_folders_that_are_not_watched_are_gone_into() {
        let mut state = begun(Settings::default());
        let (at, folder) = (flat(""), Path::new("a/b"));
        assert!(state.goes_into(&at, folder, some_folder()));
        state.arming(folder, some_folder());
        assert!(!state.goes_into(&at, folder, some_folder()));
        assert!(state.goes_into(&flat("a/b"), folder, some_folder()));
        assert!(state.goes_into(&LookAt::everything(), folder, some_folder()));
        let another = Identity::of(&std::fs::metadata("/").expect("the root is there"));
        assert!(state.goes_into(&at, folder, another));
        state.signal(Signal::Moved("/x/ab".into()), NOW);
        assert!(!state.goes_into(&at, folder, some_folder()));
        state.signal(Signal::Moved("/x/a".into()), NOW);
        assert!(state.goes_into(&at, folder, some_folder()), "a folder above it was moved");
        state.arming(folder, some_folder());
        state.refused(folder, None, NOW);
        assert!(state.goes_into(&at, folder, some_folder()));
    }

    #[test]
    fn watched_folders_that_are_gone_are_let_go() {
        let mut state = begun(Settings::default());
        for folder in ["", "a", "a/b", "c", "c/d", "e"] {
            state.arming(Path::new(folder), some_folder());
        }
        let read = ["".into(), "a".into()].into();
        let gone = state.looked(&flat(""), &read, &["c".into()], Duration::ZERO, NOW);
        assert_eq!(gone, [Path::new("a/b"), Path::new("e")]);
        assert_eq!(state.looked(&flat(""), &read, &["c".into()], Duration::ZERO, NOW), Vec::<PathBuf>::new());
    }

    #[test]
    fn a_folder_that_is_slow_to_read_rests_longer() {
        let mut state = begun(Settings::default());
        state.looked(&flat("a"), &HashSet::new(), &[], Duration::from_secs(1), NOW);
        state.mark(flat("a"), NOW);
        assert_eq!(state.next_due(), Some(later(9)));
    }

    #[test]
    fn everything_is_looked_at_regularly_and_more_often_when_some_folder_is_not_watched() {
        let settings =
            Settings { polling: false, poll_every: Duration::from_secs(5), scan_every: Duration::from_secs(60) };
        let mut state = begun(settings);
        let scans = |state: &mut State, times: std::ops::Range<u64>| -> Vec<u64> {
            let mut scans = Vec::new();
            for time in times {
                state.beat(Some(some_folder()), later(time));
                scans.extend(marks(state, later(time)).iter().map(|_| time));
            }
            scans
        };
        assert_eq!(scans(&mut state, 1..130), [60, 120]);
        state.refused(Path::new("a"), Some(Trouble::WatchLimit("/x".into())), later(130));
        assert!(matches!(state.take(later(130)), Some(Happening::Trouble(_))));
        assert_eq!(scans(&mut state, 130..150), [135, 140, 145]);
        state.looking(&LookAt::everything());
        assert_eq!(scans(&mut state, 150..250), [150, 210]);
        assert_eq!(scans(&mut begun(Settings { polling: true, ..settings }), 1..20), [5, 10, 15]);
    }

    #[test]
    fn a_trouble_is_told_once_for_as_long_as_it_stands() {
        let mut state = begun(Settings::default());
        let trouble = |name: &str| Trouble::Watch { folder: name.into(), reason: "odd".into() };
        let look = |state: &mut State, names: &[&str]| -> usize {
            state.looking(&LookAt::everything());
            names.iter().for_each(|name| state.trouble(trouble(name)));
            state.looked(&LookAt::everything(), &HashSet::new(), &[], Duration::ZERO, NOW);
            std::iter::from_fn(|| state.take(NOW)).count()
        };
        assert_eq!(look(&mut state, &["a", "b"]), 2);
        assert_eq!(look(&mut state, &["a", "b", "c"]), 1);
        assert_eq!(look(&mut state, &["b", "c"]), 0);
        assert_eq!(look(&mut state, &["a", "b", "c"]), 1, "it was put right in between");
        assert_eq!(look(&mut state, &["b"]), 0);
        state.trouble(trouble("c"));
        assert_eq!(std::iter::from_fn(|| state.take(NOW)).count(), 1, "it came back outside a look at everything");
        let many: Vec<String> = (0..100).map(|n| n.to_string()).collect();
        let many: Vec<&str> = many.iter().map(String::as_str).collect();
        assert_eq!(look(&mut state, &many), MOST_TROUBLES + 1);
        assert_eq!(look(&mut state, &many), 0);
    }
}
