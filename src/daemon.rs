//! The daemon: wires lookouts, settling, workers and delivering together and runs until told to stop.
//!
//! Takes the configuration and a signal to stop. One owner takes in every happening in turn and says what to do; the
//! deeds run beside it and report back.

pub mod happening;
pub mod let_pass;
pub mod owner;
mod failure;
pub mod shop;
pub mod notices;
pub mod hours;
pub mod swept;
pub mod news;
pub mod telling;
pub mod mail;
pub mod letters;
pub mod timing;
pub mod sweeps;

use crate::arrival::{self, Eye, Look, LookAt, Lookout};
use crate::clock::Clock;
use crate::config::{Config, Folder};
use crate::deliver;
use crate::disk::{DiskError, Lock, Stamp};
use crate::ledger::{LedgerError, StandingState};
use crate::settle::{self, Table};
use happening::{Deed, End, Happening, InLetPass};
use let_pass::LetPass;
use letters::LetterError;
use owner::{Known, Owner};
use shop::Shop;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use thiserror::Error;
use tokio::sync::{Notify, mpsc};

/// Happenings on their way to the owner. What tells them waits when it is full, so none is dropped.
const QUEUE: usize = 1024;
/// The longest an idle daemon sleeps, so that it can tell the service manager that it is alive.
const BEAT: Duration = Duration::from_secs(10);
/// The wait between two looks when a folder is polled.
const POLL: Duration = Duration::from_secs(5);

/// How often it is looked whether there are letters to be sent.
const MAIL_LOOK: Duration = Duration::from_secs(20);

