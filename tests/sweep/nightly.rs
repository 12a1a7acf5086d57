//! The nightly sweep from the running daemon: at its time, as a process of its own, once.

use super::vault::{Vault, broken, sound};
use super::watched::Studio;
use burler::clock::Clock;
use burler::disk::Disk;
use burler::ledger::{LastSweep, Ledger};
use std::fs;
use std::time::Duration;

#[test]
fn the_daemon_sweeps_an_archive_whose_night_was_missed_once_and_beside_the_watch() {
    let studio = Studio::new();
    studio.configure("[archive.prints]\nfolder = \"archive\"\n[digest]\nzone = \"UTC\"\n");
    fs::create_dir(studio.at("archive")).unwrap();
    fs::write(studio.at("archive/kelp.png"), sound(1)).unwrap();
    fs::write(studio.at("archive/spots.png"), broken(2)).unwrap();
    let ledger = || Ledger::open(&Disk::new(), &studio.at("state/ledger.sqlite")).unwrap();
    let long_ago = Clock::start().wall() - Duration::from_hours(60);
    ledger().note_sweep("prints", LastSweep { began: long_ago, ended: Some(long_ago) }).unwrap();
    let watch = studio.watch();
    studio.until("the archive is swept", || {
        ledger().last_sweep("prints").unwrap().is_some_and(|last| last.began > long_ago && last.ended.is_some())
    });
    assert_eq!(ledger().members("prints").unwrap().len(), 2);
    assert!(studio.at("archive-checked/held/spots.png.held.png").is_file());
    // The watch goes on beside it, and the night is done.
    studio.save(b"dulse.png", &sound(3));
    studio.comes("ready/dulse.png");
    studio.until("the end is told", || studio.log().contains("prints: the nightly sweep has ended"));
    assert_eq!(studio.log().matches("the nightly sweep begins").count(), 1, "{}", studio.log());
    assert!(watch.stop().success());
    // An archive's tiles are not taken for those of a watched folder.
    let status = studio.says(&["status"]);
    let lines: Vec<&str> = status.lines().collect();
    assert!(lines[0].starts_with("studio: 1 ready"), "{status}");
    assert!(
        lines[1].starts_with("archive prints: 2 tiles; 1 need you; 0 cannot be opened; 0 damaged; swept "),
        "{status}"
    );
    assert_eq!(lines[2..], ["no letter yet"], "{status}");
    // The next letter tells of it, the one after does not.
    let said = studio.says(&["digest"]);
    let page = said.lines().map(str::trim).find(|line| line.ends_with(".html")).unwrap();
    let page = fs::read_to_string(page).unwrap();
    let (_, archive) = page.split_once("The archive").unwrap();
    assert!(archive.contains("spots.png") && !archive.contains("kelp.png"), "{archive}");
    assert!(archive.contains("2 tiles") && archive.contains("1 needs you"), "{archive}");
    assert_eq!(studio.says(&["digest"]).trim(), "nothing new to tell, so no letter");
}

#[test]
fn a_nightly_sweep_is_noted_even_when_it_finds_nothing_and_one_by_hand_is_not() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.sweep();
    let last = || vault.ledger.lock().unwrap().last_sweep(super::vault::NAME).unwrap().unwrap();
    let first = last();
    assert!(first.ended.is_some());
    vault.sweep();
    assert_eq!(last(), first);
    let settings = burler::archive::Settings { nightly: true, ..vault.settings() };
    vault.sweep_with(&settings).unwrap();
    assert!(last().began > first.began);
    vault.put("new.png", sound(2));
    vault.sweep_until(&settings, &|| true).unwrap();
    assert_eq!(last().ended, None, "its time was up");
}
