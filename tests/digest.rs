//! The letter: its order and words, its mail as a second parser reads it, hostile names, limits, and when it is due.

mod desk;

use burler::digest::{
    Entry, Letter, MessageError, Preview, Settings, Window, due, letter, message, next, page, preview,
};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::tile::Raster;
use jiff::civil::{Time, time};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use std::time::{Duration, SystemTime};

fn finding(grade: Grade, says: &str, remedy: &str) -> Finding {
    Finding {
        kind: Kind::JointBreak,
        grade,
        silenced: false,
        boxes: Vec::new(),
        measure: None,
        says: says.into(),
        remedy: remedy.into(),
    }
}

fn entry(tile: &str, verdict: Verdict, findings: Vec<Finding>) -> Entry {
    Entry {
        folder: "studio".into(),
        tile: tile.into(),
        verdict,
        findings,
        original: format!("exports/{tile}"),
        outputs: match verdict {
            Verdict::Held => vec![format!("checked/held/{tile}.held.png")],
            Verdict::Mended => vec![format!("checked/ready/{tile}")],
            _ => Vec::new(),
        },
        picture: None,
        notes: Vec::new(),
    }
}

/// A small picture of one color with some noise, so that no two are alike.
fn picture(seed: u32) -> Preview {
    let samples =
        (0..90 * 60).flat_map(|i| [(i * seed % 251) as u8, (seed % 256) as u8, (i % 256) as u8, 255]).collect();
    preview(&Raster::new(90, 60, samples).expect("a raster of 90 x 60")).expect("a small picture")
}

/// One of every kind.
fn studio() -> Vec<Entry> {
    let mut broken = entry(
        "tide-lines.png",
        Verdict::Held,
        vec![
            finding(Grade::Fault, "the left and right edges do not meet, 3.2 in from the top", "paint the seam over"),
            finding(Grade::Fault, "the top and bottom edges do not meet", "paint that seam over too"),
            finding(Grade::Advice, "the file names no color profile", "embed one"),
        ],
    );
    broken.picture = Some(picture(7));
    broken.findings.push(Finding { silenced: true, ..finding(Grade::Fault, "a silenced fault", "nothing") });
    let mut small =
        entry("pots.png", Verdict::Held, vec![finding(Grade::Fault, "2,250 px in place of 3,600", "export it again")]);
    small.picture = Some(picture(11));
    let mut edited = entry("lace.png", Verdict::Sound, Vec::new());
    edited.notes.push("you changed its checked file, which is left as it is".into());
    vec![
        entry("kelp.png", Verdict::Sound, Vec::new()),
        entry(
            "weave.png",
            Verdict::Mended,
            vec![finding(Grade::Mend, "a see-through line runs across the tile", "nothing")],
        ),
        broken,
        edited,
        small,
        entry("floats.png", Verdict::Unreadable, vec![finding(Grade::Fault, "the file ends early", "upload it again")]),
    ]
}

fn window() -> Window {
    Window { since: Some("Tuesday 24 November 2026, 18:00".into()), until: "Wednesday 25 November 2026, 18:00".into() }
}

fn titled() -> Settings {
    Settings { title: "Oddfathom".into(), ..Settings::default() }
}

const FROM: &str = "Burler <burler@oddfathom.example>";
const ID: &str = "<20261125.7f3a@oddfathom.example>";

fn mail(letter: &Letter) -> Vec<u8> {
    let to = ["Oddfathom <studio@oddfathom.example>".to_string(), "second@oddfathom.example".to_string()];
    // 25 November 2026, 18:00:05 UTC, a Wednesday.
    message(letter, FROM, &to, ID, SystemTime::UNIX_EPOCH + Duration::from_secs(1_795_629_605))
        .expect("the mail is made")
}

/// Where each of some words stands first, all of them in this order.
fn assert_in_order(text: &str, words: &[&str]) {
    let mut from = 0;
    for word in words {
        let at =
            text[from..].find(word).unwrap_or_else(|| panic!("\"{word}\" is not after the words before it in\n{text}"));
        from += at + word.len();
    }
}

#[test]
fn nothing_new_is_no_letter() {
    assert_eq!(letter(&[], &window(), &titled()), None);
}

