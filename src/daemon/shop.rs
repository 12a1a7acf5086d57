//! The shop: what all blocking work shares, and the work on one tile from the open file to the committed standing.
//!
//! Opens originals only to read. Every step can be cut off and taken again.

use super::failure::Failure;
use super::happening::End;
use crate::archive::drawings::{self, Known};
use crate::config::{Config, Folder, Ready};
use crate::deliver::{self, Delivery, Lying, Parcel, Place, Role, Succession};
use crate::disk::{self, Disk, DiskError, Source, Stamp, spelled};
use crate::finding::Verdict;
use crate::ledger::{Change, Key, Ledger, LedgerError, Standing, StandingState};
use crate::pipeline::{Wants, mockup};
use crate::settle::{Ask, Settled, Structure};
use crate::spec::Spec;
use crate::ticket::word::Mark;
use crate::ticket::{RULES, Ticket};
use crate::tile::Content;
use crate::worker::client::{self, Worker};
use crate::worker::job::{Job, Limits, Made, Reply, scratch_name};
use crate::{clock::Clock, codec};
use std::collections::BTreeSet;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, MutexGuard, PoisonError, RwLock};

/// How the names of scratch folders begin.
const SCRATCH: &str = ".burler-job-";

/// What is told of a file in let-pass that accepts nothing.
pub const STRANGE: &str = "this picture cannot be matched to a tile, so nothing is let pass by it: it is not a held picture of \
                           Burler, shows a file that cannot be opened, or was saved anew by another program; move the \
                           picture itself from the folder held";

/// What all blocking work shares.
pub struct Shop {
    /// The settings.
    pub config: Config,
    /// The clock.
    pub clock: Clock,
    /// The disk.
    pub disk: Disk,
    /// Whether tiles are being looked at, as the owner last said.
    pub busy: AtomicBool,
    mockup: mockup::Settings,
    program: PathBuf,
    ledger: Mutex<Ledger>,
    idle: Mutex<Vec<Worker>>,
    /// Held for reading by every tile in work, for writing by the lone retry after a worker's death.
    company: RwLock<()>,
}

impl Shop {
    /// Opens the ledger. `program` is our own executable, which workers run.
    ///
    /// # Errors
    /// When the state folder or the ledger cannot be used.
    pub fn open(config: Config, clock: Clock, program: PathBuf) -> Result<Self, LedgerError> {
        let disk = Disk::new();
        let ledger = Ledger::open(&disk, &config.state.join("ledger.sqlite"))?;
        let mockup = mockup::Settings {
            max_side: config.mockup_side,
            quality: config.mockup_quality,
            ..mockup::Settings::default()
        };
        Ok(Self {
            config,
            clock,
            disk,
            busy: AtomicBool::new(true),
            mockup,
            program,
            ledger: Mutex::new(ledger),
            idle: Mutex::new(Vec::new()),
            company: RwLock::new(()),
        })
    }

    /// Our own executable.
    #[must_use]
    pub fn program(&self) -> &Path {
        &self.program
    }

    /// The ledger, for one short transaction. A panic elsewhere cannot leave it half-changed: SQLite rolls back.
    pub fn ledger(&self) -> MutexGuard<'_, Ledger> {
        self.ledger.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The ledger opened once more, for work that takes its time.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn another_ledger(&self) -> Result<Ledger, LedgerError> {
        Ledger::open(&self.disk, &self.config.state.join("ledger.sqlite"))
    }

