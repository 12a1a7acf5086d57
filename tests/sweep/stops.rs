//! Interruptions: kills at every operation, failing disks, the end of the time; the next sweep goes on and comes to the same.

use super::vault::{Vault, broken, sound, with_line};
use burler::archive::Settings;
use burler::disk::{Disk, Trip};
use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};

/// A night of everything: known tiles of which one is edited, one moved, one damaged, one gone, and new ones to be mended and
/// held.
fn eventful() -> Vault {
    let mut vault = Vault::new();
    for (seed, name) in (0..).zip(["a", "edited", "moves", "goes", "rots"]) {
        vault.put(format!("{name}.png"), sound(seed));
    }
    vault.put("line.png", with_line(20));
    vault.mend = true;
    vault.sweep();
    vault.put("edited.png", broken(21));
    vault.put("line.png", sound(20));
    fs::rename(vault.file("moves.png"), vault.file("moved.png")).unwrap();
    fs::remove_file(vault.file("goes.png")).unwrap();
    vault.flip("rots.png", 777);
    vault.put("new/line.png", with_line(22));
    vault.put("new/broken.png", broken(23));
    vault
}

/// Every file's bytes, without the times. A folder that was made for a file that did not come may stay.
fn bytes(vault: &Vault, folder: &str) -> BTreeMap<PathBuf, Vec<u8>> {
    let all = vault.seen(folder).into_iter().map(|(path, (bytes, ..))| (path, bytes));
    all.filter(|(_, bytes)| !bytes.is_empty()).collect()
}

#[test]
fn stopped_or_failing_at_any_operation_the_next_sweep_comes_to_the_same() {
    let disk = Disk::new();
    let mut calm = eventful();
    calm.reopen(&disk);
    let settings = Settings { lanes: 1, ..calm.settings() };
    calm.sweep_on(disk.clone(), &settings, &|| false).unwrap();
    let operations = disk.operations();
    assert!(operations > 40, "{operations}");
    let (wanted, files, archive) = (calm.says(), bytes(&calm, "checked"), bytes(&calm, "archive"));
    // Both kinds in turn at each ninth operation, as a sample; each operation has been tried by hand (SWEEP_EVERY=1).
    let every = std::env::var("SWEEP_EVERY").map_or(9, |every| every.parse().unwrap());
    for (at, trip) in (1..=operations).step_by(every).zip([Trip::Stop, Trip::Fail(28)].into_iter().cycle()) {
        {
            let mut vault = eventful();
            let settings = Settings { lanes: 1, ..vault.settings() };
            let disk = Disk::tripping(at, trip);
            // The ledger's own commits are counted with the files.
            vault.reopen(&disk);
            let broken = vault.sweep_on(disk, &settings, &|| false);
            vault.reopen(&Disk::new());
            vault.sweep_with(&settings).unwrap();
            assert_eq!(vault.says(), wanted, "after {trip:?} at {at}: {:?}", broken.err());
            assert_eq!(bytes(&vault, "checked"), files, "after {trip:?} at {at}");
            assert_eq!(bytes(&vault, "archive"), archive, "after {trip:?} at {at}");
        }
    }
}

#[test]
fn when_the_time_is_up_it_says_what_is_left_and_the_next_sweep_goes_on_there() {
    let vault = Vault::new();
    for seed in 0..120 {
        vault.put(format!("{seed}.png"), sound(seed));
    }
    let settings = vault.settings();
    let total = 120;
    let (mut inspected, mut rounds) = (0, 0);
    loop {
        rounds += 1;
        assert!(rounds < 10, "it never ends");
        let asked = AtomicU64::new(0);
        // Each lane asks before each tile.
        let swept = vault.sweep_until(&settings, &|| asked.fetch_add(1, Ordering::Relaxed) >= 35).unwrap();
        inspected += swept.report.verdicts.inspected;
        assert_eq!(swept.report.left.files, total - inspected);
        assert_eq!(vault.members().len() as u64, inspected, "what was done is kept");
        assert_eq!(swept.report.is_whole(), swept.report.left.files == 0);
        if swept.report.is_whole() {
            break;
        }
        let bytes = swept.report.left.bytes;
        assert!(bytes > 0 && bytes < swept.report.integrity.bytes, "{bytes}");
    }
    assert_eq!(inspected, total, "no tile is inspected twice");
    assert!(rounds > 2);
}

#[test]
fn what_is_missed_is_concluded_only_when_all_new_files_were_read() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.sweep();
    fs::rename(vault.file("kelp.png"), vault.file("renamed.png")).unwrap();
    let swept = vault.sweep_until(&vault.settings(), &|| true).unwrap();
    assert_eq!((swept.report.integrity.vanished, swept.report.left.files), (0, 1));
    let swept = vault.sweep();
    assert_eq!((swept.report.integrity.vanished, swept.report.integrity.moved), (0, 1));
}

#[test]
fn mending_that_is_left_is_made_up_for() {
    let mut vault = Vault::new();
    vault.mend = true;
    for seed in 0..6 {
        vault.put(format!("{seed}.png"), with_line(seed));
    }
    // Reading asks seven times with one lane: before each tile and before leaving; then once before mending.
    let settings = Settings { lanes: 1, ..vault.settings() };
    let asked = AtomicU64::new(0);
    let swept = vault.sweep_until(&settings, &|| asked.fetch_add(1, Ordering::Relaxed) >= 10).unwrap();
    assert_eq!((swept.report.left.files, swept.report.given.mended, swept.report.unmended), (0, 2, 4));
    assert!(!swept.report.is_whole());
    let swept = vault.sweep();
    assert_eq!((swept.report.given.mended, swept.report.unmended, swept.report.verdicts.inspected), (4, 0, 0));
}
