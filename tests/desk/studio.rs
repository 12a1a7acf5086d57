//! A studio in a temporary folder: exports, an output folder, a ledger, and a person who meddles with both.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use burler::deliver::{DeliverError, Delivered, Delivery, Outcome, Parcel, Place, Role, deliver};
use burler::disk::{self, Disk, Source};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::ledger::{Ledger, OutputState, StandingState};
use burler::ticket::{RULES, RepeatFound, SCHEMA, Ticket};
use burler::tile::Content;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use tempfile::TempDir;

pub const FOLDER: &str = "studio";

/// Noon on 1 May 2026, in coordinated universal time.
pub fn noon() -> SystemTime {
    UNIX_EPOCH + Duration::from_secs(1_777_636_800)
}

pub struct Studio {
    home: TempDir,
    pub disk: Disk,
    pub ledger: Ledger,
    pub now: SystemTime,
}

impl Studio {
    pub fn new() -> Self {
        Self::on(Disk::new())
    }

    /// On a disk that may go wrong; the ledger is made on a sound one first.
    pub fn on(disk: Disk) -> Self {
        // In memory where there is such a folder: some tests repeat a script for each of its operations.
        let memory = Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        fs::create_dir(home.path().join("exports")).unwrap();
        drop(Ledger::open(&Disk::new(), &home.path().join("state/ledger.sqlite")).unwrap());
        let ledger = Ledger::open(&disk, &home.path().join("state/ledger.sqlite")).unwrap();
        Self { home, disk, ledger, now: noon() }
    }

    /// The program starts again.
    pub fn restart_on(&mut self, disk: Disk) {
        self.disk = disk;
        self.ledger = Ledger::open(&self.disk, &self.ledger_path()).unwrap();
    }

    pub fn ledger_path(&self) -> PathBuf {
        self.home.path().join("state/ledger.sqlite")
    }

    pub fn exports(&self) -> PathBuf {
        self.home.path().join("exports")
    }

    pub fn checked(&self) -> PathBuf {
        self.home.path().join("checked")
    }

    /// The designer saves a file.
    pub fn export(&self, path: impl AsRef<Path>, bytes: &str) {
        put(&self.exports().join(path), bytes);
    }

    /// A person writes a file of their own into the output folder.
    pub fn meddle(&self, file: &str, bytes: &str) {
        put(&self.checked().join(file), bytes);
    }

    /// A person takes a file out of the output folder.
    pub fn take_away(&self, file: &str) {
        fs::remove_file(self.checked().join(file)).unwrap();
    }

    /// What the pipeline would hand over for a file as it lies in exports.
    pub fn outcome(&self, path: impl AsRef<Path>, verdict: Verdict) -> Outcome {
        let full = self.exports().join(&path);
        outcome(&full, path.as_ref(), verdict)
    }

    pub fn try_deliver(&mut self, path: impl AsRef<Path>, verdict: Verdict) -> Result<Delivery, DeliverError> {
        let outcome = self.outcome(path, verdict);
        self.hand_in(&outcome)
    }

    pub fn hand_in(&mut self, outcome: &Outcome) -> Result<Delivery, DeliverError> {
        let (exports, checked) = (self.exports(), self.checked());
        let place = Place { folder: FOLDER, exports: &exports, checked: &checked };
        deliver(&self.disk, &mut self.ledger, &place, outcome, &mut || true, self.now)
    }

    pub fn deliver(&mut self, path: impl AsRef<Path>, verdict: Verdict) -> Delivered {
        match self.try_deliver(path, verdict).unwrap() {
            Delivery::Done(delivered) => delivered,
            Delivery::Superseded => panic!("superseded"),
        }
    }

