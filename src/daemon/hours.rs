//! The reader's clock: the zone that schedules and dates follow, and how a moment is written in it.

use crate::config::Config;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use std::time::SystemTime;

/// The configured zone, else the system's.
#[must_use]
pub fn zone(config: &Config) -> TimeZone {
    config.digest.zone.as_deref().and_then(|name| TimeZone::get(name).ok()).unwrap_or_else(TimeZone::system)
}

/// A moment in a zone.
///
/// # Errors
/// When it is beyond what can be told, as on a machine whose clock was never set.
pub fn zoned(time: SystemTime, zone: &TimeZone) -> Result<ZonedDateTime, jiff::Error> {
    Ok(ZonedDateTime::new(Timestamp::try_from(time)?, zone.clone()))
}

/// A moment as letters write it.
///
/// # Errors
/// As for [`zoned`].
pub fn spelled(time: SystemTime, zone: &TimeZone) -> Result<String, jiff::Error> {
    Ok(zoned(time, zone)?.strftime("%A, %-d %B %Y, %H:%M").to_string())
}
