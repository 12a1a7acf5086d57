//! Which tiles one letter tells: the gravest first, no more in full than it has room for, the rest in the next ones.
//!
//! Takes entries without their pictures, yields places in the list. Knows nothing of how they are printed.

use super::entry::{Entry, Kept};
use crate::finding::{Grade, Verdict};
use std::cmp::Reverse;

/// How many of an inventory are told in full.
const WORST: usize = 10;

/// What a letter tells of what is new.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Picked {
    /// The places of the tiles it tells, in the list that was given: the gravest first, the ready last.
    pub told: Vec<usize>,
    /// What waits for the next ones.
    pub kept: Kept,
    /// Whether it takes stock: the first letter of a folder that holds more than a letter tells.
    pub inventory: bool,
}

/// Picks what to tell when at most `most` tiles are told in full. Ready tiles take a line together, so all of them are told.
///
/// `first` says of an entry whether nothing was ever told of its folder. When more than `most` tiles of such folders need
/// something told in full, or more than that were there at all, the letter is an inventory: the ten worst in full, mended ones
/// in a list, the rest of those that need the artist in the next letters.
#[must_use]
pub fn pick(entries: &[Entry], most: usize, first: impl Fn(&Entry) -> bool) -> Picked {
    let inventory = entries.iter().filter(|entry| first(entry)).count() > most;
    let mut needs: Vec<usize> = places(entries, needs_you);
    needs.sort_by_cached_key(|&at| entries.get(at).map(gravity));
    let mut mended: Vec<usize> = places(entries, |entry| entry.verdict == Verdict::Mended);
    let room = if inventory { most.min(WORST) } else { most };
    let kept_needs = needs.split_off(room.min(needs.len()));
    let kept_mended = if inventory { Vec::new() } else { mended.split_off((most - needs.len()).min(mended.len())) };
    let ready = places(entries, |entry| entry.verdict == Verdict::Sound);
    Picked {
        kept: Kept { needs: kept_needs.len(), mended: kept_mended.len() },
        told: [needs, mended, ready].concat(),
        inventory,
    }
}

/// Whether a tile needs the artist.
#[must_use]
pub fn needs_you(entry: &Entry) -> bool {
    matches!(entry.verdict, Verdict::Held | Verdict::Unreadable | Verdict::Mendable)
}

fn places(entries: &[Entry], wanted: impl Fn(&Entry) -> bool) -> Vec<usize> {
    entries.iter().enumerate().filter(|(_, entry)| wanted(entry)).map(|(at, _)| at).collect()
}

/// What cannot even be opened comes first, then what has most faults, then by the vocabulary's order of faults, then by name.
fn gravity(entry: &Entry) -> impl Ord + use<> {
    let faults = || entry.findings.iter().filter(|one| !one.silenced && one.grade == Grade::Fault);
    let opens = entry.verdict != Verdict::Unreadable;
    (opens, Reverse(faults().count()), faults().map(|one| one.kind).min(), entry.folder.clone(), entry.tile.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Finding, Kind};

    fn entry(tile: &str, verdict: Verdict, faults: &[Kind]) -> Entry {
        let finding = |kind: &Kind| Finding {
            kind: *kind,
            grade: Grade::Fault,
            silenced: false,
            boxes: Vec::new(),
            measure: None,
            says: String::new(),
            remedy: String::new(),
        };
        Entry {
            folder: "studio".into(),
            tile: tile.into(),
            verdict,
            findings: faults.iter().map(finding).collect(),
            original: String::new(),
            outputs: Vec::new(),
            picture: None,
            before: None,
            copy_of: None,
            notes: Vec::new(),
        }
    }

    fn told<'a>(entries: &'a [Entry], picked: &Picked) -> Vec<&'a str> {
        picked.told.iter().map(|&at| entries[at].tile.as_str()).collect()
    }

    #[test]
    fn the_gravest_come_first_and_the_rest_waits() {
        use Verdict::{Held, Mended, Sound, Unreadable};
        let entries = [
            entry("ready", Sound, &[]),
            entry("speck", Held, &[Kind::AlphaSpeck]),
            entry("mended", Mended, &[]),
            entry("both", Held, &[Kind::SizePixels, Kind::JointBreak]),
            entry("closed", Unreadable, &[Kind::FileUnreadable]),
            entry("break", Held, &[Kind::JointBreak]),
            entry("mended too", Mended, &[]),
        ];
        let picked = pick(&entries, 40, |_| true);
        assert_eq!(told(&entries, &picked), ["closed", "both", "break", "speck", "mended", "mended too", "ready"]);
        assert_eq!((picked.kept, picked.inventory), (Kept::default(), false));
        let picked = pick(&entries, 5, |_| false);
        assert_eq!(told(&entries, &picked), ["closed", "both", "break", "speck", "mended", "ready"]);
        assert_eq!((picked.kept, picked.inventory), (Kept { needs: 0, mended: 1 }, false));
        let picked = pick(&entries, 3, |_| false);
        assert_eq!(told(&entries, &picked), ["closed", "both", "break", "ready"]);
        assert_eq!(picked.kept, Kept { needs: 1, mended: 2 });
    }

    #[test]
    fn the_first_letter_over_a_full_folder_takes_stock() {
        let mut entries: Vec<Entry> =
            (0..60).map(|i| entry(&format!("{i:02}"), Verdict::Held, &[Kind::JointBreak])).collect();
        entries.extend((60..100).map(|i| entry(&format!("{i:02}"), Verdict::Mended, &[])));
        entries.extend((100..150).map(|i| entry(&format!("{i}"), Verdict::Sound, &[])));
        let picked = pick(&entries, 40, |_| true);
        assert!(picked.inventory);
        assert_eq!((picked.told.len(), picked.kept), (10 + 40 + 50, Kept { needs: 50, mended: 0 }));
        let picked = pick(&entries, 40, |_| false);
        assert_eq!((picked.told.len(), picked.kept), (40 + 50, Kept { needs: 20, mended: 40 }));
        assert!(!picked.inventory);
    }
}
