//! Being told of changes: our own small trait, and the system's events behind it.
//!
//! Folders are watched one by one, never recursively: whoever walks them arms each before reading it. Every event is
//! reduced to a [`Signal`]; what kind of change it was is for the next look to find out.

use super::trouble::Trouble;
use notify::event::{AccessKind, AccessMode, EventKind, ModifyKind};
use notify::{Config, ErrorKind, RecommendedWatcher, RecursiveMode, Watcher as _};
use rustix::io::Errno;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What an event comes down to. Paths are absolute.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Signal {
    /// The content of a file changed.
    Changed(PathBuf),
    /// A name appeared, vanished or means something else now, or its rights changed; it may be a folder, so it must be
    /// armed anew.
    Moved(PathBuf),
    /// Events may be missing: look at everything.
    Doubt,
}

/// Where a watcher leaves its signals. Never blocks for long.
pub type Inbox = Arc<dyn Fn(Signal) + Send + Sync>;

/// Watches single folders.
pub trait Watcher: Send {
    /// Watches the entries of a folder (absolute); again is fine and renews the watch. Yields false when it is not there
    /// any more.
    ///
    /// # Errors
    /// When the system refuses; the folder is then not watched.
    fn arm(&mut self, folder: &Path) -> Result<bool, Trouble>;

    /// Stops watching a folder; it need not be watched, nor there.
    fn disarm(&mut self, folder: &Path);
}

/// The system's own events.
pub(super) struct System {
    /// Named in errors that concern the watch as a whole.
    root: PathBuf,
    watcher: RecommendedWatcher,
}

impl System {
    /// A watcher without folders yet.
    ///
    /// # Errors
    /// When the system has no queue of events left for this user.
    pub(super) fn new(root: &Path, inbox: Inbox) -> Result<Self, Trouble> {
        let deliver = move |event: notify::Result<notify::Event>| signals(event, &mut |signal| inbox(signal));
        let watcher = RecommendedWatcher::new(deliver, Config::default().with_follow_symlinks(false));
        Ok(Self { root: root.to_owned(), watcher: watcher.map_err(|error| trouble(root, root, error))? })
    }
}

impl Watcher for System {
    fn arm(&mut self, folder: &Path) -> Result<bool, Trouble> {
        match self.watcher.watch(folder, RecursiveMode::NonRecursive) {
            Ok(()) => Ok(true),
            Err(error) if vanished(&error) => Ok(false),
            Err(error) => Err(trouble(&self.root, folder, error)),
        }
    }

    fn disarm(&mut self, folder: &Path) {
        // It fails when the folder is not watched, which is what is wanted.
        let _ = self.watcher.unwatch(folder);
    }
}

/// Reduces an event.
fn signals(event: notify::Result<notify::Event>, send: &mut dyn FnMut(Signal)) {
    let event = match event {
        Ok(event) if !event.need_rescan() => event,
        // An overflow, or a queue that cannot be read.
        Ok(_) | Err(_) => return send(Signal::Doubt),
    };
    let signal: fn(PathBuf) -> Signal = match event.kind {
        // Reading is no change, and our own looks would cause it without end.
        EventKind::Access(AccessKind::Close(AccessMode::Write)) => Signal::Changed,
        EventKind::Access(_) => return,
        EventKind::Modify(ModifyKind::Data(_)) => Signal::Changed,
        EventKind::Any | EventKind::Other | EventKind::Create(_) | EventKind::Remove(_) | EventKind::Modify(_) => {
            Signal::Moved
        }
    };
    if event.paths.is_empty() {
        return send(Signal::Doubt);
    }
    event.paths.into_iter().for_each(|path| send(signal(path)));
}

