//! One pass over the outbox: tries whatever is due, in order, and notes what came of it.
//!
//! Takes a carrier and the time; yields what happened and when to look again. Order holds for each address: a later letter
//! does not go to it before an earlier one that is still being tried, and an address that cannot be reached does not keep
//! letters from the others. Only who holds the lock of sending may do this.

use super::policy;
use super::spool::{OutboxError, file_of, mail, settle};
use crate::digest::post::{Answer, Carrier, Fault, FaultKind, Parcel};
use crate::disk::{self, Disk};
use crate::ledger::{Ledger, Post, PostState};
use std::collections::BTreeSet;
use std::path::Path;
use std::time::SystemTime;

/// How often a commit is tried that says a letter has arrived: were it lost, the letter would be in doubt.
const COMMITS: usize = 3;

/// Whether waits count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// Only what is due.
    WhenDue,
    /// Also what waits for its next try, since a person asks for it; what is in doubt keeps its wait.
    Now,
}

/// What a pass came to.
#[derive(Debug, Default)]
pub struct Passed {
    /// Letters that were tried, as they are now.
    pub tried: Vec<Post>,
    /// When something is due next; `None` when nothing waits.
    pub next: Option<SystemTime>,
    /// What could not be put in place in the spool or beside the tiles; it is tried again.
    pub failed: Vec<OutboxError>,
}

/// Tries whatever is due. `now` tells the time whenever it is asked; `carrier` is `None` when no way to send is configured,
/// then letters wait.
///
/// # Errors
/// When the ledger cannot be used. A letter that was not tried because of it is still there.
pub fn pass(
    disk: &Disk,
    ledger: &mut Ledger,
    spool: &Path,
    carrier: Option<&mut dyn Carrier>,
    urgency: Urgency,
    now: &dyn Fn() -> SystemTime,
) -> Result<Passed, OutboxError> {
    let mut passed = Passed { failed: settle(disk, ledger, spool, now())?.failed, ..Passed::default() };
    let Some(carrier) = carrier else { return Ok(passed) };
    let mut blocked: BTreeSet<String> = BTreeSet::new();
    for mut post in ledger.posts_waiting()? {
        if post.handing {
            if carrier.repeats_safely() {
                post.handing = false;
            } else {
                policy::interrupted(&mut post, now());
                ledger.note_post(&post, &file_of(spool, &post), true)?;
                passed.tried.push(post.clone());
            }
        }
        let hurried = urgency == Urgency::Now && post.doubts == 0;
        let asked: Vec<String> =
            post.open().map(|one| one.address.clone()).filter(|address| !blocked.contains(address)).collect();
        if post.state == PostState::Waiting && !asked.is_empty() && (hurried || policy::due(&post, now())) {
            let answers = carry(disk, ledger, spool, carrier, &post, &asked);
            let news = policy::after(&mut post, &asked, &answers, now());
            note(ledger, spool, &post, news)?;
            passed.tried.push(post.clone());
        }
        if post.state == PostState::Waiting {
            // Once the way is free again it is this letter's turn.
            if post.open().any(|one| !blocked.contains(&one.address)) {
                passed.next = passed.next.into_iter().chain([post.next]).min();
            }
            blocked.extend(post.open().map(|one| one.address.clone()));
        }
    }
    passed.failed.extend(settle(disk, ledger, spool, now())?.failed);
    Ok(passed)
}

/// Hands one letter to the carrier. One that has gone from the spool cannot be sent any more.
fn carry(
    disk: &Disk,
    ledger: &mut Ledger,
    spool: &Path,
    carrier: &mut dyn Carrier,
    post: &Post,
    asked: &[String],
) -> Vec<Answer> {
    let file = disk::spelled(&file_of(spool, post));
    let bytes = match mail(disk, spool, post) {
        Ok(Some(bytes)) => bytes,
        Ok(None) => return vec![Answer::Never(Fault::new(FaultKind::Lost, &file, "")); asked.len()],
        Err(error) => {
            let fault = Fault { kind: FaultKind::Folder, with: file, said: error.to_string() };
            return vec![Answer::Later(fault); asked.len()];
        }
    };
    let parcel = Parcel { message_id: &post.message_id, written: post.queued, to: asked, bytes: &bytes };
    let mut handing = || ledger.note_handing(&post.message_id).map_err(|error| error.to_string());
    carrier.carry(&parcel, &mut handing)
}

fn note(ledger: &mut Ledger, spool: &Path, post: &Post, news: bool) -> Result<(), OutboxError> {
    let file = file_of(spool, post);
    let mut noted = ledger.note_post(post, &file, news);
    for _ in 1..COMMITS {
        if noted.is_ok() {
            break;
        }
        noted = ledger.note_post(post, &file, news);
    }
    Ok(noted?)
}
