//! What a sweep tells apart: new, changed, damaged, vanished, moved, as recorded.

use super::vault::{NAME, Vault, broken, sound};
use burler::archive::{Integrity, Settings, State, SweepError, Swept, since};
use burler::disk::{self, Disk};
use burler::finding::Verdict;
use burler::ledger::{Change, Ledger, Member, MemberState, News, archive_folder};
use burler::spec::{Length, Spec};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

fn state(swept: &Swept, path: &str) -> State {
    swept.tiles.iter().find(|tile| tile.member.path == Path::new(path)).unwrap().state.clone()
}

fn told(swept: &Swept) -> Vec<String> {
    swept.report.lines.iter().map(|line| format!("{}: {}", line.path.display(), line.state.name())).collect()
}

#[test]
fn a_first_sweep_judges_all_and_a_second_finds_all_as_recorded_and_writes_nothing() {
    let vault = Vault::new();
    for seed in 0..60 {
        vault.put(format!("harbor/{seed}.png"), sound(seed));
    }
    vault.put("broken.png", broken(99));
    vault.put("notes.txt", "no tile");
    vault.put(".hidden.png", sound(1));
    let archive = vault.seen("archive");
    let first = vault.sweep();
    assert_eq!(
        first.report.integrity,
        Integrity { files: 61, bytes: first.report.integrity.bytes, read: 61, new: 61, ..read_all(&first) }
    );
    assert_eq!((first.report.verdicts.sound, first.report.verdicts.held), (60, 1));
    assert_eq!(first.report.verdicts.inspected, 61);
    assert_eq!(told(&first), ["broken.png: new"], "a new tile that is sound is no news");
    assert_eq!(first.listing.others.len(), 2);

    let ledger = fs::read(vault.at("state/ledger.sqlite-wal")).unwrap();
    let second = vault.sweep();
    assert_eq!((second.report.integrity.unchanged, second.report.integrity.read), (61, 0));
    assert_eq!((second.report.verdicts.held, second.report.verdicts.inspected), (1, 0));
    assert!(second.report.lines.is_empty() && second.report.is_whole());
    assert_eq!(fs::read(vault.at("state/ledger.sqlite-wal")).unwrap(), ledger, "nothing was committed");
    let full = vault.full();
    assert_eq!((full.report.integrity.read, full.report.integrity.read_bytes), (61, full.report.integrity.bytes));
    assert_eq!((full.report.integrity.unchanged, full.report.verdicts.inspected), (61, 0));
    assert_eq!(vault.seen("archive"), archive, "an archive is only read");
}

fn read_all(swept: &Swept) -> Integrity {
    Integrity { read_bytes: swept.report.integrity.bytes, ..Integrity::default() }
}

#[test]
fn what_happened_to_each_file_is_told_apart_and_told_once() {
    let vault = Vault::new();
    for (seed, name) in (0..).zip(["stays", "is-edited", "moves", "goes", "rots", "is-touched", "comes-back"]) {
        vault.put(format!("{name}.png"), sound(seed));
    }
    vault.sweep();
    let before = vault.last_change();
    vault.put("is-edited.png", sound(100));
    fs::create_dir(vault.file("elsewhere")).unwrap();
    fs::rename(vault.file("moves.png"), vault.file("elsewhere/moved.png")).unwrap();
    fs::remove_file(vault.file("goes.png")).unwrap();
    vault.flip("rots.png", 1000);
    vault.put("is-touched.png", sound(5));
    fs::rename(vault.file("comes-back.png"), vault.at("away.png")).unwrap();
    vault.put("new.png", sound(200));
    let swept = vault.sweep();
    for (name, wanted) in [
        ("stays", State::Unchanged),
        ("is-edited", State::Changed),
        ("elsewhere/moved", State::Moved { from: "moves.png".into() }),
        ("goes", State::Vanished),
        ("rots", State::Damaged),
        ("is-touched", State::Unchanged),
        ("comes-back", State::Vanished),
        ("new", State::New),
    ] {
        assert_eq!(state(&swept, &format!("{name}.png")), wanted, "{name}");
    }
    assert_eq!(swept.report.verdicts.inspected, 2, "only the edited and the new one are inspected");
    let news = [
        "comes-back.png: vanished",
        "elsewhere/moved.png: moved",
        "goes.png: vanished",
        "is-edited.png: changed",
        "rots.png: damaged",
    ];
    assert_eq!(told(&swept), news);
    // The letter tells the same, and the new tile as one of a number.
    let ledger = vault.ledger.lock().unwrap();
    let letter = since(&ledger, before, &burler::archive::Roots::new()).unwrap();
    drop(ledger);
    let [section] = &letter[..] else { panic!("{letter:?}") };
    assert_eq!((section.archive.as_str(), section.new, section.lines.len()), (NAME, 1, news.len()));
    assert_eq!((section.integrity.files, section.integrity.damaged, section.integrity.vanished), (6, 1, 2));

    let after = vault.last_change();
    assert!(vault.sweep().report.lines.is_empty(), "nothing is told twice");
    assert_eq!(vault.last_change(), after);
    assert!(since(&vault.ledger.lock().unwrap(), after, &burler::archive::Roots::new()).unwrap().is_empty());
    fs::rename(vault.at("away.png"), vault.file("comes-back.png")).unwrap();
    let swept = vault.sweep();
    assert_eq!(told(&swept), ["comes-back.png: returned"]);
    assert_eq!(swept.report.verdicts.inspected, 0);
}

