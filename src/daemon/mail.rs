//! Mail: hands a rendered letter to the outbox, and has the outbox send what is due on the configured way.
//!
//! Writing letters and sending them are two duties with a lock each: a server that stalls must not keep a letter from being
//! written. Each uses a ledger connection of its own, since a try can take minutes.

use super::hours;
use crate::clock::Clock;
use crate::config::way::{Password, Smtp, Tls, Way};
use crate::config::{Config, places};
use crate::digest::outbox::{self, OutboxError, Outgoing, Passed, Urgency};
use crate::digest::post::{
    Answer, Carrier, Fault, IntoFolder, IntoMaildir, Login, Parcel, PasswordAt, Security, SmtpSettings, Waits,
};
use crate::digest::{self, Letter, MessageError, Remark, post};
use crate::disk::{Disk, DiskError};
use crate::ledger::{Ledger, LedgerError, Post, PostState, Told};
use crate::tile::Content;
use std::path::PathBuf;
use std::time::SystemTime;
use thiserror::Error;

/// The sender where none is configured: such letters stay on this machine.
const NOBODY: &str = "Burler <burler@localhost>";

/// What stands in a folder's way for an addressee.
const THE_FOLDER: &str = "the folder for letters";

/// Why nothing could be sent.
#[derive(Debug, Error)]
pub enum MailError {
    /// Another process sends.
    #[error("letters are being sent right now by another Burler; try again in a moment")]
    Busy,
    /// No way is configured.
    #[error(
        "no way to send letters is configured; add [digest.smtp] with host, user and password_file, or maildir = \"…\" or \
         file = \"…\" under [digest]"
    )]
    NoWay,
    /// The disk.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The outbox.
    #[error(transparent)]
    Outbox(#[from] OutboxError),
    /// The test letter.
    #[error(transparent)]
    Message(#[from] MessageError),
    /// The test letter did not arrive.
    #[error("the test letter was not sent to {0}: {1}")]
    NotSent(String, Fault),
}

/// A letter before it is stored.
#[derive(Debug)]
pub struct Rendered {
    /// The letter.
    pub letter: Letter,
    /// The last change it tells of.
    pub upto: i64,
    /// When it was written.
    pub now: SystemTime,
    /// The name of its files.
    pub name: String,
    /// Where its pages go.
    pub pages: Vec<PathBuf>,
    /// What it tells.
    pub told: Vec<Told>,
}

/// A letter that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// Its subject.
    pub subject: String,
    /// The mail.
    pub mail: PathBuf,
    /// The pages.
    pub pages: Vec<PathBuf>,
    /// What could not be put in place yet; it is tried again.
    pub failed: Vec<String>,
}

/// The folder in which letters lie.
fn spool(config: &Config) -> PathBuf {
    config.state.join("letters")
}

/// Puts a letter on its way. Only who holds the lock of writing letters may do so.
///
/// # Errors
/// When it could not be stored; then nothing of it is told, and the next letter tells the same.
pub fn queue(config: &Config, disk: &Disk, ledger: &mut Ledger, rendered: Rendered) -> Result<Written, OutboxError> {
    let Rendered { letter, upto, now, name, pages, told } = rendered;
    let from = sender(config);
    let message_id = message_id(config, &from, &format!("{name} {now:?}"));
    let previous = ledger.last_letter()?.map(|letter| letter.message_id);
    let mail = digest::message_after(&letter, &from, &headed(config), &message_id, now, previous.as_deref())?;
    let outgoing = Outgoing {
        upto,
        written: now,
        message_id,
        name,
        subject: letter.subject.clone(),
        mail,
        page: digest::page(&letter).into_bytes(),
        pages: pages.clone(),
        told,
        to: addressees(config),
    };
    let settled = outbox::hand_over(disk, ledger, &spool(config), &outgoing)?;
    let file = ledger.last_letter()?.map_or_else(|| spool(config), |letter| letter.file);
    let failed = settled.failed.iter().map(ToString::to_string).collect();
    Ok(Written { subject: letter.subject, mail: file, pages, failed })
}

