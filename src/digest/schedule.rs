//! When a letter is due: once per civil date that exists in its zone, at one time of the day.
//!
//! In a gap of the clock it is due at the first instant after the gap, where a time occurs twice the first time, and after
//! sleep once for all that was missed. Takes `now`, never reads it; the rules of zones are the library's.

use jiff::civil::{Date, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Span, Timestamp};

/// No rule of any zone leaves out more civil dates in a row than this (one date, at the date line), with room to spare.
const DAYS_AROUND: i64 = 4;

/// Whether a letter is due. `last` is when the last one was written, or when watching began; `None` is longer ago than
/// any time.
#[must_use]
pub fn due(at: Time, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> bool {
    let passed = around(zone, now).filter_map(|date| slot(date, at, zone)).filter(|&slot| slot <= now).max();
    passed.is_some_and(|slot| last.is_none_or(|last| last < slot))
}

/// The next instant at which a letter is due: `now` itself when it is, `None` only at the end of representable time.
#[must_use]
pub fn next(at: Time, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> Option<Timestamp> {
    if due(at, zone, last, now) {
        return Some(now);
    }
    let after = last.map_or(now, |last| last.max(now));
    around(zone, after).filter_map(|date| slot(date, at, zone)).filter(|&slot| slot > after).min()
}

/// The civil dates about an instant.
fn around(zone: &TimeZone, instant: Timestamp) -> impl Iterator<Item = Date> {
    let today = zone.to_datetime(instant).date();
    (-DAYS_AROUND..=DAYS_AROUND).filter_map(move |days| today.checked_add(Span::new().days(days)).ok())
}

/// The instant a date's letter is due; `None` when the zone leaves that date out.
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
