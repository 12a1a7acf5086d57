//! Custom: what the art does elsewhere beside the same few pixels, and how far a pair of lines departs from it.
//!
//! Takes lines in strips. In hard-edged regular art the same little patches come again and again, and what lies beyond
//! them is one of a few things; at a joint that was cut it is none of them. Free art shows no patch twice and is not
//! judged. Knows nothing of limits and layouts.

use super::line::Line;
use super::tally::Cells;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// Lines of a patch.
pub(super) const DEEP: usize = 6;

/// Pixels of a patch to each side of the edge it lies around, and of what lies beyond it.
const WIDE: usize = 4;
const BEYOND: usize = 3;

/// Neighbors along a line make an edge when a channel differs by more levels than this.
const EDGE: u8 = 2;

/// A pixel counts no more than so many levels.
const MOST: u8 = 64;

/// More different patches than this are no regular art.
const MOST_PATCHES: usize = 1 << 15;

/// Art that shows a new patch at most of so many places is free, and no more of it is looked at.
const TRIED: usize = 1000;

/// After so many places enough is known.
const ENOUGH: usize = 1 << 18;

/// The bands of a tile, from its first line to its last. What was seen in a single one may be a fault itself, or a patch of
/// other art.
const BANDS: usize = 8;

/// A patch is customary when it was seen in so many bands beside that of the pair that is asked about.
const CUSTOMARY: u32 = 4;

/// What lies beyond a patch that has more followers than this is anything.
const MOST_FOLLOWERS: u32 = 12;

/// At least one in so many places must show a customary patch.
const AGAIN: usize = 2;

/// The parts of a pair over which departures are summed.
pub(super) const PARTS: [usize; 3] = [1, 3, 12];

const NONE: u32 = u32::MAX;

/// The pixels beyond a patch.
type Follower = [u32; 2 * BEYOND];

struct Patch {
    /// The bands it was seen in, a bit each.
    bands: u8,
    followers: u32,
    first: u32,
}

struct Beyond {
    /// The pair it was seen at first, and whether at another one too.
    pair: u32,
    again: bool,
    pixels: Follower,
    next: u32,
}

/// A patch at a place: its pair, cell, number and follower.
struct Place {
    pair: u32,
    cell: u32,
    patch: u32,
    follower: Follower,
}

/// Takes numbers that are hashes already.
#[derive(Default)]
struct AsItIs(u64);

impl Hasher for AsItIs {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        bytes.iter().for_each(|byte| self.0 = self.0 << 8 | u64::from(*byte));
    }
    fn write_u64(&mut self, value: u64) {
        self.0 = value;
    }
}

/// What was seen inside a tile.
pub(super) struct Custom {
    cells: Cells,
    numbers: HashMap<u64, u32, BuildHasherDefault<AsItIs>>,
    patches: Vec<Patch>,
    beyond: Vec<Beyond>,
    places: Vec<Place>,
    /// The pairs that were learned from, by their first line.
    learned: Vec<bool>,
}

/// The pixels of a line as numbers.
pub(super) fn packed(line: &Line) -> Vec<u32> {
    let mut packed = vec![0; line.channels.first().map_or(0, Vec::len)];
    for channel in &line.channels {
        packed.iter_mut().zip(channel).for_each(|(packed, value)| *packed = *packed << 8 | u32::from(*value));
    }
    packed
}

impl Custom {
    /// For `lines` lines of `length` pixels.
    pub(super) fn new(lines: usize, length: usize) -> Self {
        let (numbers, patches, beyond, places) = Default::default();
        Self { cells: Cells::new(length), numbers, patches, beyond, places, learned: vec![false; lines] }
    }

    /// Learns from the pairs of a strip of lines, the first of which is line `first`; false when that is enough.
    pub(super) fn learn(&mut self, first: usize, lines: &[Vec<u32>]) -> bool {
        let hashes: Vec<Vec<u64>> = lines.iter().map(|line| hashed(line)).collect();
        let pairs = DEEP - 1..lines.len().saturating_sub(DEEP);
        let known = self.places.len();
        for line in pairs {
            let pair = (first + line) as u32;
            if std::mem::replace(&mut self.learned[first + line], true) {
                continue;
            }
            let (places, cells) = (&mut self.places, self.cells);
            around(lines, &hashes, line, |hash, at, follower| {
                let number = *self.numbers.entry(hash).or_insert(self.patches.len() as u32);
                if number as usize == self.patches.len() {
                    self.patches.push(Patch { bands: 0, followers: 0, first: NONE });
                }
                places.push(Place { pair, cell: cells.of(at) as u32, patch: number, follower });
            });
        }
        let free = self.places.len() >= TRIED && self.patches.len() * 3 > self.places.len() * 2;
        // What no more than this was looked at of is never known: what lies beyond its patches is not asked.
        if !free || self.bands_learned() > CUSTOMARY {
            (known..self.places.len()).for_each(|place| self.follow(place));
        }
        !free && self.patches.len() <= MOST_PATCHES && self.places.len() <= ENOUGH
    }

