//! The artist's word: a held picture that lies in let-pass accepts exactly its content and its faults, for as long as it
//! lies there; delivering first, then the whole way through the running daemon.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/studio.rs"]
mod studio;
#[path = "desk/watched.rs"]
mod watched;

use burler::codec::note;
use burler::deliver::{Delivery, Reviewed};
use burler::finding::Verdict::{Held, Sound};
use burler::pipeline::WORD;
use burler::ticket::Ticket;
use burler::ticket::word::Word;
use burler::tile::Content;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use studio::{FOLDER, Studio};
use watched::{broken, drawn, sound};

const PICTURE: &str = "held/kelp.png.held.png";

fn paths(names: &[&str]) -> BTreeSet<PathBuf> {
    names.iter().map(PathBuf::from).collect()
}

/// A studio in which kelp.png is held and copy.png holds the same bytes.
fn two_held() -> Studio {
    let mut studio = Studio::new();
    for path in ["kelp.png", "harbor/copy.png"] {
        studio.export(path, "kelp 1");
        studio.work(path).unwrap();
    }
    studio
}

#[test]
fn a_picture_in_let_pass_lets_every_tile_of_its_content_pass_and_taking_it_out_undoes_it() {
    let mut studio = two_held();
    let before = studio.files();
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    let reviewed = studio.review().unwrap();
    assert_eq!(reviewed.concerns, paths(&["harbor/copy.png", "kelp.png"]));
    assert_eq!((reviewed.heard.len(), reviewed.idle.len(), reviewed.strange.len()), (1, 0, 0));
    for path in ["kelp.png", "harbor/copy.png"] {
        let Delivery::Done(delivered) = studio.work(path).unwrap() else { panic!("superseded") };
        assert!(delivered.told && delivered.removed.is_empty());
    }
    let files = studio.files();
    assert_eq!((files["ready/kelp.png"].as_str(), files["ready/harbor/copy.png"].as_str()), ("kelp 1", "kelp 1"));
    assert!(files.contains_key("mockups/harbor/copy.png/repeat.jpg"));
    assert!(!files.keys().any(|name| name.starts_with("held/")), "{files:?}");
    let entry = studio.ledger.entries_since(0).unwrap().remove(0);
    let ticket = entry.ticket.unwrap();
    assert_eq!((ticket.verdict, ticket.let_pass.as_slice(), ticket.findings[0].silenced), (Sound, &[0][..], true));
    let summary = studio.ledger.summary().unwrap().folders.remove(0);
    assert_eq!((summary.sound, summary.held, summary.removed.len()), (2, 0, 0));
    let says = vec!["the left edge does not meet the right one".to_string()];
    assert_eq!(summary.let_pass, [("harbor/copy.png".into(), says.clone()), ("kelp.png".into(), says)]);
    assert_eq!(studio.review().unwrap(), Reviewed::default(), "gone through again, it says nothing new");

    // Deleted, not moved back: the held picture comes back all the same.
    studio.take_away("let-pass/kelp.png.held.png");
    let reviewed = studio.review().unwrap();
    assert_eq!(
        (reviewed.concerns, reviewed.taken_out),
        (paths(&["harbor/copy.png", "kelp.png"]), vec!["kelp.png.held.png".into()])
    );
    for path in ["kelp.png", "harbor/copy.png"] {
        studio.work(path).unwrap();
    }
    let files = studio.files();
    assert!(before.iter().all(|(name, text)| files.get(name) == Some(text)), "{files:?}");
    assert!(files.contains_key("earlier/2026-05-01/ready/kelp.png"));
    assert_eq!(studio.ledger.summary().unwrap().folders[0].held, 2);
}

