//! Groups: which tiles are one repeat, and which of these are one drawing in several colors.
//!
//! Takes likenesses and what lies near, asks about pairs one after another, and yields families. Whoever answers looks at the
//! pixels; here nothing is compared twice that an earlier answer already settles.

use super::index::{self, Near};
use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::relation::{Colors, PLAIN, Relation};
use crate::tile::Content;
use std::collections::{BTreeMap, HashMap};

/// A tile to be grouped.
#[derive(Clone, Copy, Debug)]
pub struct Member<'a> {
    /// The hash of its file.
    pub content: Content,
    /// Its likeness; `None` when it could not be looked at.
    pub likeness: Option<&'a Likeness>,
}

/// How two tiles are known to be one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// Their files are equal byte for byte.
    Bytes,
    /// Their pixels are equal, their files are not.
    Pixels,
    /// Their pixels were compared.
    Compared(Relation),
}

/// Two tiles that belong together, by their places in the list of tiles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    /// The one.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// How that is known.
    pub link: Link,
}

/// A family: one drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family {
    /// Its colorways, each the tiles that are one repeat in the same colors; by place, the lowest first.
    pub colorways: Vec<Vec<usize>>,
    /// What holds it together: one pair less than there are tiles.
    pub pairs: Vec<Pair>,
}

/// A question: are these two, by these looks of theirs, one?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Question {
    /// The tile that comes first.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// Which look of each is near the other's.
    pub looks: [usize; 2],
    /// Whether the drawing is so plain that it must be compared pixel by pixel.
    pub plain: bool,
}

/// How many questions about one tile may be answered with no before it is let be, the nearest asked first.
const MOST_DENIED: u32 = 24;

/// How many pairs of looks of the same two tiles are asked about.
const MOST_LOOKS: u32 = 3;

/// Sets that grow together.
struct Sets(Vec<usize>);

impl Sets {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    fn of(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    /// Whether they were two until now.
    fn join(&mut self, one: usize, other: usize) -> bool {
        let (one, other) = (self.of(one), self.of(other));
        self.0[one.max(other)] = one.min(other);
        one != other
    }
}

/// Tiles being grouped.
pub struct Grouping<'a> {
    members: Vec<Member<'a>>,
    near: std::vec::IntoIter<Near>,
    repeats: Sets,
    families: Sets,
    pairs: Vec<Pair>,
    denied: Vec<u32>,
    /// Pairs found to be one drawing in other colors: what is one repeat with either need not be asked about the other.
    exchanged: Vec<(usize, usize)>,
    asked: HashMap<(usize, usize), u32>,
    open: Option<Question>,
}

impl<'a> Grouping<'a> {
    /// Groups what is equal and searches for what lies near.
    #[must_use]
    pub fn new(members: Vec<Member<'a>>) -> Self {
        let count = members.len();
        let (mut repeats, mut families, mut pairs) = (Sets::new(count), Sets::new(count), Vec::new());
        let mut first_of: BTreeMap<Content, usize> = BTreeMap::new();
        let mut first_with: BTreeMap<([u32; 2], [u8; 32]), usize> = BTreeMap::new();
        // Only the first of equal ones is looked at further.
        let mut seen = vec![None; count];
        for (at, member) in members.iter().enumerate() {
            let mut join = |one: usize, link: Link| {
                repeats.join(one, at);
                families.join(one, at);
                pairs.push(Pair { one, other: at, link });
            };
            if let Some(&one) = first_of.get(&member.content) {
                join(one, Link::Bytes);
                continue;
            }
            first_of.insert(member.content, at);
            let Some(likeness) = member.likeness else { continue };
            match first_with.get(&(likeness.size, likeness.pixels)) {
                Some(&one) => join(one, Link::Pixels),
                None => {
                    first_with.insert((likeness.size, likeness.pixels), at);
                    seen[at] = Some(likeness);
                }
            }
        }
        let near = index::near(&seen).into_iter();
        Self {
            members,
            near,
            repeats,
            families,
            pairs,
            denied: vec![0; count],
            exchanged: Vec::new(),
            asked: HashMap::new(),
            open: None,
        }
    }

    /// The next pair to look at; `None` when all is known.
    pub fn question(&mut self) -> Option<Question> {
        while let Some(near) = self.near.next() {
            let (one, other) = (near.one.0 as usize, near.other.0 as usize);
            if self.repeats.of(one) == self.repeats.of(other) {
                continue;
            }
            // Two colorways of one drawing need not be asked about again unless their colors could be the same.
            if self.families.of(one) == self.families.of(other) && (near.other_colors || self.known_apart(one, other)) {
                continue;
            }
            if self.denied[one] >= MOST_DENIED || self.denied[other] >= MOST_DENIED {
                continue;
            }
            let asked = self.asked.entry((one, other)).or_default();
            if *asked >= MOST_LOOKS {
                continue;
            }
            *asked += 1;
            let looks = [near.one.1, near.other.1].map(usize::from);
            // By all looks of both: that of the whole of what is but checks has the waves of its coder.
            let waves = |at: usize| {
                let looks = self.members[at].likeness.iter().flat_map(|likeness| &likeness.looks);
                looks.map(|look| look.drawing.waves()).min().unwrap_or(0)
            };
            let plain = waves(one).min(waves(other)) < PLAIN;
            let question = Question { one, other, looks, plain };
            self.open = Some(question);
            return Some(question);
        }
        None
    }

    /// Whether the repeats of two tiles are known to be two colorways.
    fn known_apart(&mut self, one: usize, other: usize) -> bool {
        let pair = [self.repeats.of(one), self.repeats.of(other)];
        let repeats = &mut self.repeats;
        self.exchanged.iter().any(|&(a, b)| {
            let known = [repeats.of(a), repeats.of(b)];
            known == pair || [known[1], known[0]] == pair
        })
    }

    /// Takes the answer to the last question.
    pub fn answer(&mut self, relation: Option<Relation>) {
        let Some(Question { one, other, .. }) = self.open.take() else { return };
        let Some(relation) = relation else {
            self.denied[one] += 1;
            self.denied[other] += 1;
            return;
        };
        let exchanged = relation.colors == Colors::Exchanged;
        if exchanged {
            self.exchanged.push((one, other));
        }
        let repeats = !exchanged && self.repeats.join(one, other);
        if self.families.join(one, other) || repeats {
            self.pairs.push(Pair { one, other, link: Link::Compared(relation) });
        }
    }

    /// The families of two tiles and more, by their first tiles.
    #[must_use]
    pub fn families(mut self) -> Vec<Family> {
        let mut all: BTreeMap<usize, BTreeMap<usize, Vec<usize>>> = BTreeMap::new();
        for at in 0..self.members.len() {
            let (family, repeat) = (self.families.of(at), self.repeats.of(at));
            all.entry(family).or_default().entry(repeat).or_default().push(at);
        }
        let mut pairs: BTreeMap<usize, Vec<Pair>> = BTreeMap::new();
        for pair in std::mem::take(&mut self.pairs) {
            pairs.entry(self.families.of(pair.one)).or_default().push(pair);
        }
        all.into_iter()
            .filter(|(_, colorways)| colorways.values().map(Vec::len).sum::<usize>() > 1)
            .map(|(family, colorways)| Family {
                colorways: colorways.into_values().collect(),
                pairs: pairs.remove(&family).unwrap_or_default(),
            })
            .collect()
    }
}
