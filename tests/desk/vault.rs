//! An archive in a temporary folder, its output folder and a ledger; and a person, and a drive, that meddle with it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use burler::archive::{self, Company, Progress, Rereading, Roots, Settings, Sheets, SweepError, Swept, Tools};
use burler::clock::Clock;
use burler::codec::picture::encode_png;
use burler::disk::Disk;
use burler::ledger::{Ledger, Member, archive_folder};
use burler::pipeline::mockup;
use burler::spec::Spec;
use burler::tile::Raster;
use burler::worker::job::Limits;
use std::collections::BTreeMap;
use std::fs::{self, File, FileTimes};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

/// The archive's name.
pub const NAME: &str = "prints";

pub struct Vault {
    home: TempDir,
    pub ledger: Mutex<Ledger>,
    pub specs: BTreeMap<String, Spec>,
    pub mend: bool,
}

/// A file as a person sees it: name, bytes, time of writing, time of the entry's change.
pub type Seen = (Vec<u8>, (i64, i64), (i64, i64));

impl Vault {
    pub fn new() -> Self {
        // In memory where there is such a folder: some tests repeat a sweep for each of its operations.
        let memory = Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        fs::create_dir(home.path().join("archive")).unwrap();
        let ledger = Ledger::open(&Disk::new(), &home.path().join("state/ledger.sqlite")).unwrap();
        Self { home, ledger: Mutex::new(ledger), specs: BTreeMap::new(), mend: false }
    }

    pub fn at(&self, path: impl AsRef<Path>) -> PathBuf {
        self.home.path().join(path)
    }

    pub fn file(&self, path: impl AsRef<Path>) -> PathBuf {
        self.at("archive").join(path)
    }