#[test]
fn the_subject_holds_counts_alone() {
    let subject = |verdicts: &[Verdict]| {
        let entries: Vec<Entry> =
            verdicts.iter().map(|&verdict| entry("secret-name.png", verdict, Vec::new())).collect();
        letter(&entries, &window(), &titled()).unwrap().subject
    };
    use Verdict::{Held, Mended, Sound, Unreadable};
    assert_eq!(subject(&[Held, Sound, Sound, Unreadable, Mended]), "2 need you, 3 ready");
    assert_eq!(subject(&[Held]), "1 needs you");
    assert_eq!(subject(&[Mended]), "1 ready");
}

#[test]
fn what_needs_the_artist_comes_first_then_mended_then_ready_then_cautions() {
    let letter = letter(&studio(), &window(), &titled()).unwrap();
    let order = [
        "Oddfathom",
        "3 tiles need you, 3 are ready",
        "From Tuesday 24 November 2026, 18:00 to Wednesday 25 November 2026, 18:00.",
        "Needs you",
        "tide-lines.png",
        "needs you",
        "What is wrong:",
        "The left and right edges do not meet, 3.2 in from the top.",
        "What to do:",
        "Paint the seam over.",
        "The top and bottom edges do not meet. Paint that seam over too.",
        "exports/tide-lines.png",
        "checked/held/tide-lines.png.held.png",
        "pots.png",
        "floats.png",
        "cannot be opened",
        "The file ends early.",
        "let-pass",
        "Mended for you",
        "weave.png",
        "A see-through line runs across the tile. Mended.",
        "checked/ready/weave.png",
        "Ready as they were",
        "kelp.png",
        "lace.png",
        "Cautions",
        "tide-lines.png",
        "The file names no color profile. Embed one.",
        "You changed its checked file, which is left as it is.",
        "Your originals were not changed.",
    ];
    assert_in_order(&letter.text, &order);
    assert_in_order(&letter.html, &order);
    assert!(!letter.html.contains("silenced") && !letter.text.contains("silenced"));
    assert_eq!(letter.pictures.len(), 2);
}

#[test]
fn the_text_of_a_small_letter_is_this_one() {
    let entries = [studio().remove(2), studio().remove(1)];
    let text =
        letter(&entries, &Window { since: None, until: "today, 18:00".into() }, &Settings::default()).unwrap().text;
    let expected = "\
1 tile needs you, 1 is ready
The first letter, up to today, 18:00.

Needs you
---------

tide-lines.png
  needs you
  What is wrong: The left and right edges do not meet, 3.2 in from the top.
  What to do: Paint the seam over.
  The top and bottom edges do not meet. Paint that seam over too.
  The file: exports/tide-lines.png
  Its picture: checked/held/tide-lines.png.held.png

If what you see is meant, move its picture from the folder held into the folder let-pass.

Mended for you
--------------
- weave.png: A see-through line runs across the tile. Mended. Now in checked/ready/weave.png

Cautions
--------
- tide-lines.png: The file names no color profile. Embed one.

Written by Burler. Your originals were not changed.
";
    assert_eq!(text, expected);
}

#[test]
fn tiles_of_several_folders_say_which() {
    let mut entries = vec![entry("a.png", Verdict::Sound, Vec::new()), entry("b.png", Verdict::Sound, Vec::new())];
    entries[1].folder = "second".into();
    let letter = letter(&entries, &window(), &titled()).unwrap();
    assert!(letter.text.contains("a.png (studio), b.png (second)"), "{}", letter.text);
}

/// Reads a mail with Python's own parser and checks everything that must hold of any letter; prints what the test compares.
const READ: &str = r#"
import email, email.policy, hashlib, html.parser, re, sys, unicodedata

raw = open(sys.argv[1], "rb").read()
assert not re.search(rb"(?<!\r)\n", raw), "a bare LF"
assert not re.search(rb"\r(?!\n)", raw), "a bare CR"
assert max(map(len, raw.split(b"\r\n"))) <= 998, "a line over 998 octets (RFC 5322, 2.1.1)"
mail = email.message_from_bytes(raw, policy=email.policy.default)
assert not mail.defects, mail.defects
parts = list(mail.walk())
for part in parts:
    assert not part.defects, part.defects
    for value in part.values():
        assert not getattr(value, "defects", ()), value.defects
