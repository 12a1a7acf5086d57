//! The parts of a letter beside its usual ones: groups, copies, what was fixed, what still needs the artist, sweeps, cautions.

use super::{assert_in_order, entry, finding, picture, read, titled, window};
use burler::digest::{Count, Folded, Kept, Remark, Still, Swept, Window, letter};
use burler::finding::{Finding, Grade, Kind, Verdict};

fn broken(tile: &str) -> burler::digest::Entry {
    entry(tile, Verdict::Held, vec![finding(Grade::Fault, "the edges do not meet", "paint the seam over")])
}

#[test]
fn tiles_that_need_the_artist_stand_under_their_folders_copies_behind_their_base() {
    let mut copy = broken("cloth-16in/dulse (1).png");
    copy.copy_of = Some("cloth-16in/dulse.png".into());
    let entries = [
        broken("scarf/tides.png"),
        copy,
        broken("cloth-16in/anchors.png"),
        broken("cloth-16in/dulse.png"),
        broken("buoys.png"),
    ];
    let letter = letter(&entries, &window(), &titled()).unwrap();
    // In a folder the order is the one the entries come in, which is that of gravity.
    let order = [
        "exports",
        "buoys.png",
        "exports/cloth-16in",
        "anchors.png",
        "dulse.png",
        "dulse (1).png",
        "A conflicting copy of dulse.png",
        "exports/scarf",
        "tides.png",
    ];
    assert_in_order(&letter.text, &order);
    assert_in_order(&letter.html, &order);
    assert_eq!(letter.html.matches("class=\"group\"").count(), 3);
    read(&letter);
    let one = super::letter(&entries[1..4], &window(), &titled()).unwrap();
    assert!(!one.html.contains("class=\"group\"") && one.text.contains("\ncloth-16in/dulse.png\n"), "{}", one.text);
}

#[test]
fn a_letter_has_every_part_in_its_order_and_the_text_says_what_the_page_says() {
    let stripes = Finding { kind: Kind::GlareStripes, ..finding(Grade::Advice, "strong stripes", "look at them") };
    let mut fixed =
        entry("tides.png", Verdict::Sound, vec![stripes, finding(Grade::Advice, "no profile", "embed one")]);
    fixed.before = Some(Verdict::Held);
    let mut mended = entry("weave.png", Verdict::Mended, vec![finding(Grade::Mend, "a see-through line", "nothing")]);
    mended.before = Some(Verdict::Unreadable);
    mended.picture = Some(picture(5));
    mended.notes.push("not made of it, though its order sheet wants \"turn 45\": it is not square".into());
    let swept = Swept {
        archive: "years".into(),
        when: "Tuesday, 24 November 2026".into(),
        counts: vec![
            Count { number: 1200, one: "tile checked".into(), several: "tiles checked".into() },
            Count { number: 1, one: "file damaged".into(), several: "files damaged".into() },
            Count { number: 0, one: "pair of twins".into(), several: "pairs of twins".into() },
        ],
        lines: (0..12)
            .map(|i| Remark { name: format!("2019/knots-{i}.png"), says: "changed without its time".into() })
            .collect(),
        folded: vec![Folded {
            says: "5 files do not seem to belong there; nothing was touched".into(),
            lines: (0..5).map(|i| Remark { name: format!("notes-{i}.txt"), says: "not an image".into() }).collect(),
        }],
    };
    let window = Window {
        kept: Kept { needs: 3, mended: 1 },
        still: vec![Still {
            folder: "studio".into(),
            tile: "pots.png".into(),
            says: "2,250 px in place of 3,600".into(),
            told: "18 November".into(),
        }],
        swept: vec![swept],
        ..window()
    };
    let letter = letter(&[fixed, mended, broken("buoys.png")], &window, &titled()).unwrap();
    assert_eq!(letter.subject, "4 need you, 3 ready");
    let order = [
        "Needs you",
        "buoys.png",
        "3 more need you; they come with the next letters.",
        "Still needs you",
        "pots.png",
        "2,250 px in place of 3,600. Told on 18 November.",
        "Mended for you",
        "before and after, enlarged 8 times",
        "weave.png",
        "Not made of it, though its order sheet wants",
        "1 more was mended; it comes with the next letter.",
        "Ready as they were",
        "tides.png",
        "Fixed since you were told",
        "weave.png",
        "Ready, mended now.",
        "tides.png",
        "Ready now.",
        "The archive",
        "years, swept on Tuesday, 24 November 2026: 1,200 tiles checked, 1 file damaged.",
        "2019/knots-0.png",
        "Changed without its time.",
        "2019/knots-9.png",
        "And 2 more.",
        "5 files do not seem to belong there; nothing was touched.",
        "notes-0.txt",
        "Not an image.",
        "notes-2.txt",
        "and 2 more",
        "Good to know",
        "No profile. Embed one.",
        "Cautions",
        "Strong stripes. Look at them.",
    ];
    let order: Vec<String> = order.iter().map(ToString::to_string).collect();
    let words: Vec<&str> = order.iter().map(String::as_str).collect();
    assert_in_order(&letter.text, &words);
    assert_in_order(&letter.html, &words);
    assert!(!letter.text.contains("twins"), "nothing of a kind is not counted");
    assert_eq!(letter.pictures.len(), 1);
    assert!(letter.pictures[0].name.starts_with("mended-"));
    read(&letter);
}

#[test]
fn a_sweep_alone_makes_a_letter_when_it_found_something_and_only_then() {
    let quiet = Swept {
        archive: "years".into(),
        counts: vec![Count { number: 9, one: "tile checked".into(), several: "tiles checked".into() }],
        ..Swept::default()
    };
    let with = |swept: Swept| letter(&[], &Window { swept: vec![swept], ..window() }, &titled());
    assert_eq!(with(Swept::default()), None);
    assert_eq!(with(quiet.clone()), None);
    let found = Swept { lines: vec![Remark { name: "a.png".into(), says: "damaged".into() }], ..quiet.clone() };
    let told = with(found).unwrap();
    assert_eq!(told.subject, "A word about the archive");
    assert!(told.text.contains("years, swept: 9 tiles checked.\n- a.png: Damaged."), "{}", told.text);
    // Beside other news the counts are told too, an empty sweep is not.
    let both = Window { swept: vec![quiet, Swept::default()], ..window() };
    let told = letter(&[broken("a.png")], &both, &titled()).unwrap();
    assert_eq!(told.text.matches("swept").count(), 1, "{}", told.text);
}

#[test]
fn an_inventory_says_that_it_is_one() {
    let stock = Window { inventory: true, kept: Kept { needs: 250, mended: 0 }, ..window() };
    let told = letter(&[broken("a.png")], &stock, &titled()).unwrap();
    assert_eq!(told.subject, "251 need you");
    assert_in_order(&told.text, &["251 tiles need you", "takes stock", "a.png", "250 more need you"]);
    read(&told);
}
