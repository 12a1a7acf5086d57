//! The nightly sweeps: each archive at its time of the day, one after the other, as processes of our own executable.
//!
//! A process and no thread, for three reasons: priority on processor and drive belongs to a whole process, the duty's lock too,
//! and a sweep that is killed or runs out of memory takes nothing of the watch with it. Once a civil date, caught up
//! once after sleep, and only within the window of the archive.

use super::hours;
use crate::archive::window;
use crate::clock::Clock;
use crate::config::Config;
use crate::config::archives::Archive;
use crate::digest;
use crate::ledger::Ledger;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;
use tokio::process::Command;

/// How often the wall clock is asked whether a sweep is due: in short pieces, so that a clock that was set or a machine that
/// slept is noticed.
const LOOK: Duration = Duration::from_secs(20);
/// The exit status of a duty that another process has (`EX_TEMPFAIL` of `sysexits.h`).
const BUSY: i32 = 75;

/// What becomes of an archive at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// It is not its time.
    Wait,
    /// It is to be swept now.
    Sweep,
    /// Its time has come and its window has passed already, as when the machine slept: that night is missed.
    Missed,
}

/// What becomes of an archive now. `last` is when its last sweep began, or when watching did.
#[must_use]
pub fn turn(archive: &Archive, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> Turn {
    if !digest::has_come(archive.at, zone, last, now) {
        return Turn::Wait;
    }
    match archive.until {
        Some(until) if window::end(archive.at, until, zone, now).is_none() => Turn::Missed,
        _ => Turn::Sweep,
    }
}

/// Sweeps the archives for as long as the daemon lives. `program` is our own executable.
pub(super) async fn run(config: &Config, program: &Path, clock: Clock, known: impl Fn(&Archive) -> Option<Timestamp>) {
    let zone = hours::zone(config);
    let now = || Timestamp::try_from(clock.wall()).ok();
    let mut lasts: Vec<Option<Timestamp>> = config.archives.iter().map(|archive| known(archive).or_else(now)).collect();
    loop {
        for (archive, last) in config.archives.iter().zip(&mut lasts) {
            let Some(now) = now() else { continue };
            let mut turn_now = turn(archive, &zone, *last, now);
            if turn_now != Turn::Wait {
                // A timer, or a person, may have swept it meanwhile.
                *last = (*last).max(known(archive));
                turn_now = turn(archive, &zone, *last, now);
            }
            match turn_now {
                Turn::Wait => {}
                Turn::Missed => {
                    tracing::info!("{}: its hours are over for tonight; the next sweep goes on", archive.name);
                    *last = Some(now);
                }
                Turn::Sweep => {
                    if sweep(config, program, archive).await {
                        *last = Some(now);
                    }
                }
            }
        }
        tokio::time::sleep(LOOK).await;
    }
}

/// When an archive's last sweep began.
#[must_use]
pub fn last(ledger: &Ledger, archive: &Archive) -> Option<Timestamp> {
    let last = ledger.last_sweep(&archive.name).ok().flatten()?;
    Timestamp::try_from(last.began).ok()
}

/// Runs one sweep to its end; says whether tonight's is done. One that another process makes right now is tried again.
async fn sweep(config: &Config, program: &Path, archive: &Archive) -> bool {
    let mut command = Command::new(program);
    if let Some(file) = &config.file {
        command.arg("--config").arg(file);
    }
    command.args(["sweep", "--scheduled", "--"]).arg(&archive.name);
    command.stdin(Stdio::null()).stdout(Stdio::null()).kill_on_drop(true);
    tracing::info!("{}: the nightly sweep begins", archive.name);
    match command.status().await {
        Ok(status) if status.code() == Some(BUSY) => {
            tracing::info!("{}: another sweep runs; tried again after it", archive.name);
            false
        }
        Ok(status) if status.success() => {
            tracing::info!("{}: the nightly sweep has ended", archive.name);
            true
        }
        Ok(status) => {
            tracing::warn!("{}: the nightly sweep failed ({status}); what it had found is kept", archive.name);
            true
        }
        Err(error) => {
            tracing::warn!("{}: the nightly sweep cannot be started: {error}", archive.name);
            true
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::time;

    #[test]
    fn an_archive_has_its_turn_once_a_night_within_its_window() {
        let zone = TimeZone::get("Europe/Lisbon").unwrap();
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let open = Archive::of("prints", Path::new("/a"));
        let closed = Archive { until: Some(time(6, 0, 0, 0)), ..open.clone() };
        // Lisbon is an hour ahead of UTC in summer (IANA time zone database), so 02:30 is 01:30 there.
        let (yesterday, tonight) = (Some(at("2026-06-30T01:30:05Z")), at("2026-07-01T01:30:00Z"));
        for archive in [&open, &closed] {
            assert_eq!(turn(archive, &zone, yesterday, at("2026-07-01T01:29:59Z")), Turn::Wait);
            assert_eq!(turn(archive, &zone, yesterday, tonight), Turn::Sweep);
            assert_eq!(turn(archive, &zone, Some(tonight), at("2026-07-01T03:00:00Z")), Turn::Wait);
        }
        // The machine slept until noon.
        let noon = at("2026-07-01T11:00:00Z");
        assert_eq!(turn(&open, &zone, yesterday, noon), Turn::Sweep);
        assert_eq!(turn(&closed, &zone, yesterday, noon), Turn::Missed);
    }
}