head = raw.split(b"\r\n\r\n")[0]
assert all(byte < 128 for byte in head)
print("headers", [name for name, _ in mail.items()])
print("subject", mail["Subject"])
print("from", mail["From"], "to", mail["To"])
print("date", mail["Date"], "id", mail["Message-ID"], mail["Auto-Submitted"], mail["List-Id"])
print("parts", [part.get_content_type() for part in parts if not part.get_content_type().startswith("image/")])
images = [part for part in parts if part.get_content_maintype() == "image"]
for part in parts:
    allowed = {"Content-Type", "Content-Transfer-Encoding"}
    if part.get_content_maintype() == "image":
        allowed |= {"Content-ID", "Content-Disposition"}
        assert re.fullmatch(r"held-\d+\.(jpg|png)", part.get_filename()), part.get_filename()
        assert part.get_content_disposition() == "inline"
    assert part is mail or set(part.keys()) <= allowed, part.keys()
related = [part for part in parts if part.get_content_type() == "multipart/related"]
assert all(part["Content-Type"].params["type"] == "text/html" for part in related)

class Reader(html.parser.HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.images, self.blocks, self.style = set(), [], [""], False
    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        for name, value in attributes:
            assert not name.startswith("on") and name not in ("href", "srcset", "action", "style", "id"), (tag, name)
            if name == "src":
                assert tag == "img"
                self.images.append(value)
        self.style = tag in ("style", "title")
        if tag in ("p", "h1", "h2", "h3", "li", "div"):
            self.blocks.append("")
    def handle_endtag(self, tag):
        self.style = False
    def handle_data(self, data):
        if not self.style:
            self.blocks[-1] += data

page = mail.get_body(("html",)).get_content()
text = mail.get_body(("plain",)).get_content()
reader = Reader()
reader.feed(page)
allowed = {"html", "head", "meta", "title", "style", "body", "div", "p", "h1", "h2", "h3", "b", "bdi", "ul", "li", "img", "span"}
assert reader.tags <= allowed, reader.tags - allowed
held = {part["Content-ID"].strip("<>"): part for part in images}
assert ["cid:" + name for name in held] == reader.images, (list(held), reader.images)
assert "http:" not in page and "https:" not in page, "a remote address"
assert "url(" not in page and "@import" not in page
one = lambda words: " ".join(words.split())
for block in map(one, reader.blocks):
    assert block in one(text), ("the text part lacks", block)
for character in page + text:
    assert character in "\n\r" or unicodedata.category(character) not in ("Cc",), hex(ord(character))
    assert ord(character) not in [0x061C, 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A), 0xFEFF]
print("images", [(part.get_content_type(), hashlib.sha256(part.get_content()).hexdigest()) for part in images])
print("sizes", len(page.encode()) < 100_000, len(raw) < 5_000_000)
"#;

fn read(letter: &Letter) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("letter.eml");
    std::fs::write(&file, mail(letter)).expect("the mail is written");
    desk::run_python(READ, &[file.to_str().expect("a plain path")])
}

