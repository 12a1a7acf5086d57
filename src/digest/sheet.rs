//! The order of a letter: who needs the artist first, then what was mended, one line for the ready, what was fixed, what
//! sweeps found, good to know, cautions last.
//!
//! Takes entries, yields what both templates print: words only, safe ones. Knows nothing of HTML, text layout or mail.

use super::entry::{Count, Entry, MOST_FOLDED, MOST_SWEPT, Settings, Swept, Window};
use super::group::{Naming, arrange, copy_note, file};
use super::heads;
use super::pick::needs_you;
use super::preview::Preview;
use super::words::{named, plain, sentence};
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::pipeline::check::words::count;

/// The most sentences about what else is wrong with one tile, and about what was mended in one; its picture shows the rest.
const MOST_SENTENCES: usize = 6;
const MOST_MENDED: usize = 2;

/// A tile that needs the artist.
#[derive(Clone, Debug)]
pub struct Card<'a> {
    /// The heading of its folder, on the first tile of several folders each.
    pub heading: Option<String>,
    /// Its name.
    pub name: String,
    /// Its name with its folder, for lists.
    pub full: String,
    /// The verdict in plain words, when it is more than that the tile needs the artist.
    pub sign: Option<&'static str>,
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

/// A mended tile.
#[derive(Clone, Debug)]
pub struct Mend<'a> {
    /// What is told of it.
    pub line: Line,
    /// A mended place before and after.
    pub picture: Option<&'a Preview>,
    /// The picture as the letter shows it, when it has room for it.
    pub shown: Option<Shown>,
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

/// What a sweep of an archive found.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// Which archive, when, and what was counted, as a sentence.
    pub says: String,
    /// What the artist should know.
    pub lines: Vec<Line>,
    /// How many lines more there were.
    pub more: usize,
    /// What else was remarked, by sort.
    pub folded: Vec<Fold>,
}

/// Remarks of one sort.
#[derive(Clone, Debug)]
pub struct Fold {
    /// How many they are, as a sentence.
    pub says: String,
    /// The first few.
    pub lines: Vec<Line>,
    /// How many more there are.
    pub more: usize,
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
    /// What kind of letter it is, when it is an inventory.
    pub stock: Option<&'static str>,
    /// Tiles that need the artist.
    pub needs: Vec<Card<'a>>,
    /// How many more wait for the next letters, as a sentence.
    pub kept: Option<String>,
    /// Whether any of them can be let pass by moving its picture.
    pub can_pass: bool,
    /// Tiles told before that still need the artist.
    pub still: Vec<Line>,
    /// Mended tiles.
    pub mended: Vec<Mend<'a>>,
    /// How many more mended ones wait for the next letters, as a sentence.
    pub kept_mended: Option<String>,
    /// Names of the tiles that were ready as they were.
    pub ready: Vec<String>,
    /// Tiles that needed the artist when last told and are ready now.
    pub fixed: Vec<Line>,
    /// What sweeps found.
    pub swept: Vec<Sweep>,
    /// Advice and notes.
    pub notes: Vec<Line>,
    /// Cautions.
    pub cautions: Vec<Line>,
}

impl<'a> Sheet<'a> {
    /// Sorts entries into the letter's parts; `None` when there is nothing to tell.
    #[must_use]
    pub fn of(entries: &'a [Entry], window: &Window, settings: &Settings) -> Option<Self> {
        let swept = window.swept.iter().any(Swept::is_news);
        if entries.is_empty() && window.remarks.is_empty() && window.still.is_empty() && !swept {
            return None;
        }
        let others = window.still.iter().map(|still| still.folder.as_str());
        let naming = Naming::of(entries, entries.iter().filter(|entry| needs_you(entry)), others);
        let name = |entry: &Entry| naming.name(&entry.folder, &entry.tile);
        let mut needs: Vec<&Entry> = entries.iter().filter(|entry| needs_you(entry)).collect();
        arrange(&mut needs);
        let mut all: Vec<&Entry> = entries.iter().filter(|entry| !needs_you(entry)).collect();
        arrange(&mut all);
        let (mended, ready): (Vec<&Entry>, Vec<&Entry>) =
            all.into_iter().partition(|one| one.verdict == Verdict::Mended);
        let line = |entry: &Entry, says: String| Line { name: name(entry), says, place: String::new() };
        let (mut notes, mut cautions) = (Vec::new(), Vec::new());
        for entry in needs.iter().chain(&mended).chain(&ready) {
            if entry.verdict != Verdict::Unreadable {
                for finding in graded(entry, Grade::Advice) {
                    let is_caution = finding.kind == Kind::GlareStripes;
                    if is_caution { &mut cautions } else { &mut notes }.push(line(entry, said(finding)));
                }
            }
            if entry.verdict == Verdict::Sound {
                notes.extend(entry.notes.iter().map(|note| line(entry, sentence(note))));
            }
        }
        notes.extend(window.remarks.iter().map(|remark| Line {
            name: named(&remark.name),
            says: sentence(&remark.says),
            place: String::new(),
        }));
        let counts = heads::Counts {
            needs: needs.len() + window.kept.needs,
            ready: mended.len() + window.kept.mended + ready.len(),
            still: window.still.len(),
            swept,
        };
        Some(Self {
            subject: heads::subject(counts),
            headline: heads::headline(counts),
            title: named(&settings.title),
            window: heads::covered(window),
            stock: window.inventory.then_some(heads::STOCK),
            can_pass: needs.iter().any(|entry| entry.verdict == Verdict::Held && !entry.outputs.is_empty()),
            needs: cards(&needs, &naming),
            kept: heads::kept(window.kept.needs, "needs you", "need you"),
            still: window
                .still
                .iter()
                .map(|still| Line {
                    name: naming.name(&still.folder, &still.tile),
                    says: format!("{} Told on {}.", sentence(&still.says), plain(&still.told)),
                    place: String::new(),
                })
                .collect(),
            mended: mended.iter().map(|entry| mend(entry, name(entry))).collect(),
            kept_mended: heads::kept(window.kept.mended, "was mended", "were mended"),
            fixed: mended
                .iter()
                .chain(&ready)
                .filter(|entry| was_told_to_need(entry))
                .map(|entry| line(entry, sentence(&format!("{} now", entry.verdict.plain()))))
                .collect(),
            ready: ready.iter().map(|entry| ready_name(entry, name(entry))).collect(),
            swept: window.swept.iter().map(sweep).filter(|sweep| !sweep.says.is_empty()).collect(),
            notes,
            cautions,
        })
    }
}