/// What the next letter tells of earlier ones.
///
/// # Errors
/// When the ledger cannot be read.
pub fn remarks(config: &Config, ledger: &Ledger) -> Result<Vec<Remark>, LedgerError> {
    let since = ledger.last_letter()?.map_or(0, |letter| letter.upto);
    Ok(outbox::remarks(&ledger.posts_told_since(since)?, |time| spelled(config, time)))
}

/// Letters that wait and letters given up, in a line each; what `status` and the service's state show.
///
/// # Errors
/// When the ledger cannot be read.
pub fn at_a_glance(config: &Config, ledger: &Ledger) -> Result<Vec<String>, LedgerError> {
    let mut lines = Vec::new();
    lines.extend(outbox::at_a_glance(&ledger.posts_waiting()?, |time| spelled(config, time)));
    if config.digest.way.is_none()
        && let Some(line) = lines.first_mut()
    {
        line.push_str("; no way to send them is configured any more");
    }
    lines.extend(
        outbox::remarks(&lasting(ledger)?, |time| spelled(config, time))
            .into_iter()
            .map(|remark| format!("{}: {}", remark.name, remark.says)),
    );
    Ok(lines)
}

/// Letters that ended badly since the last letter that told of such.
fn lasting(ledger: &Ledger) -> Result<Vec<Post>, LedgerError> {
    let since = ledger.last_letter()?.map_or(0, |letter| letter.upto);
    let mut told = ledger.posts_told_since(since)?;
    told.retain(|post| post.state != PostState::Waiting);
    Ok(told)
}

/// Sends what is due. `ledger` is one of its own, since this can take minutes.
///
/// # Errors
/// When another process sends, or the ledger or the disk cannot be used.
pub fn send(
    config: &Config,
    disk: &Disk,
    ledger: &mut Ledger,
    clock: Clock,
    urgency: Urgency,
    waits: Waits,
) -> Result<Passed, MailError> {
    let _lock = disk.lock(&config.state.join("post.lock"))?.ok_or(MailError::Busy)?;
    let mut carrier = config.digest.way.as_ref().map(|way| carrier(way, disk, waits));
    let carrier = carrier.as_mut().map(|carrier| &mut **carrier as &mut dyn Carrier);
    Ok(outbox::pass(disk, ledger, &spool(config), carrier, urgency, &|| clock.wall())?)
}

/// What one round of the daemon came to.
#[derive(Debug, Default)]
pub struct Round {
    /// How it is with the letters, for the service's state; `None` when nobody could look.
    pub says: Option<String>,
    /// When something is due next.
    pub next: Option<SystemTime>,
}

/// One round of the daemon: sends what is due, if it `mails`, and tells the log what came of it. The ledger is kept open
/// between rounds.
#[must_use]
pub fn round(
    config: &Config,
    disk: &Disk,
    ledger: Option<Ledger>,
    clock: Clock,
    mails: bool,
) -> (Option<Ledger>, Round) {
    let opened = match ledger {
        Some(ledger) => Ok(ledger),
        None => Ledger::open(disk, &config.state.join("ledger.sqlite")),
    };
    let mut ledger = match opened {
        Ok(ledger) => ledger,
        Err(error) => {
            tracing::warn!(%error, "letters cannot be sent now; it is tried again");
            return (None, Round::default());
        }
    };
    let passed = if mails {
        send(config, disk, &mut ledger, clock, Urgency::WhenDue, Waits::default())
    } else {
        // What has no network still puts pages in place.
        let settled = outbox::settle(disk, &mut ledger, &spool(config), clock.wall());
        settled.map(|settled| Passed { failed: settled.failed, ..Passed::default() }).map_err(MailError::from)
    };
    match passed {
        Ok(passed) => {
            passed.tried.iter().for_each(log);
            for error in passed.failed {
                tracing::warn!(%error, "not all letters are in their place yet; it is tried again");
            }
            let says = at_a_glance(config, &ledger).map(|lines| lines.join("; ")).ok();
            (Some(ledger), Round { says, next: passed.next })
        }
        // The other one tells what comes of it.
        Err(MailError::Busy) => (Some(ledger), Round::default()),
        Err(error) => {
            tracing::warn!(%error, "letters cannot be sent now; it is tried again");
            (None, Round::default())
        }
    }
}

