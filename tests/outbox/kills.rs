//! A kill, a full disk or a broken one at every step between rendering and the last commit: no letter is lost, and none is
//! told twice, in the mail or as a page.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

use super::house::{files, start};
use burler::clock::Clock;
use burler::config::{self, Config, places::Home};
use burler::daemon::letters;
use burler::digest::outbox::{IN_DOUBT, Urgency, pass};
use burler::digest::post::{Answer, Carrier, Parcel};
use burler::disk::{Disk, Stamp, Trip};
use burler::finding::Verdict;
use burler::ledger::{Change, Key, Ledger, Standing, StandingState};
use burler::tile::Content;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

/// Accepts everything; what it accepted stays known when the program is killed, as at a server.
#[derive(Default)]
struct Accepting {
    /// Message-ID and text of each, in order.
    got: Vec<(String, String)>,
    safely: bool,
}

impl Carrier for Accepting {
    fn carry(&mut self, parcel: &Parcel<'_>, handing: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        if let Err(why) = handing() {
            let fault = burler::digest::post::Fault::new(burler::digest::post::FaultKind::Ledger, "", &why);
            return vec![Answer::Later(fault); parcel.to.len()];
        }
        let one = (parcel.message_id.to_string(), String::from_utf8_lossy(parcel.bytes).into_owned());
        if !self.safely || !self.got.contains(&one) {
            self.got.push(one);
        }
        vec![Answer::Accepted; parcel.to.len()]
    }

    fn repeats_safely(&self) -> bool {
        self.safely
    }
}

/// A studio whose tiles are judged already.
struct Studio {
    home: TempDir,
    config: Config,
}

impl Studio {
    fn new() -> Self {
        let memory = Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        for folder in ["exports", "checked"] {
            std::fs::create_dir(home.path().join(folder)).unwrap();
        }
        let text = "[state]\nfolder = \"state\"\n[folder.studio]\nexports = \"exports\"\n\
                    [digest]\nto = [\"studio@oddfathom.example\"]\n\
                    [digest.smtp]\nhost = \"localhost\"\nfrom = \"burler@oddfathom.example\"\n";
        let home_of = Home { home: home.path().into(), state: home.path().join("state"), config: PathBuf::new() };
        let config = config::parse(text, &home.path().join("burler.toml"), &home_of).unwrap();
        let studio = Self { home, config };
        studio.judge("dulse.png");
        studio
    }

    fn ledger(&self, disk: &Disk) -> Result<Ledger, burler::ledger::LedgerError> {
        Ledger::open(disk, &self.home.path().join("state/ledger.sqlite"))
    }

    /// A tile comes to a verdict that is worth telling.
    fn judge(&self, tile: &str) {
        let standing = Standing {
            folder: "studio".into(),
            path: tile.into(),
            stamp: Stamp { size: 1, mtime_ns: 1, ctime_ns: 1, inode: 1 },
            key: Key { content: Content::of(tile.as_bytes()), spec_digest: String::new(), rules: 1 },
            spec: String::new(),
            verdict: Verdict::Held,
            pictures: String::new(),
            name: tile.into(),
            state: StandingState::Present,
            changed: 0,
            at: start(),
            let_pass: BTreeSet::new(),
        };
        let change = Change::Stand { standing: Box::new(standing), told: true };
        self.ledger(&Disk::new()).unwrap().apply("studio", &[change]).unwrap();
    }

    /// A run of the program: writes what is new and sends what is due.
    fn run(&self, disk: &Disk, carrier: &mut Accepting, ahead: Duration) -> Result<(), String> {
        let mut ledger = self.ledger(disk).map_err(|error| error.to_string())?;
        let written = letters::write(&self.config, disk, &mut ledger, Clock::start());
        let written = written.map_err(|error| error.to_string())?;
        let spool = self.home.path().join("state/letters");
        let now = || SystemTime::now() + ahead;
        let passed = pass(disk, &mut ledger, &spool, Some(carrier), Urgency::WhenDue, &now);
        let passed = passed.map_err(|error| error.to_string())?;
        let failed = written.into_iter().flat_map(|letter| letter.failed);
        let mut failed = failed.chain(passed.failed.iter().map(ToString::to_string));
        failed.next().map_or(Ok(()), Err)
    }

