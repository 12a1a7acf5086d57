//! The shell around one root: watcher, regular looks at the root, and the looks themselves.
//!
//! Signals become marks at once, on the watcher's own thread; a task hands the marks out as fast as the channel takes
//! them, and meanwhile they merge. Nothing waits for a slow receiver, and nothing is dropped for it.

use super::identity::Identity;
use super::look::{Look, LookAt};
use super::scan::{Entry, below, walk};
use super::state::State;
use super::telling::{Happening, Settings};
use super::trouble::Trouble;
use super::watcher::{Inbox, Signal, System, Watcher};
use crate::clock::Clock;
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::{Notify, mpsc};
use tokio::task::{JoinHandle, spawn_blocking};

/// The wait between two looks at the root itself: a root that is made anew is watched again well within five seconds.
const HEARTBEAT: Duration = Duration::from_secs(1);

/// The same while the root is lost.
const SEEKING: Duration = Duration::from_millis(250);

/// Makes the watcher of a root, again whenever the root is another one.
type Make = Box<dyn Fn(Inbox) -> Result<Box<dyn Watcher>, Trouble> + Send + Sync>;

/// Watches one root until dropped.
#[derive(Debug)]
pub struct Lookout {
    shared: Arc<Shared>,
    tasks: [JoinHandle<()>; 2],
}

struct Shared {
    root: PathBuf,
    settings: Settings,
    clock: Clock,
    make: Option<Make>,
    state: Mutex<State>,
    /// Held for the whole of a look, so that looks are taken one after the other; taken before `state`, never after.
    watcher: Mutex<Option<Box<dyn Watcher>>>,
    /// Rung when there may be something to tell.
    bell: Notify,
    /// Rung when the root itself must be looked at.
    pulse: Notify,
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shared").field("root", &self.root).field("state", &self.state).finish_non_exhaustive()
    }
}

impl Lookout {
    /// Starts watching `root`, which should be absolute and need not be there yet. Every happening goes through `wrap`
    /// into `channel`; the first is a look at everything, or the news that the root is lost. Must be called within a
    /// tokio runtime.
    pub fn start<T: Send + 'static>(
        root: &Path,
        settings: Settings,
        clock: Clock,
        channel: mpsc::Sender<T>,
        wrap: impl Fn(Happening) -> T + Send + 'static,
    ) -> Self {
        let at = root.to_owned();
        let make = move |inbox: Inbox| -> Result<Box<dyn Watcher>, Trouble> { Ok(Box::new(System::new(&at, inbox)?)) };
        Self::start_with(root, settings, clock, channel, wrap, Box::new(make))
    }

    /// The same with a watcher of the caller's own. It is not used when polling.
    pub fn start_with<T: Send + 'static>(
        root: &Path,
        settings: Settings,
        clock: Clock,
        channel: mpsc::Sender<T>,
        wrap: impl Fn(Happening) -> T + Send + 'static,
        make: Make,
    ) -> Self {
        let shared = Arc::new(Shared {
            root: root.to_owned(),
            settings,
            clock,
            make: (!settings.polling).then_some(make),
            state: Mutex::new(State::new(root.to_owned(), settings)),
            watcher: Mutex::new(None),
            bell: Notify::new(),
            pulse: Notify::new(),
        });
        let telling = tokio::spawn(tell(Arc::clone(&shared), channel, wrap));
        let beating = tokio::spawn(beat(Arc::clone(&shared)));
        Self { shared, tasks: [telling, beating] }
    }

    /// Asks for another look at a folder (relative to the root) that the caller has reason to doubt.
    pub fn doubt(&self, at: LookAt) {
        lock(&self.shared.state).mark(at, self.shared.clock.tick());
        self.shared.bell.notify_one();
    }

    /// A handle that takes looks, for threads of their own.
    #[must_use]
    pub fn eye(&self) -> Eye {
        Eye(Arc::clone(&self.shared))
    }
}

impl Drop for Lookout {
    fn drop(&mut self) {
        self.tasks.iter().for_each(JoinHandle::abort);
    }
}

/// Takes looks at one root.
#[derive(Clone, Debug)]
pub struct Eye(Arc<Shared>);