#[test]
fn a_picture_moved_back_where_it_was_is_simply_there_again() {
    let mut studio = two_held();
    let before = studio.files();
    for _ in 0..2 {
        studio.carry(PICTURE, "let-pass/any name.png");
        studio.review().unwrap();
        studio.work("kelp.png").unwrap();
        assert!(studio.files().contains_key("ready/kelp.png"));
        studio.carry("let-pass/any name.png", PICTURE);
        studio.review().unwrap();
        studio.work("kelp.png").unwrap();
        let files = studio.files();
        assert!(before.iter().all(|(name, text)| files.get(name) == Some(text)), "{files:?}");
    }
}

#[test]
fn other_content_is_judged_afresh_and_the_word_waits_for_the_old_one() {
    let mut studio = two_held();
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    studio.review().unwrap();
    studio.work("kelp.png").unwrap();
    studio.export("kelp.png", "kelp 2");
    studio.work("kelp.png").unwrap();
    let standing = studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap();
    assert_eq!((standing.verdict, standing.let_pass.len()), (Held, 0));
    assert!(studio.files().contains_key(PICTURE));
    studio.export("kelp.png", "kelp 1");
    studio.work("kelp.png").unwrap();
    assert_eq!(studio.files()["ready/kelp.png"], "kelp 1");
    // Nobody has the content any more: the word is kept, and said to lie idle.
    studio.export("kelp.png", "kelp 3");
    studio.work("kelp.png").unwrap();
    studio.export("harbor/copy.png", "kelp 3");
    studio.work("harbor/copy.png").unwrap();
    assert_eq!(studio.ledger.summary().unwrap().folders[0].idle, [PathBuf::from("kelp.png.held.png")]);
}

#[test]
fn what_is_no_held_picture_changes_nothing_and_is_told_once() {
    let mut studio = two_held();
    let held = fs::read(studio.checked().join(PICTURE)).unwrap();
    let mut damaged = held.clone();
    let at = damaged.windows(10).position(|bytes| bytes == b"let-pass-1").unwrap();
    damaged[at + 12] ^= 1;
    let bare = held[..held.len() - 30].to_vec();
    let tree = studio.checked().join("let-pass");
    fs::write(tree.join("damaged.png"), damaged).unwrap();
    fs::write(tree.join("photo.jpg"), b"no picture of ours").unwrap();
    // Cut off behind its word it still says it: what it shows can be seen by nobody, but what it means is certain.
    fs::write(tree.join("cut.png"), bare).unwrap();
    let reviewed = studio.review().unwrap();
    assert_eq!(reviewed.strange, [PathBuf::from("damaged.png"), "photo.jpg".into()]);
    assert_eq!(reviewed.heard, [PathBuf::from("cut.png")]);
    fs::remove_file(tree.join("cut.png")).unwrap();
    let told = studio.ledger.strangers_since(0).unwrap();
    assert_eq!(told.len(), 2);
    assert!(told.iter().all(|(folder, picture)| folder == FOLDER && picture.changed > 0));
    fs::write(tree.join("photo.jpg"), b"no picture of ours").unwrap();
    let reviewed = studio.review().unwrap();
    assert_eq!((reviewed.strange.len(), reviewed.taken_out.len()), (0, 1), "written anew with the same bytes");
    assert_eq!(studio.ledger.strangers_since(0).unwrap().len(), 2);
    let last = told.iter().map(|(_, picture)| picture.changed).max().unwrap();
    assert!(studio.ledger.strangers_since(last).unwrap().is_empty(), "it would be told twice");
    for path in ["kelp.png", "harbor/copy.png"] {
        studio.work(path).unwrap();
    }
    assert_eq!(studio.ledger.summary().unwrap().folders[0].held, 2);
    let strange = studio.ledger.summary().unwrap().folders.remove(0).strange;
    assert_eq!(strange, [PathBuf::from("damaged.png"), "photo.jpg".into()]);
}

