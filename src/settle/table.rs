//! The table of all files seen: for each its stamp, since when it has been still, and what it waits for.
//!
//! Every operation costs the logarithm of the table, a poll only what is due, a look only what it saw.

use super::file::{Ask, Backlog, Noted, Settings, Settled, Structure};
use crate::arrival::{Look, names};
use crate::clock::Tick;
use crate::disk::Stamp;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::ops::Bound;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// Least time between two questions about one file, whatever the settings say.
const LEAST_WAIT: Duration = Duration::from_millis(100);

/// All files of one exports folder and how far each has settled.
#[derive(Debug)]
pub struct Table {
    settings: Settings,
    files: BTreeMap<Arc<Path>, File>,
    wakes: BTreeSet<(Tick, Arc<Path>)>,
    ready: BTreeSet<Rank>,
    looks: u64,
}

#[derive(Debug)]
struct File {
    stamp: Stamp,
    /// When this stamp was first seen.
    since: Tick,
    state: State,
    /// The last look that saw it.
    seen_in: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Still at rest until `due`; `last` is what its bytes said under this stamp.
    Waiting { due: Tick, last: Option<Structure> },
    /// A question is out.
    Asked { last: Option<Structure> },
    /// Finished, waiting to be taken.
    Ready(Structure),
    /// Handed out.
    Told,
}

/// The order of handing out: the latest change on this machine first. The change time leads because a copied file may
/// bring an old modification time along.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Rank {
    ctime: Reverse<i128>,
    mtime: Reverse<i128>,
    path: Arc<Path>,
}

impl Rank {
    fn of(path: &Arc<Path>, stamp: Stamp) -> Self {
        Self { ctime: Reverse(stamp.ctime_ns), mtime: Reverse(stamp.mtime_ns), path: Arc::clone(path) }
    }
}

