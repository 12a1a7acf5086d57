//! The letter: the sheet printed as HTML with pictures and as text, each cut to its limit.
//!
//! Takes entries, window and settings; yields the letter or nothing. Knows nothing of mail and files.

use super::entry::{Entry, Settings, Window};
use super::preview::Preview;
use super::sheet::{Card, Line, Mend, Sheet, Shown};
use crate::tile::Content;
use askama::Template;
use lettre::message::Body;

/// A letter before it is mailed or kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Letter {
    /// Counts only.
    pub subject: String,
    /// The HTML part; pictures are referred to as `cid:` and their [`Inline::cid`].
    pub html: String,
    /// The text part: it says all that the HTML says.
    pub text: String,
    /// The pictures that the HTML refers to.
    pub pictures: Vec<Inline>,
}

/// A picture inside a letter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inline {
    /// Its content ID without the angle brackets.
    pub cid: String,
    /// The file.
    pub bytes: Vec<u8>,
    /// Its media type.
    pub mime: &'static str,
    /// A file name made by us, free of anything from outside.
    pub name: String,
}

/// Dots across of the column a picture is shown in.
const COLUMN: u32 = 560;

/// How much of each part is printed.
#[derive(Clone, Copy, Debug)]
struct Room {
    /// Tiles told in full.
    cards: usize,
    /// Names and lines of every list.
    lines: usize,
}

const ALL: usize = usize::MAX;

impl Room {
    /// Everything, then less and less of all: the HTML keeps its pictures and says how many it leaves to the text.
    fn for_html() -> impl Iterator<Item = Self> {
        let fewer = (0..10).map(|step| Self { cards: 256 >> step, lines: 512 >> step });
        std::iter::once(Self { cards: ALL, lines: ALL }).chain(fewer)
    }

    /// Everything, then fewer tiles in full, and fewer names only when nothing else helps: the text names every tile.
    fn for_text() -> impl Iterator<Item = Self> {
        let names = [ALL, 1024, 256, 64, 8].map(|cards| Self { cards, lines: ALL });
        names.into_iter().chain((0..14).map(|step| Self { cards: 4, lines: 8192 >> step }))
    }
}

/// What of a list is printed, and how many more there are.
struct Part<'a, T> {
    shown: &'a [T],
    more: usize,
}

impl<'a, T> Part<'a, T> {
    fn of(all: &'a [T], at: usize) -> Self {
        let (shown, rest) = split(all, at);
        Self { shown, more: rest.len() }
    }
}

/// What of a sheet is printed.
struct Cut<'a> {
    cards: &'a [Card<'a>],
    named: Part<'a, Card<'a>>,
    still: Part<'a, Line>,
    mended: Part<'a, Mend<'a>>,
    ready: Part<'a, String>,
    fixed: Part<'a, Line>,
    notes: Part<'a, Line>,
    cautions: Part<'a, Line>,
}

impl<'a> Cut<'a> {
    fn of(sheet: &'a Sheet<'a>, room: Room) -> Self {
        let (cards, rest) = split(&sheet.needs, room.cards);
        Self {
            cards,
            named: Part::of(rest, room.lines),
            still: Part::of(&sheet.still, room.lines),
            mended: Part::of(&sheet.mended, room.lines),
            ready: Part::of(&sheet.ready, room.lines),
            fixed: Part::of(&sheet.fixed, room.lines),
            notes: Part::of(&sheet.notes, room.lines),
            cautions: Part::of(&sheet.cautions, room.lines),
        }
    }
}

fn split<T>(all: &[T], at: usize) -> (&[T], &[T]) {
    all.split_at(at.min(all.len()))
}

#[derive(Template)]
#[template(path = "letter.html", config = "src/digest/askama.toml")]
struct AsHtml<'a> {
    sheet: &'a Sheet<'a>,
    cut: Cut<'a>,
}

#[derive(Template)]
#[template(path = "letter.txt", config = "src/digest/askama.toml")]
struct AsText<'a> {
    sheet: &'a Sheet<'a>,
    cut: Cut<'a>,
}

/// Writes the letter over entries in a window; `None` when there is nothing to tell.
///
/// What does not fit its limits is first told by name in a list, then by number; every tile told in the HTML is told in
/// the text.
#[must_use]
pub fn letter(entries: &[Entry], window: &Window, settings: &Settings) -> Option<Letter> {
    let mut sheet = Sheet::of(entries, window, settings)?;
    let text = fitting(settings.most_bytes / 4, Room::for_text(), |room| {
        AsText { sheet: &sheet, cut: Cut::of(&sheet, room) }.render()
    })?;
    let mut pictures = chosen(&mut sheet, &text, settings);
    let html = fitting(settings.most_html, Room::for_html(), |room| {
        AsHtml { sheet: &sheet, cut: Cut::of(&sheet, room) }.render()
    })?;
    // A picture whose tile had no room in the HTML would be an attachment nobody asked for.
    pictures.retain(|picture| html.contains(&format!("\"cid:{}\"", picture.cid)));
    Some(Letter { subject: sheet.subject, html, text, pictures })
}

/// The fullest print that stays below a limit; the shortest one where none does.
fn fitting(
    limit: usize,
    rooms: impl Iterator<Item = Room>,
    print: impl Fn(Room) -> askama::Result<String>,
) -> Option<String> {
    let mut last = None;
    for room in rooms {
        // Printing into memory does not fail; were it to, there would be no letter rather than half a one.
        let printed = print(room).ok()?;
        let fits = printed.len() < limit;
        last = Some(printed);
        if fits {
            break;
        }
    }
    last
}

/// Gives tiles their pictures, those that need the artist before mended ones, as many as the whole mail has room for.
fn chosen(sheet: &mut Sheet<'_>, text: &str, settings: &Settings) -> Vec<Inline> {
    // A byte of the HTML, which is not printed yet, may take three in the mail (quoted-printable, RFC 2045, 6.7).
    let words = Body::new(text.to_owned()).len() + 3 * settings.most_html;
    let mut left = settings.most_bytes.saturating_sub(words + 10_000);
    let mut pictures = Vec::new();
    for card in &mut sheet.needs {
        card.shown = card.picture.and_then(|picture| shown(picture, "held", &mut left, &mut pictures));
    }
    for mend in &mut sheet.mended {
        mend.shown = mend.picture.and_then(|picture| shown(picture, "mended", &mut left, &mut pictures));
    }
    pictures
}

/// Takes one picture along if there is room left for it.
fn shown(picture: &Preview, kind: &str, left: &mut usize, pictures: &mut Vec<Inline>) -> Option<Shown> {
    // Base64 turns 57 bytes into a line of 76 characters and its end (RFC 2045, 6.8); a part's headers stay below 500.
    let cost = picture.bytes.len().div_ceil(57) * 78 + 500;
    *left = left.checked_sub(cost)?;
    let number = pictures.len() + 1;
    let digest = Content::of(&picture.bytes).to_string();
    let cid = format!("{number}.{}@burler", &digest[..16]);
    let ending = if picture.mime == "image/png" { "png" } else { "jpg" };
    let name = format!("{kind}-{number}.{ending}");
    pictures.push(Inline { cid: cid.clone(), bytes: picture.bytes.clone(), mime: picture.mime, name });
    Some(Shown { cid, width: picture.width.min(COLUMN) })
}
