//! The letter: its order and words, its mail as a second parser reads it, hostile names, limits.

mod desk;
#[path = "digest/content.rs"]
mod content;
#[path = "digest/hostile.rs"]
mod hostile;
#[path = "digest/schedule.rs"]
mod schedule;

use burler::digest::{Entry, Letter, MessageError, Preview, Remark, Settings, Window, letter, message, page, preview};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::tile::Raster;
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
        before: None,
        copy_of: None,
        notes: Vec::new(),
    }
}

/// A small picture of one color with some noise, so that no two are alike.
fn picture(seed: u32) -> Preview {
    let samples =
        (0..90 * 60).flat_map(|i| [(i * seed % 251) as u8, (seed % 256) as u8, (i % 256) as u8, 255]).collect();
    preview(&Raster::new(90, 60, samples).expect("a raster of 90 x 60"), None).expect("a small picture")
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
    Window {
        since: Some("Tuesday 24 November 2026, 18:00".into()),
        until: "Wednesday 25 November 2026, 18:00".into(),
        ..Window::default()
    }
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
        let at = text[from..].find(word);
        assert!(at.is_some(), "\"{word}\" is not after the words before it in\n{text}");
        from += at.unwrap_or(0) + word.len();
    }
}

#[test]
fn nothing_new_is_no_letter() {
    assert_eq!(letter(&[], &window(), &titled()), None);
    let remarks = vec![Remark { name: "let-pass/notes.png".into(), says: "this picture cannot be matched".into() }];
    let letter = letter(&[], &Window { remarks, ..window() }, &titled()).unwrap();
    assert_eq!(letter.subject, "A word about let-pass");
    for part in [&letter.text, &letter.html] {
        assert!(part.contains("let-pass/notes.png") && part.contains("This picture cannot be matched."), "{part}");
    }
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
        "Good to know",
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
    let text = letter(&entries, &Window { until: "today, 18:00".into(), ..Window::default() }, &Settings::default())
        .unwrap()
        .text;
    let expected = "\
1 tile needs you, 1 is ready
The first letter, up to today, 18:00.

Needs you
---------

tide-lines.png
  The left and right edges do not meet, 3.2 in from the top.
  What to do: Paint the seam over.
  The top and bottom edges do not meet. Paint that seam over too.
  The file: exports/tide-lines.png
  Its picture: checked/held/tide-lines.png.held.png

Is it meant to be so? Move its picture from the folder held into the folder let-pass, and the tile counts as ready.

Mended for you
--------------
- weave.png: A see-through line runs across the tile. Mended. Now in checked/ready/weave.png

Good to know
------------
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
    assert!(letter.text.contains("b.png (second), a.png (studio)"), "{}", letter.text);
}

/// Reads a mail with Python's own parser and checks everything that must hold of any letter; prints what the test compares.
const READ: &str = include_str!("digest/read_mail.py");

fn read(letter: &Letter) -> String {
    read_all(std::slice::from_ref(letter))
}

/// Reads many in one go.
fn read_all(letters: &[Letter]) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (number, letter) in letters.iter().enumerate() {
        std::fs::write(folder.path().join(format!("{number}.eml")), mail(letter)).expect("the mail is written");
    }
    let program = format!(
        "import os, sys\nfolder, code = sys.argv[1], compile({READ:?}, 'read_mail.py', 'exec')\n\
         for number in range(len(os.listdir(folder))):\n    sys.argv = ['', f'{{folder}}/{{number}}.eml']\n    exec(code, {{}})\n"
    );
    desk::run_python(&program, &[folder.path().to_str().expect("a plain path")])
}

/// Nothing but our headers and parts in any of so many letters with pictures.
fn assert_only_ours(told: &str, letters: usize) {
    for line in [
        "headers ['Date', 'From', 'To', 'Subject', 'Message-ID', 'Auto-Submitted', 'List-Id', 'MIME-Version', 'Content-Type']",
        "parts ['multipart/alternative', 'text/plain', 'multipart/related', 'text/html']",
        "sizes True True",
    ] {
        assert_eq!(told.lines().filter(|told| *told == line).count(), letters, "{line}");
    }
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
    let letters: Vec<Letter> = names
        .iter()
        .map(|title| {
            let remarks = vec![Remark { name: title.clone(), says: title.clone() }];
            let hostile = Window { since: Some(title.clone()), until: title.clone(), remarks, ..Window::default() };
            letter(&entries, &hostile, &Settings { title: title.clone(), ..Settings::default() }).unwrap()
        })
        .collect();
    assert_only_ours(&read_all(&letters), letters.len());
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
    assert_eq!(letter.subject, "2,500 need you, 1,500 ready");
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