#[test]
fn a_second_parser_sees_exactly_our_headers_and_parts() {
    let letter = letter(&studio(), &window(), &titled()).unwrap();
    let told = read(&letter);
    let hash = |bytes: &[u8]| {
        desk::run_python(
            "import hashlib,sys; print(hashlib.sha256(bytes.fromhex(sys.argv[1])).hexdigest())",
            &[&hex(bytes)],
        )
    };
    let hashes: Vec<String> = letter.pictures.iter().map(|picture| hash(&picture.bytes).trim().into()).collect();
    let expected = format!(
        "\
headers ['Date', 'From', 'To', 'Subject', 'Message-ID', 'Auto-Submitted', 'List-Id', 'MIME-Version', 'Content-Type']
subject 3 need you, 3 ready
from Burler <burler@oddfathom.example> to Oddfathom <studio@oddfathom.example>, second@oddfathom.example
date Wed, 25 Nov 2026 18:00:05 +0000 id {ID} auto-generated Burler letters <letters.burler.oddfathom.example>
parts ['multipart/alternative', 'text/plain', 'multipart/related', 'text/html']
images [('image/jpeg', '{}'), ('image/jpeg', '{}')]
sizes True True
",
        hashes[0], hashes[1]
    );
    assert_eq!(told, expected);
    assert_eq!(mail(&letter), mail(&letter), "the same input is the same mail");
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_letter_without_pictures_has_two_parts() {
    let letter = letter(&[entry("kelp.png", Verdict::Sound, Vec::new())], &window(), &titled()).unwrap();
    let told = read(&letter);
    assert!(told.contains("parts ['multipart/alternative', 'text/plain', 'text/html']\nimages []\n"), "{told}");
}

/// Names as a hostile or an unlucky sender makes them.
fn hostile() -> Vec<String> {
    let mut names: Vec<String> = [
        "a\r\nBcc: other@oddfathom.example\r\n\r\n<h1>x",
        "\n.\r\nQUIT\r\n",
        "<script>alert(1)</script>.png",
        "\"><img src=x onerror=alert(1)>.png",
        "cid:1.0000@burler\" src=\"y.png",
        "</style></title></p><iframe>.png",
        "<!-- --><![CDATA[ ]]>&amp;&#60;.png",
        "{{ sheet.title }}{% include \"x\" %}.png",
        "\u{202E}gnp.exe\u{2066}\u{200F}\u{61C}.png",
        "=?utf-8?q?Bcc:_x?=.png",
        "--=_a_\r\nContent-Type: text/html\r\n",
        "line\u{2028}and paragraph\u{2029}\u{85}\u{B}\u{C}.png",
        "\0\u{1}\u{7F}\u{9F}\t.png",
        "name\u{FFFD}not\u{FFFD}utf8.png",
        "ਕਾਈ 海藻 طحالب אצות.png",
        ". dot first",
        "From me.png",
        "",
        " ",
    ]
    .map(String::from)
    .to_vec();
    names.push("w".repeat(255));
    names.push("<".repeat(255));
    names.push("é".repeat(127));
    names.push("💧".repeat(1000));
    names
}

#[test]
fn hostile_names_reach_neither_headers_nor_markup() {
    let names = hostile();
    let entries: Vec<Entry> = names
        .iter()
        .zip([Verdict::Held, Verdict::Mended, Verdict::Sound, Verdict::Unreadable].iter().cycle())
        .zip(1..)
        .map(|((name, &verdict), seed)| {
            let grade = if verdict == Verdict::Mended { Grade::Mend } else { Grade::Fault };
            let findings = vec![finding(grade, name, name), finding(Grade::Advice, name, name)];
            let mut entry = entry(name, verdict, findings);
            entry.folder = names[seed as usize % names.len()].clone();
            entry.notes.push(name.clone());
            entry.picture = (verdict == Verdict::Held).then(|| picture(seed));
            entry
        })
        .collect();
    for title in &names {
        let hostile = Window { since: Some(title.clone()), until: title.clone() };
        let letter = letter(&entries, &hostile, &Settings { title: title.clone(), ..Settings::default() }).unwrap();
        let told = read(&letter);
        let lines: Vec<&str> = told.lines().collect();
        assert_eq!(
            lines[0],
            "headers ['Date', 'From', 'To', 'Subject', 'Message-ID', 'Auto-Submitted', 'List-Id', 'MIME-Version', 'Content-Type']"
        );
        assert_eq!(lines[4], "parts ['multipart/alternative', 'text/plain', 'multipart/related', 'text/html']");
        assert!(told.ends_with("sizes True True\n"), "{told}");
    }
}

#[test]
fn what_does_not_fit_is_a_list_and_the_text_names_every_tile() {
    let name = |i: usize| format!("{i:05}-{}.png", "<wrack>".repeat(8));
    let picture = picture(3);
    // A picture of the largest size there is room for twenty-odd times.
    let picture = Preview { bytes: picture.bytes.iter().copied().cycle().take(170_000).collect(), ..picture };
    let entries: Vec<Entry> = (0..4000)
        .map(|i| {
            let verdict =
                [Verdict::Held, Verdict::Mended, Verdict::Sound][usize::from(i >= 2500) + usize::from(i >= 3200)];
            let grade = if verdict == Verdict::Mended { Grade::Mend } else { Grade::Fault };
            let mut entry =
                entry(&name(i), verdict, vec![finding(grade, "the edges do not meet", "paint the seam over")]);
            entry.picture = (verdict == Verdict::Held).then(|| picture.clone());
            entry
        })
        .collect();
    let letter = letter(&entries, &window(), &titled()).unwrap();
    assert_eq!(letter.subject, "2,500 need you, 1500 ready");
    let missing = (0..4000).find(|&i| !letter.text.contains(&name(i)));
    assert_eq!(missing, None, "the text does not name this tile");
    assert!(letter.html.len() < 100_000 && letter.html.contains("These need you too"), "{}", letter.html.len());
    assert!(letter.html.contains(" more that need you"));
    assert!((5..=25).contains(&letter.pictures.len()), "{} pictures", letter.pictures.len());
    let size = mail(&letter).len();
    assert!((1_000_000..5_000_000).contains(&size), "{size} bytes");
    assert!(page(&letter).len() < 5_000_000);
}

#[test]
fn the_page_stands_alone() {
    let letter = letter(&studio(), &window(), &titled()).unwrap();
    let page = page(&letter);
    assert_eq!(page.matches("src=\"data:image/jpeg;base64,/9j/").count(), 2);
    assert!(!page.contains("src=\"cid:"));
    let program = r#"
import base64, re, sys
page = open(sys.argv[1], encoding="utf-8").read()
for data in re.findall(r'src="data:image/jpeg;base64,([^"]*)"', page):
    print(base64.b64decode(data, validate=True).hex())
"#;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    std::fs::write(&file, &page).unwrap();
    let told = desk::run_python(program, &[file.to_str().unwrap()]);
    let pictures: Vec<String> = letter.pictures.iter().map(|picture| hex(&picture.bytes)).collect();
    assert_eq!(told.lines().collect::<Vec<_>>(), pictures);
}

#[test]
fn addresses_and_identifiers_that_are_none_are_refused_in_words() {
    let letter = letter(&studio(), &window(), &titled()).unwrap();
    let at = SystemTime::UNIX_EPOCH;
    let to = vec!["studio@oddfathom.example".to_string()];
    let refuse = |from: &str, to: &[String], id: &str| message(&letter, from, to, id, at).unwrap_err().to_string();
    assert_eq!(refuse("nobody", &to, ID), "\"nobody\" is not a mail address: write name@host or Name <name@host>");
    assert_eq!(refuse(FROM, &["a@b\r\nBcc: x@y.example".into()], ID).lines().count(), 1);
    assert_eq!(refuse(FROM, &[], ID), "the letter has no recipient: name one under [digest] to");
    for id in ["", "x@y", "<x>", "<x@y", "<x@y>\r\nBcc: z@w.example", "<x y@z>", "<a@b@c>", "<@b>"] {
        assert!(matches!(message(&letter, FROM, &to, id, at), Err(MessageError::MessageId(_))), "{id:?}");
    }
}

fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).expect("the zone is in the time zone database")
}