    /// The designer puts a file there; long ago, so that it is not taken for one on its way.
    pub fn put(&self, path: impl AsRef<Path>, bytes: impl AsRef<[u8]>) {
        let path = self.file(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        // Each writing has a time of its own, as it has in life.
        let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap();
        let time = SystemTime::UNIX_EPOCH + now - Duration::from_hours(1000)
            + Duration::from_nanos(now.as_nanos() as u64 % 977);
        File::options().write(true).open(&path).unwrap().set_times(FileTimes::new().set_modified(time)).unwrap();
    }

    /// The drive loses a bit, and nothing else of the file changes but the time of its entry, which no program can set.
    pub fn flip(&self, path: impl AsRef<Path>, bit: u64) {
        let path = self.file(path);
        let times = fs::metadata(&path).unwrap();
        let mut bytes = fs::read(&path).unwrap();
        let at = (bit / 8) as usize % bytes.len();
        bytes[at] ^= 1 << (bit % 8);
        fs::write(&path, bytes).unwrap();
        let times = FileTimes::new().set_modified(times.modified().unwrap()).set_accessed(times.accessed().unwrap());
        File::options().write(true).open(&path).unwrap().set_times(times).unwrap();
    }

    pub fn settings(&self) -> Settings {
        Settings {
            name: NAME.into(),
            folder: self.at("archive"),
            checked: self.at("checked"),
            sheets: Sheets::new(Spec::default(), &self.specs),
            rereading: Rereading { within: Duration::from_hours(24 * 30), all: false },
            untouched: archive::stray::YOUNG,
            mend: self.mend,
            dry_run: false,
            mockup: mockup::Settings { max_side: 200, ..mockup::Settings::default() },
            limits: Limits::default(),
            lanes: 2,
            nightly: false,
        }
    }

    pub fn tools(&self, disk: Disk) -> Tools {
        let program = env!("CARGO_BIN_EXE_burler").into();
        Tools { disk, clock: Clock::start(), program, scratch: self.at("state/scratch") }
    }

    pub fn sweep(&self) -> Swept {
        self.sweep_with(&self.settings()).unwrap()
    }

    pub fn full(&self) -> Swept {
        let settings = self.settings();
        self.sweep_with(&Settings { rereading: Rereading { all: true, ..settings.rereading }, ..settings }).unwrap()
    }

    pub fn sweep_with(&self, settings: &Settings) -> Result<Swept, SweepError> {
        self.sweep_until(settings, &|| false)
    }

    pub fn sweep_until(&self, settings: &Settings, stop: &(dyn Fn() -> bool + Sync)) -> Result<Swept, SweepError> {
        self.sweep_on(Disk::new(), settings, stop)
    }

    pub fn sweep_on(
        &self,
        disk: Disk,
        settings: &Settings,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Result<Swept, SweepError> {
        let roots = Roots::from([(archive_folder(NAME), self.at("archive")), ("studio".into(), self.at("exports"))]);
        let mut company = Company { stop, progress: &mut |_: Progress| (), roots: &roots };
        archive::sweep(settings, &self.tools(disk), &self.ledger, &mut company)
    }

    /// The program starts again, on a disk that may go wrong.
    pub fn reopen(&mut self, disk: &Disk) {
        self.ledger = Mutex::new(Ledger::open(disk, &self.at("state/ledger.sqlite")).unwrap());
    }

    pub fn members(&self) -> Vec<Member> {
        self.ledger.lock().unwrap().members(NAME).unwrap()
    }

    pub fn member(&self, path: &str) -> Member {
        self.members().into_iter().find(|member| member.path == Path::new(path)).unwrap()
    }

    pub fn last_change(&self) -> i64 {
        self.ledger.lock().unwrap().last_change().unwrap()
    }

    /// What the ledger says that does not depend on times and the numbers of files and changes.
    pub fn says(&self) -> Vec<String> {
        let line = |member: Member| {
            format!("{:?} {} {:?} {:?} {:?}", member.path, member.content, member.state, member.judged, member.news)
        };
        self.members().into_iter().map(line).collect()
    }

    /// Everything below a folder as a person sees it.
    pub fn seen(&self, folder: &str) -> BTreeMap<PathBuf, Seen> {
        let root = self.at(folder);
        walkdir::WalkDir::new(&root)
            .into_iter()
            .filter_map(Result::ok)
            .map(|entry| {
                let metadata = entry.metadata().unwrap();
                let bytes = if metadata.is_file() { fs::read(entry.path()).unwrap() } else { Vec::new() };
                let times = ((metadata.mtime(), metadata.mtime_nsec()), (metadata.ctime(), metadata.ctime_nsec()));
                (entry.path().strip_prefix(&root).unwrap().into(), (bytes, times.0, times.1))
            })
            .collect()
    }
}

/// A small tile whose art meets itself at every edge; each seed draws another.
pub fn sound(seed: u32) -> Vec<u8> {
    drawn(seed, |_, _| 255)
}

/// The same with a see-through line, which can be mended.
pub fn with_line(seed: u32) -> Vec<u8> {
    drawn(seed, |_, y| if y == 23 { 128 } else { 255 })
}

/// Spots of a period that the tile does not hold: its edges do not meet, which only the artist can put right.
pub fn broken(seed: u32) -> Vec<u8> {
    let [a, b, ..] = seed.wrapping_mul(2_654_435_761).to_le_bytes();
    picture(96, |x, y| {
        let (u, v) = ((x % 41).abs_diff(20), (y % 37).abs_diff(18));
        if u * u + v * v < 260 { [180, a / 3, b / 3, 255] } else { [240, 235, 220, 255] }
    })
}

fn drawn(seed: u32, alpha: impl Fn(u32, u32) -> u8) -> Vec<u8> {
    let [a, b, c, _] = seed.wrapping_mul(2_654_435_761).to_le_bytes();
    picture(48, |x, y| {
        let [red, green, blue] =
            if (x / 12 + y / 12) % 2 == 0 { [a / 2, b / 2, c / 2] } else { [255 - a / 4, 230, 205] };
        [red, green, blue, alpha(x, y)]
    })
}

fn picture(side: u32, draw: impl Fn(u32, u32) -> [u8; 4]) -> Vec<u8> {
    let samples = (0..side * side).flat_map(|at| draw(at % side, at / side)).collect();
    encode_png(&Raster::new(side, side, samples).unwrap(), Some(300.0)).unwrap()
}