fn trouble(root: &Path, folder: &Path, error: notify::Error) -> Trouble {
    let folder = folder.to_owned();
    match error.kind {
        ErrorKind::MaxFilesWatch => Trouble::WatchLimit(root.to_owned()),
        // "No more queues of events" (inotify_init(2)).
        ErrorKind::Io(error) if Errno::from_io_error(&error) == Some(Errno::MFILE) => {
            Trouble::InstanceLimit(root.to_owned())
        }
        ErrorKind::Io(error) => Trouble::Watch { folder, reason: error.to_string() },
        kind => Trouble::Watch { folder, reason: notify::Error::new(kind).to_string() },
    }
}

fn vanished(error: &notify::Error) -> bool {
    match &error.kind {
        ErrorKind::PathNotFound => true,
        ErrorKind::Io(error) => error.kind() == io::ErrorKind::NotFound,
        ErrorKind::Generic(_) | ErrorKind::WatchNotFound | ErrorKind::InvalidConfig(_) | ErrorKind::MaxFilesWatch => {
            false
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use notify::Event;
    use notify::event::{CreateKind, DataChange, Flag, MetadataKind, RemoveKind, RenameMode};

    fn reduced(event: notify::Result<Event>) -> Vec<Signal> {
        let mut all = Vec::new();
        signals(event, &mut |signal| all.push(signal));
        all
    }

    #[test]
    fn every_change_and_doubt_is_a_signal_and_reading_is_none() {
        let event = |kind| Ok(Event::new(kind).add_path("/x/a".into()));
        let changed = vec![Signal::Changed("/x/a".into())];
        let moved = vec![Signal::Moved("/x/a".into())];
        for (kind, expected) in [
            (EventKind::Modify(ModifyKind::Data(DataChange::Any)), &changed),
            (EventKind::Modify(ModifyKind::Metadata(MetadataKind::Any)), &moved),
            (EventKind::Access(AccessKind::Close(AccessMode::Write)), &changed),
            (EventKind::Create(CreateKind::Folder), &moved),
            (EventKind::Remove(RemoveKind::File), &moved),
            (EventKind::Modify(ModifyKind::Name(RenameMode::To)), &moved),
            (EventKind::Modify(ModifyKind::Any), &moved),
            (EventKind::Any, &moved),
            (EventKind::Access(AccessKind::Open(AccessMode::Any)), &vec![]),
            (EventKind::Access(AccessKind::Close(AccessMode::Read)), &vec![]),
        ] {
            assert_eq!(reduced(event(kind)), *expected, "{kind:?}");
        }
        let both = Event::new(EventKind::Modify(ModifyKind::Name(RenameMode::Both)));
        let both = both.add_path("/x/a".into()).add_path("/x/b".into());
        assert_eq!(reduced(Ok(both)), [Signal::Moved("/x/a".into()), Signal::Moved("/x/b".into())]);
        assert_eq!(reduced(Ok(Event::new(EventKind::Other).set_flag(Flag::Rescan))), [Signal::Doubt]);
        assert_eq!(reduced(Ok(Event::new(EventKind::Any))), [Signal::Doubt]);
        assert_eq!(reduced(Err(notify::Error::generic("lost"))), [Signal::Doubt]);
    }

    #[test]
    fn limits_say_what_to_do() {
        let told = |kind| trouble(Path::new("/x"), Path::new("/x/a"), notify::Error::new(kind)).to_string();
        assert_eq!(
            told(ErrorKind::MaxFilesWatch),
            "cannot watch all of \"/x\" for changes: the system's limit on watched folders is reached; raise it (sudo sysctl \
             fs.inotify.max_user_watches=524288) or set polling = true; until then all folders are looked through every \
             few seconds"
        );
        assert!(told(ErrorKind::Io(io::Error::from_raw_os_error(24))).contains("fs.inotify.max_user_instances=512"));
        assert!(told(ErrorKind::Io(io::Error::from_raw_os_error(13))).contains("Permission denied"));
        assert!(told(ErrorKind::Generic("no such thing".into())).contains("no such thing; allow this user"));
    }
}