/// Why the daemon ended or could not begin.
#[derive(Debug, Error)]
pub enum DaemonError {
    /// Another process does this already.
    #[error("another `burler watch` works with the state folder {}; stop that one first", .0.display())]
    Busy(PathBuf),
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The system.
    #[error("cannot start: {0}")]
    System(#[from] std::io::Error),
}

/// How often a taken lock is tried for, and how long between two tries: a second in all.
const LOCK_TRIES: u32 = 10;
const LOCK_AGAIN: Duration = Duration::from_millis(100);

/// Runs the daemon until `stop` is ready. `program` is our own executable, which workers run; `mails` is whether letters are
/// sent too, or only written.
///
/// # Errors
/// When it cannot begin. What goes wrong with single tiles or folders later is logged and tried again.
pub fn run(
    config: Config,
    program: PathBuf,
    mails: bool,
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<(), DaemonError> {
    let clock = Clock::start();
    let shop = Arc::new(Shop::open(config, clock, program)?);
    let _lock = lock(&shop)?;
    if let Err(error) = shop.sweep() {
        tracing::warn!(%error, "the scratch folder could not be looked over");
    }
    let known = shop.config.folders.iter().map(|folder| prepared(&shop, folder)).collect::<Result<Vec<_>, _>>()?;
    let workers = shop.config.workers as usize;
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
    runtime.block_on(serve(Arc::clone(&shop), Owner::new(known, workers), mails, stop));
    // Tiles still in work are cut off: no step needs its end, and the next start takes them again.
    runtime.shutdown_background();
    Ok(())
}

/// Takes the state folder for this daemon alone. A daemon that was killed while it started a worker leaves a process that
/// holds its lock until it has become the worker, so a taken lock is tried for again a few times.
fn lock(shop: &Shop) -> Result<Lock, DaemonError> {
    let state = &shop.config.state;
    for _ in 0..LOCK_TRIES {
        if let Some(lock) = shop.disk.lock(&state.join("watch.lock"))? {
            return Ok(lock);
        }
        std::thread::sleep(LOCK_AGAIN);
    }
    Err(DaemonError::Busy(state.clone()))
}

/// Looks a folder over and fills its tables with what the ledger remembers.
fn prepared(shop: &Shop, folder: &Folder) -> Result<Known, LedgerError> {
    let place = shop.place(folder);
    let mut ledger = shop.ledger();
    match deliver::tidy(&shop.disk, &mut ledger, &place, shop.clock.wall()) {
        Ok(0) => {}
        Ok(parts) => tracing::info!(folder = folder.name, parts, "unfinished files of an earlier run were removed"),
        Err(error) => tracing::warn!(folder = folder.name, %error, "the output folder could not be looked over"),
    }
    match deliver::expire(&shop.disk, &mut ledger, &place, folder.keep_earlier, shop.clock.wall()) {
        Ok(expired) if expired.removed.is_empty() => {}
        Ok(expired) => tracing::info!(folder = folder.name, files = expired.removed.len(), "old outputs expired"),
        Err(error) => tracing::warn!(folder = folder.name, %error, "old outputs could not be looked over"),
    }
    let quiet = shop.config.quiet;
    let settings = settle::Settings {
        quiet,
        quiet_incomplete: settle::Settings::default().quiet_incomplete.min(shop.config.grace).max(quiet),
        grace: shop.config.grace,
    };
    let (mut tiles, mut let_pass) = (Table::new(settings), LetPass::new(settings));
    // A drawing whose name another one has now has no original to be looked for.
    let standings = ledger.standings(&folder.name)?.into_iter().filter(|one| one.state != StandingState::Kept);
    for standing in standings {
        // A standing of other rules is remembered under no real stamp: the file is news, and its absence is noticed.
        let stamp = if shop.is_current(&ledger, folder, &standing)? {
            standing.stamp
        } else {
            Stamp { size: 0, mtime_ns: 0, ctime_ns: 0, inode: 0 }
        };
        tiles.remember(&standing.path, stamp);
    }
    for picture in ledger.words(&folder.name)?.iter().filter(|picture| picture.word.is_some()) {
        let_pass.remember(&picture.path, picture.stamp);
    }
    Ok(Known { name: folder.name.clone(), tiles, let_pass })
}

async fn serve(shop: Arc<Shop>, mut owner: Owner, mails: bool, stop: impl Future<Output = ()> + Send + 'static) {
    let (sender, mut inbox) = mpsc::channel(QUEUE);
    let stopping = sender.clone();
    tokio::spawn(async move {
        stop.await;
        // The owner has ended when nobody receives.
        stopping.send(Happening::Stop).await.ok();
    });
    let watched: Vec<Watched> = shop
        .config
        .folders
        .iter()
        .enumerate()
        .map(|(number, folder)| {
            let settings =
                arrival::Settings { polling: folder.polling, poll_every: POLL, scan_every: shop.config.scan };
            let told = move |happening| Happening::Told(number, happening);
            let looked = move |look| Happening::Looked(number, look);
            let told_there = move |happening| Happening::LetPass(number, InLetPass::Told(happening));
            let looked_there = move |look| Happening::LetPass(number, InLetPass::Looked(look));
            Watched {
                exports: Root::watch(&folder.exports, settings, shop.clock, &sender, told, looked),
                let_pass: Root::watch(&let_pass_of(folder), settings, shop.clock, &sender, told_there, looked_there),
            }
        })
        .collect();
    tokio::spawn(timing::tell_letters(Arc::clone(&shop), sender.clone()));
    let written = Arc::new(Notify::new());
    tokio::spawn(send_letters(Arc::clone(&shop), mails, sender.clone(), Arc::clone(&written)));
    tokio::spawn(sweep_archives(Arc::clone(&shop)));
    notices::ready();
    let mut leave_at = None;
    loop {
        let now = shop.clock.tick();
        let wake = owner.next_wake().into_iter().chain([now.after(BEAT)]).chain(leave_at).min().unwrap_or(now);
        let happening = tokio::select! {
            happening = inbox.recv() => happening,
            () = tokio::time::sleep(wake.since(now)) => None,
        };
        notices::alive();
        let now = shop.clock.tick();
        let mut deeds = happening.map(|happening| owner.handle(happening, now)).unwrap_or_default();
        deeds.extend(owner.due(now));
        shop.busy.store(owner.busy(), Ordering::Relaxed);
        for deed in deeds {
            if let Deed::Leave(patience) = deed {
                notices::stopping();
                leave_at = Some(now.after(patience));
            } else {
                perform(&shop, &watched, &sender, &written, deed);
            }
        }
        if leave_at.is_some_and(|at| owner.working() == 0 || now >= at) {
            return;
        }
    }
}

/// The two roots of one configured folder.
struct Watched {
    exports: Root,
    let_pass: Root,
}

/// A root that is watched for as long as this lives, and where looks at it are asked for.
struct Root {
    _lookout: Lookout,
    asks: mpsc::UnboundedSender<LookAt>,
}

impl Root {
    fn watch(
        at: &Path,
        settings: arrival::Settings,
        clock: Clock,
        sender: &mpsc::Sender<Happening>,
        told: impl Fn(arrival::Happening) -> Happening + Send + 'static,
        looked: impl Fn(Look) -> Happening + Send + 'static,
    ) -> Self {
        let lookout = Lookout::start(at, settings, clock, sender.clone(), told);
        let (asks, asked) = mpsc::unbounded_channel();
        tokio::spawn(take_looks(lookout.eye(), asked, sender.clone(), looked));
        Self { _lookout: lookout, asks }
    }
}

fn let_pass_of(folder: &Folder) -> PathBuf {
    folder.checked.join(deliver::LET_PASS)
}

/// Takes the looks at one root, one after the other, since the owner must hear of them in the order they were taken.
async fn take_looks(
    eye: Eye,
    mut asked: mpsc::UnboundedReceiver<LookAt>,
    sender: mpsc::Sender<Happening>,
    looked: impl Fn(Look) -> Happening + Send,
) {
    while let Some(at) = asked.recv().await {
        let eye = eye.clone();
        match tokio::task::spawn_blocking(move || eye.look(&at)).await {
            Ok(look) => {
                if sender.send(looked(look)).await.is_err() {
                    return;
                }
            }
            // The next full scan sees what this look would have seen.
            Err(error) => tracing::error!(%error, "a look at a folder failed; please report this"),
        }
    }
}

/// Sends letters as they are written and as their next tries come due; the owner hears how it is with them.
async fn send_letters(shop: Arc<Shop>, mails: bool, sender: mpsc::Sender<Happening>, written: Arc<Notify>) {
    let mut ledger = None;
    loop {
        let at = Arc::clone(&shop);
        let round =
            tokio::task::spawn_blocking(move || mail::round(&at.config, &at.disk, ledger.take(), at.clock, mails));
        let next = match round.await {
            Ok((kept, round)) => {
                ledger = kept;
                if let Some(says) = round.says
                    && sender.send(Happening::Mail(says)).await.is_err()
                {
                    return;
                }
                round.next
            }
            Err(error) => {
                tracing::error!(%error, "a step of sending letters failed; please report this");
                ledger = None;
                None
            }
        };
        // A letter that another process has written is found by looking.
        let ahead = next.and_then(|next| next.duration_since(shop.clock.wall()).ok());
        let wait = ahead.map_or(MAIL_LOOK, |ahead| ahead.clamp(Duration::from_secs(1), MAIL_LOOK));
        tokio::select! {
            () = written.notified() => {}
            () = tokio::time::sleep(wait) => {}
        }
    }
}

/// Sweeps the archives by night.
async fn sweep_archives(shop: Arc<Shop>) {
    let last = |archive: &_| sweeps::last(&shop.ledger(), archive);
    sweeps::run(&shop.config, shop.program(), shop.clock, last).await;
}

/// Starts one deed; what comes of it reaches the owner as a happening.
fn perform(shop: &Arc<Shop>, watched: &[Watched], sender: &mpsc::Sender<Happening>, written: &Arc<Notify>, deed: Deed) {
    match deed {
        Deed::Look(number, at) => {
            // The taker of looks lives as long as the owner.
            watched[number].exports.asks.send(at).ok();
        }
        Deed::LookIntoLetPass(number, at) => {
            watched[number].let_pass.asks.send(at).ok();
        }
        Deed::Ask(number, ask) => {
            let (shop, again) = (Arc::clone(shop), ask.clone());
            let asked = move || {
                let (seen, structure) = shop.structure(&shop.config.folders[number].exports, &ask);
                Happening::Answered(number, ask, seen, structure)
            };
            beside(sender, asked, move |_| Happening::Answered(number, again, None, settle::Structure::Unknown));
        }
        Deed::AskInLetPass(number, ask) => {
            let answer =
                move |ask, seen, structure| Happening::LetPass(number, InLetPass::Answered(ask, seen, structure));
            let (shop, again) = (Arc::clone(shop), ask.clone());
            let asked = move || {
                let (seen, structure) = shop.structure(&let_pass_of(&shop.config.folders[number]), &ask);
                answer(ask, seen, structure)
            };
            beside(sender, asked, move |_| answer(again, None, settle::Structure::Unknown));
        }
        Deed::Review(number, lying) => {
            let shop = Arc::clone(shop);
            let ended = move |end| Happening::LetPass(number, InLetPass::Reviewed(end));
            let work = move || ended(shop.review(&shop.config.folders[number], &lying));
            beside(sender, work, move |why| ended(Err(why)));
        }
        Deed::Work(number, settled) => {
            let (shop, again) = (Arc::clone(shop), settled.clone());
            let worked = move || {
                let end = shop.work(&shop.config.folders[number], &settled);
                Happening::Finished(number, settled, end)
            };
            beside(sender, worked, move |why| Happening::Finished(number, again, End::Later(why)));
        }
        Deed::Gone(number, path) => {
            let name = shop.config.folders[number].name.clone();
            let shop = Arc::clone(shop);
            tokio::task::spawn_blocking(move || {
                tracing::info!(tile = ?path, "the original has disappeared; its outputs stay");
                if let Err(error) = deliver::gone(&mut shop.ledger(), &name, &path) {
                    tracing::warn!(tile = ?path, %error, "that the original has disappeared could not be noted");
                }
            });
        }
        Deed::Letter => {
            let (shop, written) = (Arc::clone(shop), Arc::clone(written));
            tokio::task::spawn_blocking(move || {
                // A ledger of its own, since pictures are made small meanwhile and tiles must not wait for that.
                let letter = shop
                    .another_ledger()
                    .map_err(LetterError::from)
                    .and_then(|mut ledger| letters::write(&shop.config, &shop.disk, &mut ledger, shop.clock));
                match letter {
                    Ok(None) => {}
                    Ok(Some(letter)) => {
                        tracing::info!(subject = letter.subject, mail = ?letter.mail, "a letter was written");
                        for error in letter.failed {
                            tracing::warn!(error, "not all of a letter is in its place yet; it is tried again");
                        }
                        written.notify_one();
                    }
                    Err(error) => tracing::warn!(%error, "no letter was written; the next one tells the same"),
                }
            });
        }
        Deed::Say(text) => tracing::info!("{text}"),
        Deed::State(text) => notices::state(&text),
        Deed::Warn(text) => tracing::warn!("{text}"),
        Deed::Leave(_) => {}
    }
}

/// Runs blocking work beside the owner. A panic is an ending like any other: `fallen` says what the owner hears then.
fn beside(
    sender: &mpsc::Sender<Happening>,
    work: impl FnOnce() -> Happening + Send + 'static,
    fallen: impl FnOnce(String) -> Happening + Send + 'static,
) {
    let sender = sender.clone();
    tokio::spawn(async move {
        let happening = match tokio::task::spawn_blocking(work).await {
            Ok(happening) => happening,
            Err(error) => {
                tracing::error!(%error, "a step of the daemon failed; please report this");
                fallen(format!("a step of Burler itself failed ({error}); it is tried again"))
            }
        };
        // Nobody receives once the daemon is leaving.
        sender.send(happening).await.ok();
    });
}