#[test]
fn every_flipped_bit_is_found_by_a_full_sweep() {
    let vault = Vault::new();
    for seed in 0..150_u32 {
        vault.put(format!("{:02}/{seed}.png", seed % 7), sound(seed));
    }
    vault.sweep();
    // Each third tile loses one bit, the drive keeping size and times; the ledger is given the times of the entries too, which
    // no program can set, so that nothing but the bytes speaks.
    let mut flipped = BTreeSet::new();
    let mut dice = 7_u64;
    for member in vault.members().into_iter().step_by(3) {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        vault.flip(&member.path, dice >> 33);
        let stamp = disk::stamp(&vault.file(&member.path)).unwrap().unwrap();
        assert_eq!(
            (stamp.size, stamp.mtime_ns, stamp.inode),
            (member.size(), member.stamp.mtime_ns, member.stamp.inode)
        );
        flipped.insert(member.path.clone());
        let change = Change::Enroll { member: Box::new(Member { stamp, ..member }), told: false };
        vault.ledger.lock().unwrap().apply(&archive_folder(NAME), &[change]).unwrap();
    }
    assert_eq!(flipped.len(), 50);
    let quick = vault.sweep();
    assert_eq!((quick.report.integrity.unchanged, quick.report.integrity.read), (150, 0), "stamps tell nothing of it");
    let swept = vault.full();
    let found: BTreeSet<_> = swept.report.lines.iter().map(|line| line.path.clone()).collect();
    assert_eq!(found, flipped);
    assert_eq!((swept.report.integrity.damaged, swept.report.integrity.unchanged), (50, 100));
    assert_eq!(swept.report.verdicts.inspected, 0, "damage is not judged");
    assert_eq!(vault.full().report.lines.len(), 0, "told once");
    assert_eq!(vault.full().report.integrity.damaged, 50, "and counted for as long as it stands");
}

#[test]
fn damage_replaces_nothing_that_is_known_and_a_good_copy_is_named() {
    let vault = Vault::new();
    vault.put("kelp.png", broken(1));
    vault.put("alone.png", sound(2));
    vault.sweep();
    let known = vault.member("kelp.png");
    vault.put("copies/kelp-2.png", broken(1));
    vault.sweep();
    vault.flip("kelp.png", 4321);
    vault.flip("alone.png", 1234);
    let swept = vault.sweep();
    let line = |name: &str| swept.report.lines.iter().find(|line| line.path == Path::new(name)).unwrap().clone();
    let copy = vault.file("copies/kelp-2.png");
    assert_eq!(
        line("kelp.png").remedy,
        format!("a good copy lies at {}; put that in its place, and check the drive", copy.display())
    );
    assert_eq!(line("alone.png").remedy, "put it back from a backup, and check the drive it is on");
    let damaged = vault.member("kelp.png");
    assert_eq!((damaged.content, &damaged.judged), (known.content, &known.judged));
    let found = disk::hash_file(&vault.file("kelp.png")).unwrap();
    assert_eq!(damaged.state, MemberState::Damaged { found });
    // Put back, it is as it was; the copy keeps its own time, so nothing but the bytes says so.
    fs::copy(&copy, vault.file("kelp.png")).unwrap();
    let healed = vault.sweep();
    assert_eq!(told(&healed), ["kelp.png: healed"]);
    assert_eq!(vault.member("kelp.png").state, MemberState::Present);
    // Saved anew, a damaged file is another one, not a healed one.
    vault.put("alone.png", sound(3));
    assert_eq!(state(&vault.sweep(), "alone.png"), State::Changed);
}

