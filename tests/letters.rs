//! What letters tell over time: each thing once, whatever happens to names and files, nothing lost when the program is killed.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

#[path = "desk/studio.rs"]
mod studio;
#[path = "desk/watched.rs"]
mod watched;

use burler::config::{self, Config, places::Home};
use burler::daemon::letters::{preview, write_at};
use burler::daemon::news;
use burler::deliver::{Parcel, Role, gone};
use burler::digest::{Letter, outbox};
use burler::disk::{Disk, Source, Trip};
use burler::finding::Verdict::{self, Held, Mended, Sound, Unreadable};
use burler::ledger::Change;
use burler::pipeline::likeness::Likeness;
use burler::pipeline::sketch::Sketch;
use burler::spec::Repeat;
use burler::tile::{Content, Raster};
use jiff::Timestamp;
use std::fs;
use std::path::Path;
use std::time::{Duration, SystemTime};
use studio::{FOLDER, Studio, all_files, noon};

const DAY: Duration = Duration::from_secs(86_400);

/// A studio whose letters are read instead of sent.
struct Desk {
    studio: Studio,
    config: Config,
}

impl Desk {
    fn new(digest: &str) -> Self {
        let studio = Studio::new();
        let home = studio.exports().parent().unwrap().to_path_buf();
        let text = format!("[state]\nfolder = \"state\"\n[folder.{FOLDER}]\nexports = \"exports\"\n[digest]\n{digest}");
        let at_home = Home { home: home.clone(), config: home.join("burler.toml"), state: home.join("state") };
        let config = config::parse(&text, &home.join("burler.toml"), &at_home).unwrap();
        Self { studio, config }
    }

    /// Saves a file and works through it.
    fn saves(&mut self, path: &str, bytes: &str, verdict: Verdict) {
        self.studio.export(path, bytes);
        self.studio.deliver(path, verdict);
    }

    fn removes(&mut self, path: &str) {
        fs::remove_file(self.studio.exports().join(path)).unwrap();
        gone(&mut self.studio.ledger, FOLDER, Path::new(path)).unwrap();
    }

    fn try_letter(&mut self) -> Option<(String, String)> {
        let Studio { disk, ledger, now, .. } = &mut self.studio;
        let written = write_at(&self.config, disk, ledger, *now).unwrap()?;
        let mail = String::from_utf8(fs::read(&written.mail).unwrap()).unwrap();
        Some((written.subject, mail))
    }

    /// The subject of the next letter and the text part that it would have.
    fn letter(&mut self) -> Option<(String, String)> {
        let shown = self.shows();
        let written = self.try_letter();
        assert_eq!(shown.as_ref().map(|letter| &letter.subject), written.as_ref().map(|(subject, _)| subject));
        self.studio.now += DAY;
        shown.map(|letter| (letter.subject, letter.text))
    }

    fn shows(&self) -> Option<Letter> {
        preview(&self.config, &self.studio.ledger, self.studio.now).unwrap()
    }

    fn subject(&mut self) -> String {
        self.letter().map_or_else(|| "none".into(), |(subject, _)| subject)
    }
}

#[test]
fn copies_that_lie_beside_a_held_picture_are_told() {
    let mut desk = Desk::new("");
    desk.studio.export("kelp.png", "kelp 1");
    let mut outcome = desk.studio.outcome("kelp.png", Held);
    for role in [Role::PartlyMended, Role::Filled] {
        let bytes = role.name().into_owned().into_bytes();
        outcome.parcels.push(Parcel { role, content: Content::of(&bytes), source: Source::Bytes(bytes) });
    }
    desk.studio.hand_in(&outcome).unwrap();
    let (_, text) = desk.letter().unwrap();
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for told in [
        "What can be mended is mended in held/kelp.png.partly-mended.png, which you can go on with",
        "What is empty is filled in held/kelp.png.filled.png with what the other units of the design show there; if it is \
         right, save that as your tile",
    ] {
        assert!(text.contains(told), "{text}");
    }
}