    /// A folder as delivering knows it.
    #[must_use]
    pub fn place<'a>(&self, folder: &'a Folder) -> Place<'a> {
        Place { folder: &folder.name, exports: &folder.exports, checked: &folder.checked }
    }

    fn scratch_root(&self) -> PathBuf {
        self.config.state.join("scratch")
    }

    /// Removes what a killed watch left in the scratch folder. Only who holds the watch's lock may do so.
    ///
    /// # Errors
    /// When it cannot be removed.
    pub fn sweep(&self) -> Result<(), DiskError> {
        self.disk.clear_scratch(&self.scratch_root(), SCRATCH)
    }

    /// What the pictures and files of a folder depend on beside the tile and its spec.
    fn pictures(&self, folder: &Folder) -> String {
        let ready = if folder.ready == Ready::All { "all" } else { "mended" };
        format!("{}-{ready}", self.mockup.digest())
    }

    /// Whether a standing was reached by today's rules, spec, settings and word of the artist.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn is_current(&self, ledger: &Ledger, folder: &Folder, standing: &Standing) -> Result<bool, LedgerError> {
        Ok(standing.state == StandingState::Present
            && standing.key.rules == RULES
            && standing.key.spec_digest == self.config.spec_for(folder, &standing.path).digest()
            && standing.pictures == self.pictures(folder)
            && standing.let_pass == ledger.let_pass(&folder.name, standing.key.content)?)
    }

    /// Reads whether the bytes of a file below `root` reach its own end, and the stamp it has after that.
    #[must_use]
    pub fn structure(&self, root: &Path, ask: &Ask) -> (Option<Stamp>, Structure) {
        let path = root.join(&ask.path);
        let structure = match disk::read_bytes(&path).map(|bytes| codec::completeness(&bytes)) {
            Ok(codec::Completeness::Complete) => Structure::Complete,
            Ok(codec::Completeness::Incomplete) => Structure::Truncated,
            Ok(codec::Completeness::NotAnImage) | Err(_) => Structure::Unknown,
        };
        (disk::stamp(&path).ok().flatten(), structure)
    }

    /// Works through one settled tile.
    #[must_use]
    pub fn work(&self, folder: &Folder, settled: &Settled) -> End {
        match self.try_work(folder, settled) {
            Ok(end) => end,
            Err(failure) => failure.end(),
        }
    }

    fn try_work(&self, folder: &Folder, settled: &Settled) -> Result<End, Failure> {
        let path = folder.exports.join(&settled.path);
        let original = match disk::open(&path) {
            Err(error) if error.is_absent() => return Ok(End::Superseded),
            opened => opened?,
        };
        let metadata =
            original.metadata().map_err(|error| Failure::Later(format!("cannot read {}: {error}", path.display())))?;
        if Stamp::of(&metadata) != settled.stamp {
            return Ok(End::Superseded);
        }
        let spec = self.config.spec_for(folder, &settled.path);
        let content = disk::hash(&original, &path)?;
        let let_pass = self.ledger().let_pass(&folder.name, content)?;
        if let Some(end) = self.known(folder, settled, content, &spec, &let_pass)? {
            return Ok(end);
        }
        let scratch_root = self.scratch_root();
        self.disk.make_folders(&scratch_root)?;
        let scratch = tempfile::Builder::new().prefix(SCRATCH).tempdir_in(&scratch_root).map_err(|error| {
            Failure::Later(format!("cannot make a folder in {}: {error}; free some space", scratch_root.display()))
        })?;
        let Inspected { ticket, made, known } =
            self.inspect(&path, &settled.path, spec, &let_pass, &original, scratch.path())?;
        if ticket.blake3 != content.to_string() {
            return Ok(End::Superseded);
        }
        let mut outcome = deliver::Outcome {
            path: settled.path.clone(),
            stamp: settled.stamp,
            content,
            verdict: ticket.verdict,
            pictures: self.pictures(folder),
            let_pass,
            succession: Succession::Replaces,
            parcels: parcels(folder, &ticket, &made, scratch.path(), original, content)?,
            ticket,
        };
        let mut still_same = || disk::stamp(&path).is_ok_and(|stamp| stamp == Some(settled.stamp));
        let place = self.place(folder);
        let mut ledger = self.ledger();
        // Under one hold of the ledger, so that a word cannot change between asking and delivering.
        if ledger.let_pass(&folder.name, content)? != outcome.let_pass {
            return Ok(End::Superseded);
        }
        if let Some(known) = &known {
            // Before anything is delivered, so that the next file of this name can be compared with it.
            let (likeness, sketch) = (Box::new(known.likeness.clone()), Box::new(known.sketch.clone()));
            ledger.apply(&folder.name, &[Change::Liken(content, likeness), Change::Sketch(content, sketch)])?;
        }
        outcome.succession = drawings::succession(&ledger, &folder.name, &settled.path, content, known.as_ref())?;
        let delivery = deliver::deliver(&self.disk, &mut ledger, &place, &outcome, &mut still_same, self.clock.wall())?;
        drop(ledger);
        Ok(match delivery {
            Delivery::Superseded => End::Superseded,
            Delivery::Done(delivered) => {
                told(&settled.path, outcome.verdict, &outcome.ticket, &delivered);
                End::Delivered
            }
        })
    }

    /// The end for a content that was already worked through under the same spec, rules, settings and word.
    fn known(
        &self,
        folder: &Folder,
        settled: &Settled,
        content: Content,
        spec: &Spec,
        let_pass: &BTreeSet<Mark>,
    ) -> Result<Option<End>, Failure> {
        let mut ledger = self.ledger();
        let key = Key { content, spec_digest: spec.digest(), rules: RULES };
        let before = ledger.standing(&folder.name, &settled.path)?;
        let same = before.is_some_and(|standing| {
            standing.key == key
                && standing.pictures == self.pictures(folder)
                && standing.let_pass == *let_pass
                && standing.state != StandingState::Unfinished
        });
        if !same {
            return Ok(None);
        }
        let place = self.place(folder);
        let kept =
            deliver::unchanged(&self.disk, &mut ledger, &place, &settled.path, settled.stamp, self.clock.wall())?;
        Ok(kept.map(|_| End::Delivered))
    }

    fn inspect(
        &self,
        path: &Path,
        name: &Path,
        spec: Spec,
        let_pass: &BTreeSet<Mark>,
        original: &File,
        scratch: &Path,
    ) -> Result<Inspected, Failure> {
        let Some(scratch) = scratch.to_str() else {
            return Err(Failure::Blocked(format!(
                "{} is not UTF-8; set [state] folder to another place",
                scratch.display()
            )));
        };
        let job = Job {
            name: name.to_string_lossy().into_owned(),
            spec,
            wants: Wants {
                mend: true,
                mockups: true,
                held: true,
                companions: true,
                likeness: true,
                ..Wants::default()
            },
            mockup: self.mockup.clone(),
            scratch: scratch.into(),
            limits: Limits { memory: self.config.worker_memory, time: self.config.worker_time },
            let_pass: Some(let_pass.clone()),
        };
        let mut worker = self.lock_idle().pop().unwrap_or_else(|| Worker::of(&self.program));
        let company = self.company.read().unwrap_or_else(PoisonError::into_inner);
        let reply = client::inspect(&mut worker, &job, original, || {
            drop(company);
            self.company.write().unwrap_or_else(PoisonError::into_inner)
        });
        self.lock_idle().push(worker);
        match reply? {
            Reply::Done { ticket, made, likeness, sketch } => {
                Ok(Inspected { ticket: *ticket, made, known: Known::from(likeness.as_deref(), sketch.as_deref()) })
            }
            Reply::Failed { why } => Err(Failure::Later(format!("{}: {why}", path.display()))),
        }
    }

    /// Goes through a folder's let-pass, in which `lying` lies, and tells people what was understood. Yields the originals
    /// that must be worked through again.
    ///
    /// # Errors
    /// In words, what failed; nothing is changed then.
    pub fn review(&self, folder: &Folder, lying: &[Lying]) -> Result<BTreeSet<PathBuf>, String> {
        let place = self.place(folder);
        let reviewed =
            deliver::review(&self.disk, &mut self.ledger(), &place, lying).map_err(|error| error.to_string())?;
        let named = |path: &PathBuf| spelled(&Path::new(deliver::LET_PASS).join(path)).to_string();
        for path in &reviewed.heard {
            if reviewed.idle.contains(path) {
                tracing::info!(
                    "{}: no tile has the content it shows; should it come back, it is let pass",
                    named(path)
                );
            } else {
                tracing::info!("{}: what it shows is let pass", named(path));
            }
        }
        for path in &reviewed.strange {
            tracing::warn!("{}: {STRANGE}", named(path));
        }
        for path in &reviewed.taken_out {
            tracing::info!("{}: taken out, so what it showed is no longer let pass", named(path));
        }
        Ok(reviewed.concerns)
    }

    fn lock_idle(&self) -> MutexGuard<'_, Vec<Worker>> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What an inspecting process found out and made.
