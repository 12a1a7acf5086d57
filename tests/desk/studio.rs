//! A studio in a temporary folder: exports, an output folder, a ledger, and a person who meddles with both.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use burler::codec::noted;
use burler::codec::picture::encode_png;
use burler::deliver::{
    DeliverError, Delivered, Delivery, Lying, Outcome, Parcel, Place, Reviewed, Role, Succession, deliver, review,
};
use burler::disk::{self, Disk, Source};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::ledger::{Ledger, OutputState, StandingState};
use burler::pipeline::WORD;
use burler::ticket::word::Word;
use burler::ticket::{RULES, RepeatFound, SCHEMA, Ticket};
use burler::tile::{Content, Raster};
use std::collections::{BTreeMap, BTreeSet};
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

    /// As when the file is another drawing than the one before, and a newer export of the one with the text `renews`.
    pub fn try_another(&mut self, path: &str, verdict: Verdict, renews: &str) -> Result<Delivery, DeliverError> {
        let renews = Some(Content::of(renews.as_bytes())).filter(|_| !renews.is_empty());
        let outcome = Outcome { succession: Succession::Another { renews }, ..self.outcome(path, verdict) };
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

    /// What the daemon does with a file whose left edge does not meet its right one: judges it under the artist's word and
    /// delivers what comes of it. The held picture is a small one that carries its word.
    pub fn work(&mut self, path: impl AsRef<Path>) -> Result<Delivery, DeliverError> {
        let outcome = self.judged(path)?;
        self.hand_in(&outcome)
    }

    pub fn judged(&self, path: impl AsRef<Path>) -> Result<Outcome, DeliverError> {
        let full = self.exports().join(&path);
        let content = Content::of(&fs::read(&full).unwrap());
        let let_pass = self.ledger.let_pass(FOLDER, content)?;
        let mut ticket = ticket(path.as_ref(), content, Verdict::Held);
        ticket.set_aside(&let_pass);
        let mut outcome = outcome(&full, path.as_ref(), ticket.verdict);
        if ticket.verdict == Verdict::Held {
            let bytes = held_picture(&ticket);
            outcome.parcels =
                vec![Parcel { role: Role::Held, content: Content::of(&bytes), source: Source::Bytes(bytes) }];
        }
        Ok(Outcome { ticket, let_pass, ..outcome })
    }

    /// A person moves a file within the output folder.
    pub fn carry(&self, from: &str, to: &str) {
        let to = self.checked().join(to);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::rename(self.checked().join(from), to).unwrap();
    }

    /// Looks let-pass over as it is, everything in it at rest.
    pub fn review(&mut self) -> Result<Reviewed, DeliverError> {
        let root = self.checked().join("let-pass");
        let lying: Vec<Lying> = all_files(&root)
            .into_keys()
            .map(|name| {
                let stamp = disk::stamp(&root.join(&name)).unwrap();
                (PathBuf::from(name), stamp)
            })
            .collect();
        self.at(|disk, ledger, place, _| review(disk, ledger, place, &lying))
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
                StandingState::Kept => "kept",
                StandingState::Unfinished => "unfinished",
            };
            lines.push(format!(
                "{:?} {} {state} as {:?}, change {}, let pass {:?}",
                standing.path,
                standing.verdict.name(),
                standing.name,
                standing.changed,
                standing.let_pass
            ));
        }
        for picture in self.ledger.words(FOLDER).unwrap() {
            lines.push(format!("  {:?} says {:?}, change {}", picture.path, picture.word, picture.changed));
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
            (name, String::from_utf8_lossy(&fs::read(entry.path()).unwrap()).into_owned())
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
        let_pass: BTreeSet::new(),
        succession: Succession::Replaces,
        parcels,
    }
}

/// A picture of one pixel, its color from the tile, that carries the word of a held one.
pub fn held_picture(ticket: &Ticket) -> Vec<u8> {
    let content = Content::from_hex(&ticket.blake3).unwrap();
    let [red, green, blue, ..] = content.0;
    let raster = Raster::new(1, 1, vec![red, green, blue, 255]).unwrap();
    let word = Word { content, marks: ticket.faults() };
    noted(&encode_png(&raster, None).unwrap(), WORD, &word.to_text()).unwrap()
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
        flat_colors: None,
        verdict: if verdict == Verdict::Mended { Verdict::Mendable } else { verdict },
        findings,
        readings: Vec::new(),
        let_pass: Vec::new(),
        companions: Vec::new(),
        outputs: Vec::new(),
    }
}
