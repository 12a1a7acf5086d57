//! One standing per path: every case of what a verdict does to the files in the output folder.

#[path = "desk/studio.rs"]
mod studio;

use burler::deliver::{DeliverError, Delivery, Fate, deliver, expire, gone, tidy, unchanged};
use burler::disk::{self, Disk, Source, Trip};
use burler::finding::Verdict::{Held, Mended, Sound, Unreadable};
use burler::ledger::{Ledger, OutputState, StandingState};
use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::{MetadataExt, symlink};
use std::path::{Path, PathBuf};
use std::time::Duration;
use studio::{FOLDER, Studio, noon};

const DAY: Duration = Duration::from_secs(24 * 60 * 60);

#[test]
fn a_sound_tile_is_given_back_byte_for_byte_with_its_pictures() {
    let mut studio = Studio::new();
    studio.export("harbor/kelp.png", "kelp 1");
    let delivered = studio.deliver("harbor/kelp.png", Sound);
    studio.expect(&[
        ("ready/harbor/kelp.png", "kelp 1"),
        ("mockups/harbor/kelp.png/repeat.jpg", "repeat of kelp 1"),
        ("mockups/harbor/kelp.png/strike-off.jpg", "strike-off of kelp 1"),
    ]);
    assert_eq!(delivered.outputs.len(), 3);
    assert!(delivered.told);
    let standing = studio.ledger.standing(FOLDER, Path::new("harbor/kelp.png")).unwrap().unwrap();
    assert_eq!((standing.verdict, standing.state, standing.changed), (Sound, StandingState::Present, 1));
    assert_eq!(standing.at, noon());
}

#[test]
fn a_held_tile_has_its_picture_and_nothing_else() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Held);
    studio.expect(&[("held/kelp.png.held.png", "held kelp 1")]);
}

#[test]
fn a_mended_tile_keeps_its_name_and_another_format_gets_png_behind_it() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.export("dulse.tif", "dulse 1");
    studio.deliver("kelp.png", Mended);
    studio.deliver("dulse.tif", Mended);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "mended kelp 1");
    assert_eq!(files["ready/dulse.tif.png"], "mended dulse 1");
    assert_eq!(files["mockups/dulse.tif/repeat.jpg"], "repeat of dulse 1");
    assert_eq!(files.len(), 6);
}

#[test]
fn a_newer_verdict_withdraws_the_whole_old_set_and_back() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.export("kelp.png", "kelp 2");
    let delivered = studio.deliver("kelp.png", Held);
    studio.expect(&[
        ("held/kelp.png.held.png", "held kelp 2"),
        ("earlier/2026-05-01/ready/kelp.png", "kelp 1"),
        ("earlier/2026-05-01/mockups/kelp.png/repeat.jpg", "repeat of kelp 1"),
        ("earlier/2026-05-01/mockups/kelp.png/strike-off.jpg", "strike-off of kelp 1"),
    ]);
    assert!(!studio.checked().join("mockups/kelp.png").exists(), "an empty folder of mock-ups stays behind");
    assert_eq!(delivered.withdrawn.len(), 3);
    assert!(delivered.told);

    studio.now += DAY;
    studio.export("kelp.png", "kelp 3");
    studio.deliver("kelp.png", Sound);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "kelp 3");
    assert_eq!(files["earlier/2026-05-02/held/kelp.png.held.png"], "held kelp 2");
    assert!(!files.contains_key("held/kelp.png.held.png"));
    assert_eq!(files.len(), 7);
}

#[test]
fn the_same_bytes_judged_anew_change_their_standing() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Held);
    assert!(studio.deliver("kelp.png", Sound).told);
    assert_eq!(studio.files()["ready/kelp.png"], "kelp 1");
    assert!(studio.deliver("kelp.png", Held).told);
    // Twice withdrawn on one day, the second time under another name.
    assert!(!studio.deliver("kelp.png", Held).told);
    studio.export("kelp.png", "kelp 2");
    studio.deliver("kelp.png", Sound);
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.export("kelp.png", "kelp 2");
    studio.deliver("kelp.png", Sound);
    let kept: Vec<_> = studio.files().into_iter().filter(|(name, _)| name.contains("earlier")).collect();
    let of = |text: &str| kept.iter().filter(|(_, is)| is == text).count();
    assert_eq!((of("kelp 1"), of("kelp 2"), of("held kelp 1")), (2, 1, 2), "{kept:?}");
}