struct Inspected {
    ticket: Ticket,
    made: Vec<Made>,
    /// What is kept of its drawing, where it could be opened.
    known: Option<Known>,
}

/// The files that a ticket calls for.
fn parcels(
    folder: &Folder,
    ticket: &Ticket,
    made: &[Made],
    scratch: &Path,
    original: File,
    content: Content,
) -> Result<Vec<Parcel>, Failure> {
    let mut parcels = Vec::new();
    if ticket.verdict == Verdict::Sound && folder.ready == Ready::All {
        parcels.push(Parcel { role: Role::Ready, source: Source::Open(original), content });
    }
    for made in made {
        let content = Content::from_hex(&made.blake3)
            .ok_or_else(|| Failure::Later("the inspecting process gave no hash; it is tried again".into()))?;
        let role = deliver::role(made.product, &ticket.format);
        parcels.push(Parcel { role, source: Source::Path(scratch.join(scratch_name(made.product))), content });
    }
    Ok(parcels)
}

fn told(path: &Path, verdict: Verdict, ticket: &Ticket, delivered: &deliver::Delivered) {
    let tile = spelled(path);
    match ticket.findings.iter().find(|finding| !finding.silenced) {
        Some(finding) => tracing::info!("{tile}: {}: {}", verdict.plain(), finding.says),
        None => tracing::info!("{tile}: {}", verdict.plain()),
    }
    for finding in ticket.let_pass.iter().filter_map(|at| ticket.findings.get(*at)) {
        tracing::info!("{tile}: let pass by you: {}", finding.says);
    }
    for companion in &ticket.companions {
        if let Some(why) = &companion.refused {
            tracing::warn!("{tile}: no companion {:?}: {why}", companion.wish);
        }
    }
    if let Some(file) = delivered.kept.first() {
        let kept = spelled(file);
        tracing::warn!("{tile}: another drawing had this name before; what was given back of it stays ({kept})");
    }
    for (wanted, given) in &delivered.beside {
        tracing::warn!("{} is taken by another file, so the output is {}", spelled(wanted), spelled(given));
    }
    for file in &delivered.edited {
        tracing::warn!("{} was changed by someone and is left alone", spelled(file));
    }
}
