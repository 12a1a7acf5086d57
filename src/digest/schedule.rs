//! When a letter is due: at one time of the day, at once for a tile that needs the artist, after so many tiles; never in quiet
//! hours, and once for all that was slept through.
//!
//! In a gap of the clock a time of day is the first instant after the gap, where it occurs twice the first one. Takes what
//! waits and `now`, never reads it; the rules of zones are the library's.

use jiff::civil::{Date, Time, Weekday};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Span, Timestamp};
use std::time::Duration;

/// A week, and more civil dates than any zone leaves out in a row (one date, at the date line).
const DAYS_AHEAD: i64 = 7 + 4;

/// How long a first letter waits, past its time, for a first pass over a folder to end.
const PATIENCE: Duration = Duration::from_secs(24 * 3600);

/// When letters are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct When {
    /// The time of day.
    pub at: Time,
    /// On which days of the week.
    pub days: Vec<Weekday>,
    /// Whether a tile that needs the artist is told at once.
    pub at_once: bool,
    /// The least time between a letter and one that does not wait for its time of day.
    pub calm: Duration,
    /// From when until when nothing is sent; over midnight when it ends before it begins.
    pub quiet: Option<(Time, Time)>,
    /// After how many tiles a letter does not wait for its time of day; 0 for never.
    pub after: usize,
}

impl Default for When {
    /// Every day at six in the evening, and not before.
    fn default() -> Self {
        Self {
            at: Time::constant(18, 0, 0, 0),
            days: [1, 2, 3, 4, 5, 6, 7]
                .into_iter()
                .filter_map(|day| Weekday::from_monday_one_offset(day).ok())
                .collect(),
            at_once: false,
            calm: Duration::from_secs(30 * 60),
            quiet: None,
            after: 0,
        }
    }
}

/// What waits to be told. An instant that is not known is the earliest it can have been.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Waiting {
    /// When the last letter was written; `None` before the first.
    pub last: Option<Timestamp>,
    /// When the oldest of it came, or comes for a reminder; `None` when nothing waits.
    pub oldest: Option<Timestamp>,
    /// How many tiles came after the last letter, and when the first of them did. What a letter had no room for is no such
    /// tile.
    pub fresh: usize,
    /// See `fresh`.
    pub fresh_since: Option<Timestamp>,
    /// When the first tile that needs the artist came after the last letter.
    pub needing_since: Option<Timestamp>,
    /// Whether more tiles are being looked at right now.
    pub busy: bool,
}

/// Whether a time of day has come since `last`, which `None` puts before any time: for what is done once for each civil date.
#[must_use]
pub fn has_come(at: Time, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> bool {
    let Ok(from) = now.checked_sub(Span::new().hours(4 * 24)) else { return false };
    let latest = dates(zone, from).filter_map(|date| slot(date, at, zone)).filter(|&slot| slot <= now).max();
    latest.is_some_and(|slot| last.is_none_or(|last| last < slot))
}

/// Whether a letter is due.
#[must_use]
pub fn due(when: &When, zone: &TimeZone, waiting: &Waiting, now: Timestamp) -> bool {
    next(when, zone, waiting, now) == Some(now)
}

/// The next instant at which a letter is due if nothing else happens: `now` itself when it is due, `None` when nothing
/// waits or time ends before.
#[must_use]
pub fn next(when: &When, zone: &TimeZone, waiting: &Waiting, now: Timestamp) -> Option<Timestamp> {
    let ripe = [by_the_clock(when, zone, waiting), before_its_time(when, waiting)].into_iter().flatten().min()?;
    out_of_quiet(when, zone, ripe.max(now))
}

/// The first time of day after the last letter at which something waits.
fn by_the_clock(when: &When, zone: &TimeZone, waiting: &Waiting) -> Option<Timestamp> {
    let oldest = waiting.oldest?;
    let from = waiting.last.map_or(oldest, |last| last.max(oldest));
    let dates = dates(zone, from).filter(|date| when.days.contains(&date.weekday()));
    let slots = dates.filter_map(|date| slot(date, when.at, zone));
    let slot = slots.filter(|&slot| slot >= oldest && waiting.last.is_none_or(|last| slot > last)).min()?;
    if waiting.last.is_none() && waiting.busy { later(slot, PATIENCE) } else { Some(slot) }
}

/// When a tile that needs the artist, or many tiles, do not wait for the time of day. While more are looked at, they wait for
/// those, so that one saving makes one letter.
fn before_its_time(when: &When, waiting: &Waiting) -> Option<Timestamp> {
    if waiting.last.is_none() && waiting.busy {
        return None;
    }
    let needing = waiting.needing_since.filter(|_| when.at_once);
    let many = waiting.fresh_since.filter(|_| when.after > 0 && waiting.fresh >= when.after);
    let since = [needing, many].into_iter().flatten().min()?;
    let calm = waiting.last.map(|last| later(last, when.calm));
    let ripe = if waiting.busy { later(since, when.calm)? } else { since };
    match calm {
        None => Some(ripe),
        Some(calm) => Some(ripe.max(calm?)),
    }
}

/// The instant itself, or the end of the quiet hours it lies in.
fn out_of_quiet(when: &When, zone: &TimeZone, instant: Timestamp) -> Option<Timestamp> {
    let Some((from, until)) = when.quiet else { return Some(instant) };
    let civil = zone.to_datetime(instant).time();
    let quiet = if from <= until { from <= civil && civil < until } else { from <= civil || civil < until };
    if !quiet {
        return Some(instant);
    }
    let ends = dates(zone, instant).flat_map(|date| {
        // Where the end occurs twice, quiet hours may be entered again after the first time.
        let second = zone.to_ambiguous_timestamp(date.to_datetime(until)).later().ok();
        slot(date, until, zone).into_iter().chain(second)
    });
    ends.filter(|&end| end > instant).min()
}

fn later(instant: Timestamp, by: Duration) -> Option<Timestamp> {
    instant.checked_add(by).ok()
}

/// The civil dates from just before an instant on.
fn dates(zone: &TimeZone, instant: Timestamp) -> impl Iterator<Item = Date> {
    let today = zone.to_datetime(instant).date();
    (-1..=DAYS_AHEAD).filter_map(move |days| today.checked_add(Span::new().days(days)).ok())
}

/// The instant a date has a time of day; `None` when the zone leaves that date out.
fn slot(date: Date, at: Time, zone: &TimeZone) -> Option<Timestamp> {
    let ambiguous = zone.to_ambiguous_timestamp(date.to_datetime(at));
    match ambiguous.offset() {
        AmbiguousOffset::Unambiguous { .. } => ambiguous.unambiguous().ok(),
        AmbiguousOffset::Fold { .. } => ambiguous.earlier().ok(),
        // Read with the later offset, the missing time lies before the gap, so the next change of the clock is the gap's end.
        AmbiguousOffset::Gap { .. } if exists(date, zone) => {
            zone.following(ambiguous.earlier().ok()?).next().map(|change| change.timestamp())
        }
        AmbiguousOffset::Gap { .. } => None,
    }
}

/// Whether the clocks of a zone ever show a date.
fn exists(date: Date, zone: &TimeZone) -> bool {
    date.to_zoned_datetime(zone.clone()).is_ok_and(|first| first.date() == date)
}