#[test]
fn an_unreadable_file_withdraws_what_was_there() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.export("kelp.png", "ke");
    studio.deliver("kelp.png", Unreadable);
    assert!(studio.files().keys().all(|name| name.starts_with("earlier/")));
}

#[test]
fn the_same_outcome_again_rewrites_nothing() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let inode = |studio: &Studio| {
        let metadata = fs::metadata(studio.checked().join("ready/kelp.png")).unwrap();
        (metadata.ino(), metadata.ctime_nsec())
    };
    let before = (inode(&studio), studio.disk.operations());
    studio.export("kelp.png", "kelp 1");
    let again = studio.deliver("kelp.png", Sound);
    assert_eq!((inode(&studio), studio.disk.operations()), (before.0, before.1 + 1), "more than the commit was done");
    assert!(again.published.is_empty() && !again.told && again.outputs.len() == 3);
    let standing = studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap();
    assert_eq!(Some(standing.stamp), disk::stamp(&studio.exports().join("kelp.png")).unwrap());
    assert_eq!(standing.changed, 1);
}

#[test]
fn a_touched_original_needs_no_new_outcome() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.take_away("mockups/kelp.png/repeat.jpg");
    studio.export("kelp.png", "kelp 1");
    let stamp = disk::stamp(&studio.exports().join("kelp.png")).unwrap().unwrap();
    let seen = studio.at(|disk, ledger, place, now| unchanged(disk, ledger, place, Path::new("kelp.png"), stamp, now));
    let seen = seen.unwrap().unwrap();
    assert_eq!(seen.removed, [PathBuf::from("mockups/kelp.png/repeat.jpg")]);
    assert_eq!(seen.outputs.len(), 2);
    assert_eq!(studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap().stamp, stamp);
    let none = studio.at(|disk, ledger, place, now| unchanged(disk, ledger, place, Path::new("other.png"), stamp, now));
    assert_eq!(none.unwrap(), None);
}

#[test]
fn what_a_person_took_away_comes_back_only_with_a_new_original() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.take_away("ready/kelp.png");
    for _ in 0..2 {
        let delivered = studio.deliver("kelp.png", Sound);
        assert_eq!(delivered.removed, [PathBuf::from("ready/kelp.png")]);
        assert!(!studio.files().contains_key("ready/kelp.png"));
    }
    assert_eq!(studio.ledger.summary().unwrap().folders[0].removed, [PathBuf::from("ready/kelp.png")]);
    studio.export("kelp.png", "kelp 2");
    let delivered = studio.deliver("kelp.png", Sound);
    assert_eq!(studio.files()["ready/kelp.png"], "kelp 2");
    assert_eq!(delivered.removed, Vec::<PathBuf>::new());
}

#[test]
fn a_removed_file_that_a_person_puts_back_is_ours_again() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.take_away("ready/kelp.png");
    studio.deliver("kelp.png", Sound);
    studio.meddle("ready/kelp.png", "kelp 1");
    assert_eq!(studio.deliver("kelp.png", Sound).outputs.len(), 3);
    studio.export("kelp.png", "kelp 2");
    studio.deliver("kelp.png", Sound);
    assert_eq!(studio.files()["earlier/2026-05-01/ready/kelp.png"], "kelp 1");
}

