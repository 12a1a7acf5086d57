//! Names as a hostile or an unlucky sender makes them, many at random: they reach neither headers nor markup, and every tile
//! that needs the artist is named in the text.

use super::{assert_only_ours, entry, finding, picture, read_all, titled};
use burler::digest::{Entry, Kept, Remark, Settings, Still, Window, letter};
use burler::finding::{Grade, Verdict};
use std::os::unix::ffi::OsStrExt;

/// How many names are tried: some in every run, more when asked for by `BURLER_NAMES`.
const NAMES: usize = 2000;
/// How many of them one letter has: few enough that its page has room for all.
const EACH: usize = 20;

/// Scraps that have broken headers, markup or terminals before.
const SCRAPS: &[&str] = &[
    "\r\n",
    "\n",
    "\r",
    "\n.\r\n",
    "\r\n\r\n",
    "Bcc: x@oddfathom.example",
    "Content-Type: text/html",
    "--=_a_",
    "=_r_",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "</bdi></p></style></title>",
    "<iframe src=//o.example>",
    "<!--",
    "-->",
    "<![CDATA[",
    "&amp;",
    "&#60;",
    "&lt;b&gt;",
    "\"",
    "'",
    "`",
    "\" src=\"http://o.example/x.png",
    "https://o.example/",
    "//o.example/a",
    "url(x)",
    "url( http://o.example )",
    "@import 'x'",
    "cid:1.0@burler",
    "javascript:alert(1)",
    "data:text/html,x",
    "=?utf-8?B?PHNjcmlwdD4=?=",
    "=?utf-8?q?Bcc:_x?=",
    "=3D=0D=0A",
    ".",
    "..",
    "...",
    "From ",
    ">From ",
    "{{ sheet.title }}",
    "{% include \"x\" %}",
    "%0d%0a",
    "\\r\\n",
    "\0",
    "\u{1b}[31m",
    "\u{7f}",
    "\u{85}",
    "\u{a0}",
    "\u{ad}",
    "\u{200b}",
    "\u{200e}",
    "\u{200f}",
    "\u{202a}",
    "\u{202e}gnp",
    "\u{2028}",
    "\u{2029}",
    "\u{2066}",
    "\u{2069}",
    "\u{61c}",
    "\u{feff}",
    "\u{fffe}",
    "\u{e0041}",
    "\u{fdd0}",
    "\u{10ffff}",
    "é",
    "e\u{301}",
    "海藻",
    "طحالب",
    "אצות",
    "💧",
    "🏴‍☠️",
    " ",
    "\t",
    "/",
    "\\",
    ":",
    "kelp",
    ".png",
];

/// Numerical Recipes' linear congruence; its high bits serve.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides
    }

    /// A name of at most 255 bytes, as file systems allow; some hold bytes that are no UTF-8 and are replaced on the way.
    fn name(&mut self, number: usize) -> String {
        let mut bytes = Vec::new();
        for _ in 0..=self.roll(9) {
            match self.roll(12) {
                0 => bytes.extend((0..self.roll(6)).map(|_| self.roll(256) as u8).collect::<Vec<_>>()),
                1 => bytes.extend(SCRAPS[self.roll(SCRAPS.len())].repeat(1 + self.roll(60)).bytes()),
                _ => bytes.extend(SCRAPS[self.roll(SCRAPS.len())].bytes()),
            }
        }
        bytes.truncate(245);
        bytes.extend(format!("~{number:05}").bytes());
        std::ffi::OsStr::from_bytes(&bytes).to_string_lossy().into_owned()
    }
}

#[test]
fn many_hostile_names_in_letters_stay_names() {
    let all = std::env::var("BURLER_NAMES").ok().and_then(|text| text.parse().ok()).unwrap_or(NAMES);
    let mut dice = Dice(20_261_127);
    let mut written = Vec::new();
    let letters = all / EACH;
    for number in 0..letters {
        let names: Vec<String> = (0..EACH).map(|i| dice.name(number * EACH + i)).collect();
        let entries: Vec<Entry> = names
            .iter()
            .enumerate()
            .map(|(i, name)| {
                // The first has a picture, so that every letter has the same parts.
                let verdict = [Verdict::Held, Verdict::Unreadable, Verdict::Mended, Verdict::Sound]
                    [if i == 0 { 0 } else { dice.roll(4) }];
                let grade = if verdict == Verdict::Mended { Grade::Mend } else { Grade::Fault };
                let other = &names[dice.roll(names.len())];
                let mut entry =
                    entry(name, verdict, vec![finding(grade, other, other), finding(Grade::Advice, name, other)]);
                entry.folder = names[dice.roll(2)].clone();
                entry.copy_of = (dice.roll(6) == 0).then(|| other.clone());
                entry.notes.push(other.clone());
                entry.before = (dice.roll(3) == 0).then_some(Verdict::Held);
                let shown = matches!(verdict, Verdict::Held | Verdict::Mended) && i % 8 == 0;
                entry.picture = shown.then(|| picture(i as u32 + 1));
                entry
            })
            .collect();
        let mut some = || names[dice.roll(names.len())].clone();
        let window = Window {
            since: Some(some()),
            until: some(),
            kept: Kept { needs: 2, mended: 2 },
            still: vec![Still { folder: some(), tile: some(), says: some(), told: some() }],
            remarks: vec![Remark { name: some(), says: some() }],
            swept: vec![burler::digest::Swept {
                archive: some(),
                when: some(),
                counts: vec![burler::digest::Count { number: 2, one: some(), several: some() }],
                lines: vec![Remark { name: some(), says: some() }],
                folded: vec![burler::digest::Folded {
                    says: some(),
                    lines: vec![Remark { name: some(), says: some() }],
                }],
            }],
            ..Window::default()
        };
        let letter = letter(&entries, &window, &Settings { title: some(), ..titled() }).unwrap();
        // Each name ends in its number, so it is found whatever became of the rest.
        for name in entries.iter().filter(|entry| burler::digest::needs_you(entry)).map(|entry| &entry.tile) {
            let end = name.rsplit_once('~').unwrap().1;
            assert!(letter.text.contains(&format!("~{end}")), "the text does not name {name:?}");
        }
        written.push(letter);
    }
    assert_only_ours(&read_all(&written), letters);
}