#[test]
fn everything_is_told_once() {
    let mut desk = Desk::new("");
    assert_eq!(desk.subject(), "none");
    for (path, verdict) in [("kelp.png", Sound), ("tides.png", Held), ("weave.png", Mended), ("floats.png", Unreadable)]
    {
        desk.saves(path, path, verdict);
    }
    let before = (all_files(&desk.studio.checked()), desk.studio.ledger.news().unwrap());
    assert_eq!(desk.shows().unwrap().subject, "2 need you, 2 ready");
    assert_eq!(
        (all_files(&desk.studio.checked()), desk.studio.ledger.news().unwrap()),
        before,
        "looking tells nothing"
    );
    let (subject, text) = desk.letter().unwrap();
    assert_eq!(subject, "2 need you, 2 ready");
    for words in ["tides.png", "The file: exports/tides.png", "Its picture: checked/held/tides.png.held.png"] {
        assert!(text.contains(words), "{text}");
    }
    assert!(text.contains("checked/ready/weave.png") && !text.contains("/home"), "{text}");
    assert_eq!(desk.subject(), "none");

    // Saved again as it was, renamed, copied: no news. Another file is, even with the same fault; so is another verdict.
    desk.saves("tides.png", "tides.png", Held);
    assert_eq!(desk.subject(), "none");
    desk.removes("tides.png");
    desk.saves("high tides.png", "tides.png", Held);
    desk.removes("kelp.png");
    desk.saves("kelp forest.png", "kelp.png", Sound);
    desk.saves("high tides (1).png", "tides.png", Held);
    assert_eq!(desk.subject(), "none");
    desk.saves("high tides.png", "tides, drawn anew", Held);
    assert_eq!(desk.subject(), "1 needs you");
    desk.saves("high tides.png", "tides, fixed", Sound);
    let (subject, text) = desk.letter().unwrap();
    assert_eq!(subject, "1 ready");
    assert!(
        text.contains("Fixed since you were told\n-------------------------\n- high tides.png: Ready now."),
        "{text}"
    );
    // The old fault comes back under the name of the mended tile: the artist thinks it is gone, so it is news.
    desk.saves("high tides.png", "tides.png", Held);
    assert_eq!(desk.subject(), "1 needs you");
    // A second good file is a second file.
    desk.saves("kelp copy.png", "kelp.png", Sound);
    assert_eq!(desk.subject(), "1 ready");
    assert_eq!(desk.subject(), "none");
    // Changed and changed back before anyone was told.
    desk.saves("kelp copy.png", "kelp, broken", Held);
    desk.saves("kelp copy.png", "kelp.png", Sound);
    assert_eq!(desk.studio.ledger.news().unwrap().len(), 1, "the ledger noted a change");
    assert_eq!(desk.subject(), "none");
}

/// A tile of 16 x 16 blocks, each in a light of its own.
fn blocks(seed: u32) -> Raster {
    let light = |x: u32, y: u32| ((x / 8 * 7919 + y / 8 * 104_729 + 1).wrapping_mul(seed) >> 9) as u8;
    let pixels = (0..128 * 128).flat_map(|at| [light(at % 128, at / 128), 90, 140, 255]).collect();
    Raster::new(128, 128, pixels).unwrap()
}

#[test]
fn another_drawing_under_the_name_of_one_that_needed_the_artist_is_not_called_fixed() {
    let mut desk = Desk::new("");
    let shows = |desk: &mut Desk, bytes: &str, raster: &Raster| {
        let content = Content::of(bytes.as_bytes());
        desk.studio.ledger.keep_likenesses(&[(content, Likeness::of(raster, None, &[Repeat::Block]))]).unwrap();
        let sketch = Change::Sketch(content, Box::new(Sketch::of(raster)));
        desk.studio.ledger.apply(FOLDER, &[sketch]).unwrap();
    };
    let (old, other) = (blocks(2_654_435_761), blocks(2_246_822_519));
    // The same drawing with another edge.
    let mended = Raster::new(128, 120, old.samples()[..128 * 120 * 4].to_vec()).unwrap();
    for (bytes, raster) in [("untitled", &old), ("untitled, mended", &mended), ("a whale", &other)] {
        shows(&mut desk, bytes, raster);
    }
    for (bytes, fixed) in [("a whale", false), ("untitled, mended", true)] {
        desk.saves("untitled.png", "untitled", Held);
        assert_eq!(desk.subject(), "1 needs you");
        desk.saves("untitled.png", bytes, Sound);
        let (subject, text) = desk.letter().unwrap();
        assert_eq!(subject, "1 ready", "{bytes}");
        assert_eq!(text.contains("Fixed since you were told"), fixed, "{text}");
        let told = "another drawing has this name now; the one that needed you is no longer saved under it";
        assert_eq!(text.to_lowercase().replace('\n', " ").contains(told), !fixed, "{text}");
    }
}

