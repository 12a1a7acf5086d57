//! A folder that exists only in memory, with writers and a settle table watching it, on a clock that is a number.

use burler::arrival::{Look, names};
use burler::clock::Tick;
use burler::disk::Stamp;
use burler::settle::{Ask, Noted, Settings, Settled, Structure, Table};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// One file of the world.
#[derive(Clone, Copy, Debug)]
pub struct Bytes {
    pub stamp: Stamp,
    pub structure: Structure,
    /// Counts every change of the bytes, whether it moved the stamp or not.
    pub version: u64,
    /// When the bytes changed last.
    pub changed: Tick,
}

/// What the table said, and the bytes the file had at that time.
#[derive(Clone, Debug)]
pub enum Said {
    Settled(Settled, Bytes),
    Gone(PathBuf),
}

pub struct World {
    pub files: BTreeMap<PathBuf, Bytes>,
    pub table: Table,
    pub now: Tick,
    /// What the table said, and when.
    pub said: Vec<(Tick, Said)>,
    /// How long it takes to read a file for its structure.
    pub reading: Duration,
    /// The time step of the file system.
    pub step: Duration,
    readers: Vec<(Tick, Ask, Structure)>,
    looks: Vec<(Tick, Look)>,
    count: u64,
}

impl World {
    pub fn new(settings: Settings) -> Self {
        Self {
            files: BTreeMap::new(),
            table: Table::new(settings),
            now: Tick::default(),
            said: Vec::new(),
            reading: Duration::ZERO,
            step: Duration::from_nanos(1),
            readers: Vec::new(),
            looks: Vec::new(),
            count: 0,
        }
    }

    fn file_time(&self) -> i128 {
        let step = self.step.as_nanos().max(1);
        i128::try_from(self.now.0.as_nanos() / step * step).expect("tests are short")
    }

    /// Writes a file, or makes it; the inode stays when it exists.
    pub fn write(&mut self, path: &Path, size: u64, structure: Structure) {
        self.count += 1;
        let time = self.file_time();
        let inode = self.files.get(path).map_or(self.count, |bytes| bytes.stamp.inode);
        let stamp = Stamp { size, mtime_ns: time, ctime_ns: time, inode };
        self.files.insert(path.to_owned(), Bytes { stamp, structure, version: self.count, changed: self.now });
    }

    /// Changes bytes without moving the stamp, as a writer through mapped memory may.
    pub fn fill(&mut self, path: &Path, structure: Structure) {
        self.count += 1;
        if let Some(bytes) = self.files.get_mut(path) {
            *bytes = Bytes { structure, version: self.count, changed: self.now, ..*bytes };
        }
    }

    /// Moves the times and nothing else.
    pub fn touch(&mut self, path: &Path) {
        let time = self.file_time();
        if let Some(bytes) = self.files.get_mut(path) {
            bytes.stamp.mtime_ns = time;
            bytes.stamp.ctime_ns = time;
        }
    }

    /// Renames, over what may be there; the change time moves and the modification time does not.
    pub fn rename(&mut self, from: &Path, to: &Path) {
        let time = self.file_time();
        if let Some(mut bytes) = self.files.remove(from) {
            bytes.stamp.ctime_ns = time;
            bytes.changed = self.now;
            self.files.insert(to.to_owned(), bytes);
        }
    }

    pub fn delete(&mut self, path: &Path) {
        self.files.remove(path);
    }

    /// Tells the table of one path, as an event with a look at that path would.
    pub fn tell(&mut self, path: &Path) {
        let stamp = self.files.get(path).map(|bytes| bytes.stamp);
        if self.table.observe(path, stamp, self.now) == Noted::Gone {
            self.said.push((self.now, Said::Gone(path.to_owned())));
        }
    }

    /// Looks at everything below a folder now; the table hears of it after `late`.
    pub fn look(&mut self, folder: &Path, late: Duration) {
        let seen = self.files.iter().filter(|(path, _)| path.starts_with(folder) && names::is_tile(path));
        let files = seen.map(|(path, bytes)| (path.clone(), bytes.stamp)).collect();
        let heard = self.now.after(late).max(self.looks.last().map_or(self.now, |(heard, _)| *heard));
        self.looks.push((heard, Look { folder: folder.to_owned(), files, kept: Vec::new() }));
        self.settle();
    }

    /// Lets time pass. What is due at `to` itself happens after what the caller does next.
    pub fn pass_to(&mut self, to: Tick) {
        while let Some(next) = self.next_due()
            && next < to
        {
            self.now = self.now.max(next);
            self.settle();
        }
        self.now = self.now.max(to);
    }

    /// Lets time pass until nothing is due any more.
    pub fn pass_all(&mut self) {
        while let Some(next) = self.next_due() {
            self.now = self.now.max(next);
            self.settle();
        }
    }

    fn next_due(&self) -> Option<Tick> {
        let readers = self.readers.iter().map(|(done, ..)| *done);
        let looks = self.looks.iter().map(|(done, _)| *done);
        readers.chain(looks).chain(self.table.next_wake()).min()
    }

    fn settle(&mut self) {
        let now = self.now;
        // Looks are noted in the order they were taken.
        while self.looks.first().is_some_and(|(done, _)| *done <= now) {
            let (_, look) = self.looks.remove(0);
            for path in self.table.note(&look, now) {
                self.said.push((now, Said::Gone(path)));
            }
        }
        for ask in self.table.poll(now) {
            let structure = self.files.get(&*ask.path).map_or(Structure::Unknown, |bytes| bytes.structure);
            self.readers.push((now.after(self.reading), ask, structure));
        }
        let (done, still) = std::mem::take(&mut self.readers).into_iter().partition(|(done, ..)| *done <= now);
        self.readers = still;
        let done: Vec<_> = done;
        for (_, ask, structure) in done {
            let seen = self.files.get(&*ask.path).map(|bytes| bytes.stamp);
            self.table.answer(&ask, seen, structure, now);
        }
        while let Some(settled) = self.table.take() {
            let bytes = *self.files.get(&settled.path).expect("what settles is there");
            self.said.push((now, Said::Settled(settled, bytes)));
        }
    }
}
