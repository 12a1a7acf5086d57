//! `digest`: writes the next letter now.

use super::input;
use super::plain;
use super::status::{Failure, Status};
use crate::clock::Clock;
use crate::daemon::letters::{self, LetterError};
use crate::disk::Disk;
use crate::ledger::Ledger;
use std::path::Path;

/// Writes the letter of everything new since the last one, and says where it is.
///
/// # Errors
/// When nothing was ever watched, another letter is being written, or something cannot be written.
pub fn run(settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::watched_configuration(settings)?;
    let file = config.state.join("ledger.sqlite");
    if !file.exists() {
        return Err(Failure::io(format!(
            "{} is not there: nothing has been watched yet; run burler watch",
            file.display()
        )));
    }
    let disk = Disk::new();
    let mut ledger = Ledger::open(&disk, &file).map_err(Failure::io)?;
    match letters::write(&config, &disk, &mut ledger, Clock::start()) {
        Ok(Some(written)) => {
            let pages: String = written.pages.iter().map(|page| format!("\n  {}", page.display())).collect();
            plain::answer(&format!("{}\n  {}{pages}", written.subject, written.mail.display()));
            Ok(Status::Fine)
        }
        Ok(None) => {
            plain::answer("nothing new to tell, so no letter");
            Ok(Status::Fine)
        }
        Err(error @ LetterError::Busy) => Err(Failure::new(Status::Busy, error)),
        Err(error) => Err(Failure::io(error)),
    }
}
