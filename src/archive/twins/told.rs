//! Families in a designer's words, and what their contact sheets show.
//!
//! Takes families and the tiles in them; yields remarks and entries. Draws nothing and reads no file.

use super::groups::{Family, Link, Pair};
use crate::archive::report::Remark;
use crate::disk::spelled;
use crate::pipeline::likeness::relation::{Colors, Relation};
use crate::pipeline::likeness::turn::Turn;
use crate::pipeline::likeness::words;
use crate::pipeline::mockup::family::{Entry, Heading, MOST};
use crate::spec::Repeat;
use crate::tile::Content;
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};

/// A tile as families know it.
#[derive(Clone, Debug)]
pub struct Known {
    /// Relative to the archive's folder.
    pub path: PathBuf,
    /// The hash of its file.
    pub content: Content,
    /// How it is laid.
    pub repeat: Repeat,
    /// Pixels across and down.
    pub size: [u32; 2],
    /// Pixels per inch, across and down.
    pub per_inch: Option<[f64; 2]>,
}

/// A contact sheet to be drawn.
#[derive(Clone, Debug)]
pub struct Planned {
    /// What stands above.
    pub heading: Heading,
    /// Its tiles by their place in the list, and how each is laid down.
    pub tiles: Vec<(usize, Entry, Turn)>,
    /// The name of the picture without its ending.
    pub name: String,
}

/// What there is to tell of a family: of its twins pair by pair, and of its colorways.
pub fn remarks(family: &Family, tiles: &[Known]) -> Vec<Remark> {
    let path = |at: usize| tiles[at].path.clone();
    let mut all = Vec::new();
    for pair in &family.pairs {
        let Some((says, remedy)) = says(pair, tiles) else { continue };
        all.push(Remark { kind: "twins".into(), paths: vec![path(pair.other), path(pair.one)], says, remedy });
    }
    if family.colorways.len() > 1 {
        let sure = family.pairs.iter().filter_map(|pair| match pair.link {
            Link::Compared(relation) if relation.colors == Colors::Exchanged => Some(relation.confidence),
            _ => None,
        });
        let sure = sure.min().unwrap_or(100);
        all.push(Remark {
            kind: "family".into(),
            paths: family.colorways.iter().filter_map(|colorway| colorway.first()).map(|&at| path(at)).collect(),
            says: format!("one drawing in {} colorways ({sure} % sure)", family.colorways.len()),
            remedy: String::new(),
        });
    }
    all
}

/// The sentence about two twins: what the one named first is to the other. `None` for two colorways.
fn says(pair: &Pair, tiles: &[Known]) -> Option<(String, String)> {
    let told = |says: &str, remedy: &str| Some((says.to_string(), remedy.to_string()));
    match pair.link {
        Link::Bytes => told("the same file twice", "nothing, unless one of the two is in your way"),
        Link::Pixels => told(
            "the same pixels in another file: another format, or other metadata",
            "nothing, unless it is in your way",
        ),
        Link::Compared(relation) if relation.colors == Colors::Exchanged => None,
        Link::Compared(relation) => {
            let per_inch = tiles[pair.one].per_inch.map(|found| found[0]);
            let says = format!("{} ({} % sure)", words::sentence(&relation, per_inch), relation.confidence);
            told(&says, "keep the one you mean to sell; if both are meant, nothing")
        }
    }
}

/// How the second of two linked tiles lies on the first.
fn laid(link: &Link) -> Option<Relation> {
    match link {
        Link::Compared(relation) => Some(*relation),
        Link::Bytes | Link::Pixels => None,
    }
}