#[test]
fn the_same_file_under_several_new_names_is_one_card_and_conflicting_copies_say_so() {
    let mut desk = Desk::new("");
    desk.saves("dulse.png", "dulse", Held);
    desk.saves("cloth/dulse again.png", "dulse", Held);
    desk.saves("dulse (1).png", "another dulse", Held);
    desk.saves("kelp (7).png", "kelp", Sound);
    desk.saves("lace (conflicted copy 2026-05-01).png", "lace", Sound);
    let (subject, text) = desk.letter().unwrap();
    assert_eq!(subject, "2 need you, 2 ready");
    assert!(text.contains("The very same file is also exports/cloth/dulse again.png."), "{text}");
    assert!(text.contains("A conflicting copy of dulse.png, as it arises"), "{text}");
    assert!(
        text.contains("kelp (7).png, lace (conflicted copy 2026-05-01).png (a conflicting copy of lace.png)"),
        "{text}"
    );
    assert_eq!(desk.subject(), "none");
}

#[test]
fn what_still_needs_the_artist_is_called_to_mind() {
    let mut desk = Desk::new("remind = \"7 days\"\n");
    desk.saves("tides.png", "tides", Held);
    desk.saves("lace.png", "lace", Held);
    let told_at = desk.studio.now;
    assert_eq!(desk.subject(), "2 need you");
    desk.studio.now = told_at + 7 * DAY - Duration::from_secs(1);
    assert_eq!(desk.subject(), "none");
    desk.saves("lace.png", "lace, fixed", Sound);
    desk.studio.now = told_at + 7 * DAY;
    let waiting = news::waiting(&desk.config, &desk.studio.ledger, told_at).unwrap();
    assert_eq!(waiting.oldest, Timestamp::try_from(told_at + 7 * DAY).ok());
    let (subject, text) = desk.letter().unwrap();
    assert_eq!(subject, "1 ready, 1 still needs you");
    let line = "- tides.png: The left edge does not meet the right one. Told on 1 May.";
    assert!(text.contains("Still needs you") && text.contains(line), "{text}");
    assert_eq!(desk.subject(), "none", "called to mind once");
    desk.studio.now = told_at + 14 * DAY;
    assert_eq!(desk.subject(), "1 still needs you");
    desk.saves("tides.png", "tides, fixed", Sound);
    assert_eq!(desk.subject(), "1 ready");
    desk.studio.now = told_at + 40 * DAY;
    assert_eq!(desk.subject(), "none");
}

#[test]
fn a_full_folder_is_told_in_portions() {
    let mut desk = Desk::new("most = 15\n");
    for i in 0..50 {
        desk.saves(&format!("held {i:02}.png"), &format!("held {i}"), Held);
    }
    for i in 0..30 {
        desk.saves(&format!("good {i:02}.png"), &format!("good {i}"), Sound);
    }
    let mut told = 0;
    for (subject, cards, kept) in [
        ("50 need you, 30 ready", 10, Some("40 more need you; they come with the next letters.")),
        ("40 need you", 15, Some("25 more need you; they come with the next letters.")),
        ("25 need you", 15, Some("10 more need you; they come with the next letters.")),
        ("10 need you", 10, None),
    ] {
        let (found, text) = desk.letter().unwrap();
        assert_eq!(found, subject);
        assert_eq!(text.matches("The file: exports/held").count(), cards, "{text}");
        assert!(kept.is_none_or(|kept| text.contains(kept)), "{text}");
        assert_eq!(text.contains("takes stock"), told == 0);
        told += cards;
    }
    assert_eq!((told, desk.subject().as_str()), (50, "none"));
}