#[test]
fn a_let_pass_that_is_a_link_is_read_and_a_link_in_it_is_not_followed() {
    let mut studio = two_held();
    let linked = studio.exports().parent().unwrap().join("my word");
    fs::rename(studio.checked().join("let-pass"), &linked).unwrap();
    std::os::unix::fs::symlink(&linked, studio.checked().join("let-pass")).unwrap();
    let outside = studio.exports().parent().unwrap().join("outside.png");
    fs::copy(studio.checked().join(PICTURE), &outside).unwrap();
    std::os::unix::fs::symlink(&outside, studio.checked().join("let-pass/link.png")).unwrap();
    let stamp = burler::disk::stamp(&outside).unwrap();
    let lying = [(PathBuf::from("link.png"), stamp)];
    let reviewed = studio.at(|disk, ledger, place, _| burler::deliver::review(disk, ledger, place, &lying)).unwrap();
    assert_eq!(reviewed, Reviewed::default());
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    let stamp = burler::disk::stamp(&linked.join("kelp.png.held.png")).unwrap();
    let lying = [(PathBuf::from("kelp.png.held.png"), stamp)];
    let reviewed = studio.at(|disk, ledger, place, _| burler::deliver::review(disk, ledger, place, &lying)).unwrap();
    assert_eq!(reviewed.heard.len(), 1);
}

#[test]
fn a_let_pass_that_vanished_with_words_in_it_is_not_made_anew() {
    let mut studio = two_held();
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    studio.review().unwrap();
    studio.work("kelp.png").unwrap();
    fs::rename(studio.checked().join("let-pass"), studio.checked().join("elsewhere")).unwrap();
    assert_eq!(studio.review().unwrap(), Reviewed::default(), "nothing is concluded");
    studio.work("kelp.png").unwrap();
    assert!(!studio.checked().join("let-pass").exists());
    assert_eq!(studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap().unwrap().verdict, Sound);
    fs::create_dir(studio.checked().join("let-pass")).unwrap();
    assert_eq!(studio.review().unwrap().taken_out.len(), 1, "an empty one that a person made takes it back");
}

#[test]
fn new_findings_hold_the_tile_and_its_new_picture_accepts_the_old_ones_too() {
    use burler::finding::{Finding, Grade, Kind};
    // Whether the tile was ready in between, or other rules came before its word was heard.
    for was_ready in [true, false] {
        let mut studio = two_held();
        studio.carry(PICTURE, "let-pass/kelp.png.held.png");
        studio.review().unwrap();
        if was_ready {
            studio.work("kelp.png").unwrap();
        }
        // What other rules would say: one finding more.
        let stricter = |studio: &Studio| {
            let mut outcome = studio.judged("kelp.png").unwrap();
            let one = outcome.ticket.findings[0].clone();
            outcome.ticket.take_back();
            outcome.ticket.rules += 1;
            outcome.ticket.findings.push(Finding {
                kind: Kind::SizePixels,
                grade: Grade::Fault,
                silenced: false,
                ..one
            });
            outcome.ticket.set_aside(&outcome.let_pass);
            outcome.verdict = outcome.ticket.verdict;
            let picture = studio::held_picture(&outcome.ticket);
            outcome.parcels.retain(|_| outcome.verdict == Sound);
            if outcome.verdict == Held {
                let content = Content::of(&picture);
                let source = burler::disk::Source::Bytes(picture);
                outcome.parcels = vec![burler::deliver::Parcel { role: burler::deliver::Role::Held, content, source }];
            }
            outcome
        };
        let outcome = stricter(&studio);
        assert_eq!((outcome.verdict, outcome.ticket.let_pass.len()), (Held, 1));
        studio.hand_in(&outcome).unwrap();
        let summary = studio.ledger.summary().unwrap();
        assert_eq!((summary.folders[0].held, summary.folders[0].let_pass.len()), (2, 1), "set aside and held");
        // The new picture takes the place of the old one in let-pass.
        studio.carry(PICTURE, "let-pass/kelp.png.held.png");
        assert_eq!(studio.review().unwrap().concerns, paths(&["harbor/copy.png", "kelp.png"]));
        let outcome = stricter(&studio);
        assert_eq!((outcome.verdict, outcome.ticket.let_pass.len()), (Sound, 2));
        studio.hand_in(&outcome).unwrap();
        assert_eq!(studio.files()["ready/kelp.png"], "kelp 1");
    }
}

