//! Kills and failing disks at every operation of tidying and undoing.

use crate::shed::{Shed, day, files};
use burler::archive::undo::undo;
use burler::disk::{Disk, Trip};
use rustix::io::Errno;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Everything that was there is there, under the old or the new path and whole.
fn nothing_is_lost(shed: &Shed, before: &[Vec<u8>], at: &str) {
    let mut left: BTreeMap<Vec<u8>, i64> = BTreeMap::new();
    shed.bytes().into_iter().for_each(|bytes| *left.entry(bytes).or_default() += 1);
    for bytes in before {
        let count = left.entry(bytes.clone()).or_default();
        *count -= 1;
        assert!(*count >= 0, "{at}: lost {:?}", String::from_utf8_lossy(bytes));
    }
}

fn trips() -> Vec<Trip> {
    let fail = |errno: Errno| Trip::Fail(errno.raw_os_error());
    vec![
        Trip::Stop,
        Trip::Short,
        fail(Errno::INTR),
        fail(Errno::NOSPC),
        fail(Errno::IO),
        fail(Errno::INVAL),
        fail(Errno::XDEV),
        fail(Errno::ACCESS),
    ]
}

#[test]
fn tidying_disturbed_at_any_operation_loses_nothing_and_a_second_run_ends_it() {
    let calm = Disk::new();
    Shed::full().tidy_on(&calm).unwrap();
    assert!(calm.operations() > 25, "{}", calm.operations());
    for trip in trips() {
        for at in 1..=calm.operations() {
            let said = format!("{trip:?} at {at}");
            let shed = Shed::full();
            let (before, bytes) = (shed.seen(), shed.bytes());
            let disturbed = shed.tidy_on(&Disk::tripping(at, trip));
            assert!(trip != Trip::Stop || disturbed.is_err(), "{said}: the kill did not happen");
            nothing_is_lost(&shed, &bytes, &said);
            for (path, seen) in shed.seen() {
                assert_eq!(before.get(&path), Some(&seen), "{said}: {}", path.display());
            }
            shed.tidy();
            assert_eq!(shed.seen().into_keys().collect::<Vec<_>>(), [Path::new("kelp.png")], "{said}");
            nothing_is_lost(&shed, &bytes, &said);
            let undone = shed.undo();
            assert_eq!(undone.troubles, Vec::<String>::new(), "{said}");
            assert_eq!(shed.seen(), before, "{said}");
        }
    }
}

#[test]
fn undoing_disturbed_at_any_operation_loses_nothing_and_a_second_run_ends_it() {
    let shed = Shed::full();
    shed.tidy();
    let calm = Disk::new();
    undo(&calm, shed.site(), day(), false).unwrap();
    assert!(calm.operations() > 15, "{}", calm.operations());
    for trip in trips() {
        for at in 1..=calm.operations() {
            let said = format!("{trip:?} at {at}");
            let shed = Shed::full();
            let (before, bytes) = (shed.seen(), shed.bytes());
            shed.tidy();
            let disturbed = undo(&Disk::tripping(at, trip), shed.site(), day(), false);
            assert!(trip != Trip::Stop || disturbed.is_err(), "{said}: the kill did not happen");
            nothing_is_lost(&shed, &bytes, &said);
            let undone = shed.undo();
            assert_eq!(undone.troubles, Vec::<String>::new(), "{said}");
            assert_eq!(shed.seen(), before, "{said}");
            // Copied between drives and not yet removed: a copy may stay, and nothing else.
            let is_copied = trip == Trip::Fail(Errno::XDEV.raw_os_error());
            assert!(shed.quarantined().is_empty() || is_copied, "{said}: {:?}", shed.quarantined());
        }
    }
}

/// The manifest is whole on the drive before the first file moves.
#[test]
fn no_file_moves_before_the_manifest_is_durable() {
    let calm = Disk::new();
    Shed::full().tidy_on(&calm).unwrap();
    let mut moved = 0;
    for at in 1..=calm.operations() {
        let shed = Shed::full();
        let whole = shed.seen().len();
        let _ = shed.tidy_on(&Disk::tripping(at, Trip::Stop));
        let text = fs::read_to_string(shed.away("2026-11-27/1.jsonl")).unwrap_or_default();
        if shed.seen().len() < whole {
            moved += 1;
            let named = burler::ticket::away::Manifest::from_text(&text).unwrap();
            assert_eq!(named.files.len(), 6, "stopped at {at}");
        }
    }
    assert!(moved > 5);
}

/// A move by hard links that was stopped halfway leaves both names; the next run takes the second one away.
#[test]
fn a_file_with_both_names_ends_with_one() {
    let shed = Shed::full();
    let before = shed.seen();
    shed.tidy();
    let (here, there) = (shed.file("nets/notes.txt"), shed.away("2026-11-27/1/nets/notes.txt"));
    fs::hard_link(&there, &here).unwrap();
    shed.tidy();
    assert!(!here.exists() && there.is_file());
    fs::hard_link(&there, &here).unwrap();
    assert_eq!(shed.undo().already, 1);
    assert!(here.is_file() && !there.exists());
    assert_eq!(shed.seen(), before);
    // A copy that a person put back is theirs.
    shed.tidy();
    let there = shed.away("2026-11-27/2/nets/notes.txt");
    fs::copy(&there, &here).unwrap();
    let kept = files(&shed.away("2026-11-27"));
    shed.undo();
    assert!(here.is_file() && there.is_file(), "{kept:?}");
}
