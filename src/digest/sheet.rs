//! The order of a letter: who needs the artist first, then what was mended, one line for the ready, cautions last.
//!
//! Takes entries, yields what both templates print: words only, safe ones. Knows nothing of HTML, text layout or mail.

use super::entry::{Entry, Settings, Window};
use super::preview::Preview;
use super::words::{named, need_you, number, plain, sentence, tiles};
use crate::finding::{Finding, Grade, Verdict};

/// The most sentences about what else is wrong with one tile; the held picture shows the rest.
const MOST_SENTENCES: usize = 6;

/// A tile that needs the artist.
#[derive(Clone, Debug)]
pub struct Card<'a> {
    /// Its name.
    pub name: String,
    /// The verdict in plain words.
    pub verdict: &'static str,
    /// One sentence: what is wrong.
    pub wrong: String,
    /// One sentence: what to do.
    pub todo: String,
    /// What else is wrong, and notes.
    pub also: Vec<String>,
    /// Where the original is.
    pub original: String,
    /// Where its held picture is.
    pub outputs: Vec<String>,
    /// The picture there is.
    pub picture: Option<&'a Preview>,
    /// The picture as the letter shows it, when it has room for it.
    pub shown: Option<Shown>,
}

/// A picture as the HTML names it.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Its content ID.
    pub cid: String,
    /// Dots across.
    pub width: u32,
}

/// A tile of which one line tells.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its name.
    pub name: String,
    /// What is told.
    pub says: String,
    /// Where the file is now; may be empty.
    pub place: String,
}

/// Everything a letter says.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    /// Counts only.
    pub subject: String,
    /// The counts as a sentence.
    pub headline: String,
    /// Who it speaks of; may be empty.
    pub title: String,
    /// The time it covers, as a sentence.
    pub window: String,
    /// Tiles that need the artist.
    pub needs: Vec<Card<'a>>,
    /// Whether any of them can be let pass by moving its picture.
    pub can_pass: bool,
    /// Mended tiles.
    pub mended: Vec<Line>,
    /// Names of the tiles that were ready as they were.
    pub ready: Vec<String>,
    /// Advice.
    pub cautions: Vec<Line>,
}

impl<'a> Sheet<'a> {
    /// Sorts entries into the letter's parts; `None` when there is nothing to tell.
    #[must_use]
    pub fn of(entries: &'a [Entry], window: &Window, settings: &Settings) -> Option<Self> {
        if entries.is_empty() && window.remarks.is_empty() {
            return None;
        }
        let several = entries.iter().any(|entry| Some(&entry.folder) != entries.first().map(|first| &first.folder));
        let name = |entry: &Entry| {
            let tile = named(&entry.tile);
            if several { format!("{tile} ({})", named(&entry.folder)) } else { tile }
        };
        let (mut needs, mut mended, mut ready, mut cautions) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut can_pass = false;
        for entry in entries {
            match entry.verdict {
                Verdict::Held | Verdict::Unreadable | Verdict::Mendable => {
                    can_pass |= entry.verdict == Verdict::Held && !entry.outputs.is_empty();
                    needs.push(card(entry, name(entry)));
                }
                Verdict::Mended => mended.push(mend(entry, name(entry))),
                Verdict::Sound => ready.push(name(entry)),
            }
            if entry.verdict != Verdict::Unreadable {
                let advice = graded(entry, Grade::Advice).map(|finding| Line {
                    name: name(entry),
                    says: said(finding),
                    place: String::new(),
                });
                cautions.extend(advice);
            }
            if matches!(entry.verdict, Verdict::Sound) {
                cautions.extend(entry.notes.iter().map(|note| Line {
                    name: name(entry),
                    says: sentence(note),
                    place: String::new(),
                }));
            }
        }
        cautions.extend(window.remarks.iter().map(|remark| Line {
            name: named(&remark.name),
            says: sentence(&remark.says),
            place: String::new(),
        }));
        let counts = (needs.len(), mended.len() + ready.len());
        Some(Self {
            subject: subject(counts),
            headline: headline(counts),
            title: named(&settings.title),
            window: covered(window),
            needs,
            can_pass,
            mended,
            ready,
            cautions,
        })
    }
}

fn subject(counts: (usize, usize)) -> String {
    match counts {
        (0, 0) => "A word about let-pass".into(),
        (0, ready) => format!("{} ready", number(ready)),
        (needs, 0) => need_you(needs),
        (needs, ready) => format!("{}, {} ready", need_you(needs), number(ready)),
    }
}

fn headline(counts: (usize, usize)) -> String {
    let needs = |n: usize| format!("{} {}", tiles(n), if n == 1 { "needs you" } else { "need you" });
    let are = |n: usize| if n == 1 { "is" } else { "are" };
    match counts {
        (0, 0) => "No tile is new, but a file in the folder let-pass is not understood".into(),
        (0, ready) => format!("{} {} ready", tiles(ready), are(ready)),
        (some, 0) => needs(some),
        (some, ready) => format!("{}, {} {} ready", needs(some), number(ready), are(ready)),
    }
}

fn covered(window: &Window) -> String {
    match &window.since {
        Some(since) => format!("From {} to {}.", plain(since), plain(&window.until)),
        None => format!("The first letter, up to {}.", plain(&window.until)),
    }
}

fn graded(entry: &Entry, grade: Grade) -> impl Iterator<Item = &Finding> {
    entry.findings.iter().filter(move |finding| finding.grade == grade && !finding.silenced)
}

/// What is seen and what to do, as up to two sentences.
fn said(finding: &Finding) -> String {
    format!("{} {}", sentence(&finding.says), sentence(&finding.remedy)).trim().into()
}

fn card(entry: &Entry, name: String) -> Card<'_> {
    let mut grave: Vec<&Finding> = entry.findings.iter().filter(|finding| !finding.silenced).collect();
    if entry.verdict != Verdict::Unreadable {
        grave.retain(|finding| finding.grade > Grade::Advice);
    }
    let first = grave.first();
    let mut also: Vec<String> = Vec::new();
    for finding in grave.iter().skip(1) {
        let says = said(finding);
        if !also.contains(&says) {
            also.push(says);
        }
    }
    if also.len() > MOST_SENTENCES {
        let more = also.len() - MOST_SENTENCES;
        also.truncate(MOST_SENTENCES);
        also.push(format!("And {more} more, marked on its picture."));
    }
    also.extend(entry.notes.iter().map(|note| sentence(note)));
    Card {
        name,
        verdict: entry.verdict.plain(),
        wrong: first.map_or_else(|| "No more is known.".into(), |finding| sentence(&finding.says)),
        todo: first.map(|finding| sentence(&finding.remedy)).unwrap_or_default(),
        also,
        original: named(&entry.original),
        outputs: entry.outputs.iter().map(|output| named(output)).collect(),
        picture: entry.picture.as_ref(),
        shown: None,
    }
}

fn mend(entry: &Entry, name: String) -> Line {
    let mut says: Vec<String> = Vec::new();
    for finding in graded(entry, Grade::Mend) {
        let what = sentence(&finding.says);
        if !says.contains(&what) {
            says.push(what);
        }
    }
    if says.len() > MOST_SENTENCES {
        let more = says.len() - MOST_SENTENCES;
        says.truncate(MOST_SENTENCES);
        says.push(format!("And {more} more like these."));
    }
    says.push("Mended.".into());
    says.extend(entry.notes.iter().map(|note| sentence(note)));
    let place = entry.outputs.iter().map(|output| named(output)).collect::<Vec<_>>().join(", ");
    Line { name, says: says.join(" "), place }
}