#[test]
fn what_a_person_edited_is_never_moved_or_replaced_and_the_new_file_goes_beside_it() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.meddle("ready/kelp.png", "kelp 1 with my own hand");
    let delivered = studio.deliver("kelp.png", Sound);
    assert_eq!(delivered.edited, [PathBuf::from("ready/kelp.png")]);
    assert!(delivered.published.is_empty());

    studio.export("kelp.png", "kelp 2");
    let delivered = studio.deliver("kelp.png", Sound);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "kelp 1 with my own hand");
    let (wanted, given) = &delivered.beside[0];
    assert_eq!(wanted, Path::new("ready/kelp.png"));
    let given = given.to_str().unwrap();
    assert!(given.starts_with("ready/kelp~") && given.ends_with(".png"), "{given}");
    assert_eq!(files[given], "kelp 2");
    assert_eq!(delivered.edited, [PathBuf::from("ready/kelp.png")]);
    assert_eq!(studio.ledger.summary().unwrap().folders[0].edited, [PathBuf::from("ready/kelp.png")]);

    // Held now: the edited file stays in ready/, the one beside it goes.
    studio.export("kelp.png", "kelp 3");
    studio.deliver("kelp.png", Held);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "kelp 1 with my own hand");
    assert!(!files.contains_key(given));

    // Edited in earlier/: never expired.
    let withdrawn = format!("earlier/2026-05-01/{given}");
    studio.meddle(&withdrawn, "mine as well");
    studio.now += 100 * DAY;
    let expired = studio.at(|disk, ledger, place, now| expire(disk, ledger, place, 30 * DAY, now)).unwrap();
    assert_eq!(expired.edited, [PathBuf::from(&withdrawn)]);
    let files = studio.files();
    assert_eq!(
        (files[&withdrawn].as_str(), files["ready/kelp.png"].as_str()),
        ("mine as well", "kelp 1 with my own hand")
    );
    assert_eq!(files.len(), 3, "{files:?}");
}

#[test]
fn a_second_edited_file_gets_a_third_name() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    let mut names = vec!["held/kelp.png.held.png".to_string()];
    studio.deliver("kelp.png", Held);
    for round in 2..5 {
        studio.meddle(names.last().unwrap(), "edited");
        studio.export("kelp.png", &format!("kelp {round}"));
        let delivered = studio.deliver("kelp.png", Held);
        names.push(delivered.published[0].to_str().unwrap().to_string());
    }
    let files = studio.files();
    assert_eq!(files.len(), 4);
    assert!(names[..3].iter().all(|name| files[name] == "edited"));
    assert_eq!(files[&names[3]], "held kelp 4");
}

#[test]
fn a_strangers_file_or_folder_is_never_overwritten() {
    let mut studio = Studio::new();
    studio.meddle("ready/kelp.png", "a stranger's");
    studio.meddle("held/dulse.png.held.png/notes.txt", "a stranger's");
    studio.export("kelp.png", "kelp 1");
    studio.export("dulse.png", "dulse 1");
    let sound = studio.deliver("kelp.png", Sound);
    let held = studio.deliver("dulse.png", Held);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "a stranger's");
    assert_eq!(files["held/dulse.png.held.png/notes.txt"], "a stranger's");
    assert_eq!(files[sound.beside[0].1.to_str().unwrap()], "kelp 1");
    assert_eq!(files[held.beside[0].1.to_str().unwrap()], "held dulse 1");
    assert_eq!(files.len(), 6);
}

#[test]
fn when_an_original_disappears_its_outputs_stay() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let before = studio.files();
    fs::remove_file(studio.exports().join("kelp.png")).unwrap();
    gone(&mut studio.ledger, FOLDER, Path::new("kelp.png")).unwrap();
    assert_eq!(studio.files(), before);
    let standing = studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap();
    assert_eq!((standing.state, standing.changed), (StandingState::Gone, 1));
    assert_eq!(studio.ledger.summary().unwrap().folders[0].gone, 1);

    // It comes back as it was: nothing is rewritten or told again.
    studio.export("kelp.png", "kelp 1");
    let delivered = studio.deliver("kelp.png", Sound);
    assert!(!delivered.told && delivered.published.is_empty());
    assert_eq!(studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap().state, StandingState::Present);
}