/// The sheets of a family: its colorways on one, and each two twins side by side on one of their own. What is equal file by
/// file or pixel by pixel needs no picture.
pub fn sheets(family: &Family, tiles: &[Known]) -> Vec<Planned> {
    let mut all = Vec::new();
    if family.colorways.len() > 1 {
        let first: Vec<usize> = family.colorways.iter().filter_map(|colorway| colorway.first().copied()).collect();
        let names: Vec<String> = first.iter().map(|&at| name(&tiles[at].path)).collect();
        let more = first.len().saturating_sub(MOST);
        let left_out = if more > 0 { format!(" {more} more are not shown.") } else { String::new() };
        let heading =
            Heading { title: common(&names), says: format!("One drawing in {} colorways.{left_out}", first.len()) };
        // Where each lies on the first one, over the links that hold the family together.
        let places = placed(family, first[0]);
        let entries = first.iter().take(MOST).map(|&at| {
            let (turn, start) = places.get(&at).copied().unwrap_or_default();
            (at, entry(&tiles[at], turn, start), turn)
        });
        all.push(Planned {
            heading,
            tiles: entries.collect(),
            name: format!("{}.family", file_name(&tiles[first[0]].path)),
        });
    }
    for pair in &family.pairs {
        let Some(relation) = laid(&pair.link).filter(|relation| relation.colors != Colors::Exchanged) else { continue };
        let (one, other) = (&tiles[pair.one], &tiles[pair.other]);
        let says = words::sentence(&relation, one.per_inch.map(|found| found[0]));
        let heading = Heading {
            title: format!("{} and {}", name(&one.path), name(&other.path)),
            says: format!("The second is {says}. It is shown as it lies on the first. {} % sure.", relation.confidence),
        };
        let start = started(&relation);
        all.push(Planned {
            heading,
            tiles: vec![
                (pair.one, entry(one, Turn::default(), [0; 2]), Turn::default()),
                (pair.other, entry(other, relation.turn, start), relation.turn),
            ],
            name: format!("{}.twin", file_name(&other.path)),
        });
    }
    all
}

/// The turn and the start of each tile that a chain of direct links leads to from the first; one link deep, where turns and
/// starts need not be added up.
fn placed(family: &Family, first: usize) -> BTreeMap<usize, (Turn, [i64; 2])> {
    let mut found = BTreeMap::from([(first, (Turn::default(), [0; 2]))]);
    let mut open = VecDeque::from([first]);
    while let Some(at) = open.pop_front() {
        let (turn, start) = found[&at];
        for pair in &family.pairs {
            let Some(relation) = laid(&pair.link) else { continue };
            let plain = relation.turn == Turn::default() && relation.scale == 1000;
            // Beyond the first tile only moves add up simply.
            let next = match (pair.one == at, pair.other == at) {
                (true, _) if at == first => (pair.other, (relation.turn, relation.shift.map(|by| -by))),
                (true, _) if plain && turn == Turn::default() => {
                    (pair.other, (turn, [0, 1].map(|i| start[i] - relation.shift[i])))
                }
                (_, true) if plain && turn == Turn::default() => {
                    (pair.one, (turn, [0, 1].map(|i| start[i] + relation.shift[i])))
                }
                _ => continue,
            };
            if let std::collections::btree_map::Entry::Vacant(free) = found.entry(next.0) {
                free.insert(next.1);
                open.push_back(next.0);
            }
        }
    }
    found
}

/// Where the second's swatch begins so that its drawing lies as the first's, in its own pixels.
fn started(relation: &Relation) -> [i64; 2] {
    // The shift is in pixels of the first; the second may have fewer.
    relation.shift.map(|by| -(by * 1000 / i64::from(relation.scale.max(1))))
}

fn entry(tile: &Known, turn: Turn, start: [i64; 2]) -> Entry {
    let swap = |sides: [u32; 2]| if turn.swaps() { [sides[1], sides[0]] } else { sides };
    // A half-drop turned by a quarter is a brick; the others have no name for that and are shown as block.
    let repeat = match (tile.repeat, turn.swaps()) {
        (repeat, false) => repeat,
        (Repeat::HalfDrop, true) => Repeat::Brick,
        (Repeat::Brick, true) => Repeat::HalfDrop,
        (_, true) => Repeat::Block,
    };
    Entry {
        name: name(&tile.path),
        says: String::new(),
        repeat,
        size: swap(tile.size),
        per_inch: tile.per_inch.map(|[x, y]| if turn.swaps() { [y, x] } else { [x, y] }),
        start,
    }
}

/// What all names begin with, where that says something; else the first.
fn common(names: &[String]) -> String {
    let Some(first) = names.first() else { return String::new() };
    let shared = |end: usize| names.iter().all(|name| name.as_bytes().starts_with(&first.as_bytes()[..end]));
    let ends = first.char_indices().map(|(at, letter)| at + letter.len_utf8());
    let end = ends.take_while(|&end| shared(end)).last().unwrap_or(0);
    let stem = first[..end].trim_end_matches(['-', '_', ' ', '.']);
    if stem.chars().count() >= 3 { stem.into() } else { first.clone() }
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(|| spelled(path).to_string(), |name| name.to_string_lossy().into_owned())
}

/// A name for a picture of it: its path with folders joined, so that equal names in two folders stay apart.
fn file_name(path: &Path) -> String {
    let parts: Vec<String> = path.components().map(|part| part.as_os_str().to_string_lossy().into_owned()).collect();
    parts.join("~")
}