#[test]
fn a_picture_whose_file_was_rewritten_around_its_word_still_speaks_and_comes_back() {
    let mut studio = two_held();
    let before = studio.files();
    let held = fs::read(studio.checked().join(PICTURE)).unwrap();
    studio.take_away(PICTURE);
    let rewritten = burler::codec::noted(&held, "Comment", "sorted by hand").unwrap();
    fs::write(studio.checked().join("let-pass/meant.png"), rewritten).unwrap();
    assert_eq!(studio.review().unwrap().heard.len(), 1);
    studio.work("kelp.png").unwrap();
    assert!(studio.ledger.summary().unwrap().folders[0].removed.is_empty());
    studio.take_away("let-pass/meant.png");
    studio.review().unwrap();
    studio.work("kelp.png").unwrap();
    assert_eq!(studio.files().get(PICTURE), before.get(PICTURE));
}

// The whole way.

/// Waits until a tile's ticket is as it should be.
fn ticket(studio: &watched::Studio, tile: &str, is_right: impl Fn(&Ticket) -> bool) -> Ticket {
    let situation = || format!("{}\n{}", studio.says(&["status", "--json"]), studio.log());
    desk::wait_for(tile, situation, || {
        let lines = studio.says(&["status", "--json"]);
        lines
            .lines()
            .filter_map(|line| Ticket::from_line(line).ok())
            .find(|ticket| ticket.tile == tile && is_right(ticket))
    })
}

#[test]
fn a_held_picture_is_moved_and_the_tile_is_ready_until_it_is_taken_out() {
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &broken());
    studio.save(b"copy.png", &broken());
    studio.comes(PICTURE);
    studio.comes("held/copy.png.held.png");
    let picture = fs::read(studio.at("checked").join(PICTURE)).unwrap();
    let word = Word::from_text(note(&picture, WORD).unwrap()).unwrap();
    assert_eq!(word.content, Content::of(&broken()));
    assert!(!word.marks.is_empty());
    studio.carry(PICTURE, "let-pass/for the harbor/renamed.png");
    for file in ["ready/kelp.png", "mockups/kelp.png/repeat.jpg", "mockups/kelp.png/strike-off.jpg", "ready/copy.png"] {
        studio.comes(file);
    }
    studio.goes("held/copy.png.held.png");
    assert_eq!(fs::read(studio.at("checked/ready/kelp.png")).unwrap(), broken(), "byte for byte");
    studio.until("the ledger knows", || studio.says(&["status"]).contains("2 ready"));
    let said = studio.says(&["status"]);
    assert!(said.contains("  let pass by you: kelp.png: ") && !said.contains("taken away"), "{said}");
    let told = ticket(&studio, "kelp.png", |ticket| ticket.verdict == Sound);
    assert!(told.let_pass.iter().all(|at| told.findings[*at].silenced) && told.let_pass.len() == word.marks.len());
    assert!(studio.says(&["digest"]).contains("2 ready"));
    let letter = studio.files("state/letters").into_keys().next().unwrap();
    let letter = fs::read_to_string(studio.at(letter.to_str().unwrap())).unwrap();
    assert!(letter.contains("Let pass by you: "), "{letter}");

    // Another name for the same word changes nothing, whatever way it gets there.
    studio.carry("let-pass/for the harbor/renamed.png", "let-pass/again.png");
    studio.until("the new name is heard", || studio.log().contains("let-pass/again.png"));
    studio.until("the old name is forgotten", || studio.log().contains("renamed.png: taken out"));
    assert!(studio.files("checked/earlier").into_keys().all(|file| !file.to_str().unwrap().contains("/ready/")));

    fs::remove_file(studio.at("checked/let-pass/again.png")).unwrap();
    studio.goes("ready/kelp.png");
    studio.goes("ready/copy.png");
    studio.comes(PICTURE);
    studio.comes("held/copy.png.held.png");
    assert_eq!(fs::read(studio.at("checked").join(PICTURE)).unwrap(), picture);
    studio.until("the sets are withdrawn", || studio.files("checked/earlier").len() == 1 + 6);
    assert_eq!(fs::read(studio.at("exports/kelp.png")).unwrap(), broken());
    assert!(watch.stop().success());
}