#[test]
fn a_renamed_original_takes_its_set_along() {
    for told_gone_first in [true, false] {
        let mut studio = Studio::new();
        studio.export("kelp.png", "kelp 1");
        studio.deliver("kelp.png", Sound);
        studio.take_away("mockups/kelp.png/strike-off.jpg");
        studio.deliver("kelp.png", Sound);
        let inode = fs::metadata(studio.checked().join("ready/kelp.png")).unwrap().ino();

        fs::create_dir(studio.exports().join("harbor")).unwrap();
        fs::rename(studio.exports().join("kelp.png"), studio.exports().join("harbor/oarweed.png")).unwrap();
        if told_gone_first {
            gone(&mut studio.ledger, FOLDER, Path::new("kelp.png")).unwrap();
        }
        let delivered = studio.deliver("harbor/oarweed.png", Sound);
        gone(&mut studio.ledger, FOLDER, Path::new("kelp.png")).unwrap();

        studio.expect(&[
            ("ready/harbor/oarweed.png", "kelp 1"),
            ("mockups/harbor/oarweed.png/repeat.jpg", "repeat of kelp 1"),
        ]);
        assert_eq!(fs::metadata(studio.checked().join("ready/harbor/oarweed.png")).unwrap().ino(), inode);
        assert!(!studio.checked().join("mockups/kelp.png").exists());
        assert_eq!(delivered.moved.len(), 2);
        assert!(!delivered.told, "a new name is not news");
        assert!(studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().is_none());
        let standing = studio.ledger.standing(FOLDER, Path::new("harbor/oarweed.png")).unwrap().unwrap();
        assert_eq!((standing.changed, standing.name.to_str()), (1, Some("harbor/oarweed.png")));
        // The old name is free for another.
        studio.export("Kelp.png", "another");
        studio.deliver("Kelp.png", Held);
        assert!(studio.files().contains_key("held/Kelp.png.held.png"));
    }
}

#[test]
fn a_copy_of_an_original_is_a_tile_of_its_own() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.export("copy.png", "kelp 1");
    assert!(studio.deliver("copy.png", Sound).told);
    assert_eq!(studio.files().len(), 6);
    // With the exports folder itself gone, nothing is known about what is in it, so nothing moves.
    let outcome = studio.outcome("copy.png", Sound);
    fs::rename(studio.exports(), studio.exports().with_extension("unplugged")).unwrap();
    studio.hand_in(&outcome).unwrap();
    assert_eq!(studio.files().len(), 6);
}

#[test]
fn a_file_renamed_over_another_withdraws_that_ones_set() {
    let mut studio = Studio::new();
    studio.export("a.png", "a");
    studio.export("b.png", "b");
    studio.deliver("a.png", Sound);
    studio.deliver("b.png", Held);
    fs::rename(studio.exports().join("a.png"), studio.exports().join("b.png")).unwrap();
    let delivered = studio.deliver("b.png", Sound);
    assert!(delivered.told);
    studio.expect(&[
        ("ready/b.png", "a"),
        ("mockups/b.png/repeat.jpg", "repeat of a"),
        ("mockups/b.png/strike-off.jpg", "strike-off of a"),
        ("earlier/2026-05-01/held/b.png.held.png", "held b"),
    ]);
}

#[test]
fn an_edited_file_does_not_move_along() {
    let mut studio = Studio::new();
    studio.export("a.png", "a");
    studio.deliver("a.png", Sound);
    studio.meddle("ready/a.png", "edited");
    fs::rename(studio.exports().join("a.png"), studio.exports().join("b.png")).unwrap();
    let delivered = studio.deliver("b.png", Sound);
    assert_eq!(delivered.edited, [PathBuf::from("ready/a.png")]);
    let files = studio.files();
    assert_eq!((files["ready/a.png"].as_str(), files["ready/b.png"].as_str()), ("edited", "a"));
}

