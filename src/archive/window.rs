//! The window of a nightly sweep: from one time of the day to another, in a zone.
//!
//! Takes `now`, never reads it; the rules of zones are the library's. Pure.

use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};

/// When a sweep that runs at `now` must end; `None` when `now` lies outside the window.
///
/// A window whose end is earlier in the day than its beginning ends on the next day. Where the clocks skip a time, it is taken
/// as much later as they skip; where they show one twice, the first is meant.
#[must_use]
pub fn end(at: Time, until: Time, zone: &TimeZone, now: Timestamp) -> Option<Timestamp> {
    let today = zone.to_datetime(now).date();
    // Yesterday's window may reach into today.
    [-1, 0].into_iter().find_map(|days| {
        let first = today.checked_add(Span::new().days(days)).ok()?;
        let last = if until > at { first } else { first.tomorrow().ok()? };
        let (begin, end) = (instant(first, at, zone)?, instant(last, until, zone)?);
        (begin <= now && now < end).then_some(end)
    })
}

fn instant(date: Date, time: Time, zone: &TimeZone) -> Option<Timestamp> {
    zone.to_ambiguous_timestamp(date.to_datetime(time)).compatible().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::time;

    fn end_at(at: Time, until: Time, zone: &str, now: &str) -> Option<String> {
        let zone = TimeZone::get(zone).unwrap();
        end(at, until, &zone, now.parse().unwrap()).map(|end| end.to_string())
    }

    #[test]
    fn a_window_within_a_night_and_one_over_midnight() {
        let night = |now| end_at(time(2, 30, 0, 0), time(6, 0, 0, 0), "UTC", now);
        assert_eq!(night("2026-05-01T02:29:59Z"), None);
        assert_eq!(night("2026-05-01T02:30:00Z").as_deref(), Some("2026-05-01T06:00:00Z"));
        assert_eq!(night("2026-05-01T06:00:00Z"), None);
        let late = |now| end_at(time(23, 0, 0, 0), time(5, 0, 0, 0), "UTC", now);
        assert_eq!(late("2026-05-01T23:10:00Z").as_deref(), Some("2026-05-02T05:00:00Z"));
        assert_eq!(late("2026-05-02T04:59:00Z").as_deref(), Some("2026-05-02T05:00:00Z"));
        assert_eq!(late("2026-05-02T12:00:00Z"), None);
    }

    // IANA time zone database: Europe/Lisbon goes from 01:00 to 02:00 on 29 March 2026, and from 02:00 to 01:00 on 25 October.
    #[test]
    fn nights_in_which_the_clocks_change() {
        let spring = |now| end_at(time(1, 30, 0, 0), time(4, 0, 0, 0), "Europe/Lisbon", now);
        assert_eq!(spring("2026-03-29T01:29:00Z"), None, "01:30 is skipped; it is taken as 02:30");
        assert_eq!(spring("2026-03-29T01:30:00Z").as_deref(), Some("2026-03-29T03:00:00Z"));
        let autumn = |now| end_at(time(1, 30, 0, 0), time(4, 0, 0, 0), "Europe/Lisbon", now);
        assert_eq!(autumn("2026-10-25T00:30:00Z").as_deref(), Some("2026-10-25T04:00:00Z"), "the first 01:30");
        assert_eq!(autumn("2026-10-25T01:45:00Z").as_deref(), Some("2026-10-25T04:00:00Z"), "the second");
    }
}