impl Eye {
    /// Looks at a folder and blocks until it has been read. Folders are watched before they are read, so that whatever is
    /// made afterwards causes a mark. Looks are taken one after the other and must be noted in that order.
    #[must_use]
    pub fn look(&self, at: &LookAt) -> Look {
        let Shared { root, clock, state, .. } = &*self.0;
        let mut watcher = lock(&self.0.watcher);
        let begun = clock.tick();
        let before = identity(root);
        lock(state).looking(at);
        make(&self.0, &mut watcher);
        let (mut read, mut files) = (HashSet::new(), Vec::new());
        let mut kept = walk(
            root,
            at,
            &mut |folder, identity| {
                let entered = self.enter(watcher.as_deref_mut(), at, folder, identity);
                if entered {
                    read.insert(folder.to_owned());
                }
                entered
            },
            &mut |entry| match entry {
                Entry::Tile { path, stamp } => files.push((path, stamp)),
                Entry::Trouble(trouble) => lock(state).trouble(trouble),
            },
        );
        if before.is_none() || identity(root) != before {
            // The root went away in the middle: what was not seen may be there all the same.
            kept = vec![at.folder.clone()];
            self.0.pulse.notify_one();
        }
        let now = clock.tick();
        let gone = lock(state).looked(at, &read, &kept, now.since(begun), now);
        if let Some(watcher) = watcher.as_deref_mut() {
            gone.iter().for_each(|folder| watcher.disarm(&below(root, folder)));
        }
        self.0.bell.notify_one();
        Look { folder: at.folder.clone(), files, kept }
    }

    /// Decides whether a folder is gone into, and watches it first.
    fn enter(
        &self,
        watcher: Option<&mut (dyn Watcher + 'static)>,
        at: &LookAt,
        folder: &Path,
        identity: Identity,
    ) -> bool {
        let Some(watcher) = watcher else { return true };
        {
            let mut state = lock(&self.0.state);
            if !state.goes_into(at, folder, identity) {
                return false;
            }
            state.arming(folder, identity);
        }
        let refused = match watcher.arm(&below(&self.0.root, folder)) {
            Ok(true) => return true,
            Ok(false) => None,
            Err(trouble) => Some(trouble),
        };
        lock(&self.0.state).refused(folder, refused, self.0.clock.tick());
        true
    }
}

/// Hands out what there is to tell.
async fn tell<T: Send>(shared: Arc<Shared>, channel: mpsc::Sender<T>, wrap: impl Fn(Happening) -> T + Send) {
    loop {
        let due = lock(&shared.state).next_due();
        let now = shared.clock.tick();
        match due {
            Some(due) if due <= now => {
                // A place first, the happening then: while the channel is full, marks go on merging.
                let Ok(place) = channel.reserve().await else { return };
                let happening = lock(&shared.state).take(shared.clock.tick());
                if let Some(happening) = happening {
                    place.send(wrap(happening));
                }
            }
            Some(due) => {
                tokio::select! {
                    () = tokio::time::sleep(due.since(now)) => {}
                    () = shared.bell.notified() => {}
                }
            }
            None => shared.bell.notified().await,
        }
    }
}

/// Looks at the root itself, regularly and when there is reason to.
async fn beat(shared: Arc<Shared>) {
    loop {
        let at = Arc::clone(&shared);
        // On a thread that may block: a dead network mount answers never.
        let Ok(here) = spawn_blocking(move || check(&at)).await else { return };
        let wait = if here { HEARTBEAT.min(shared.settings.poll_every) } else { SEEKING };
        tokio::select! {
            () = tokio::time::sleep(wait) => {}
            () = shared.pulse.notified() => {}
        }
    }
}

/// Looks at the root itself and yields whether it is there.
fn check(shared: &Arc<Shared>) -> bool {
    let seen = identity(&shared.root);
    let mut watcher = lock(&shared.watcher);
    let another = lock(&shared.state).beat(seen, shared.clock.tick());
    if another {
        // Old watches may belong to a folder that was moved away and lives on elsewhere: all of them go.
        *watcher = None;
        make(shared, &mut watcher);
    }
    drop(watcher);
    shared.bell.notify_one();
    seen.is_some()
}

/// Makes the watcher if there should be one and is none.
fn make(shared: &Arc<Shared>, watcher: &mut Option<Box<dyn Watcher>>) {
    let (Some(make), None) = (&shared.make, &watcher) else { return };
    let weak = Arc::downgrade(shared);
    let inbox = move |signal| {
        if let Some(shared) = weak.upgrade() {
            receive(&shared, signal);
        }
    };
    match make(Arc::new(inbox)) {
        Ok(made) => *watcher = Some(made),
        Err(trouble) => lock(&shared.state).refused(Path::new(""), Some(trouble), shared.clock.tick()),
    }
}

fn receive(shared: &Shared, signal: Signal) {
    if lock(&shared.state).signal(signal, shared.clock.tick()) {
        shared.pulse.notify_one();
    }
    shared.bell.notify_one();
}

fn identity(root: &Path) -> Option<Identity> {
    fs::metadata(root).ok().filter(fs::Metadata::is_dir).map(|metadata| Identity::of(&metadata))
}

/// A panic elsewhere must not end the watch: the state is whole after every step.
fn lock<T: ?Sized>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