#[test]
fn what_a_schedule_must_know_follows_from_the_ledger() {
    let mut desk = Desk::new("most = 3\n");
    let at = |time: SystemTime| Timestamp::try_from(time).ok();
    let waiting = |desk: &Desk| news::waiting(&desk.config, &desk.studio.ledger, noon() - DAY).unwrap();
    assert_eq!((waiting(&desk).oldest, waiting(&desk).last), (None, None));
    desk.saves("kelp.png", "kelp", Sound);
    desk.studio.now += Duration::from_secs(60);
    for i in 0..5 {
        desk.saves(&format!("{i}.png"), &format!("{i}"), Held);
    }
    let now = desk.studio.now;
    let seen = waiting(&desk);
    assert_eq!((seen.oldest, seen.fresh, seen.fresh_since), (at(noon()), 6, at(noon())));
    assert_eq!(seen.needing_since, at(now));
    assert_eq!(desk.subject(), "5 need you, 1 ready");
    // Two had no room: they wait for their time of day, but are no reason to hurry.
    let seen = waiting(&desk);
    assert_eq!((seen.last, seen.oldest, seen.fresh, seen.needing_since), (at(now), at(now), 0, None));
    desk.studio.now = now + Duration::from_secs(5);
    desk.saves("late.png", "late", Held);
    let seen = waiting(&desk);
    assert_eq!((seen.oldest, seen.fresh, seen.needing_since), (at(now), 1, at(desk.studio.now)));
}

/// Killed at every operation on the disk between putting a letter together and noting it, the next try tells the same: nothing
/// is told twice, nothing is lost, and the page of the first try is not left beside that of the second.
#[test]
fn a_kill_anywhere_neither_loses_a_letter_nor_tells_it_twice() {
    let mut desk = Desk::new("");
    desk.saves("old.png", "old", Held);
    assert_eq!(desk.subject(), "1 needs you");
    desk.saves("tides.png", "tides", Held);
    desk.saves("kelp.png", "kelp", Sound);
    let mut stops = 0;
    let subject = loop {
        desk.studio.restart_on(Disk::tripping(stops + 1, Trip::Stop));
        let Studio { disk, ledger, now, .. } = &mut desk.studio;
        match write_at(&desk.config, disk, ledger, *now) {
            Ok(written) => break written.unwrap().subject,
            Err(error) => {
                stops += 1;
                assert!(stops < 100, "{error}");
            }
        }
        // The next process sweeps up what was being written; here it has the same number, so the names would be taken.
        for file in
            all_files(desk.studio.exports().parent().unwrap()).into_keys().filter(|name| name.ends_with(".part"))
        {
            fs::remove_file(desk.studio.exports().parent().unwrap().join(file)).unwrap();
        }
        // What a reader of the ledger sees is either all or nothing.
        desk.studio.restart_on(Disk::new());
        assert_eq!(desk.studio.ledger.news().unwrap().len(), 2, "after {stops} operations");
        desk.studio.now += Duration::from_secs(90);
    };
    assert!(stops > 8, "only {stops} operations");
    assert_eq!(subject, "1 needs you, 1 ready");
    // What was cut off after the noting is finished by the next pass over the outbox.
    desk.studio.restart_on(Disk::new());
    let Studio { disk, ledger, now, .. } = &mut desk.studio;
    assert!(outbox::settle(disk, ledger, &desk.config.state.join("letters"), *now).unwrap().failed.is_empty());
    assert_eq!(desk.subject(), "none");
    let letters = |root: &Path| all_files(root).into_keys().filter(|name| name.contains("letter-")).count();
    assert_eq!(letters(&desk.studio.checked().join("letters")), 2);
    assert_eq!(desk.studio.ledger.letters().unwrap(), 2);
}