    fn pages(&self) -> Vec<String> {
        let pages = self.home.path().join("checked/letters");
        // What a kill left unfinished beside a page is no page; the watch removes it when it starts.
        let whole = files(&pages).into_iter().filter(|file| file.ends_with(".html"));
        whole.map(|file| std::fs::read_to_string(pages.join(file)).unwrap()).collect()
    }
}

/// How often a tile is told in all letters a reader gets who knows Message-IDs.
fn told(carrier: &Accepting, tile: &str) -> usize {
    let mut known = BTreeSet::new();
    carrier.got.iter().filter(|(id, text)| known.insert(id.clone()) && text.contains(tile)).count()
}

/// Goes wrong at each operation in turn, then goes on undisturbed, with a new tile in between. Yields how many letters came
/// twice, by the operation.
fn at_every_step(trip: Trip, safely: bool) -> Vec<u64> {
    let whole = Disk::new();
    Studio::new().run(&whole, &mut Accepting { safely, ..Accepting::default() }, Duration::ZERO).unwrap();
    let steps = whole.operations();
    assert!(steps > 40, "only {steps} operations");
    let mut twice = Vec::new();
    for at in 1..=steps {
        let studio = Studio::new();
        let mut carrier = Accepting { safely, ..Accepting::default() };
        let disk = Disk::tripping(at, trip);
        let ended = studio.run(&disk, &mut carrier, Duration::ZERO);
        if let (Trip::Fail(_), Err(error)) = (trip, &ended) {
            assert!(error.contains("the disk is full; free some space"), "{at}: {error}");
        }
        // After the kill something new happens before the next start.
        studio.judge("kelp.png");
        for ahead in [Duration::ZERO, IN_DOUBT + Duration::from_secs(5), IN_DOUBT * 3] {
            studio.run(&Disk::new(), &mut carrier, ahead).unwrap_or_else(|error| panic!("{trip:?} at {at}: {error}"));
        }
        for tile in ["dulse.png", "kelp.png"] {
            assert_eq!(told(&carrier, tile), 1, "{trip:?} at {at}: {tile}, {ended:?}");
            let pages = studio.pages().iter().filter(|page| page.contains(tile)).count();
            assert_eq!(pages, 1, "{trip:?} at {at}: pages that tell of {tile}");
        }
        let ids: BTreeSet<&String> = carrier.got.iter().map(|(id, _)| id).collect();
        if ids.len() < carrier.got.len() {
            twice.push(at);
        }
        let left = files(&studio.home.path().join("state/letters"));
        assert!(left.iter().all(|file| file.starts_with("sent/")), "{trip:?} at {at}: {left:?}");
        let ledger = studio.ledger(&Disk::new()).unwrap();
        assert!(ledger.posts_waiting().unwrap().is_empty() && ledger.pages_waiting().unwrap().is_empty());
    }
    twice
}

#[test]
fn a_kill_at_any_step_loses_no_letter_and_tells_none_twice() {
    // One step cannot be helped: the server has taken the letter, and the commit that says so is the one that is killed.
    let twice = at_every_step(Trip::Stop, false);
    assert!(twice.len() <= 1, "came twice when killed at {twice:?}");
    // Where the same letter handed over twice arrives once, not even that.
    assert_eq!(at_every_step(Trip::Stop, true), [0_u64; 0]);
}

#[test]
fn a_full_disk_at_any_step_loses_no_letter_and_tells_none_twice() {
    // The commit that says a letter has arrived is tried again at once.
    assert_eq!(at_every_step(Trip::Fail(rustix::io::Errno::NOSPC.raw_os_error()), false), [0_u64; 0]);
}
