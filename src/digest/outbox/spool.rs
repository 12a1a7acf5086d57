//! The spool: a folder of ours with `tmp`, `new`, `sent` and `dead`, in which letters lie as `.eml` files.
//!
//! A letter comes into `tmp`, durable; then one commit says that it is on its way and its changes are told; only then
//! it moves to `new` and its pages are put in place. A file in `tmp` that no row knows is of a try that was cut off before the
//! commit; its changes are told by the next letter, so it goes. Where a file lies follows from the row, so everything after
//! the commit can be done again.

use crate::digest::message::MessageError;
use crate::disk::{Disk, DiskError, Look, Onto, Source, Tree};
use crate::ledger::{Addressee, Ledger, LedgerError, Letter, Post, PostState, Reached, Told};
use crate::tile::Content;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use thiserror::Error;

/// Where letters lie that are not told yet.
const TMP: &str = "tmp";

/// Every folder a letter's file can be in; the last is the spool itself.
const FOLDERS: [&str; 5] = [TMP, "new", "sent", "dead", ""];

/// Letters that need nothing more are kept so long; their pages stay.
const KEPT: Duration = Duration::from_hours(30 * 24);

/// Why a letter could not be stored.
#[derive(Debug, Error)]
pub enum OutboxError {
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The mail.
    #[error(transparent)]
    Message(#[from] MessageError),
}

/// A rendered letter.
#[derive(Clone, Debug)]
pub struct Outgoing {
    /// The last change it tells of.
    pub upto: i64,
    /// When it was written, which is also the end of the window it covers.
    pub written: SystemTime,
    /// Its Message-ID.
    pub message_id: String,
    /// The name of its files, without folder and ending.
    pub name: String,
    /// Its subject.
    pub subject: String,
    /// The mail.
    pub mail: Vec<u8>,
    /// The page.
    pub page: Vec<u8>,
    /// Where the page goes: each in a folder for letters, below an output folder that must be there.
    pub pages: Vec<PathBuf>,
    /// What it tells, noted in one step with it.
    pub told: Vec<Told>,
    /// Whom it is sent to; nobody where no way to send is configured.
    pub to: Vec<String>,
}

/// What was put in place.
#[derive(Debug, Default)]
pub struct Settled {
    /// Pages.
    pub pages: Vec<PathBuf>,
    /// What could not be, each with why; it is tried again.
    pub failed: Vec<OutboxError>,
}

/// Where the mail of a letter lies once everything is in its place.
#[must_use]
pub fn file_of(spool: &Path, post: &Post) -> PathBuf {
    spool.join(folder(post.state)).join(format!("{}.eml", post.name))
}

fn folder(state: PostState) -> &'static str {
    match state {
        PostState::Waiting => "new",
        PostState::Sent => "sent",
        PostState::Dead => "dead",
        PostState::Kept => "",
    }
}

/// Stores a letter and puts it on its way. Only who holds the lock of writing letters may do so.
///
/// # Errors
/// When it could not be stored; then nothing is told and nothing is sent. What fails after that is in the answer.
pub fn hand_over(disk: &Disk, ledger: &mut Ledger, spool: &Path, letter: &Outgoing) -> Result<Settled, OutboxError> {
    disk.make_private_folder(spool)?;
    for folder in FOLDERS.iter().filter(|folder| !folder.is_empty()) {
        disk.make_private_folder(&spool.join(folder))?;
    }
    let tree = disk.tree(spool)?;
    clear(&tree, ledger)?;
    for (ending, bytes) in [("eml", &letter.mail), ("html", &letter.page)] {
        let file = Path::new(TMP).join(format!("{}.{ending}", letter.name));
        tree.publish(&file, &Source::Bytes(bytes.clone()), Content::of(bytes), Onto::Anything)?;
    }
    let post = Post {
        message_id: letter.message_id.clone(),
        name: letter.name.clone(),
        subject: letter.subject.clone(),
        queued: letter.written,
        tries: 0,
        next: letter.written,
        handing: false,
        doubts: 0,
        state: if letter.to.is_empty() { PostState::Kept } else { PostState::Waiting },
        answer: String::new(),
        changed: 0,
        addressees: letter.to.iter().map(|address| waiting(address)).collect(),
    };
    let row = Letter {
        upto: letter.upto,
        window_end: letter.written,
        message_id: letter.message_id.clone(),
        file: file_of(spool, &post),
    };
    ledger.queue_letter(&row, &letter.told, &post, &letter.pages)?;
    let mut settled = Settled::default();
    if let Err(error) = place(&tree, &post) {
        settled.failed.push(error.into());
    }
    put_pages(disk, &tree, ledger, &mut settled);
    Ok(settled)
}

fn waiting(address: &str) -> Addressee {
    Addressee { address: address.into(), reached: Reached::Waiting, answer: String::new() }
}

