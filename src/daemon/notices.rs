//! Notices to the service manager: ready, state, alive, stopping. Without a manager nothing is sent.

use sd_notify::NotifyState;

/// Watching has begun.
pub fn ready() {
    tell(&[NotifyState::Ready]);
}

/// What is going on, in one line.
pub fn state(text: &str) {
    tracing::debug!("{text}");
    tell(&[NotifyState::Status(text)]);
}

/// The owner is awake; asked for by the manager's watchdog.
pub fn alive() {
    if sd_notify::watchdog_enabled().is_some() {
        tell(&[NotifyState::Watchdog]);
    }
}

/// The end has begun.
pub fn stopping() {
    tell(&[NotifyState::Stopping]);
}

fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        tracing::warn!(%error, "the service manager could not be told");
    }
}