mod watching {
    //! The daemon itself decides when; every wait polls a condition with a deadline.

    use super::watched::{Studio, broken, sound};
    use jiff::Timestamp;
    use std::fs;

    fn pages(studio: &Studio) -> Vec<String> {
        let mut pages: Vec<String> = fs::read_dir(studio.at("checked/letters"))
            .into_iter()
            .flatten()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".html"))
            .collect();
        pages.sort();
        pages
    }

    /// At no hour of the test, in a zone without changes of the clock.
    fn other_hours(studio: &Studio, more: &str) {
        let now = Timestamp::try_from(std::time::SystemTime::now()).unwrap();
        let hour = jiff::tz::TimeZone::UTC.to_datetime(now).hour();
        let (at, quiet) = ((hour + 12) % 24, format!("{:02}:30-{:02}:30", (hour + 22) % 24, (hour + 3) % 24));
        let quiet = if more.contains("QUIET") { format!("quiet = \"{quiet}\"\n") } else { String::new() };
        let more = more.replace("QUIET", "");
        studio.configure(&format!("[digest]\nat = \"{at:02}:00\"\nzone = \"Etc/UTC\"\n{quiet}{more}"));
    }

    #[test]
    fn a_held_tile_is_told_at_once_and_after_a_kill_not_again() {
        let studio = Studio::new();
        other_hours(&studio, "at_once = true\ncalm = \"1 s\"\n");
        studio.save(b"kelp.png", &sound(90));
        let mut watch = studio.watch();
        studio.comes("ready/kelp.png");
        assert!(pages(&studio).is_empty(), "a good tile does not hurry");
        studio.save(b"spots.png", &broken());
        studio.until("the letter", || studio.log().contains("a letter was written"));
        assert_eq!(pages(&studio).len(), 1);
        let page = fs::read_to_string(studio.at("checked/letters").join(&pages(&studio)[0])).unwrap();
        assert!(
            page.contains("1 tile needs you, 1 is ready") && page.contains("data:image/jpeg;base64,"),
            "{}",
            page.len()
        );
        watch.0.kill().unwrap();
        drop(watch);
        let _watch = studio.watch();
        studio.save(b"again.png", &fs::read(studio.at("exports/spots.png")).unwrap());
        studio.comes("held/again.png.held.png");
        assert_eq!(studio.says(&["digest", "preview"]), "nothing new to tell, so no letter\n");
        assert_eq!(pages(&studio).len(), 1);
    }

    #[test]
    fn in_quiet_hours_the_daemon_waits_and_the_next_letter_can_be_looked_at_as_often_as_one_likes() {
        let studio = Studio::new();
        other_hours(&studio, "at_once = true\nafter = 1\nQUIET");
        let _watch = studio.watch();
        studio.save(b"spots.png", &broken());
        studio.comes("held/spots.png.held.png");
        let page = studio.at("next.html");
        let preview = || studio.says(&["digest", "preview", "--output", page.to_str().unwrap()]);
        // The picture has its name before the ledger has its row.
        studio.until("the row", || !preview().starts_with("nothing new"));
        for _ in 0..2 {
            let told = preview();
            assert_eq!(told, format!("1 needs you\n  {}\n", page.display()));
        }
        assert!(fs::read_to_string(&page).unwrap().contains("1 tile needs you"));
        // The daemon looks every five seconds; two looks show it a tile that is due.
        let start = std::time::Instant::now();
        studio.until("two looks", || start.elapsed().as_secs() > 11);
        assert!(pages(&studio).is_empty() && !studio.log().contains("a letter was written"), "{}", studio.log());
        // A file of someone else is not written over.
        fs::write(&page, "a page of mine").unwrap();
        assert_eq!(studio.says(&["digest", "preview", "--output", page.to_str().unwrap()]), "");
        assert_eq!(fs::read_to_string(&page).unwrap(), "a page of mine");
        assert!(studio.says(&["digest"]).starts_with("1 needs you\n"), "by hand at any hour");
    }
}