    /// Notes what lies beyond the patch of a place.
    fn follow(&mut self, place: usize) {
        let Place { pair, patch, follower, .. } = self.places[place];
        let band = self.band(pair);
        let patch = &mut self.patches[patch as usize];
        patch.bands |= band;
        let mut next = patch.first;
        while let Some(beyond) = self.beyond.get_mut(next as usize) {
            if beyond.pixels == follower {
                beyond.again |= beyond.pair != pair;
                return;
            }
            next = beyond.next;
        }
        if patch.followers <= MOST_FOLLOWERS {
            self.beyond.push(Beyond { pair, again: false, pixels: follower, next: patch.first });
            (patch.first, patch.followers) = (self.beyond.len() as u32 - 1, patch.followers + 1);
        }
    }

    /// In how many bands pairs were learned from.
    fn bands_learned(&self) -> u32 {
        let learned = self.learned.iter().enumerate().filter(|(_, learned)| **learned);
        learned.fold(0, |bands, (pair, _)| bands | self.band(pair as u32)).count_ones()
    }

    /// The band that a pair lies in, as a bit.
    fn band(&self, pair: u32) -> u8 {
        1 << (pair as usize * BANDS / self.learned.len().max(1))
    }

    /// Whether enough patches came again to speak of a custom.
    pub(super) fn known(&self) -> bool {
        let again = |place: &&Place| self.patches[place.patch as usize].bands.count_ones() > CUSTOMARY;
        let customary = self.places.iter().filter(again).count();
        !self.places.is_empty() && customary * AGAIN >= self.places.len()
    }

    /// The largest departures over [`PARTS`] at every pair, by its first line; nothing where it was not learned from.
    pub(super) fn inside(&self) -> Vec<Option<[f64; PARTS.len()]>> {
        let mut cells = vec![vec![0u32; self.cells.count()]; self.learned.len()];
        for place in &self.places {
            cells[place.pair as usize][place.cell as usize] +=
                self.departure(place.patch, &place.follower, Some(place.pair));
        }
        cells.iter().zip(&self.learned).map(|(cells, learned)| learned.then(|| largest(cells))).collect()
    }

    /// The same at a pair in the middle of lines.
    pub(super) fn at(&self, lines: &[Vec<u32>]) -> [f64; PARTS.len()] {
        let mut cells = vec![0u32; self.cells.count()];
        let hashes: Vec<Vec<u64>> = lines.iter().map(|line| hashed(line)).collect();
        around(lines, &hashes, lines.len() / 2 - 1, |hash, at, follower| {
            if let Some(patch) = self.numbers.get(&hash) {
                cells[self.cells.of(at)] += self.departure(*patch, &follower, None);
            }
        });
        largest(&cells)
    }

    /// How far what lies beyond a patch is from anything that lies beyond it at other pairs, in levels.
    fn departure(&self, patch: u32, follower: &Follower, pair: Option<u32>) -> u32 {
        let patch = &self.patches[patch as usize];
        let own = pair.map_or(0, |pair| self.band(pair));
        if (patch.bands & !own).count_ones() < CUSTOMARY || patch.followers > MOST_FOLLOWERS {
            return 0;
        }
        let mut least = NONE;
        let mut next = patch.first;
        while let Some(beyond) = self.beyond.get(next as usize) {
            if beyond.again || pair != Some(beyond.pair) {
                least = least.min(apart(&beyond.pixels, follower));
            }
            next = beyond.next;
        }
        if least == NONE { 0 } else { least }
    }
}

/// The mean difference of pixels in levels, each in the channel that differs most.
fn apart(a: &Follower, b: &Follower) -> u32 {
    let sum: u32 = a.iter().zip(b).map(|(a, b)| u32::from(differ(*a, *b).min(MOST))).sum();
    sum / (2 * BEYOND) as u32
}

fn differ(a: u32, b: u32) -> u8 {
    if a == b {
        return 0;
    }
    a.to_le_bytes().iter().zip(b.to_le_bytes()).map(|(a, b)| a.abs_diff(b)).max().unwrap_or(0)
}

fn largest(cells: &[u32]) -> [f64; PARTS.len()] {
    PARTS.map(|part| super::passage::over(cells, part).1)
}