fn instant(text: &str) -> Timestamp {
    text.parse().expect("a time of RFC 3339")
}

/// All letters of some days in UTC, when the daemon sleeps until the next one each time.
fn letters(zone_name: &str, at: Time, from: &str, until: &str) -> Vec<String> {
    let (zone, until) = (zone(zone_name), instant(until));
    let mut last = instant(from);
    let mut told = Vec::new();
    while let Some(slot) = next(at, &zone, Some(last), last).filter(|&slot| slot <= until) {
        assert!(due(at, &zone, Some(last), slot) && !due(at, &zone, Some(slot), slot));
        let just_before = slot.checked_sub(Span::new().milliseconds(1)).expect("times go back further");
        assert!(!due(at, &zone, Some(last), just_before), "due before {slot}");
        told.push(slot.to_string());
        last = slot;
    }
    told
}

/// Changes of the clock in tzdata 2025b, in UTC: gaps are left at their first instant after, folds taken the first time.
#[test]
fn a_letter_is_due_once_per_civil_date_through_gaps_and_folds() {
    // New York springs from 2:00 to 3:00 on 10 March 2024 at 07:00 UTC and repeats 1:00 to 2:00 on 3 November.
    let at = time(2, 30, 0, 0);
    assert_eq!(
        letters("America/New_York", at, "2024-03-09T08:00:00Z", "2024-03-12T00:00:00Z"),
        ["2024-03-10T07:00:00Z", "2024-03-11T06:30:00Z"]
    );
    assert_eq!(
        letters("America/New_York", time(1, 30, 0, 0), "2024-11-02T12:00:00Z", "2024-11-05T00:00:00Z"),
        ["2024-11-03T05:30:00Z", "2024-11-04T06:30:00Z"]
    );
    // Berlin: 31 March 2024 from 2:00 to 3:00 at 01:00 UTC; 27 October 2:00 to 3:00 twice.
    assert_eq!(
        letters("Europe/Berlin", at, "2024-03-30T12:00:00Z", "2024-04-01T12:00:00Z"),
        ["2024-03-31T01:00:00Z", "2024-04-01T00:30:00Z"]
    );
    assert_eq!(
        letters("Europe/Berlin", at, "2024-10-26T12:00:00Z", "2024-10-28T12:00:00Z"),
        ["2024-10-27T00:30:00Z", "2024-10-28T01:30:00Z"]
    );
    // Lord Howe moves by half an hour: 6 October 2024 from 2:00 to 2:30, 7 April 1:30 to 2:00 twice.
    assert_eq!(
        letters("Australia/Lord_Howe", time(2, 15, 0, 0), "2024-10-05T00:00:00Z", "2024-10-06T20:00:00Z"),
        ["2024-10-05T15:30:00Z", "2024-10-06T15:15:00Z"]
    );
    assert_eq!(
        letters("Australia/Lord_Howe", time(1, 45, 0, 0), "2024-04-06T00:00:00Z", "2024-04-07T20:00:00Z"),
        ["2024-04-06T14:45:00Z", "2024-04-07T15:15:00Z"]
    );
    // Apia left out 30 December 2011: no letter for a date that never was.
    assert_eq!(
        letters("Pacific/Apia", time(18, 0, 0, 0), "2011-12-29T10:00:00Z", "2011-12-31T20:00:00Z"),
        ["2011-12-30T04:00:00Z", "2011-12-31T04:00:00Z"]
    );
    // Midnight is missing in Sao Paulo on 4 November 2018 and in Cairo on 28 April 2023; the date begins at 1:00.
    let midnight = time(0, 0, 0, 0);
    assert_eq!(
        letters("America/Sao_Paulo", midnight, "2018-11-03T12:00:00Z", "2018-11-05T12:00:00Z"),
        ["2018-11-04T03:00:00Z", "2018-11-05T02:00:00Z"]
    );
    assert_eq!(
        letters("Africa/Cairo", midnight, "2023-04-26T23:00:00Z", "2023-04-29T12:00:00Z"),
        ["2023-04-27T22:00:00Z", "2023-04-28T21:00:00Z"]
    );
    // Cairo, 31 October 2024: 23:00 to midnight twice.
    assert_eq!(
        letters("Africa/Cairo", time(23, 30, 0, 0), "2024-10-31T00:00:00Z", "2024-11-02T12:00:00Z"),
        ["2024-10-31T20:30:00Z", "2024-11-01T21:30:00Z"]
    );
    // Kathmandu is ahead by 5 hours and 45 minutes.
    assert_eq!(
        letters("Asia/Kathmandu", time(6, 0, 0, 0), "2024-06-01T12:00:00Z", "2024-06-02T12:00:00Z"),
        ["2024-06-02T00:15:00Z"]
    );
}