impl Sheet<'_> {
    /// Whether there are pictures of mended places.
    pub fn shows_mends(&self) -> bool {
        self.mended.iter().any(|mend| mend.picture.is_some())
    }
}

fn was_told_to_need(entry: &Entry) -> bool {
    matches!(entry.before, Some(Verdict::Held | Verdict::Unreadable | Verdict::Mendable))
}

fn ready_name(entry: &Entry, name: String) -> String {
    match &entry.copy_of {
        Some(base) => format!("{name} (a conflicting copy of {})", named(file(base))),
        None => name,
    }
}

fn graded(entry: &Entry, grade: Grade) -> impl Iterator<Item = &Finding> {
    entry.findings.iter().filter(move |finding| finding.grade == grade && !finding.silenced)
}

/// What is seen and what to do, as up to two sentences.
fn said(finding: &Finding) -> String {
    format!("{} {}", sentence(&finding.says), sentence(&finding.remedy)).trim().into()
}

fn cards<'a>(entries: &[&'a Entry], naming: &Naming) -> Vec<Card<'a>> {
    let mut under = None;
    entries
        .iter()
        .map(|entry| {
            let heading = naming.heading(entry).filter(|heading| under.as_ref() != Some(heading));
            if heading.is_some() {
                under.clone_from(&heading);
            }
            card(entry, heading, naming)
        })
        .collect()
}

fn card<'a>(entry: &'a Entry, heading: Option<String>, naming: &Naming) -> Card<'a> {
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
    also.extend(copy_note(entry).iter().chain(&entry.notes).map(|note| sentence(note)));
    Card {
        heading,
        name: naming.short(&entry.folder, &entry.tile),
        full: naming.name(&entry.folder, &entry.tile),
        sign: (entry.verdict != Verdict::Held).then(|| entry.verdict.plain()),
        wrong: first.map_or_else(|| "No more is known.".into(), |finding| sentence(&finding.says)),
        todo: first.map(|finding| sentence(&finding.remedy)).unwrap_or_default(),
        also,
        original: named(&entry.original),
        outputs: entry.outputs.iter().map(|output| named(output)).collect(),
        picture: entry.picture.as_ref(),
        shown: None,
    }
}

fn mend(entry: &Entry, name: String) -> Mend<'_> {
    let mut says: Vec<String> = Vec::new();
    for finding in graded(entry, Grade::Mend) {
        let what = sentence(&finding.says);
        if !says.contains(&what) {
            says.push(what);
        }
    }
    if says.len() > MOST_MENDED {
        let more = says.len() - 1;
        says.truncate(1);
        says.push(format!("And {more} more like this."));
    }
    says.push("Mended.".into());
    says.extend(copy_note(entry).iter().chain(&entry.notes).map(|note| sentence(note)));
    let place = entry.outputs.iter().map(|output| named(output)).collect::<Vec<_>>().join(", ");
    Mend { line: Line { name, says: says.join(" "), place }, picture: entry.picture.as_ref(), shown: None }
}

fn sweep(swept: &Swept) -> Sweep {
    let counted = |one: &Count| count(one.number as u64, &plain(if one.number == 1 { &one.one } else { &one.several }));
    let counts: Vec<String> = swept.counts.iter().filter(|one| one.number > 0).map(counted).collect();
    let says = if counts.is_empty() && !swept.is_news() {
        String::new()
    } else {
        let counts = if counts.is_empty() { String::new() } else { format!(": {}", counts.join(", ")) };
        let when = if swept.when.is_empty() { String::new() } else { format!(" on {}", plain(&swept.when)) };
        format!("{}, swept{when}{counts}.", named(&swept.archive))
    };
    let line = |remark: &super::entry::Remark| Line {
        name: named(&remark.name),
        says: sentence(&remark.says),
        place: String::new(),
    };
    let fold = |folded: &super::entry::Folded| Fold {
        says: sentence(&folded.says),
        lines: folded.lines.iter().take(MOST_FOLDED).map(line).collect(),
        more: folded.lines.len().saturating_sub(MOST_FOLDED),
    };
    Sweep {
        says,
        lines: swept.lines.iter().take(MOST_SWEPT).map(line).collect(),
        more: swept.lines.len().saturating_sub(MOST_SWEPT),
        folded: swept.folded.iter().map(fold).collect(),
    }
}