#[test]
fn words_spoken_and_taken_back_while_nobody_watched_are_heard_at_the_start() {
    let studio = watched::Studio::new();
    studio.save(b"kelp.png", &broken());
    let watch = studio.watch();
    studio.comes(PICTURE);
    assert!(watch.stop().success());
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    let watch = studio.watch();
    studio.comes("ready/kelp.png");
    assert!(watch.stop().success());
    studio.carry("let-pass/kelp.png.held.png", PICTURE);
    let watch = studio.watch();
    studio.goes("ready/kelp.png");
    studio.until("held again", || studio.says(&["status"]).contains("1 need you"));
    assert!(watch.stop().success());
    // Copied, and a kill right behind it.
    fs::copy(studio.at("checked").join(PICTURE), studio.at("checked/let-pass/copy.png")).unwrap();
    let mut watch = studio.watch();
    studio.until("it is heard", || studio.log().contains("let-pass/copy.png: what it shows is let pass"));
    watch.0.kill().unwrap();
    watch.0.wait().unwrap();
    let watch = studio.watch();
    studio.comes("ready/kelp.png");
    studio.goes(PICTURE);
    assert!(watch.stop().success());
}

#[test]
fn another_export_is_held_and_the_old_one_passes_when_it_comes_back() {
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &broken());
    studio.comes(PICTURE);
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    studio.comes("ready/kelp.png");
    let other = drawn(|x, y| {
        if (x % 41).abs_diff(20) + (y % 35).abs_diff(17) < 15 { [20, 60, 70, 255] } else { [240, 235, 220, 255] }
    });
    studio.save(b"kelp.png", &other);
    studio.comes(PICTURE);
    studio.goes("ready/kelp.png");
    studio.save(b"kelp.png", &broken());
    studio.comes("ready/kelp.png");
    studio.goes(PICTURE);
    assert!(watch.stop().success());
}

#[test]
fn a_picture_saved_anew_by_another_program_is_told_and_changes_nothing() {
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &broken());
    studio.comes(PICTURE);
    let to = studio.at("checked/let-pass/kelp.png.held.png");
    desk::run_python(
        "import sys\nfrom PIL import Image\nImage.open(sys.argv[1]).save(sys.argv[2])",
        &[studio.at("checked").join(PICTURE).to_str().unwrap(), to.to_str().unwrap()],
    );
    studio.until("it is told", || studio.log().contains("cannot be matched"));
    let said = studio.says(&["status"]);
    assert!(said.contains("let-pass/kelp.png.held.png: this picture cannot be matched"), "{said}");
    assert!(said.contains("1 need you"), "{said}");
    assert!(!studio.at("checked/ready/kelp.png").exists() && studio.at("checked").join(PICTURE).exists());
    assert!(studio.says(&["digest"]).contains("1 needs you"));
    let page = studio.files("checked/letters").into_keys().next().unwrap();
    assert!(fs::read_to_string(studio.at(page.to_str().unwrap())).unwrap().contains("cannot be matched"));
    assert!(to.exists(), "nothing in let-pass is ever removed");
    assert!(watch.stop().success());
}