#[test]
fn names_that_some_disk_takes_for_one_are_kept_apart() {
    let mut studio = Studio::new();
    let names = ["Kelp.png", "kelp.png", "caf\u{e9}.png", "cafe\u{301}.png"];
    for name in names {
        studio.export(name, name);
        studio.deliver(name, Held);
    }
    let files = studio.files();
    assert_eq!(files.len(), 4);
    assert_eq!(files["held/Kelp.png.held.png"], "held Kelp.png");
    assert_eq!(files["held/caf\u{e9}.png.held.png"], "held caf\u{e9}.png");
    // The loser keeps its own name through every verdict, and the first one keeps its.
    for name in names {
        studio.deliver(name, Sound);
    }
    let files = studio.files();
    let of = |text: &str| {
        let found: Vec<_> = files.iter().filter(|(name, is)| name.starts_with("ready/") && *is == text).collect();
        assert_eq!(found.len(), 1);
        found[0].0.clone()
    };
    assert_eq!(of("Kelp.png"), "ready/Kelp.png");
    assert_eq!(of("kelp.png"), format!("ready/kelp~{}.png", &blake3::hash(b"kelp.png").to_hex()[..6]));
    assert!(of("cafe\u{301}.png").starts_with("ready/cafe\u{301}~"));
}

#[test]
fn a_renaming_in_case_alone_keeps_the_plain_name() {
    let mut studio = Studio::new();
    studio.export("Kelp.png", "kelp 1");
    studio.deliver("Kelp.png", Sound);
    fs::rename(studio.exports().join("Kelp.png"), studio.exports().join("kelp.png")).unwrap();
    studio.deliver("kelp.png", Sound);
    assert!(studio.files().contains_key("ready/kelp.png"));
    assert_eq!(studio.files().len(), 3);
}

#[test]
fn a_derived_name_goes_through_the_same_claim() {
    for mended_first in [true, false] {
        let mut studio = Studio::new();
        studio.export("kelp.tif", "tif");
        studio.export("kelp.tif.png", "png");
        let mut order = [("kelp.tif", Mended), ("kelp.tif.png", Sound)];
        if !mended_first {
            order.reverse();
        }
        for (path, verdict) in order.into_iter().chain(order) {
            studio.deliver(path, verdict);
        }
        let files = studio.files();
        let ready: Vec<_> = files.iter().filter(|(name, _)| name.starts_with("ready/")).collect();
        assert_eq!(ready.len(), 2, "{ready:?}");
        let winner = if mended_first { "mended tif" } else { "png" };
        assert_eq!(files["ready/kelp.tif.png"], winner);
        assert!(files.values().any(|text| text == "png") && files.values().any(|text| text == "mended tif"));
    }
}

#[test]
fn a_file_and_a_folder_of_one_name_are_kept_apart() {
    for folder_first in [true, false] {
        let mut studio = Studio::new();
        studio.export("Kelp.png/inner.png", "inner");
        studio.export("kelp.png", "outer");
        let mut order = ["Kelp.png/inner.png", "kelp.png"];
        if !folder_first {
            order.reverse();
        }
        for path in order {
            studio.deliver(path, Sound);
        }
        let texts: Vec<_> = studio.files().into_values().collect();
        assert!(texts.contains(&"inner".into()) && texts.contains(&"outer".into()));
        let names: Vec<_> = studio.files().into_keys().map(|name| name.to_lowercase()).collect();
        assert!(!names.iter().any(|a| names.iter().any(|b| b.starts_with(&format!("{a}/")))), "{names:?}");
    }
}

#[test]
fn names_of_any_bytes_and_lengths_are_delivered() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let mut studio = Studio::new();
    let long = format!("{}.png", "k".repeat(251));
    let odd: [&OsStr; 4] =
        [OsStr::new("line\nend.png"), OsStr::from_bytes(b"latin\xe9.png"), OsStr::new("-rf *.png"), OsStr::new(&long)];
    for name in odd {
        studio.export(name, "text");
        studio.deliver(name, Held);
        studio.deliver(name, Sound);
        let entry = studio.ledger.standing(FOLDER, Path::new(name)).unwrap().unwrap();
        let ticket = studio.ledger.entry(entry).unwrap().ticket.unwrap();
        assert_eq!(ticket.tile_hex.is_some(), name.to_str().is_none());
        assert!(ticket.tile_hex.is_none_or(|hex| hex == "6c6174696ee92e706e67"));
    }
    assert!(studio.checked().join("ready").join(odd[0]).exists());
    assert!(studio.checked().join("ready").join(odd[1]).exists());
    let outside = burler::deliver::Outcome { path: "../escape.png".into(), ..studio.outcome("-rf *.png", Sound) };
    let error = studio.hand_in(&outside).unwrap_err();
    assert_eq!(error.fate(), Fate::Tile);
}

