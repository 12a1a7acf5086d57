//! Where tiles are said to be: their names, the folders they are grouped by, copies beside what they are copies of.
//!
//! Takes entries, yields safe words and an order. Knows nothing of how they are printed.

use super::entry::Entry;
use super::words::named;
use std::collections::BTreeSet;

/// How the tiles of one letter are named.
#[derive(Clone, Debug)]
pub struct Naming {
    /// Whether tiles of several configured folders are told.
    folders: bool,
    /// Whether tiles of several folders or subfolders need the artist, so that these get headings.
    pub headings: bool,
}

impl Naming {
    /// The naming for entries, of which `needs` need the artist, and for other tiles named by their folder.
    pub fn of<'a>(
        entries: &'a [Entry],
        needs: impl Iterator<Item = &'a Entry>,
        others: impl Iterator<Item = &'a str>,
    ) -> Self {
        let folders: BTreeSet<&str> = entries.iter().map(|entry| entry.folder.as_str()).chain(others).collect();
        let places: BTreeSet<(&str, &str)> = needs.map(|entry| (entry.folder.as_str(), above(&entry.tile))).collect();
        Self { folders: folders.len() > 1, headings: places.len() > 1 }
    }

    /// A tile as it is called in a list.
    pub fn name(&self, folder: &str, tile: &str) -> String {
        let tile = named(tile);
        if self.folders { format!("{tile} ({})", named(folder)) } else { tile }
    }

    /// A tile as it is called below the heading of its folder, if there are headings.
    pub fn short(&self, folder: &str, tile: &str) -> String {
        if self.headings { named(file(tile)) } else { self.name(folder, tile) }
    }

    /// The heading of a tile's folder.
    pub fn heading(&self, folder: &str, tile: &str) -> Option<String> {
        if !self.headings {
            return None;
        }
        let within = above(tile);
        Some(match (self.folders, within.is_empty()) {
            (true, true) => named(folder),
            (true, false) => format!("{}: {}", named(folder), named(within)),
            (false, true) => "In no subfolder".into(),
            (false, false) => named(within),
        })
    }
}

/// Puts tiles in the order of their folders, copies directly behind their base; else the order stays.
pub fn arrange(entries: &mut [&Entry]) {
    let order: Vec<&Entry> = entries.to_vec();
    let rank = |entry: &Entry| {
        let base = entry
            .copy_of
            .as_deref()
            .and_then(|base| order.iter().position(|other| other.folder == entry.folder && other.tile == base));
        let own = order.iter().position(|other| other.folder == entry.folder && other.tile == entry.tile);
        (base.or(own), base.is_some())
    };
    entries.sort_by_cached_key(|entry| {
        (entry.folder.clone(), above(&entry.tile).to_string(), rank(entry), entry.tile.clone())
    });
}

/// What is said of a conflicting copy.
pub fn copy_note(entry: &Entry) -> Option<String> {
    let base = named(file(entry.copy_of.as_deref()?));
    Some(format!(
        "a conflicting copy of {base}, as it arises when two devices save at once; keep the right one of the two"
    ))
}

fn above(tile: &str) -> &str {
    tile.rsplit_once('/').map_or("", |(folder, _)| folder)
}

/// The name without its folders.
pub fn file(tile: &str) -> &str {
    tile.rsplit_once('/').map_or(tile, |(_, file)| file)
}
