//! Kills and failing disks: whatever happens at whichever operation, a restart comes to the same files and the same ledger
//! as a run that nothing disturbed, no published file is ever half-written, and no original is touched.

#![allow(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

#[path = "desk/studio.rs"]
mod studio;

use burler::deliver::{DeliverError, Fate, Parcel, Role, expire, gone, tidy};
use burler::disk::{Disk, Source, Trip};
use burler::finding::Verdict::{self, Held, Mended, Sound};
use burler::tile::Content;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::time::Duration;
use studio::{FOLDER, Studio, all_files};

const DAY: Duration = Duration::from_secs(24 * 60 * 60);

/// What happens in the script. Only deliveries and expiry use the disk under test.
#[derive(Clone, Copy, Debug)]
enum Step {
    Export(&'static str, &'static str),
    Deliver(&'static str, Verdict),
    /// Delivers another drawing than the one before; the last is the text of an earlier one that it renews, if any.
    Another(&'static str, Verdict, &'static str),
    TakeAway(&'static str),
    Edit(&'static str),
    Rename(&'static str, &'static str),
    Gone(&'static str),
    NextDay,
    Expire,
    /// A held tile with both copies that may be offered beside its picture.
    Offer(&'static str),
    /// Judges and delivers under the artist's word.
    Work(&'static str),
    /// A person moves a file within the output folder.
    Carry(&'static str, &'static str),
    /// Goes through let-pass.
    Review,
}

/// Every case of the one standing in a row.
const SCRIPT: &[Step] = &[
    Step::Export("kelp.png", "kelp 1"),
    Step::Export("harbor/dulse.tif", "dulse 1"),
    Step::Deliver("kelp.png", Sound),
    Step::Deliver("harbor/dulse.tif", Mended),
    Step::Deliver("kelp.png", Sound),
    Step::Export("kelp.png", "kelp 2"),
    Step::Offer("kelp.png"),
    Step::NextDay,
    Step::Export("Kelp.png", "another"),
    Step::Deliver("Kelp.png", Sound),
    Step::Export("kelp.png", "kelp 3"),
    Step::Deliver("kelp.png", Sound),
    Step::Edit("ready/kelp.png"),
    Step::TakeAway("mockups/harbor/dulse.tif/repeat.jpg"),
    Step::Rename("harbor/dulse.tif", "oarweed.tif"),
    Step::Deliver("oarweed.tif", Mended),
    Step::Gone("harbor/dulse.tif"),
    Step::Export("kelp.png", "kelp 4"),
    Step::Deliver("kelp.png", Mended),
    Step::NextDay,
    Step::Rename("oarweed.tif", "kelp.png"),
    Step::Deliver("kelp.png", Sound),
    Step::Gone("oarweed.tif"),
    Step::Expire,
];

/// Everything a word does: spoken for two tiles of one content, outlasting a re-export, renamed, misunderstood, taken back
/// and spoken again.
const WORDS: &[Step] = &[
    Step::Export("kelp.png", "kelp 1"),
    Step::Export("harbor/copy.png", "kelp 1"),
    Step::Work("kelp.png"),
    Step::Work("harbor/copy.png"),
    Step::Carry("held/kelp.png.held.png", "let-pass/kelp.png.held.png"),
    Step::Review,
    Step::Work("kelp.png"),
    Step::Work("harbor/copy.png"),
    Step::Export("kelp.png", "kelp 2"),
    Step::Work("kelp.png"),
    Step::NextDay,
    Step::Export("kelp.png", "kelp 1"),
    Step::Work("kelp.png"),
    Step::Carry("let-pass/kelp.png.held.png", "let-pass/meant/renamed.png"),
    Step::Edit("let-pass/notes.png"),
    Step::Review,
    Step::Work("kelp.png"),
    Step::NextDay,
    Step::TakeAway("let-pass/meant/renamed.png"),
    Step::Review,
    Step::Work("kelp.png"),
    Step::Work("harbor/copy.png"),
    Step::Carry("held/kelp.png.held.png", "let-pass/again.png"),
    Step::Review,
    Step::Work("kelp.png"),
    Step::Work("harbor/copy.png"),
    Step::Carry("let-pass/again.png", "held/kelp.png.held.png"),
    Step::Review,
    Step::Work("harbor/copy.png"),
    Step::Work("kelp.png"),
    Step::Expire,
];

/// A name that a tablet gives to every drawing: a second one, a third; the first is saved under a name of its own, the second
/// comes again in a newer export, the third as it was; one that is held is replaced.
const DRAWINGS: &[Step] = &[
    Step::Export("untitled.png", "kelp 1"),
    Step::Deliver("untitled.png", Sound),
    Step::Export("untitled.png", "dulse 1"),
    Step::Another("untitled.png", Mended, ""),
    Step::Export("untitled.png", "limpet 1"),
    Step::Another("untitled.png", Sound, ""),
    Step::Export("kelp.png", "kelp 1"),
    Step::Deliver("kelp.png", Sound),
    Step::NextDay,
    Step::Export("untitled.png", "dulse 2"),
    Step::Another("untitled.png", Held, "dulse 1"),
    Step::Export("untitled.png", "limpet 1"),
    Step::Another("untitled.png", Sound, ""),
    Step::Expire,
];

/// Runs a step. The person's and the designer's own steps cannot fail.
fn run(studio: &mut Studio, step: Step) -> Result<(), DeliverError> {
    match step {
        Step::Export(path, bytes) => studio.export(path, bytes),
        Step::TakeAway(file) => studio.take_away(file),
        Step::Edit(file) => studio.meddle(file, "edited"),
        Step::Rename(from, to) => fs::rename(studio.exports().join(from), studio.exports().join(to)).unwrap(),
        Step::NextDay => studio.now += DAY,
        Step::Carry(from, to) => studio.carry(from, to),
        Step::Work(path) => return studio.work(path).map(drop),
        Step::Review => return studio.review().map(drop),
        Step::Offer(path) => {
            let mut outcome = studio.outcome(path, Held);
            for role in [Role::PartlyMended, Role::Filled] {
                let bytes = format!("{} of {path} {}", role.name(), outcome.content).into_bytes();
                outcome.parcels.push(Parcel { role, content: Content::of(&bytes), source: Source::Bytes(bytes) });
            }
            return studio.hand_in(&outcome).map(drop);
        }
        Step::Deliver(path, verdict) => return studio.try_deliver(path, verdict).map(drop),
        Step::Another(path, verdict, renews) => return studio.try_another(path, verdict, renews).map(drop),
        Step::Gone(path) => return gone(&mut studio.ledger, FOLDER, Path::new(path)),
        Step::Expire => {
            return studio.at(|disk, ledger, place, now| expire(disk, ledger, place, DAY, now)).map(drop);
        }
    }
    Ok(())
}

/// What is left at the end: files, ledger, originals.
type Outcome = (BTreeMap<String, String>, Vec<String>, BTreeMap<String, String>);

fn outcome(studio: &Studio) -> Outcome {
    (studio.files(), studio.says(), all_files(&studio.exports()))
}

struct Undisturbed {
    script: &'static [Step],
    outcome: Outcome,
    operations: u64,
    /// Every text that any published file ever had.
    texts: BTreeSet<String>,
}

/// The scripts as they end when nothing goes wrong.
fn undisturbed() -> [Undisturbed; 3] {
    [SCRIPT, WORDS, DRAWINGS].map(one_undisturbed)
}

fn one_undisturbed(script: &'static [Step]) -> Undisturbed {
    let mut studio = Studio::new();
    let mut texts = BTreeSet::new();
    for step in script {
        run(&mut studio, *step).unwrap();
        texts.extend(studio.files().into_values());
    }
    Undisturbed { script, outcome: outcome(&studio), operations: studio.disk.operations(), texts }
}

/// No published file is half-written, and only the designer's own steps have changed the originals.
fn check_after_harm(studio: &Studio, originals: &BTreeMap<String, String>, texts: &BTreeSet<String>, at: &str) {
    for (name, text) in studio.files() {
        let is_part = name.rsplit('/').next().is_some_and(|last| last.starts_with(".burler-"));
        assert!(is_part || texts.contains(&text), "{at}: {name} is half-written: {text:?}");
    }
    assert_eq!(&all_files(&studio.exports()), originals, "{at}: an original was touched");
}

#[test]
fn the_script_comes_to_what_it_should() {
    let mut studio = Studio::new();
    for step in SCRIPT {
        run(&mut studio, *step).unwrap();
    }
    let kelp = format!("kelp~{}.png", &blake3::hash(b"kelp.png").to_hex()[..6]);
    let other = format!("Kelp~{}.png", &blake3::hash(b"Kelp.png").to_hex()[..6]);
    studio.expect(&[
        // The second one of a name that differs in case alone.
        (&format!("ready/{other}"), "another"),
        (&format!("mockups/{other}/repeat.jpg"), "repeat of another"),
        (&format!("mockups/{other}/strike-off.jpg"), "strike-off of another"),
        // Edited, so left alone, and the file that wanted the name lies beside it.
        ("ready/kelp.png", "edited"),
        (&format!("ready/{kelp}"), "dulse 1"),
        // Moved along with its original twice; the repeat picture was taken away on the way and stays away.
        ("mockups/kelp.png/strike-off.jpg", "strike-off of dulse 1"),
        // Withdrawn on the last day; what the days before withdrew has expired.
        (&format!("earlier/2026-05-03/ready/{kelp}"), "mended kelp 4"),
        ("earlier/2026-05-03/ready/oarweed.tif.png", "mended dulse 1"),
        ("earlier/2026-05-03/mockups/kelp.png/repeat.jpg", "repeat of kelp 4"),
        ("earlier/2026-05-03/mockups/kelp.png/strike-off.jpg", "strike-off of kelp 4"),
    ]);
    assert_eq!(all_files(&studio.exports()).len(), 2);
}

#[test]
fn the_drawings_come_to_what_they_should() {
    let whole = one_undisturbed(DRAWINGS);
    let files: Vec<(&str, &str)> = whole.outcome.0.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let hex = |name: &str, turn: &[u8]| blake3::hash(&[name.as_bytes(), turn].concat()).to_hex()[..6].to_string();
    let (second, third) = (hex("untitled.png", b""), hex("untitled.png", &[0, 0, 0, 1]));
    let mut wanted = [
        ("earlier/2026-05-02/ready/untitled~2.png", "mended dulse 1"),
        ("earlier/2026-05-02/mockups/untitled~2.png/repeat.jpg", "repeat of dulse 1"),
        ("earlier/2026-05-02/mockups/untitled~2.png/strike-off.jpg", "strike-off of dulse 1"),
        ("earlier/2026-05-02/held/untitled~2.png.held.png", "held dulse 2"),
        ("ready/untitled~3.png", "limpet 1"),
        ("mockups/untitled~3.png/repeat.jpg", "repeat of limpet 1"),
        ("mockups/untitled~3.png/strike-off.jpg", "strike-off of limpet 1"),
        ("ready/kelp.png", "kelp 1"),
        ("mockups/kelp.png/repeat.jpg", "repeat of kelp 1"),
        ("mockups/kelp.png/strike-off.jpg", "strike-off of kelp 1"),
    ]
    .map(|(name, text)| (name.replace("~2", &format!("~{second}")).replace("~3", &format!("~{third}")), text));
    wanted.sort();
    assert_eq!(files, wanted.iter().map(|(name, text)| (name.as_str(), *text)).collect::<Vec<_>>());
}

#[test]
fn the_words_come_to_what_they_should() {
    let whole = one_undisturbed(WORDS);
    let (files, says, _) = &whole.outcome;
    let names: Vec<&str> = files.keys().map(String::as_str).filter(|name| !name.starts_with("earlier/")).collect();
    assert_eq!(names, ["held/harbor/copy.png.held.png", "held/kelp.png.held.png", "let-pass/notes.png"]);
    assert_eq!(says.iter().filter(|line| line.contains(" held present")).count(), 2, "{says:?}");
    assert!(says.iter().any(|line| line.contains("\"notes.png\" says None")), "{says:?}");
    assert!(whole.texts.contains("kelp 1") && whole.texts.contains("repeat of kelp 1"), "it was ready on the way");
}

#[test]
fn a_kill_at_any_operation_and_a_restart_come_to_the_same_end() {
    for whole in undisturbed() {
        assert!(whole.operations > 50, "the script does too little: {}", whole.operations);
        for at in 1..=whole.operations {
            let mut studio = Studio::on(Disk::tripping(at, Trip::Stop));
            let mut kills = 0;
            for step in whole.script {
                let originals = all_files(&studio.exports());
                while let Err(error) = run(&mut studio, *step) {
                    assert_eq!(error.fate(), Fate::Daemon, "{at}: {step:?}: {error}");
                    check_after_harm(&studio, &originals, &whole.texts, &format!("killed at {at} in {step:?}"));
                    kills += 1;
                    assert!(kills < 2, "{at}: {step:?}: {error}");
                    studio.restart_on(Disk::new());
                    studio.at(tidy).unwrap();
                    assert!(studio.files().keys().all(|name| !name.contains(".burler-")), "{at}: a part is left");
                }
            }
            assert_eq!(outcome(&studio), whole.outcome, "killed at {at}");
        }
    }
}

#[test]
fn a_second_kill_while_starting_again_changes_nothing_either() {
    for whole in undisturbed() {
        for at in (1..=whole.operations).step_by(7) {
            for again in [1, 2, 3, 5, 9, 14, 22] {
                let mut studio = Studio::on(Disk::tripping(at, Trip::Stop));
                let mut kills = 0;
                for step in whole.script {
                    while let Err(error) = run(&mut studio, *step) {
                        kills += 1;
                        assert!(kills < 4, "{at}, {again}: {step:?}: {error}");
                        studio.restart_on(if kills == 1 { Disk::tripping(again, Trip::Stop) } else { Disk::new() });
                        if studio.at(tidy).is_err() {
                            studio.restart_on(Disk::new());
                            studio.at(tidy).unwrap();
                        }
                    }
                }
                assert_eq!(outcome(&studio), whole.outcome, "killed at {at}, then at {again}");
            }
        }
    }
}

#[test]
fn a_fault_at_any_operation_is_told_and_a_plain_repeat_comes_to_the_same_end() {
    for whole in undisturbed() {
        for (errno, word) in [
            (rustix::io::Errno::NOSPC, "the disk is full; free"),
            (rustix::io::Errno::IO, "the disk reports an error; check"),
        ] {
            for at in 1..=whole.operations {
                let mut studio = Studio::on(Disk::tripping(at, Trip::Fail(errno.raw_os_error())));
                let mut faults = 0;
                for step in whole.script {
                    let originals = all_files(&studio.exports());
                    while let Err(error) = run(&mut studio, *step) {
                        let text = error.to_string();
                        assert!(text.contains(word) && text.contains('/'), "{at}: {text}");
                        assert_eq!(error.fate(), Fate::Retry, "{at}: {step:?}: {text}");
                        check_after_harm(&studio, &originals, &whole.texts, &format!("{errno:?} at {at} in {step:?}"));
                        faults += 1;
                        assert!(faults < 2, "{at}: {step:?}: {text}");
                    }
                }
                assert_eq!(outcome(&studio), whole.outcome, "{errno:?} at {at}");
            }
        }
    }
}

#[test]
fn short_writes_and_interruptions_are_carried_on_without_a_word() {
    for whole in undisturbed() {
        for trip in [Trip::Short, Trip::Fail(rustix::io::Errno::INTR.raw_os_error())] {
            for at in 1..=whole.operations {
                let mut studio = Studio::on(Disk::tripping(at, trip));
                for step in whole.script {
                    run(&mut studio, *step).unwrap();
                }
                assert_eq!(outcome(&studio), whole.outcome, "{trip:?} at {at}");
            }
        }
    }
}

#[test]
fn a_disk_without_exclusive_renaming_or_with_a_drive_between_comes_to_the_same_files() {
    for errno in [rustix::io::Errno::INVAL, rustix::io::Errno::XDEV] {
        let mut reached = 0;
        for whole in undisturbed() {
            for at in 1..=whole.operations {
                let mut studio = Studio::on(Disk::tripping(at, Trip::Fail(errno.raw_os_error())));
                let mut faults = 0;
                for step in whole.script {
                    while run(&mut studio, *step).is_err() {
                        faults += 1;
                        assert!(faults < 2, "{errno:?} at {at} in {step:?}");
                    }
                }
                reached += u64::from(faults == 0);
                assert_eq!(outcome(&studio).0, whole.outcome.0, "{errno:?} at {at}");
            }
        }
        assert!(reached > 10, "{errno:?} was never carried on from");
    }
}
