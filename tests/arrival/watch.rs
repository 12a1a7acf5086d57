//! A loop such as the daemon's, and a watcher under the control of a test.

use burler::arrival::{Eye, Happening, Inbox, Look, LookAt, Lookout, Settings, Signal, Trouble, Watcher};
use burler::clock::Clock;
use burler::settle::{self, Table};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tempfile::TempDir;
use tokio::sync::mpsc;

/// Nothing here takes a second on an idle machine; a failing test ends after this.
pub const DEADLINE: Duration = Duration::from_secs(60);

pub const NEVER: Duration = Duration::from_secs(24 * 60 * 60);

/// Events alone: no full look comes to their aid.
pub const EVENTS: Settings = Settings { polling: false, poll_every: NEVER, scan_every: NEVER };

/// A loop such as the daemon's: takes happenings, looks, notes.
pub struct Watch {
    pub root: PathBuf,
    pub eye: Eye,
    _lookout: Lookout,
    channel: mpsc::Receiver<Happening>,
    pub table: Table,
    clock: Clock,
    pub looks: Vec<LookAt>,
    pub lost: usize,
    pub back: usize,
    pub troubles: Vec<String>,
    pub gone: BTreeSet<PathBuf>,
}

impl Watch {
    pub fn with(root: &Path, start: impl FnOnce(Clock, mpsc::Sender<Happening>) -> Lookout) -> Self {
        let clock = Clock::start();
        let (sender, channel) = mpsc::channel(4);
        let lookout = start(clock, sender);
        Self {
            root: root.to_owned(),
            eye: lookout.eye(),
            _lookout: lookout,
            channel,
            table: Table::new(settle::Settings::default()),
            clock,
            looks: Vec::new(),
            lost: 0,
            back: 0,
            troubles: Vec::new(),
            gone: BTreeSet::new(),
        }
    }

    pub fn start(root: &Path, settings: Settings) -> Self {
        Self::with(root, |clock, sender| Lookout::start(root, settings, clock, sender, |happening| happening))
    }

    /// Goes on until a condition holds.
    pub async fn until(&mut self, what: &str, done: impl Fn(&Self) -> bool) {
        let reached = tokio::time::timeout(DEADLINE, async {
            while !done(self) {
                match self.channel.recv().await.expect("the lookout lives") {
                    Happening::LookAt(at) => {
                        let (eye, mark) = (self.eye.clone(), at.clone());
                        let look = tokio::task::spawn_blocking(move || eye.look(&mark)).await.expect("a look ends");
                        self.note(&look);
                        self.looks.push(at);
                    }
                    Happening::RootLost => self.lost += 1,
                    Happening::RootBack => self.back += 1,
                    Happening::Trouble(trouble) => self.troubles.push(trouble.to_string()),
                }
            }
        });
        assert!(reached.await.is_ok(), "{what}: not within {DEADLINE:?}; looks {:?}", self.looks);
    }

    fn note(&mut self, look: &Look) {
        let before: Vec<_> = look.files.iter().filter(|(path, _)| self.table.stamp(path).is_none()).cloned().collect();
        self.gone.extend(self.table.note(look, self.clock.tick()));
        // As if each had been judged, so that the table tells when it is gone.
        for (path, stamp) in before {
            self.table.remember(&path, stamp);
        }
    }

    pub fn has(&self, path: impl AsRef<Path>) -> bool {
        self.table.stamp(path.as_ref()).is_some()
    }

    pub fn put(&self, path: impl AsRef<Path>) {
        put(&self.root.join(path));
    }
}

pub fn put(path: &Path) {
    fs::create_dir_all(path.parent().expect("a file lies in a folder")).expect("folders can be made");
    fs::write(path, "tile").expect("files can be written");
}

pub fn exports() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let root = folder.path().join("exports");
    fs::create_dir(&root).expect("a folder can be made");
    (folder, root)
}

/// A watcher under the control of a test.
#[derive(Clone, Default)]
pub struct Fake {
    pub inbox: Arc<Mutex<Option<Inbox>>>,
    pub armed: Arc<Mutex<Vec<PathBuf>>>,
    /// How many times a watcher was made.
    pub made: Arc<Mutex<usize>>,
    pub most: Option<usize>,
    pub root: PathBuf,
    /// Where the root is moved to when this folder is about to be watched.
    pub moves_root: Option<(PathBuf, PathBuf)>,
}

impl Fake {
    pub fn signal(&self, signal: Signal) {
        let inbox = self.inbox.lock().expect("no test panics here").clone();
        inbox.expect("the watcher has been made")(signal);
    }

    pub fn lookout(&self, root: &Path, settings: Settings) -> Watch {
        let fake = self.clone();
        let make = move |inbox: Inbox| -> Result<Box<dyn Watcher>, Trouble> {
            *fake.inbox.lock().expect("no test panics here") = Some(inbox);
            *fake.made.lock().expect("no test panics here") += 1;
            Ok(Box::new(fake.clone()))
        };
        Watch::with(root, |clock, sender| Lookout::start_with(root, settings, clock, sender, |it| it, Box::new(make)))
    }
}

impl Watcher for Fake {
    fn arm(&mut self, folder: &Path) -> Result<bool, Trouble> {
        if let Some((_, away)) = self.moves_root.as_ref().filter(|(at, _)| at == folder)
            && !away.exists()
        {
            fs::rename(&self.root, away).expect("the root can be moved away");
        }
        let mut armed = self.armed.lock().expect("no test panics here");
        if armed.iter().any(|known| known == folder) {
            return Ok(true);
        }
        if self.most.is_some_and(|most| armed.len() >= most) {
            return Err(Trouble::WatchLimit(self.root.clone()));
        }
        armed.push(folder.to_owned());
        Ok(true)
    }

    fn disarm(&mut self, folder: &Path) {
        self.armed.lock().expect("no test panics here").retain(|armed| armed != folder);
    }
}