fn log(post: &Post) {
    let Post { subject, tries, answer, .. } = post;
    match post.state {
        PostState::Sent | PostState::Kept => tracing::info!(subject, tries, "a letter was sent"),
        PostState::Waiting => tracing::warn!(subject, tries, answer, "a letter was not sent yet"),
        PostState::Dead => tracing::warn!(subject, tries, answer, "a letter is given up"),
    }
}

/// Sends one test letter now, past the outbox; yields whom it was sent to.
///
/// # Errors
/// When no way is configured, or why the letter was not taken.
pub fn send_trial(config: &Config, disk: &Disk, clock: Clock) -> Result<Vec<String>, MailError> {
    let way = config.digest.way.as_ref().ok_or(MailError::NoWay)?;
    let now = clock.wall();
    let from = sender(config);
    let message_id = message_id(config, &from, &format!("trial {now:?}"));
    let bytes = digest::message(&digest::trial(), &from, &headed(config), &message_id, now)?;
    let to = addressees(config);
    let parcel = Parcel { message_id: &message_id, written: now, to: &to, bytes: &bytes };
    let answers = carrier(way, disk, Waits::short()).carry(&parcel, &mut || Ok(()));
    for (address, answer) in to.iter().zip(answers) {
        match answer {
            Answer::Accepted => {}
            Answer::Later(fault) | Answer::Never(fault) | Answer::InDoubt(fault) => {
                return Err(MailError::NotSent(address.clone(), fault));
            }
        }
    }
    Ok(to)
}

/// What carries letters on the configured way.
fn carrier(way: &Way, disk: &Disk, waits: Waits) -> Box<dyn Carrier> {
    match way {
        Way::Maildir(folder) => Box::new(IntoMaildir::new(disk.clone(), folder.clone())),
        Way::File(folder) => Box::new(IntoFolder::new(disk.clone(), folder.clone())),
        Way::Smtp(smtp) => Box::new(post::Smtp::new(settings(smtp), waits)),
    }
}

fn settings(smtp: &Smtp) -> SmtpSettings {
    let password = |at: &Password| match at {
        Password::File(file) => PasswordAt::File(file.clone()),
        Password::Credential(name) => PasswordAt::Credential { folder: places::credentials(), name: name.clone() },
    };
    SmtpSettings {
        host: smtp.host.clone(),
        port: smtp.port,
        security: match smtp.tls {
            Tls::Implicit => Security::Implicit,
            Tls::StartTls => Security::StartTls,
            Tls::None => Security::None,
        },
        login: smtp.login.as_ref().map(|(user, at)| Login { user: user.clone(), password: password(at) }),
        ca: smtp.ca.clone(),
        from: smtp.from.clone(),
    }
}

fn sender(config: &Config) -> String {
    match &config.digest.way {
        Some(Way::Smtp(smtp)) => smtp.from.clone(),
        _ => NOBODY.into(),
    }
}

/// Whom a letter is sent to.
fn addressees(config: &Config) -> Vec<String> {
    match &config.digest.way {
        None => Vec::new(),
        Some(Way::Maildir(_) | Way::File(_)) => vec![THE_FOLDER.into()],
        Some(Way::Smtp(_)) => config.digest.to.clone(),
    }
}

/// Whom a letter names in its head.
fn headed(config: &Config) -> Vec<String> {
    if config.digest.to.is_empty() { vec!["The studio <studio@localhost>".into()] } else { config.digest.to.clone() }
}

/// Unguessable it need not be, only unlike any other: the letter's name, the moment, and the ledger's own folder.
fn message_id(config: &Config, from: &str, what: &str) -> String {
    let id = Content::of(format!("{what} {}", config.state.display()).as_bytes()).to_string();
    let domain = digest::domain(from).unwrap_or_else(|| "localhost".into());
    format!("<{}@burler.{domain}>", &id[..32])
}

/// A time as the reader's clock shows it.
fn spelled(config: &Config, time: SystemTime) -> String {
    hours::spelled(time, &hours::zone(config)).unwrap_or_else(|_| "an unknown time".into())
}
