//! Where tiles are said to be: their names, the folders they are grouped by, copies beside what they are copies of.
//!
//! Takes entries, yields safe words and an order. Knows nothing of how they are printed.

use super::entry::Entry;
use super::words::named;
use std::collections::{BTreeSet, HashMap};

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

    /// The heading of a tile's folder: where its original lies.
    pub fn heading(&self, entry: &Entry) -> Option<String> {
        let at = named(above(&entry.original));
        self.headings.then(|| if self.folders { format!("{}: {at}", named(&entry.folder)) } else { at })
    }
}

/// Puts tiles in the order of their folders, copies directly behind their base; else the order stays.
pub fn arrange(entries: &mut [&Entry]) {
    let places: HashMap<(String, String), usize> =
        (0..).zip(entries.iter()).map(|(at, entry)| ((entry.folder.clone(), entry.tile.clone()), at)).collect();
    let place = |folder: &str, tile: &str| places.get(&(folder.to_string(), tile.to_string())).copied();
    entries.sort_by_cached_key(|entry| {
        let base = entry.copy_of.as_deref().and_then(|base| place(&entry.folder, base));
        let rank = (base.or_else(|| place(&entry.folder, &entry.tile)), base.is_some());
        (entry.folder.clone(), above(&entry.tile).to_string(), rank, entry.tile.clone())
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