/// Puts everything where the ledger says it belongs: mails into their folders, pages into theirs; old mails go.
///
/// # Errors
/// When the ledger cannot be read. What cannot be put in place is in the answer.
pub fn settle(disk: &Disk, ledger: &mut Ledger, spool: &Path, now: SystemTime) -> Result<Settled, OutboxError> {
    let mut settled = Settled::default();
    if !spool.is_dir() {
        return Ok(settled);
    }
    let tree = disk.tree(spool)?;
    for within in FOLDERS {
        for (name, ending) in files(&spool.join(within)) {
            let Some(post) = ledger.post_named(&name)? else { continue };
            if ending != "eml" {
                continue;
            }
            let old = post.state != PostState::Waiting && now.duration_since(post.queued).is_ok_and(|age| age > KEPT);
            let file = Path::new(within).join(format!("{name}.eml"));
            let done = if old { tree.remove(&file) } else { place(&tree, &post) };
            settled.failed.extend(done.err().map(OutboxError::Disk));
        }
    }
    put_pages(disk, &tree, ledger, &mut settled);
    Ok(settled)
}

/// Reads the mail of a letter, wherever in the spool it lies; `None` when it has gone.
///
/// # Errors
/// When it is there and cannot be read.
pub fn mail(disk: &Disk, spool: &Path, post: &Post) -> Result<Option<Vec<u8>>, DiskError> {
    let tree = disk.tree(spool)?;
    for within in FOLDERS {
        match tree.bytes(&Path::new(within).join(format!("{}.eml", post.name))) {
            Err(error) if error.is_absent() => {}
            ended => return ended.map(Some),
        }
    }
    Ok(None)
}

/// Moves a letter's mail to where it belongs, if it is in another folder of the spool.
fn place(tree: &Tree, post: &Post) -> Result<(), DiskError> {
    let name = format!("{}.eml", post.name);
    let goal = Path::new(folder(post.state)).join(&name);
    if tree.look(&goal)? != Look::Absent {
        return Ok(());
    }
    for within in FOLDERS {
        let file = Path::new(within).join(&name);
        if tree.look(&file)? == Look::Absent {
            continue;
        }
        match tree.content(&file).and_then(|content| tree.rename(&file, &goal, content)) {
            Ok(_) => return tree.sync_up(Path::new(folder(post.state))),
            // Another process that looks after the outbox was faster.
            Err(error) if error.is_absent() => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

/// Puts pages in place and removes the copy in the spool once all of them are.
fn put_pages(disk: &Disk, spool: &Tree, ledger: &mut Ledger, settled: &mut Settled) {
    let waiting = match ledger.pages_waiting() {
        Ok(waiting) => waiting,
        Err(error) => return settled.failed.push(error.into()),
    };
    for (name, message_id, page) in waiting {
        match put_page(disk, spool, &name, &page) {
            Ok(()) => match ledger.note_page(&message_id, &page) {
                Ok(()) => settled.pages.push(page),
                Err(error) => settled.failed.push(error.into()),
            },
            Err(error) => settled.failed.push(error.into()),
        }
    }
    let left: Vec<String> = match ledger.pages_waiting() {
        Ok(left) => left.into_iter().map(|(name, ..)| name).collect(),
        Err(error) => return settled.failed.push(error.into()),
    };
    for (name, ending) in files(&spool.root().join(TMP)) {
        let known = ending == "html" && !left.contains(&name) && matches!(ledger.post_named(&name), Ok(Some(_)));
        if known {
            // Another process may have been faster, and the next look takes what is left.
            let _ = spool.remove(&Path::new(TMP).join(format!("{name}.html")));
        }
    }
}

/// Puts one page in place. The output folder, two above it, must be there; the folder for letters is made.
fn put_page(disk: &Disk, spool: &Tree, name: &str, page: &Path) -> Result<(), DiskError> {
    let copy = Path::new(TMP).join(format!("{name}.html"));
    let bytes = match spool.bytes(&copy) {
        Ok(bytes) => bytes,
        // Without its copy the page cannot be made; the mail says the same.
        Err(error) if error.is_absent() => return Ok(()),
        Err(error) => return Err(error),
    };
    let content = Content::of(&bytes);
    let letters = page.parent().unwrap_or(Path::new("/"));
    let root = letters.parent().unwrap_or(letters);
    let below = page.strip_prefix(root).unwrap_or(page);
    disk.tree(root)?.publish(below, &Source::Bytes(bytes), content, Onto::Anything).map(drop)
}

/// Removes what tries that were cut off before their commit have left.
fn clear(tree: &Tree, ledger: &Ledger) -> Result<(), OutboxError> {
    tree.sweep_parts(Path::new(""))?;
    for (name, ending) in files(&tree.root().join(TMP)) {
        if ledger.post_named(&name)?.is_none() {
            tree.remove(&Path::new(TMP).join(format!("{name}.{ending}")))?;
        }
    }
    Ok(())
}

/// The name and ending of every letter's file in a folder, sorted.
fn files(folder: &Path) -> Vec<(String, String)> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let mut files: Vec<(String, String)> = entries
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let (stem, ending) = name.rsplit_once('.')?;
            (!stem.is_empty() && matches!(ending, "eml" | "html")).then(|| (stem.into(), ending.into()))
        })
        .collect();
    files.sort();
    files
}
