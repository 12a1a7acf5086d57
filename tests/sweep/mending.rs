//! Mending an archive: beside it, never in it, and the artist's word counts there too.

use super::vault::{NAME, Vault, broken, sound, with_line};
use burler::archive::{Given, Settings};
use burler::codec::{self, Limits};
use burler::finding::Verdict;
use std::fs;
use std::path::Path;

fn vault() -> Vault {
    let mut vault = Vault::new();
    vault.mend = true;
    vault.put("cloth/kelp.png", sound(1));
    vault.put("cloth/dulse.png", with_line(2));
    vault.put("broken.png", broken(3));
    vault
}

fn outputs(vault: &Vault) -> Vec<String> {
    let files = vault.seen("checked").into_iter().filter(|(_, (bytes, ..))| !bytes.is_empty());
    files.map(|(path, _)| path.to_str().unwrap().to_string()).collect()
}

const FIRST: [&str; 5] = [
    "held/broken.png.held.png",
    "mockups/cloth/dulse.png/before-after.png",
    "mockups/cloth/dulse.png/repeat.jpg",
    "mockups/cloth/dulse.png/strike-off.jpg",
    "ready/cloth/dulse.png",
];

#[test]
fn what_can_be_mended_is_mended_beside_the_archive_and_nothing_in_it_changes() {
    let vault = vault();
    let archive = vault.seen("archive");
    let swept = vault.sweep();
    assert_eq!(swept.report.given, Given { mended: 1, pictured: 1, would: 0 });
    assert_eq!((swept.report.verdicts.sound, swept.report.verdicts.mended, swept.report.verdicts.held), (1, 1, 1));
    assert_eq!(outputs(&vault), FIRST, "a sound tile is not copied: the archive has it");
    assert_eq!(vault.seen("archive"), archive);
    let mended = fs::read(vault.at("checked/ready/cloth/dulse.png")).unwrap();
    let tile = codec::decode(&mended, &Limits::default(), Vec::new()).unwrap();
    assert!(tile.raster.samples().iter().skip(3).step_by(4).all(|alpha| *alpha == 255));

    let checked = vault.seen("checked");
    let again = vault.full();
    assert_eq!(again.report.given, Given::default());
    assert_eq!(again.report.verdicts.mended, 1);
    assert_eq!(vault.seen("checked"), checked, "nothing is given twice");
    assert_eq!(fs::read_dir(vault.at("state/scratch")).unwrap().count(), 0, "scratch was left");
}

#[test]
fn another_export_takes_the_old_outputs_away_and_a_moved_one_takes_them_along() {
    let vault = vault();
    vault.sweep();
    vault.put("broken.png", sound(3));
    fs::rename(vault.file("cloth/dulse.png"), vault.file("dulse.png")).unwrap();
    let swept = vault.sweep();
    assert_eq!(swept.report.verdicts.mended, 1);
    let there = outputs(&vault);
    let now: Vec<_> = there.iter().filter(|name| !name.starts_with("earlier/")).map(String::as_str).collect();
    let wanted = [
        "mockups/dulse.png/before-after.png",
        "mockups/dulse.png/repeat.jpg",
        "mockups/dulse.png/strike-off.jpg",
        "ready/dulse.png",
    ];
    assert_eq!(now, wanted);
    let earlier = |name: &&String| name.starts_with("earlier/") && name.contains("held/");
    assert_eq!(there.iter().filter(earlier).count(), 1, "{there:?}");
}

#[test]
fn damage_takes_nothing_away() {
    let vault = vault();
    vault.sweep();
    let checked = vault.seen("checked");
    vault.flip("cloth/dulse.png", 3000);
    vault.flip("broken.png", 3000);
    let swept = vault.sweep();
    assert_eq!(swept.report.integrity.damaged, 2);
    assert_eq!(vault.seen("checked"), checked);
    fs::remove_file(vault.file("broken.png")).unwrap();
    vault.sweep();
    assert_eq!(vault.seen("checked"), checked, "nor does absence");
}

#[test]
fn a_held_picture_in_let_pass_is_the_artists_word() {
    let vault = vault();
    vault.sweep();
    let (held, word) = (vault.at("checked/held/broken.png.held.png"), vault.at("checked/let-pass/broken.png.held.png"));
    fs::rename(&held, &word).unwrap();
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.sound, swept.report.verdicts.held), (2, 0));
    assert!(word.exists() && !held.exists());
    assert_eq!(vault.member("broken.png").judged.unwrap().verdict, Verdict::Sound);
    assert_eq!(vault.sweep().report.verdicts.sound, 2, "and holds");
    // Taken back.
    fs::remove_file(&word).unwrap();
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.held, swept.report.given.pictured), (1, 1));
    assert!(held.exists());
}

#[test]
fn without_mending_nothing_is_written_beside_the_ledger() {
    let vault = vault();
    let swept = vault.sweep_with(&Settings { mend: false, ..vault.settings() }).unwrap();
    assert_eq!((swept.report.verdicts.mendable, swept.report.given), (1, Given::default()));
    assert!(!vault.at("checked").exists());
    // Allowed later, it is made up for, and inspected no second time in vain.
    let swept = vault.sweep();
    assert_eq!((swept.report.verdicts.inspected, swept.report.given.mended), (0, 1));
}

#[test]
fn an_output_folder_that_has_vanished_is_told_and_the_archive_still_swept() {
    let vault = vault();
    vault.sweep();
    fs::remove_dir_all(vault.at("checked")).unwrap();
    vault.put("new.png", sound(9));
    vault.put("new broken.png", broken(9));
    let swept = vault.sweep();
    assert_eq!((swept.report.integrity.new, swept.report.troubles.len()), (2, 1));
    assert!(swept.report.troubles[0].contains("has vanished"), "{:?}", swept.report.troubles);
    assert!(!vault.at("checked").exists());
    let standings = vault.ledger.lock().unwrap().standings(&format!("archive/{NAME}")).unwrap();
    assert!(standings.iter().all(|standing| standing.path != Path::new("new broken.png")));
}