    /// Calls something that wants the place.
    pub fn at<T>(&mut self, call: impl FnOnce(&Disk, &mut Ledger, &Place<'_>, SystemTime) -> T) -> T {
        let (exports, checked) = (self.exports(), self.checked());
        let place = Place { folder: FOLDER, exports: &exports, checked: &checked };
        call(&self.disk, &mut self.ledger, &place, self.now)
    }

    /// Every file in the output folder with its text.
    pub fn files(&self) -> BTreeMap<String, String> {
        all_files(&self.checked())
    }

    /// Expects exactly these files in the output folder: name, text.
    pub fn expect(&self, wanted: &[(&str, &str)]) {
        let wanted: BTreeMap<_, _> = wanted.iter().map(|(a, b)| ((*a).to_string(), (*b).to_string())).collect();
        assert_eq!(self.files(), wanted);
    }

    /// Everything the ledger says that does not depend on the disk's numbers.
    pub fn says(&self) -> Vec<String> {
        let mut lines = Vec::new();
        for standing in self.ledger.standings(FOLDER).unwrap() {
            let state = match standing.state {
                StandingState::Present => "present",
                StandingState::Gone => "gone",
                StandingState::Unfinished => "unfinished",
            };
            lines.push(format!(
                "{:?} {} {state} as {:?}, change {}",
                standing.path,
                standing.verdict.name(),
                standing.name,
                standing.changed
            ));
        }
        for output in self.ledger.outputs_in(FOLDER, |_| true).unwrap() {
            let state = match output.state {
                OutputState::Withdrawn(_) => "Withdrawn".into(),
                state => format!("{state:?}"),
            };
            lines.push(format!("  {:?} of {:?}: {:?} {state}", output.file, output.path, output.role));
        }
        lines
    }
}

fn put(path: &Path, bytes: &str) {
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

/// Every file below a folder with its text.
pub fn all_files(root: &Path) -> BTreeMap<String, String> {
    walkdir::WalkDir::new(root)
        .into_iter()
        .filter_map(Result::ok)
        .filter(|entry| !entry.file_type().is_dir())
        .map(|entry| {
            let name = entry.path().strip_prefix(root).unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(entry.path()).unwrap())
        })
        .collect()
}

/// The outcome for a file: sound ones go back as they are, the rest gets texts that name what they were made from.
pub fn outcome(full: &Path, path: &Path, verdict: Verdict) -> Outcome {
    let original = fs::read_to_string(full).unwrap();
    let content = Content::of(original.as_bytes());
    let is_png = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("png"));
    let text = |role, text: String| Parcel {
        role,
        content: Content::of(text.as_bytes()),
        source: Source::Bytes(text.into_bytes()),
    };
    let pictures = || {
        [
            text(Role::Repeat, format!("repeat of {original}")),
            text(Role::StrikeOff, format!("strike-off of {original}")),
        ]
    };
    let parcels = match verdict {
        Verdict::Sound => {
            let source = Source::Open(disk::open(full).unwrap());
            [Parcel { role: Role::Ready, source, content }].into_iter().chain(pictures()).collect()
        }
        Verdict::Mended => {
            let role = if is_png { Role::Ready } else { Role::ReadyAsPng };
            [text(role, format!("mended {original}"))].into_iter().chain(pictures()).collect()
        }
        Verdict::Held => vec![text(Role::Held, format!("held {original}"))],
        Verdict::Mendable | Verdict::Unreadable => Vec::new(),
    };
    Outcome {
        path: path.into(),
        stamp: disk::stamp(full).unwrap().unwrap(),
        content,
        verdict,
        ticket: ticket(path, content, verdict),
        pictures: "2x2".into(),
        parcels,
    }
}

/// A ticket whose findings go with the verdict.
pub fn ticket(path: &Path, content: Content, verdict: Verdict) -> Ticket {
    let finding = |kind, grade, says: &str| Finding {
        kind,
        grade,
        silenced: false,
        boxes: Vec::new(),
        measure: None,
        says: says.into(),
        remedy: "look at it".into(),
    };
    let findings = match verdict {
        Verdict::Sound => Vec::new(),
        Verdict::Mended | Verdict::Mendable => {
            vec![finding(Kind::AlphaHairline, Grade::Mend, "a half-transparent line runs across the tile")]
        }
        Verdict::Held => vec![finding(Kind::JointBreak, Grade::Fault, "the left edge does not meet the right one")],
        Verdict::Unreadable => vec![finding(Kind::FileUnreadable, Grade::Fault, "the file cannot be opened")],
    };
    Ticket {
        schema: SCHEMA,
        rules: RULES,
        tile: path.to_string_lossy().into_owned(),
        tile_hex: None,
        blake3: content.to_string(),
        format: "png".into(),
        width: 2400,
        height: 2400,
        channels: "rgba".into(),
        bit_depth: 8,
        resolution_dpi: Some([300.0, 300.0]),
        print_mm: Some([203.2, 203.2]),
        color_profile: "sRGB".into(),
        spec: "cloth".into(),
        spec_digest: "0123456789abcdef".into(),
        ground: "opaque".into(),
        repeat: RepeatFound { joins_as: vec!["block".into()], unit: None },
        verdict: if verdict == Verdict::Mended { Verdict::Mendable } else { verdict },
        findings,
        readings: Vec::new(),
        companions: Vec::new(),
        outputs: Vec::new(),
    }
}