impl Table {
    /// An empty table.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self { settings, files: BTreeMap::new(), wakes: BTreeSet::new(), ready: BTreeSet::new(), looks: 0 }
    }

    /// Takes a file for handed out with this stamp, as a ledger remembers it: only another stamp is news.
    pub fn remember(&mut self, path: &Path, stamp: Stamp) {
        if names::is_tile(path) {
            self.forget(path);
            let file = File { stamp, since: Tick::default(), state: State::Told, seen_in: self.looks };
            self.files.insert(Arc::from(path), file);
        }
    }

    /// Notes that `path` was seen with this stamp, or not at all.
    pub fn observe(&mut self, path: &Path, stamp: Option<Stamp>, now: Tick) -> Noted {
        let Some(stamp) = stamp else {
            return match self.forget(path) {
                None => Noted::Same,
                Some(State::Told) => Noted::Gone,
                Some(State::Waiting { .. } | State::Asked { .. } | State::Ready(_)) => Noted::Dropped,
            };
        };
        if !names::is_tile(path) {
            return Noted::Ignored;
        }
        let looks = self.looks;
        match self.files.get_mut(path) {
            Some(file) if file.stamp == stamp => {
                file.seen_in = looks;
                Noted::Same
            }
            Some(_) => {
                self.forget(path);
                self.begin(path, stamp, now);
                Noted::Changed
            }
            None => {
                self.begin(path, stamp, now);
                Noted::New
            }
        }
    }

    /// Notes everything one look saw, and what it did not see any more. Looks must be noted in the order they were taken.
    /// Yields the paths that had been handed out and are gone, in order.
    pub fn note(&mut self, look: &Look, now: Tick) -> Vec<PathBuf> {
        self.looks += 1;
        for (path, stamp) in &look.files {
            self.observe(path, Some(*stamp), now);
        }
        let kept: HashSet<&Path> = look.kept.iter().map(PathBuf::as_path).collect();
        let mut gone = Vec::new();
        for path in self.unseen(&look.folder, &kept) {
            if self.forget(&path) == Some(State::Told) {
                gone.push(path.to_path_buf());
            }
        }
        gone
    }

    /// Questions that have come due, newest file first. Each is asked once and must be answered.
    pub fn poll(&mut self, now: Tick) -> Vec<Ask> {
        let mut asks = Vec::new();
        while let Some((due, _)) = self.wakes.first()
            && *due <= now
        {
            let Some((_, path)) = self.wakes.pop_first() else { break };
            let Some(file) = self.files.get_mut(&path) else { continue };
            if let State::Waiting { last, .. } = file.state {
                file.state = State::Asked { last };
                asks.push(Ask { path, stamp: file.stamp });
            }
        }
        asks.sort_by_cached_key(|ask| Rank::of(&ask.path, ask.stamp));
        asks
    }

    /// Answers a question: the stamp the path had after its bytes were read (`None` when it is not there any more), and
    /// what the bytes said. An answer to a question that the file has moved on from changes nothing.
    pub fn answer(&mut self, ask: &Ask, seen: Option<Stamp>, structure: Structure, now: Tick) {
        let Some(file) = self.files.get(&ask.path) else { return };
        let State::Asked { last } = file.state else { return };
        if file.stamp != ask.stamp {
            return;
        }
        if seen != Some(ask.stamp) {
            self.observe(&ask.path, seen, now);
            return;
        }
        let rested = now.since(file.since);
        let wait = match (structure, last) {
            (Structure::Complete, None | Some(Structure::Complete)) => None,
            // Completed under an unmoved stamp: someone writes without moving the times, so it is asked once more.
            (Structure::Complete, Some(Structure::Truncated | Structure::Unknown)) => {
                Some(rested + self.settings.quiet.max(LEAST_WAIT))
            }
            (Structure::Truncated | Structure::Unknown, _) => self.patience(structure, rested),
        };
        let state = wait.map_or(State::Ready(structure), |wait| State::Waiting {
            due: file.since.after(wait),
            last: Some(structure),
        });
        self.enter(&ask.path, state);
    }

    /// The newest finished file. From then on only another stamp of it is news.
    pub fn take(&mut self) -> Option<Settled> {
        while let Some(Rank { path, .. }) = self.ready.pop_first() {
            if let Some(file) = self.files.get_mut(&path)
                && let State::Ready(structure) = file.state
            {
                file.state = State::Told;
                return Some(Settled { path: path.to_path_buf(), stamp: file.stamp, structure });
            }
        }
        None
    }

    /// Hands a file out once more under the stamp it has, because what its outcome rests on has changed.
    pub fn again(&mut self, path: &Path) {
        if let Some((path, file)) = self.files.get_key_value(path)
            && file.state == State::Told
        {
            let path = Arc::clone(path);
            self.enter(&path, State::Ready(Structure::Complete));
        }
    }

    /// Every file, in the order of paths, with its stamp once it has been handed out.
    pub fn at_rest(&self) -> impl Iterator<Item = (&Path, Option<Stamp>)> {
        self.files.iter().map(|(path, file)| (&**path, (file.state == State::Told).then_some(file.stamp)))
    }

    /// When to poll next.
    #[must_use]
    pub fn next_wake(&self) -> Option<Tick> {
        self.wakes.first().map(|(due, _)| *due)
    }

    /// The stamp a file was last seen with.
    #[must_use]
    pub fn stamp(&self, path: &Path) -> Option<Stamp> {
        self.files.get(path).map(|file| file.stamp)
    }

    /// What has been seen and not handed out. Costs a pass over the table.
    #[must_use]
    pub fn backlog(&self) -> Backlog {
        self.files.values().filter(|file| file.state != State::Told).fold(Backlog::default(), |sum, file| Backlog {
            files: sum.files + 1,
            bytes: sum.bytes.saturating_add(file.stamp.size),
        })
    }

    /// How many files it holds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.files.len()
    }

    /// Whether it holds none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.files.is_empty()
    }

    /// How long after it came to rest an unfinished file is asked again; `None` when it has waited long enough. The waits
    /// double, so that a file at rest for the whole grace is read a handful of times.
    fn patience(&self, structure: Structure, rested: Duration) -> Option<Duration> {
        let Settings { quiet, quiet_incomplete, grace } = self.settings;
        let limit = match structure {
            Structure::Truncated => grace,
            Structure::Unknown | Structure::Complete => quiet_incomplete.min(grace),
        };
        let limit = limit.max(quiet);
        let next = if rested < quiet_incomplete { quiet_incomplete } else { rested.saturating_mul(2) };
        (rested < limit).then(|| next.max(rested + LEAST_WAIT).min(limit))
    }

    fn begin(&mut self, path: &Path, stamp: Stamp, now: Tick) {
        let path: Arc<Path> = Arc::from(path);
        let state = State::Waiting { due: now.after(self.settings.quiet), last: None };
        self.files.insert(Arc::clone(&path), File { stamp, since: now, state: State::Told, seen_in: self.looks });
        self.enter(&path, state);
    }

    /// Moves a file that is in neither queue to a state and into the queue that belongs to it.
    fn enter(&mut self, path: &Arc<Path>, state: State) {
        let Some(file) = self.files.get_mut(path) else { return };
        file.state = state;
        match state {
            State::Waiting { due, .. } => {
                self.wakes.insert((due, Arc::clone(path)));
            }
            State::Ready(_) => {
                self.ready.insert(Rank::of(path, file.stamp));
            }
            State::Asked { .. } | State::Told => {}
        }
    }

    fn forget(&mut self, path: &Path) -> Option<State> {
        let (path, file) = self.files.remove_entry(path)?;
        match file.state {
            State::Waiting { due, .. } => {
                self.wakes.remove(&(due, path));
            }
            State::Ready(_) => {
                self.ready.remove(&Rank::of(&path, file.stamp));
            }
            State::Asked { .. } | State::Told => {}
        }
        Some(file.state)
    }

    /// Paths under `folder` that the last look did not see although it looked there: not below a `kept` folder.
    fn unseen(&self, folder: &Path, kept: &HashSet<&Path>) -> Vec<Arc<Path>> {
        let mut unseen = Vec::new();
        if kept.contains(folder) {
            return unseen;
        }
        let mut from = Bound::Included(folder.to_path_buf());
        while let Some((path, file)) =
            self.files.range::<Path, _>((from.as_ref().map(PathBuf::as_path), Bound::Unbounded)).next()
            && path.starts_with(folder)
        {
            let below = path
                .ancestors()
                .skip(1)
                .take_while(|above| above.starts_with(folder))
                .find(|above| kept.contains(above));
            from = match below {
                // The whole kept folder is stepped over, so that a look costs only what it saw.
                Some(kept) => Bound::Included(after_all_below(kept)),
                None => Bound::Excluded(path.to_path_buf()),
            };
            if below.is_none() && file.seen_in != self.looks {
                unseen.push(Arc::clone(path));
            }
        }
        unseen
    }
}

/// The least path after `folder` and everything below it, in the order of paths: nothing lies between a name and the
/// same name with a zero byte.
fn after_all_below(folder: &Path) -> PathBuf {
    let mut name = folder.file_name().unwrap_or_default().to_os_string();
    name.push("\0");
    folder.with_file_name(name)
}
