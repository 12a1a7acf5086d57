//! When a letter is due, through the civil-time traps of real zones.

use burler::digest::{due, next};
use jiff::civil::{Time, time};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};

fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).expect("the zone is in the time zone database")
}

fn instant(text: &str) -> Timestamp {
    text.parse().expect("a time of RFC 3339")
}

/// All letters of some days in UTC, when the daemon sleeps until the next one each time.
fn letters(zone_name: &str, at: Time, from: &str, until: &str) -> Vec<String> {
    let (zone, until) = (zone(zone_name), instant(until));
    let mut last = instant(from);
    let mut told = Vec::new();
    while let Some(slot) = next(at, &zone, Some(last), last).filter(|&slot| slot <= until) {
        assert!(due(at, &zone, Some(last), slot) && !due(at, &zone, Some(slot), slot));
        let just_before = slot.checked_sub(Span::new().milliseconds(1)).expect("times go back further");
        assert!(!due(at, &zone, Some(last), just_before), "due before {slot}");
        told.push(slot.to_string());
        last = slot;
    }
    told
}

/// Changes of the clock in tzdata 2025b, in UTC: gaps are left at their first instant after, folds taken the first time.
#[test]
fn a_letter_is_due_once_per_civil_date_through_gaps_and_folds() {
    // New York springs from 2:00 to 3:00 on 10 March 2024 at 07:00 UTC and repeats 1:00 to 2:00 on 3 November.
    let at = time(2, 30, 0, 0);
    assert_eq!(
        letters("America/New_York", at, "2024-03-09T08:00:00Z", "2024-03-12T00:00:00Z"),
        ["2024-03-10T07:00:00Z", "2024-03-11T06:30:00Z"]
    );
    assert_eq!(
        letters("America/New_York", time(1, 30, 0, 0), "2024-11-02T12:00:00Z", "2024-11-05T00:00:00Z"),
        ["2024-11-03T05:30:00Z", "2024-11-04T06:30:00Z"]
    );
    // Berlin: 31 March 2024 from 2:00 to 3:00 at 01:00 UTC; 27 October 2:00 to 3:00 twice.
    assert_eq!(
        letters("Europe/Berlin", at, "2024-03-30T12:00:00Z", "2024-04-01T12:00:00Z"),
        ["2024-03-31T01:00:00Z", "2024-04-01T00:30:00Z"]
    );
    assert_eq!(
        letters("Europe/Berlin", at, "2024-10-26T12:00:00Z", "2024-10-28T12:00:00Z"),
        ["2024-10-27T00:30:00Z", "2024-10-28T01:30:00Z"]
    );
    // Lord Howe moves by half an hour: 6 October 2024 from 2:00 to 2:30, 7 April 1:30 to 2:00 twice.
    assert_eq!(
        letters("Australia/Lord_Howe", time(2, 15, 0, 0), "2024-10-05T00:00:00Z", "2024-10-06T20:00:00Z"),
        ["2024-10-05T15:30:00Z", "2024-10-06T15:15:00Z"]
    );
    assert_eq!(
        letters("Australia/Lord_Howe", time(1, 45, 0, 0), "2024-04-06T00:00:00Z", "2024-04-07T20:00:00Z"),
        ["2024-04-06T14:45:00Z", "2024-04-07T15:15:00Z"]
    );
    // Apia left out 30 December 2011: no letter for a date that never was.
    assert_eq!(
        letters("Pacific/Apia", time(18, 0, 0, 0), "2011-12-29T10:00:00Z", "2011-12-31T20:00:00Z"),
        ["2011-12-30T04:00:00Z", "2011-12-31T04:00:00Z"]
    );
    // Midnight is missing in Sao Paulo on 4 November 2018 and in Cairo on 28 April 2023; the date begins at 1:00.
    let midnight = time(0, 0, 0, 0);
    assert_eq!(
        letters("America/Sao_Paulo", midnight, "2018-11-03T12:00:00Z", "2018-11-05T12:00:00Z"),
        ["2018-11-04T03:00:00Z", "2018-11-05T02:00:00Z"]
    );
    assert_eq!(
        letters("Africa/Cairo", midnight, "2023-04-26T23:00:00Z", "2023-04-29T12:00:00Z"),
        ["2023-04-27T22:00:00Z", "2023-04-28T21:00:00Z"]
    );
    // Cairo, 31 October 2024: 23:00 to midnight twice.
    assert_eq!(
        letters("Africa/Cairo", time(23, 30, 0, 0), "2024-10-31T00:00:00Z", "2024-11-02T12:00:00Z"),
        ["2024-10-31T20:30:00Z", "2024-11-01T21:30:00Z"]
    );
    // Kathmandu is ahead by 5 hours and 45 minutes.
    assert_eq!(
        letters("Asia/Kathmandu", time(6, 0, 0, 0), "2024-06-01T12:00:00Z", "2024-06-02T12:00:00Z"),
        ["2024-06-02T00:15:00Z"]
    );
}

#[test]
fn every_civil_date_of_twenty_years_has_one_letter() {
    let zones = [
        "America/New_York",
        "Europe/Berlin",
        "Australia/Lord_Howe",
        "Africa/Cairo",
        "Africa/Casablanca",
        "America/Santiago",
        "Asia/Beirut",
    ];
    for name in zones {
        let zone = zone(name);
        for at in [time(0, 0, 0, 0), time(1, 30, 0, 0), time(2, 30, 0, 0), time(23, 45, 0, 0)] {
            let mut last =
                next(at, &zone, Some(instant("2020-01-01T12:00:00Z")), instant("2020-01-01T12:00:00Z")).unwrap();
            loop {
                let date = zone.to_datetime(last).date();
                if date.year() == 2040 {
                    break;
                }
                last = next(at, &zone, Some(last), last).unwrap();
                assert_eq!(zone.to_datetime(last).date(), date.tomorrow().unwrap(), "{name} at {at}");
            }
        }
    }
}

#[test]
fn what_was_slept_through_is_caught_up_once() {
    let (zone, at) = (zone("Europe/Berlin"), time(18, 0, 0, 0));
    let last = instant("2026-11-20T17:00:00Z");
    let woken = instant("2026-11-25T06:12:00Z");
    assert!(due(at, &zone, Some(last), woken));
    assert_eq!(next(at, &zone, Some(last), woken), Some(woken));
    assert!(!due(at, &zone, Some(woken), woken));
    assert_eq!(next(at, &zone, Some(woken), woken), Some(instant("2026-11-25T17:00:00Z")));
    // The first letter has nothing before it.
    assert!(due(at, &zone, None, woken));
    // A clock set back tells nothing twice.
    assert!(!due(at, &zone, Some(woken), last));
    assert_eq!(next(at, &zone, Some(woken), last), Some(instant("2026-11-25T17:00:00Z")));
}
