//! When a letter is due, through the civil-time traps of real zones.

use burler::digest::{Waiting, When};
use jiff::civil::{Time, time};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use std::collections::BTreeSet;
use std::time::Duration;

fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).expect("the zone is in the time zone database")
}

fn instant(text: &str) -> Timestamp {
    text.parse().expect("a time of RFC 3339")
}

/// The daily letter alone, with something to tell from the beginning of time.
fn daily(at: Time, last: Option<Timestamp>) -> (When, Waiting) {
    let waiting = Waiting { last, oldest: Some(Timestamp::MIN), ..Waiting::default() };
    (When { at, ..When::default() }, waiting)
}

fn due(at: Time, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> bool {
    let (when, waiting) = daily(at, last);
    burler::digest::due(&when, zone, &waiting, now)
}

fn next(at: Time, zone: &TimeZone, last: Option<Timestamp>, now: Timestamp) -> Option<Timestamp> {
    let (when, waiting) = daily(at, last);
    burler::digest::next(&when, zone, &waiting, now)
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

/// The date whose letter is due at an instant: the one before where a gap took the rest of that date, as in Nuuk, whose
/// clocks go from 22:59 to midnight on the last Saturday of March since 2024.
fn told_for(zone: &TimeZone, at: Time, instant: Timestamp) -> jiff::civil::Date {
    let here = zone.to_datetime(instant);
    if here.time() < at { here.date().yesterday().expect("a date before") } else { here.date() }
}

/// Every zone of the time zone database (IANA) whose clocks change between 2020 and 2040, about each of its changes: each civil
/// date has one letter, at the instant that Python's zoneinfo finds from the definition.
#[test]
fn in_every_zone_each_date_about_a_change_of_the_clock_has_one_letter() {
    let (from, until) = (instant("2020-01-01T00:00:00Z"), instant("2041-01-01T00:00:00Z"));
    // Many names are links to one zone.
    let (mut lines, mut zones, mut known) = (String::new(), 0, BTreeSet::new());
    for name in jiff::tz::db().available() {
        let Ok(zone) = TimeZone::get(name.as_str()) else { continue };
        let changes: Vec<Timestamp> =
            zone.following(from).map(|change| change.timestamp()).take_while(|at| *at < until).collect();
        zones += usize::from(!changes.is_empty());
        if !known.insert((zone.to_offset(from), changes.clone())) {
            continue;
        }
        // One year is like another: every change of the first years, then some.
        for change in changes.iter().enumerate().filter(|(i, _)| *i < 4 || i % 9 == 0).map(|(_, change)| *change) {
            for at in [time(0, 0, 0, 0), time(2, 30, 0, 0), time(23, 30, 0, 0)] {
                let before = change.checked_sub(Span::new().hours(60)).unwrap();
                let mut last = next(at, &zone, Some(before), before).unwrap();
                while last < change.checked_add(Span::new().hours(60)).unwrap() {
                    let date = told_for(&zone, at, last);
                    lines.push_str(&format!("{} {} {date} {at}\n", name.as_str(), last.as_second()));
                    assert!(due(at, &zone, Some(before), last) && !due(at, &zone, Some(last), last));
                    last = next(at, &zone, Some(last), last).unwrap();
                    let next_date = told_for(&zone, at, last);
                    assert_eq!(next_date, date.tomorrow().unwrap(), "{} at {at}", name.as_str());
                }
            }
        }
    }
    assert!(zones > 100, "only {zones} zones change their clocks");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("slots");
    std::fs::write(&file, &lines).unwrap();
    let checked = super::desk::run_python(include_str!("slots.py"), &[file.to_str().unwrap()]);
    assert_eq!(checked.trim(), lines.lines().count().to_string());
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

/// What waits: something since `oldest`, and what came after the last letter.
fn waiting(last: Option<&str>, oldest: &str) -> Waiting {
    Waiting { last: last.map(instant), oldest: Some(instant(oldest)), ..Waiting::default() }
}

fn at_six() -> When {
    When::default()
}

#[test]
fn nothing_waiting_is_no_letter_and_a_letter_waits_for_the_next_time_after_what_it_tells() {
    let berlin = zone("Europe/Berlin");
    let now = instant("2026-11-25T17:00:00Z");
    let empty = Waiting { last: Some(instant("2026-11-20T17:00:00Z")), ..Waiting::default() };
    assert_eq!(burler::digest::next(&at_six(), &berlin, &empty, now), None);
    // It came after six, so the letter of six has passed; a restart changes nothing about that.
    let late = waiting(Some("2026-11-20T17:00:00Z"), "2026-11-25T17:00:01Z");
    let next = burler::digest::next(&at_six(), &berlin, &late, instant("2026-11-25T18:30:00Z"));
    assert_eq!(next, Some(instant("2026-11-26T17:00:00Z")));
    // A reminder that is due in some days waits until then.
    let later = waiting(Some("2026-11-25T17:00:00Z"), "2026-12-02T17:00:00Z");
    assert_eq!(burler::digest::next(&at_six(), &berlin, &later, now), Some(instant("2026-12-02T17:00:00Z")));
}

#[test]
fn only_the_chosen_days_have_a_letter() {
    use jiff::civil::Weekday::{Friday, Monday};
    let new_york = zone("America/New_York");
    let when = When { at: time(9, 0, 0, 0), days: vec![Monday, Friday], ..When::default() };
    let mut told = Vec::new();
    let mut last = instant("2026-10-29T00:00:00Z");
    for _ in 0..4 {
        let waiting = Waiting { last: Some(last), oldest: Some(last), ..Waiting::default() };
        last = burler::digest::next(&when, &new_york, &waiting, last).unwrap();
        told.push(last.to_string());
    }
    // The clocks go back on Sunday, 1 November 2026.
    assert_eq!(told, ["2026-10-30T13:00:00Z", "2026-11-02T14:00:00Z", "2026-11-06T14:00:00Z", "2026-11-09T14:00:00Z"]);
}

#[test]
fn a_held_tile_is_told_at_once_and_several_make_one_letter() {
    let berlin = zone("Europe/Berlin");
    let when = When { at_once: true, calm: Duration::from_secs(30 * 60), ..When::default() };
    let next = |waiting: &Waiting, now: &str| {
        burler::digest::next(&when, &berlin, waiting, instant(now)).map(|at| at.to_string()).unwrap()
    };
    let came = "2026-11-25T09:10:00Z";
    let one = Waiting {
        needing_since: Some(instant(came)),
        fresh: 1,
        fresh_since: Some(instant(came)),
        ..waiting(Some("2026-11-24T17:00:00Z"), came)
    };
    assert_eq!(next(&one, "2026-11-25T09:10:03Z"), "2026-11-25T09:10:03Z", "at once");
    // While others of the same saving are looked at it waits for them, but not for longer than the calm.
    let busy = Waiting { busy: true, ..one.clone() };
    assert_eq!(next(&busy, "2026-11-25T09:10:03Z"), "2026-11-25T09:40:00Z");
    // Another one soon after the letter waits until the calm is over.
    let soon = Waiting { last: Some(instant("2026-11-25T09:00:00Z")), ..one.clone() };
    assert_eq!(next(&soon, "2026-11-25T09:10:03Z"), "2026-11-25T09:30:00Z");
    // Good tiles do not hurry, nor does anything where it is not asked for.
    let good = Waiting { needing_since: None, ..one.clone() };
    assert_eq!(next(&good, "2026-11-25T09:10:03Z"), "2026-11-25T17:00:00Z");
    let daily = burler::digest::next(&at_six(), &berlin, &one, instant("2026-11-25T09:10:03Z"));
    assert_eq!(daily, Some(instant("2026-11-25T17:00:00Z")));
}

#[test]
fn so_many_tiles_do_not_wait_but_what_had_no_room_does() {
    let berlin = zone("Europe/Berlin");
    let when = When { after: 20, ..When::default() };
    let now = instant("2026-11-25T09:10:00Z");
    let next = |fresh: usize| {
        let since = Some(instant("2026-11-25T09:00:00Z"));
        let waiting =
            Waiting { fresh, fresh_since: since, ..waiting(Some("2026-11-24T17:00:00Z"), "2026-11-20T09:00:00Z") };
        burler::digest::next(&when, &berlin, &waiting, now).unwrap().to_string()
    };
    assert_eq!(next(20), "2026-11-25T09:10:00Z");
    assert_eq!(next(19), "2026-11-25T17:00:00Z");
    assert_eq!(next(0), "2026-11-25T17:00:00Z", "however many wait since before the last letter");
}

#[test]
fn in_quiet_hours_nothing_is_sent_and_what_is_due_comes_at_their_end() {
    let quiet = |from: i8, until: Time, at: Time| When {
        at,
        at_once: true,
        quiet: Some((time(from, 0, 0, 0), until)),
        ..When::default()
    };
    let next = |when: &When, name: &str, came: &str, now: &str| {
        let waiting = Waiting { needing_since: Some(instant(came)), ..waiting(Some("2011-01-01T00:00:00Z"), came) };
        burler::digest::next(when, &zone(name), &waiting, instant(now)).unwrap().to_string()
    };
    let night = quiet(21, time(7, 0, 0, 0), time(22, 0, 0, 0));
    let berlin = |came: &str| next(&night, "Europe/Berlin", came, came);
    assert_eq!(berlin("2026-11-25T19:59:59Z"), "2026-11-25T19:59:59Z");
    assert_eq!(berlin("2026-11-25T20:00:00Z"), "2026-11-26T06:00:00Z");
    assert_eq!(berlin("2026-11-26T05:59:59Z"), "2026-11-26T06:00:00Z");
    assert_eq!(berlin("2026-11-26T06:00:00Z"), "2026-11-26T06:00:00Z");
    // The night of 29 March 2026 has 9 hours from 21:00 to 7:00, that of 25 October 11 (IANA tz: Europe/Berlin).
    assert_eq!(berlin("2026-03-28T20:00:00Z"), "2026-03-29T05:00:00Z");
    assert_eq!(berlin("2026-10-24T19:00:00Z"), "2026-10-25T06:00:00Z");
    // An end in the gap is the gap's end; one that occurs twice is entered again after its first time.
    let gap = quiet(21, time(2, 30, 0, 0), time(18, 0, 0, 0));
    assert_eq!(next(&gap, "Europe/Berlin", "2024-03-30T21:00:00Z", "2024-03-30T21:00:00Z"), "2024-03-31T01:00:00Z");
    assert_eq!(next(&gap, "Europe/Berlin", "2024-10-26T21:00:00Z", "2024-10-26T21:00:00Z"), "2024-10-27T00:30:00Z");
    assert_eq!(next(&gap, "Europe/Berlin", "2024-10-27T01:10:00Z", "2024-10-27T01:10:00Z"), "2024-10-27T01:30:00Z");
    // The date that Apia left out is part of the night.
    assert_eq!(next(&night, "Pacific/Apia", "2011-12-30T08:00:00Z", "2011-12-30T08:00:00Z"), "2011-12-30T17:00:00Z");
    // Hours within one day.
    let noon = quiet(12, time(14, 0, 0, 0), time(13, 0, 0, 0));
    assert_eq!(next(&noon, "Europe/Berlin", "2026-11-25T11:30:00Z", "2026-11-25T11:30:00Z"), "2026-11-25T13:00:00Z");
    assert_eq!(next(&noon, "Europe/Berlin", "2026-11-25T08:00:00Z", "2026-11-25T08:00:00Z"), "2026-11-25T08:00:00Z");
}

#[test]
fn a_first_letter_waits_for_the_first_pass_to_end_but_not_for_ever() {
    let berlin = zone("Europe/Berlin");
    let when = When { at_once: true, after: 5, ..When::default() };
    let came = Some(instant("2026-11-25T15:00:00Z"));
    let first = Waiting {
        needing_since: came,
        fresh: 900,
        fresh_since: came,
        busy: true,
        ..waiting(None, "2026-11-25T15:00:00Z")
    };
    let now = instant("2026-11-25T15:20:00Z");
    let next = |waiting: &Waiting| burler::digest::next(&when, &berlin, waiting, now).unwrap();
    assert_eq!(next(&first), instant("2026-11-26T17:00:00Z"));
    assert_eq!(next(&Waiting { busy: false, ..first }), now);
}