#[test]
fn when_the_original_changed_meanwhile_nothing_is_published() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let (files, says) = (studio.files(), studio.says());
    studio.export("kelp.png", "kelp 2");
    let outcome = studio.outcome("kelp.png", Held);
    let mut asked = 0;
    let ended = studio.at(|disk, ledger, place, now| {
        let mut still_same = || {
            asked += 1;
            false
        };
        deliver(disk, ledger, place, &outcome, &mut still_same, now)
    });
    assert_eq!((ended.unwrap(), asked), (Delivery::Superseded, 1));
    assert_eq!((studio.files(), studio.says()), (files, says));

    // The open original has other bytes than those that were judged.
    let outcome = studio.outcome("kelp.png", Sound);
    studio.export("kelp.png", "kelp 3");
    assert_eq!(studio.hand_in(&outcome).unwrap(), Delivery::Superseded);
    assert_eq!(studio.files()["ready/kelp.png"], "kelp 1");
}

#[test]
fn a_file_that_appears_in_the_last_moment_is_not_overwritten() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    let outcome = studio.outcome("kelp.png", Sound);
    let target = studio.checked().join("ready/kelp.png");
    let ended = studio.at(|disk, ledger, place, now| {
        let mut meddles = || fs::write(&target, "a stranger's").is_ok();
        deliver(disk, ledger, place, &outcome, &mut meddles, now)
    });
    let error = ended.unwrap_err();
    assert_eq!(error.fate(), Fate::Retry, "{error}");
    assert!(error.to_string().contains("ready/kelp.png"), "{error}");
    let delivered = studio.deliver("kelp.png", Sound);
    let files = studio.files();
    assert_eq!(files["ready/kelp.png"], "a stranger's");
    assert_eq!(files[delivered.beside[0].1.to_str().unwrap()], "kelp 1");
    assert_eq!(files.len(), 4, "{files:?}");
}

#[test]
fn a_path_whose_exchange_was_killed_must_be_worked_through_again() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let stamp = disk::stamp(&studio.exports().join("kelp.png")).unwrap().unwrap();
    // The same bytes under another spec are held, but after the intents nothing more happens.
    studio.restart_on(Disk::tripping(2, Trip::Stop));
    studio.try_deliver("kelp.png", Held).unwrap_err();
    studio.restart_on(Disk::new());
    let state = |studio: &Studio| studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap().state;
    assert_eq!(state(&studio), StandingState::Unfinished);
    // Even though bytes and stamp are those of the earlier standing, it does not count as unchanged.
    let path = Path::new("kelp.png");
    let seen = studio.at(|disk, ledger, place, now| unchanged(disk, ledger, place, path, stamp, now)).unwrap();
    assert_eq!(seen, None);
    studio.deliver("kelp.png", Sound);
    assert_eq!(state(&studio), StandingState::Present);
    assert_eq!(studio.files().len(), 3);
}

#[test]
fn scratch_bytes_that_are_not_the_promised_ones_are_refused() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    let mut outcome = studio.outcome("kelp.png", Mended);
    outcome.parcels[0].source = Source::Bytes(b"mended kelp".to_vec());
    let error = studio.hand_in(&outcome).unwrap_err();
    assert!(error.to_string().contains("ready/kelp.png"), "{error}");
    assert_eq!(studio.files().len(), 0);
    studio.deliver("kelp.png", Mended);
    assert_eq!(studio.files().len(), 3);
}