#[test]
fn a_good_copy_that_rots_too_is_not_named() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.put("copy.png", sound(1));
    vault.sweep();
    vault.flip("kelp.png", 4321);
    vault.flip("copy.png", 999);
    let swept = vault.sweep();
    assert_eq!(swept.report.integrity.damaged, 2);
    assert!(swept.report.lines.iter().all(|line| line.remedy.starts_with("put it back from a backup")));
}

#[test]
fn an_archive_whose_drive_is_not_connected_is_not_taken_for_an_empty_one() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.sweep();
    let says = vault.says();
    fs::rename(vault.at("archive"), vault.at("drive")).unwrap();
    let error = vault.sweep_with(&vault.settings()).unwrap_err();
    assert!(matches!(error, SweepError::Absent { .. }), "{error}");
    fs::create_dir(vault.at("archive")).unwrap();
    let error = vault.sweep_with(&vault.settings()).unwrap_err();
    assert!(matches!(error, SweepError::Empty { known: 1, .. }), "{error}");
    assert_eq!(vault.says(), says);
    fs::remove_dir(vault.at("archive")).unwrap();
    fs::rename(vault.at("drive"), vault.at("archive")).unwrap();
    assert_eq!(vault.sweep().report.integrity.unchanged, 1);
}

#[test]
fn only_what_another_order_sheet_concerns_is_judged_anew_and_told_only_if_it_differs() {
    let mut vault = Vault::new();
    vault.put("cloth/kelp.png", sound(1));
    vault.put("cloth/dulse.png", sound(2));
    vault.put("wall/net.png", sound(3));
    vault.sweep();
    let wants = |side| Spec { name: "cloth".into(), width: Some(Length::Pixels(side)), ..Spec::default() };
    vault.specs.insert("cloth".into(), wants(48));
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.inspected, swept.report.verdicts.sound), (2, 3));
    assert!(swept.report.lines.is_empty(), "they come to the same as before");
    assert_eq!(vault.member("cloth/kelp.png").judged.unwrap().spec, "cloth");
    vault.specs.insert("cloth".into(), wants(64));
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.inspected, swept.report.verdicts.held), (2, 2));
    assert_eq!(told(&swept), ["cloth/dulse.png: unchanged", "cloth/kelp.png: unchanged"]);
    assert!(swept.report.lines[0].says.contains("64 px"), "{:?}", swept.report.lines);
    assert_eq!(vault.member("cloth/kelp.png").news, News::Judged);
    // Back again: judgments are kept, so nothing is inspected.
    vault.specs.insert("cloth".into(), wants(48));
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.inspected, swept.report.verdicts.sound), (0, 3));
    assert_eq!(told(&swept).len(), 2);
}

#[test]
fn a_tile_that_was_judged_in_another_folder_is_not_inspected_again() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.sweep();
    vault.put("copy of kelp.png", sound(1));
    let swept = vault.sweep();
    assert_eq!((swept.report.integrity.new, swept.report.verdicts.inspected), (1, 0));
    assert_eq!(vault.member("copy of kelp.png").judged.unwrap().verdict, Verdict::Sound);
}

#[test]
fn what_is_known_of_an_archive_is_kept_apart_from_that_of_others() {
    let vault = Vault::new();
    vault.put("kelp.png", sound(1));
    vault.sweep();
    let other = Settings { name: "wallpapers".into(), ..vault.settings() };
    let swept = vault.sweep_with(&other).unwrap();
    assert_eq!((swept.report.integrity.new, swept.report.verdicts.inspected), (1, 0));
    assert_eq!(vault.members().len(), 1);
    let ledger = Ledger::open(&Disk::new(), &vault.at("state/ledger.sqlite")).unwrap();
    assert_eq!(ledger.members_of(vault.member("kelp.png").content).unwrap().len(), 2);
    assert_eq!(ledger.places_of(vault.member("kelp.png").content).unwrap().len(), 2);
}