/// What the hash of pixels beside one another multiplies by: an odd number without a pattern (Steele and Vigna,
/// "Computationally easy, spectrally good multipliers", 2021).
const MULTIPLIER: u64 = 0xD134_2543_DE82_EF95;

/// A hash of the pixels of a line's part of a patch, by the place that the patch lies around: the pixels are the digits of a
/// number (Karp and Rabin, "Efficient randomized pattern-matching algorithms", 1987), so that each follows from the last.
fn hashed(line: &[u32]) -> Vec<u64> {
    const ACROSS: usize = 2 * WIDE + 2;
    let mut hashes = vec![0; line.len()];
    let left = MULTIPLIER.wrapping_pow(ACROSS as u32);
    let leaving = std::iter::repeat_n(&0, ACROSS).chain(line);
    let mut hash = 0u64;
    for (last, (enters, leaves)) in line.iter().zip(leaving).enumerate() {
        // What enters and leaves does not wait for the last hash.
        let change = u64::from(*enters).wrapping_sub(u64::from(*leaves).wrapping_mul(left));
        hash = hash.wrapping_mul(MULTIPLIER).wrapping_add(change);
        if let Some(at) = last.checked_sub(WIDE + 1) {
            hashes[at] = hash;
        }
    }
    hashes
}

/// The patches on both sides of the pair of line `line` and the next, around every edge that reaches it: a hash of each, where
/// it lies, and what lies beyond it on the other line of the pair. `hashes` are those of [`hashed`].
fn around(lines: &[Vec<u32>], hashes: &[Vec<u64>], line: usize, mut found: impl FnMut(u64, usize, Follower)) {
    let ahead: Vec<usize> = (line + 1..line + 1 + DEEP).filter(|at| *at < lines.len()).collect();
    let back: Vec<usize> = (0..DEEP).filter_map(|back| line.checked_sub(back)).collect();
    for (salt, beyond, patch) in [(1, &lines[line], ahead), (2, &lines[line + 1], back)] {
        let Some(edge) = patch.first().map(|first| &lines[*first]) else { continue };
        for at in WIDE..beyond.len().saturating_sub(WIDE + 1) {
            if differ(edge[at], edge[at + 1]) <= EDGE {
                continue;
            }
            let hash = patch
                .iter()
                .fold(salt, |hash: u64, line| (hash ^ hashes[*line][at]).wrapping_mul(MULTIPLIER).rotate_left(29));
            let from = at + 1 - BEYOND;
            found(hash, at, std::array::from_fn(|near| beyond[from + near]));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checks of 10 px with an odd thread in each, 160 lines of them, from line `first` on and `aside` pixels further right.
    fn checks(first: usize, count: usize, aside: usize) -> Vec<Vec<u32>> {
        let pixel = |x: usize, y: usize| match (x / 10 + y / 10) % 2 {
            _ if x % 20 == 3 => 0x0050_5050,
            0 => 0x0020_2020,
            _ => 0x00C0_C0C0,
        };
        (first..first + count).map(|y| (0..240).map(|x| pixel(x + 240 - aside, y)).collect()).collect()
    }

    fn learned() -> Custom {
        let mut custom = Custom::new(160, 240);
        assert!(custom.learn(0, &checks(0, 160, 0)));
        custom
    }

    #[test]
    fn what_goes_on_as_elsewhere_does_not_depart() {
        let custom = learned();
        assert!(custom.known());
        assert!(custom.inside().iter().flatten().all(|pair| *pair == [0.0; PARTS.len()]));
        // Across the joint: lines 154 to 159, then 0 to 5 again.
        let joint: Vec<Vec<u32>> = [checks(154, 6, 0), checks(0, 6, 0)].concat();
        assert_eq!(custom.at(&joint), [0.0; PARTS.len()]);
    }

    #[test]
    fn a_cut_that_happens_nowhere_else_departs() {
        let custom = learned();
        for aside in [1, 3, 6] {
            let joint: Vec<Vec<u32>> = [checks(154, 6, 0), checks(0, 6, aside)].concat();
            let [whole, third, _] = custom.at(&joint);
            // 36 edges from each side, by 64 levels over a sixth of what lies beyond each at least.
            assert!(whole >= 72.0 * 10.0 && third >= 24.0 * 10.0, "{aside}: {whole}, {third}");
        }
    }

    #[test]
    fn free_art_has_no_custom() {
        let noise = |x: u32, y: u32| u32::from(crate::pipeline::check::joint::sample::noise(x, y));
        let lines: Vec<Vec<u32>> = (0..64).map(|y| (0..200).map(|x| noise(x, y)).collect()).collect();
        let mut custom = Custom::new(64, 200);
        custom.learn(0, &lines);
        assert!(!custom.known());
    }
}
