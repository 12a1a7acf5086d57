//! `watch`: the daemon in the foreground, until told to stop.

use super::input;
use super::status::{Failure, Status};
use crate::daemon::{self, DaemonError};
use std::path::Path;
use tokio::signal::unix::{SignalKind, signal};

/// Words of `watch`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Leave sending letters to `burler digest send`, for a watch that has no network
    #[arg(long)]
    without_mail: bool,
}

/// Watches until SIGTERM or an interrupt from the keyboard.
///
/// # Errors
/// When the configuration is wrong, another Burler watches already, or the state folder cannot be used.
pub fn run(words: &Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    let config = input::watched_configuration(settings)?;
    let program = std::env::current_exe()
        .map_err(|error| Failure::io(format!("cannot find Burler's own executable: {error}")))?;
    match daemon::run(config, program, !words.without_mail, asked_to_stop()) {
        Ok(()) => Ok(Status::Fine),
        Err(error @ DaemonError::Busy(_)) => Err(Failure::new(Status::Busy, error)),
        Err(error) => Err(Failure::io(error)),
    }
}

/// Ready when the process is asked to stop.
async fn asked_to_stop() {
    let (Ok(mut terminate), Ok(mut interrupt)) = (signal(SignalKind::terminate()), signal(SignalKind::interrupt()))
    else {
        // Without handlers the signals end the process at once, which every step survives.
        return std::future::pending().await;
    };
    tokio::select! {
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
    }
}