#[test]
fn another_order_sheet_holds_what_was_not_accepted_and_what_can_be_mended_is_mended() {
    let with_line = drawn(|x, y| {
        let (u, v) = ((x % 41).abs_diff(20), (y % 37).abs_diff(18));
        let [r, g, b] = if u * u + v * v < 260 { [180, 60, 70] } else { [240, 235, 220] };
        [r, g, b, if y == 47 { 128 } else { 255 }]
    });
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &with_line);
    studio.comes(PICTURE);
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    studio.comes("ready/kelp.png");
    studio.until("mended", || studio.says(&["status"]).contains("1 of them mended"));
    assert_ne!(fs::read(studio.at("checked/ready/kelp.png")).unwrap(), with_line, "the line is mended all the same");
    assert!(watch.stop().success());

    studio.configure("[spec.cloth]\nwidth = \"128 px\"\n");
    let config = fs::read_to_string(studio.at("burler.toml")).unwrap();
    let config = config.replace("exports = \"exports\"\n", "exports = \"exports\"\nspec = \"cloth\"\n");
    fs::write(studio.at("burler.toml"), config).unwrap();
    let watch = studio.watch();
    studio.comes(PICTURE);
    studio.goes("ready/kelp.png");
    let told = ticket(&studio, "kelp.png", |ticket| ticket.verdict == Held);
    assert_eq!(told.findings[0].kind.name(), "size.pixels");
    assert!(!told.let_pass.is_empty() && !told.let_pass.contains(&0), "{told:?}");
    fs::rename(studio.at("checked").join(PICTURE), studio.at("checked/let-pass/kelp.png.held.png")).unwrap();
    studio.comes("ready/kelp.png");
    studio.until("nothing is asked", || studio.says(&["status"]).contains("0 need you"));
    assert!(watch.stop().success());
}

#[test]
fn what_is_no_repeat_and_what_an_order_sheet_silences_is_not_held() {
    let studio = watched::Studio::new();
    studio.configure(
        "[spec.print]\nrepeat = \"none\"\n[spec.loose]\nsilence = [\"joint.break\", \"joint.shift\", \"joint.doubled\", \
         \"joint.missing\", \"joint.drift\"]\n",
    );
    for folder in ["print", "loose"] {
        fs::create_dir(studio.at("exports").join(folder)).unwrap();
    }
    studio.save(b"kelp.png", &broken());
    studio.save(b"print/kelp.png", &broken());
    studio.save(b"loose/kelp.png", &broken());
    studio.save(b"plain.png", &sound(3));
    let watch = studio.watch();
    studio.comes(PICTURE);
    studio.comes("ready/print/kelp.png");
    studio.comes("ready/loose/kelp.png");
    studio.comes("mockups/loose/kelp.png/repeat.jpg");
    studio.comes("mockups/print/kelp.png/strike-off.jpg");
    studio.comes("ready/plain.png");
    let print = ticket(&studio, "print/kelp.png", |_| true);
    assert!(print.findings.iter().all(|finding| !finding.kind.name().starts_with("joint.")), "{print:?}");
    let loose = ticket(&studio, "loose/kelp.png", |_| true);
    assert!(loose.findings.iter().any(|finding| finding.silenced) && loose.let_pass.is_empty(), "{loose:?}");
    assert!(watch.stop().success());
}

#[test]
fn the_original_that_is_gone_meanwhile_is_let_pass_when_it_comes_back() {
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &broken());
    studio.comes(PICTURE);
    fs::rename(studio.at("exports/kelp.png"), studio.at("kelp.png")).unwrap();
    studio.until("it is gone", || studio.says(&["status"]).contains("whose original has disappeared"));
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    studio.until("it is heard", || studio.log().contains("what it shows is let pass"));
    fs::rename(studio.at("kelp.png"), studio.at("exports/kelp.png")).unwrap();
    studio.comes("ready/kelp.png");
    assert!(watch.stop().success());
}

#[test]
fn a_word_outlasts_a_lost_ledger() {
    let studio = watched::Studio::new();
    let watch = studio.watch();
    studio.save(b"kelp.png", &broken());
    studio.comes(PICTURE);
    assert!(watch.stop().success());
    studio.carry(PICTURE, "let-pass/kelp.png.held.png");
    fs::remove_dir_all(studio.at("state")).unwrap();
    let watch = studio.watch();
    studio.comes("ready/kelp.png");
    ticket(&studio, "kelp.png", |ticket| ticket.verdict == Sound && !ticket.let_pass.is_empty());
    assert!(watch.stop().success());
}
