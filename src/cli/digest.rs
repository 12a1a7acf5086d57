//! `digest`: writes the next letter now and sends it; `digest test` sends a test letter.

use super::input;
use super::plain;
use super::status::{Failure, Status};
use crate::clock::Clock;
use crate::config::Config;
use crate::daemon::letters::{self, LetterError};
use crate::daemon::mail::{self, MailError};
use crate::digest::outbox::Urgency;
use crate::digest::post::Waits;
use crate::disk::Disk;
use crate::ledger::{Ledger, Post, PostState};
use std::path::Path;

/// Words of `digest`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Send what waits and is due, and nothing else; for a timer beside a watch that has no network
    Send,
    /// Send one plain test letter now, and say what is wrong when it does not go
    Test,
}

/// Writes the letter of everything new since the last one, says where it is, and sends it.
///
/// # Errors
/// When nothing was ever watched, another letter is being written, or something cannot be written or sent.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::watched_configuration(settings)?;
    match words.what {
        None => write(&config),
        Some(What::Send) => send_due(&config),
        Some(What::Test) => test(&config),
    }
}

/// Sends what is due. A letter that was tried in vain is a failure each time, one that only waits is none.
fn send_due(config: &Config) -> Result<Status, Failure> {
    if config.digest.way.is_none() {
        return Err(Failure::configuration(MailError::NoWay));
    }
    let disk = Disk::new();
    let mut ledger = ledger(config, &disk)?;
    let passed = mail::send(config, &disk, &mut ledger, Clock::start(), Urgency::WhenDue, Waits::default());
    let passed = passed.map_err(|error| match error {
        MailError::Busy => Failure::new(Status::Busy, error),
        error => Failure::io(error),
    })?;
    passed.tried.iter().for_each(sent);
    match passed.tried.iter().find(|post| post.state != PostState::Sent) {
        Some(post) => Err(Failure::io(format!("{}: {}", post.subject, post.answer))),
        None => Ok(Status::Fine),
    }
}

/// Says of a letter to whom it was sent, if it was.
fn sent(post: &Post) {
    let to: Vec<&str> = post.reached().map(|one| one.address.as_str()).collect();
    if !to.is_empty() {
        plain::answer(&format!("sent to {}: {}", to.join(", "), post.subject));
    }
}

fn ledger(config: &Config, disk: &Disk) -> Result<Ledger, Failure> {
    let file = config.state.join("ledger.sqlite");
    if !file.exists() {
        return Err(Failure::io(format!(
            "{} is not there: nothing has been watched yet; run burler watch",
            file.display()
        )));
    }
    Ledger::open(disk, &file).map_err(Failure::io)
}

fn test(config: &Config) -> Result<Status, Failure> {
    match mail::send_trial(config, &Disk::new(), Clock::start()) {
        Ok(to) => {
            plain::answer(&format!("a test letter was sent to {}", to.join(", ")));
            Ok(Status::Fine)
        }
        Err(error @ (MailError::NoWay | MailError::Message(_))) => Err(Failure::configuration(error)),
        Err(error) => Err(Failure::io(error)),
    }
}

fn write(config: &Config) -> Result<Status, Failure> {
    let disk = Disk::new();
    let mut ledger = ledger(config, &disk)?;
    match letters::write(config, &disk, &mut ledger, Clock::start()) {
        Ok(Some(written)) => {
            let pages: String = written.pages.iter().map(|page| format!("\n  {}", page.display())).collect();
            plain::answer(&format!("{}\n  {}{pages}", written.subject, written.mail.display()));
            for failed in written.failed {
                plain::tell(&Failure::io(failed));
            }
        }
        Ok(None) => plain::answer("nothing new to tell, so no letter"),
        Err(error @ LetterError::Busy) => return Err(Failure::new(Status::Busy, error)),
        Err(error) => return Err(Failure::io(error)),
    }
    send(config, &disk, &mut ledger)
}

/// Sends whatever waits, and says what came of it.
fn send(config: &Config, disk: &Disk, ledger: &mut Ledger) -> Result<Status, Failure> {
    if config.digest.way.is_none() {
        return Ok(Status::Fine);
    }
    // Somebody waits for the answer, but a letter that is handed over whole must not be in doubt for that.
    let waits = Waits { end: Waits::default().end, ..Waits::short() };
    let passed = match mail::send(config, disk, ledger, Clock::start(), Urgency::Now, waits) {
        Ok(passed) => passed,
        Err(MailError::Busy) => {
            plain::answer("it is sent by the Burler that is sending letters right now");
            return Ok(Status::Fine);
        }
        Err(error) => return Err(Failure::io(error)),
    };
    passed.tried.iter().for_each(sent);
    let left = mail::at_a_glance(config, ledger).map_err(Failure::io)?;
    if left.is_empty() { Ok(Status::Fine) } else { Err(Failure::io(left.join("\n  "))) }
}
