//! `digest`: writes the next letter now and sends it, or shows it; `digest test` sends a test letter.

use super::input;
use super::plain;
use super::status::{Failure, Status};
use crate::clock::Clock;
use crate::config::Config;
use crate::daemon::letters::{self, LetterError};
use crate::daemon::mail::{self, MailError};
use crate::digest;
use crate::digest::outbox::Urgency;
use crate::digest::post::Waits;
use crate::disk::{self, Disk, Onto, Source};
use crate::ledger::{Ledger, Post, PostState};
use crate::tile::Content;
use std::path::{Path, PathBuf};

/// Words of `digest`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Show the next letter as a page, without writing or noting it
    Preview(Preview),
    /// Send what waits and is due, and nothing else; for a timer beside a watch that has no network
    Send,
    /// Send one plain test letter now, and say what is wrong when it does not go
    Test,
}

#[derive(Debug, clap::Args)]
struct Preview {
    /// The page to write [default: next-letter.html]
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

const NOTHING: &str = "nothing new to tell, so no letter";

/// Writes the letter of everything new since the last one, says where it is, and sends it.
///
/// # Errors
/// When nothing was ever watched, another letter is being written, or something cannot be written or sent.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::watched_configuration(settings)?;
    match &words.what {
        None => write(&config),
        Some(What::Preview(words)) => preview(&config, words),
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

/// The ledger's file, which must be there.
fn watched(config: &Config) -> Result<PathBuf, Failure> {
    let file = config.state.join("ledger.sqlite");
    if file.exists() {
        return Ok(file);
    }
    Err(Failure::io(format!("{} is not there: nothing has been watched yet; run burler watch", file.display())))
}

fn ledger(config: &Config, disk: &Disk) -> Result<Ledger, Failure> {
    Ledger::open(disk, &watched(config)?).map_err(Failure::io)
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
            // On its way the mail moves; where nothing is sent it stays.
            let kept = config.digest.way.is_none().then(|| format!("\n  {}", written.mail.display()));
            plain::answer(&format!("{}{}{pages}", written.subject, kept.unwrap_or_default()));
            for failed in written.failed {
                plain::tell(&Failure::io(failed));
            }
        }
        Ok(None) => plain::answer(NOTHING),
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

fn preview(config: &Config, words: &Preview) -> Result<Status, Failure> {
    let ledger = Ledger::open_to_read(&watched(config)?).map_err(Failure::io)?;
    let Some(letter) = letters::preview(config, &ledger, Clock::start().wall()).map_err(Failure::io)? else {
        plain::answer(NOTHING);
        return Ok(Status::Fine);
    };
    let output = words.output.as_deref().unwrap_or(Path::new("next-letter.html"));
    let output = std::path::absolute(output).map_err(Failure::io)?;
    let (Some(folder), Some(name)) = (output.parent(), output.file_name()) else {
        return Err(Failure::usage(format!("{} is not a file; name one that ends in .html", output.display())));
    };
    // An earlier preview is ours to replace; nothing else is.
    if let Ok(there) = disk::read_bytes(&output)
        && !digest::is_page(&there)
    {
        return Err(Failure::io(format!(
            "{} is there already and is no letter of Burler; name another file with --output",
            output.display()
        )));
    }
    let page = digest::page(&letter).into_bytes();
    let content = Content::of(&page);
    Disk::new()
        .tree(folder)
        .and_then(|tree| tree.publish(Path::new(name), &Source::Bytes(page), content, Onto::Anything))
        .map_err(Failure::io)?;
    plain::answer(&format!("{}\n  {}", letter.subject, output.display()));
    Ok(Status::Fine)
}