#[test]
fn every_civil_date_of_twenty_years_has_one_letter() {
    let zones = [
        "America/New_York",
        "Europe/Berlin",
        "Australia/Lord_Howe",
        "Africa/Cairo",
        "Africa/Casablanca",
        "America/Santiago",
        "Asia/Beirut",
    ];
    for name in zones {
        let zone = zone(name);
        for at in [time(0, 0, 0, 0), time(1, 30, 0, 0), time(2, 30, 0, 0), time(23, 45, 0, 0)] {
            let mut last =
                next(at, &zone, Some(instant("2020-01-01T12:00:00Z")), instant("2020-01-01T12:00:00Z")).unwrap();
            loop {
                let date = zone.to_datetime(last).date();
                if date.year() == 2040 {
                    break;
                }
                last = next(at, &zone, Some(last), last).unwrap();
                assert_eq!(zone.to_datetime(last).date(), date.tomorrow().unwrap(), "{name} at {at}");
            }
        }
    }
}

#[test]
fn what_was_slept_through_is_caught_up_once() {
    let (zone, at) = (zone("Europe/Berlin"), time(18, 0, 0, 0));
    let last = instant("2026-11-20T17:00:00Z");
    let woken = instant("2026-11-25T06:12:00Z");
    assert!(due(at, &zone, Some(last), woken));
    assert_eq!(next(at, &zone, Some(last), woken), Some(woken));
    assert!(!due(at, &zone, Some(woken), woken));
    assert_eq!(next(at, &zone, Some(woken), woken), Some(instant("2026-11-25T17:00:00Z")));
    // The first letter has nothing before it.
    assert!(due(at, &zone, None, woken));
    // A clock set back tells nothing twice.
    assert!(!due(at, &zone, Some(woken), last));
    assert_eq!(next(at, &zone, Some(woken), last), Some(instant("2026-11-25T17:00:00Z")));
}
