//! What the ledger knows, as plain data.
//!
//! Standings, outputs, letters and the keys of judgments. Knows nothing of how they are stored.

use crate::disk::Stamp;
use crate::finding::Verdict;
use crate::spec::wish::Wish;
use crate::ticket::Ticket;
use crate::ticket::word::{self, Mark, Word};
use crate::tile::Content;
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// What a judgment depends on, and nothing else.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The hash of the file.
    pub content: Content,
    /// The digest of the spec's content.
    pub spec_digest: String,
    /// The version of the rules.
    pub rules: u32,
}

/// Whether a standing holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StandingState {
    /// The original is there and its outputs are those of this standing.
    Present,
    /// The original has disappeared; the outputs stay.
    Gone,
    /// Another drawing has its path now; the outputs stay. Its path in the ledger is [`kept_path`].
    Kept,
    /// Outputs are being exchanged, or were when the program was killed: the path must be worked through again.
    Unfinished,
}

/// What holds now for one path.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The folder's name in the configuration.
    pub folder: String,
    /// The original's path relative to its exports folder, raw bytes.
    pub path: PathBuf,
    /// The original's stamp when it was read.
    pub stamp: Stamp,
    /// What it was judged on.
    pub key: Key,
    /// The spec's name at that time; empty for none.
    pub spec: String,
    /// What it came to.
    pub verdict: Verdict,
    /// The digest of the settings its pictures were drawn with.
    pub pictures: String,
    /// Its claimed name under the output folder, relative to a role's folder.
    pub name: PathBuf,
    /// Whether it holds.
    pub state: StandingState,
    /// The number of its last change worth telling.
    pub changed: i64,
    /// When it was last set.
    pub at: SystemTime,
    /// What the artist had let pass of this content when it was judged.
    pub let_pass: BTreeSet<Mark>,
}

impl Standing {
    /// The path as a person knows it: of a kept one, the path it had.
    #[must_use]
    pub fn shown(&self) -> &Path {
        let bytes = self.path.as_os_str().as_bytes();
        let end = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
        Path::new(OsStr::from_bytes(&bytes[..end]))
    }
}

/// The path under which a drawing is kept whose own path another one has now: its own, a zero byte, which no path holds, and
/// the hash of its file.
#[must_use]
pub fn kept_path(path: &Path, content: Content) -> PathBuf {
    let mut key = path.as_os_str().to_os_string();
    key.push(format!("\0{content}"));
    key.into()
}

/// How the name of a companion's role begins; the wish follows.
const COMPANION: &str = "companion ";

/// What a published file is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The checked file under its own name.
    Ready,
    /// The mended file under its own name with `.png` after it, for an original in another format.
    ReadyAsPng,
    /// The picture of what is wrong.
    Held,
    /// The repeat picture.
    Repeat,
    /// The mock-up at print scale.
    StrikeOff,
    /// The mended places before and after.
    BeforeAfter,
    /// A held tile with everything mended that can be.
    PartlyMended,
    /// A held tile with its holes filled from other units of the design.
    Filled,
    /// The tile turned or laid anew.
    Companion(Wish),
}

impl Role {
    /// Every role that a tile has once.
    pub const ALL: [Self; 8] = [
        Self::Ready,
        Self::ReadyAsPng,
        Self::Held,
        Self::Repeat,
        Self::StrikeOff,
        Self::BeforeAfter,
        Self::PartlyMended,
        Self::Filled,
    ];

    /// Its name in the ledger.
    #[must_use]
    pub fn name(self) -> Cow<'static, str> {
        match self {
            Self::Ready => "ready".into(),
            Self::ReadyAsPng => "ready-as-png".into(),
            Self::Held => "held".into(),
            Self::Repeat => "repeat".into(),
            Self::StrikeOff => "strike-off".into(),
            Self::BeforeAfter => "before-after".into(),
            Self::PartlyMended => "partly-mended".into(),
            Self::Filled => "filled".into(),
            Self::Companion(wish) => format!("{COMPANION}{wish}").into(),
        }
    }

    /// The role of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        if let Some(wish) = name.strip_prefix(COMPANION) {
            return Wish::parse(wish).ok().map(Self::Companion);
        }
        Self::ALL.into_iter().find(|role| role.name() == name)
    }
}

/// Where an output is in its life.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OutputState {
    /// About to get its name; whether it has it, the disk knows.
    Publishing,
    /// In its place.
    Published,
    /// On its way to another name, of the same standing or in `earlier/`; which name it has, the disk knows.
    Moving {
        /// The name it gets.
        to: PathBuf,
        /// Whether that is in `earlier/`.
        withdrawn: bool,
    },
    /// In `earlier/` since then.
    Withdrawn(SystemTime),
    /// A person took it away.
    Removed,
    /// A person changed it; it is theirs now.
    Edited,
}