#[test]
fn expiring_removes_only_what_was_withdrawn_long_enough_ago() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.export("kelp.png", "kelp 2");
    studio.deliver("kelp.png", Sound);
    studio.now += 10 * DAY;
    studio.export("kelp.png", "kelp 3");
    studio.deliver("kelp.png", Sound);
    studio.meddle("earlier/2026-05-01/notes.txt", "mine");
    studio.now += 20 * DAY;
    let expired = studio.at(|disk, ledger, place, now| expire(disk, ledger, place, 30 * DAY, now)).unwrap();
    assert_eq!(expired.removed.len(), 3);
    let files = studio.files();
    assert_eq!(files["earlier/2026-05-01/notes.txt"], "mine");
    assert_eq!(files.keys().filter(|name| name.starts_with("earlier/2026-05-01")).count(), 1);
    assert_eq!(files.keys().filter(|name| name.starts_with("earlier/2026-05-11")).count(), 3);
    let again = studio.at(|disk, ledger, place, now| expire(disk, ledger, place, 30 * DAY, now)).unwrap();
    assert!(again.removed.is_empty());
    studio.now += 20 * DAY;
    studio.at(|disk, ledger, place, now| expire(disk, ledger, place, 30 * DAY, now)).unwrap();
    assert!(!studio.checked().join("earlier/2026-05-11").exists(), "the emptied day stays behind");
    assert_eq!(studio.files().len(), 4);
}

#[test]
fn a_lost_ledger_takes_over_what_has_the_right_bytes_and_never_expires_it() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let inode = fs::metadata(studio.checked().join("ready/kelp.png")).unwrap().ino();
    let other = studio.ledger_path().with_file_name("new.sqlite");
    studio.ledger = Ledger::open(&studio.disk, &other).unwrap();
    let delivered = studio.deliver("kelp.png", Sound);
    assert_eq!((delivered.outputs.len(), delivered.published.len()), (3, 0));
    assert_eq!(fs::metadata(studio.checked().join("ready/kelp.png")).unwrap().ino(), inode);
    studio.export("kelp.png", "kelp 2");
    studio.deliver("kelp.png", Sound);
    assert_eq!(studio.files()["ready/kelp.png"], "kelp 2");
    studio.now += 100 * DAY;
    studio.at(|disk, ledger, place, now| expire(disk, ledger, place, DAY, now)).unwrap();
    assert_eq!(studio.files()["earlier/2026-05-01/ready/kelp.png"], "kelp 1");
}

#[test]
fn an_output_folder_that_vanished_is_not_taken_for_emptied() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    let aside = studio.checked().with_extension("unplugged");
    fs::rename(studio.checked(), &aside).unwrap();
    let error = studio.try_deliver("kelp.png", Sound).unwrap_err();
    assert!(matches!(error, DeliverError::FolderGone { .. }) && error.fate() == Fate::Daemon, "{error}");
    assert!(!studio.checked().exists());
    fs::rename(&aside, studio.checked()).unwrap();
    assert_eq!(studio.deliver("kelp.png", Sound).outputs.len(), 3);
}

#[test]
fn a_link_in_the_output_folder_is_an_error_that_says_so() {
    let mut studio = Studio::new();
    let elsewhere = tempfile::tempdir().unwrap();
    fs::create_dir_all(studio.checked()).unwrap();
    symlink(elsewhere.path(), studio.checked().join("ready")).unwrap();
    studio.export("kelp.png", "kelp 1");
    let error = studio.try_deliver("kelp.png", Sound).unwrap_err();
    assert_eq!(error.fate(), Fate::Tile);
    assert!(error.to_string().contains("ready") && error.to_string().contains("link"), "{error}");
    assert_eq!(fs::read_dir(elsewhere.path()).unwrap().count(), 0);
    let names: BTreeSet<_> = fs::read_dir(studio.checked()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(
        names,
        ["let-pass", "ready"].map(Into::into).into(),
        "the link itself, and the folder for the artist's word"
    );
}

#[test]
fn looking_over_at_start_removes_parts_and_sees_what_people_did() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp 1");
    studio.deliver("kelp.png", Sound);
    studio.take_away("ready/kelp.png");
    studio.meddle("mockups/kelp.png/repeat.jpg", "edited");
    studio.meddle("ready/.burler-00c0ffee.part", "half");
    studio.meddle("mockups/kelp.png/.burler-1.part", "half");
    studio.meddle("notes/.burler-1.part", "not in a folder of ours");
    assert_eq!(studio.at(tidy).unwrap(), 2);
    let state = |file: &str| {
        let outputs = studio.ledger.outputs(FOLDER, Path::new("kelp.png")).unwrap();
        outputs.into_iter().find(|output| output.file == Path::new(file)).unwrap().state
    };
    assert_eq!(state("ready/kelp.png"), OutputState::Removed);
    assert_eq!(state("mockups/kelp.png/repeat.jpg"), OutputState::Edited);
    assert_eq!(state("mockups/kelp.png/strike-off.jpg"), OutputState::Published);
    assert!(studio.files().contains_key("notes/.burler-1.part"));
}

#[test]
fn another_drawing_under_a_used_name_withdraws_nothing() {
    let mut studio = Studio::new();
    studio.export("untitled.png", "kelp 1");
    studio.deliver("untitled.png", Mended);
    studio.meddle("ready/untitled.png", "kelp 1, changed by a person");
    studio.take_away("mockups/untitled.png/repeat.jpg");
    studio.export("untitled.png", "dulse 1");
    let Ok(Delivery::Done(delivered)) = studio.try_another("untitled.png", Sound, "") else { panic!("not done") };
    let beside = format!("untitled~{}.png", &blake3::hash(b"untitled.png").to_hex()[..6]);
    studio.expect(&[
        ("ready/untitled.png", "kelp 1, changed by a person"),
        ("mockups/untitled.png/strike-off.jpg", "strike-off of kelp 1"),
        (&format!("ready/{beside}"), "dulse 1"),
        (&format!("mockups/{beside}/repeat.jpg"), "repeat of dulse 1"),
        (&format!("mockups/{beside}/strike-off.jpg"), "strike-off of dulse 1"),
    ]);
    assert!(delivered.told && delivered.withdrawn.is_empty());
    assert_eq!(delivered.kept, ["mockups/untitled.png/strike-off.jpg", "ready/untitled.png"].map(PathBuf::from));
    let kept = studio.ledger.kept_of(FOLDER, Path::new("untitled.png")).unwrap();
    assert_eq!(kept.len(), 1);
    assert_eq!((kept[0].shown(), kept[0].state), (Path::new("untitled.png"), StandingState::Kept));
    // It is nobody's who looks for what is there.
    assert_eq!(studio.ledger.entries_since(0).unwrap().len(), 1);
    let summary = studio.ledger.summary().unwrap();
    assert_eq!((summary.folders[0].sound, summary.folders[0].mended, summary.folders[0].kept.len()), (1, 0, 1));
    // The same again changes nothing, and a newer export of the one that is there now replaces that one alone.
    let says = studio.says();
    studio.try_another("untitled.png", Sound, "").unwrap();
    assert_eq!(studio.says(), says);
    studio.export("untitled.png", "dulse 2");
    let delivered = studio.deliver("untitled.png", Sound);
    assert_eq!(delivered.withdrawn.len(), 3);
    assert_eq!(studio.files()["ready/untitled.png"], "kelp 1, changed by a person");
    assert_eq!(studio.files()[&format!("ready/{beside}")], "dulse 2");
}

#[test]
fn where_nothing_is_left_of_the_old_drawing_the_new_one_gets_the_plain_name() {
    let mut studio = Studio::new();
    studio.export("untitled.png", "kelp 1");
    studio.deliver("untitled.png", Mended);
    for file in ["ready/untitled.png", "mockups/untitled.png/repeat.jpg", "mockups/untitled.png/strike-off.jpg"] {
        studio.take_away(file);
    }
    studio.export("untitled.png", "dulse 1");
    studio.try_another("untitled.png", Held, "").unwrap();
    studio.expect(&[("held/untitled.png.held.png", "held dulse 1")]);
    // Of a tile that was held there is nothing good to keep, and what replaces it may be its mending.
    studio.export("untitled.png", "limpet 1");
    studio.try_another("untitled.png", Held, "").unwrap();
    assert_eq!(studio.files()["held/untitled.png.held.png"], "held limpet 1");
    assert_eq!(studio.files()["earlier/2026-05-01/held/untitled.png.held.png"], "held dulse 1");
    assert_eq!(studio.ledger.kept_of(FOLDER, Path::new("untitled.png")).unwrap(), []);
}