/// One file that was written for a path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Output {
    /// Its number in the ledger; `None` before it is stored.
    pub id: Option<i64>,
    /// The original's path it was written for.
    pub path: PathBuf,
    /// Where it is, relative to the output folder.
    pub file: PathBuf,
    /// What it is for.
    pub role: Role,
    /// Its hash as written.
    pub content: Content,
    /// The hash of the original it was made from.
    pub origin: Content,
    /// Its stamp when its hash was last seen to be right.
    pub stamp: Option<Stamp>,
    /// Where it is in its life.
    pub state: OutputState,
    /// Whether it was found with the right bytes rather than written by this ledger's owner; such a file is moved with
    /// its set but never expired.
    pub found: bool,
}

/// One picture in the folder let-pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetPass {
    /// Where it lies, relative to the folder let-pass.
    pub path: PathBuf,
    /// Its stamp when it was read.
    pub stamp: Stamp,
    /// The hash of its bytes; `None` when it could not be read or is far too large to be one of ours.
    pub file: Option<Content>,
    /// What it accepts; `None` when it carries no word of ours.
    pub word: Option<Word>,
    /// The number of the change with which it was found not to be ours; 0 for one that is, or not known yet.
    pub changed: i64,
}

/// One letter that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Letter {
    /// The last change it tells of.
    pub upto: i64,
    /// The end of the window it covers.
    pub window_end: SystemTime,
    /// Its Message-ID.
    pub message_id: String,
    /// Where it is kept.
    pub file: PathBuf,
}

/// What a letter told of a tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// The folder's name in the configuration.
    pub folder: String,
    /// The original's path relative to its exports folder.
    pub path: PathBuf,
    /// The hash of the original then.
    pub content: Content,
    /// What it came to.
    pub verdict: Verdict,
    /// What was found, as [`says`]; empty when that is not known any more, which is taken for the same.
    pub says: String,
    /// The number of the change it told of.
    pub change: i64,
    /// When it was told, or last called to mind again.
    pub at: SystemTime,
}

/// What a ticket has to tell, as a short digest: what counts and what was let pass, each with its places, measure and
/// limit, and nothing of the wording.
#[must_use]
pub fn says(ticket: Option<&Ticket>) -> String {
    let Some(ticket) = ticket else { return String::new() };
    let counts = ticket.findings.iter().filter(|finding| !finding.silenced).map(Mark::of).collect();
    let meant = ticket.let_pass.iter().filter_map(|at| ticket.findings.get(*at)).map(Mark::of).collect();
    let line = format!("{} | {}", word::spelled(&counts), word::spelled(&meant));
    Content::of(line.as_bytes()).to_string()[..32].into()
}

/// A standing with everything a report needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The standing.
    pub standing: Standing,
    /// Its ticket, naming its path and its published outputs; `None` when its judgment was not kept.
    pub ticket: Option<Ticket>,
    /// Its outputs in every state but withdrawn, by file.
    pub outputs: Vec<Output>,
}

/// The part of a ticket that depends on the key alone: without the names of tile, spec and outputs and the artist's word,
/// and with "mendable" where a standing says "mended".
#[must_use]
pub fn kept_judgment(ticket: &Ticket) -> Ticket {
    let verdict = match ticket.verdict {
        Verdict::Mended => Verdict::Mendable,
        verdict => verdict,
    };
    let mut kept = Ticket {
        tile: String::new(),
        tile_hex: None,
        spec: String::new(),
        outputs: Vec::new(),
        verdict,
        ..ticket.clone()
    };
    // The artist's word is not part of the key: it comes and goes while the judgment stays.
    kept.take_back();
    kept
}

/// A kept judgment with the names of one path and the artist's word put back.
#[must_use]
pub fn ticket_of(judgment: Ticket, standing: &Standing, outputs: &[Output]) -> Ticket {
    let text = |path: &Path| path.to_string_lossy().into_owned();
    let mut judgment = judgment;
    judgment.set_aside(&standing.let_pass);
    let hex = |path: &Path| path.as_os_str().as_bytes().iter().map(|byte| format!("{byte:02x}")).collect();
    Ticket {
        tile: text(&standing.path),
        tile_hex: standing.path.to_str().is_none().then(|| hex(&standing.path)),
        spec: standing.spec.clone(),
        verdict: standing.verdict,
        outputs: outputs
            .iter()
            .filter(|output| matches!(output.state, OutputState::Published | OutputState::Edited))
            .map(|output| text(&output.file))
            .collect(),
        ..judgment
    }
}
