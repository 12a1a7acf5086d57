//! The artist's word: which findings of which content were looked at and are meant.
//!
//! Takes findings, yields marks that name them and nothing of their wording; a word is a content with its marks, spelled as
//! the text that a held picture carries. Knows nothing of pictures, folders or ledgers.

use crate::finding::{Bound, Finding, rounded};
use crate::tile::Content;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fmt::{self, Write};

/// The first word of the text, with its version: a text of another version is not understood and accepts nothing.
const HEAD: &str = "let-pass-1";

/// One finding as the artist's word names it: its kind and a digest of its places, measure and limit. Another place,
/// another measure or another limit is another finding; another wording is the same one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Mark(String);

impl Mark {
    /// The mark of a finding.
    #[must_use]
    pub fn of(finding: &Finding) -> Self {
        let mut place = String::new();
        // Writing into a string does not fail.
        for area in &finding.boxes {
            let _ = write!(place, "{:?}", <[u32; 4]>::from(*area));
        }
        if let Some(measure) = &finding.measure {
            let bound = match measure.bound {
                Bound::Min => "min",
                Bound::Max => "max",
                Bound::Equal => "equal",
            };
            let _ = write!(place, " {:.2} {bound} {:.2}", rounded(measure.value), rounded(measure.limit));
        }
        Self(format!("{}:{}", finding.kind, &blake3::hash(place.as_bytes()).to_hex()[..16]))
    }

    fn from_text(text: &str) -> Option<Self> {
        let (kind, digest) = text.split_once(':')?;
        let is_name = |c: char| c.is_ascii_lowercase() || c == '.' || c == '_';
        let whole = !kind.is_empty() && kind.chars().all(is_name) && digest.len() == 16;
        (whole && digest.chars().all(|c| c.is_ascii_hexdigit())).then(|| Self(text.into()))
    }
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Marks on one line, parted by spaces.
#[must_use]
pub fn spelled(marks: &BTreeSet<Mark>) -> String {
    marks.iter().map(|mark| mark.0.as_str()).collect::<Vec<_>>().join(" ")
}

/// Marks from one line; `None` when something on it is no mark.
#[must_use]
pub fn marks(line: &str) -> Option<BTreeSet<Mark>> {
    line.split(' ').filter(|text| !text.is_empty()).map(Mark::from_text).collect()
}

/// What one held picture accepts when it lies in the folder let-pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// The content that was looked at.
    pub content: Content,
    /// The faults that were seen in it.
    pub marks: BTreeSet<Mark>,
}

impl Word {
    /// The text that a held picture carries: ASCII, one line.
    #[must_use]
    pub fn to_text(&self) -> String {
        format!("{HEAD} {} {}", self.content, spelled(&self.marks)).trim_end().into()
    }

    /// Reads a text back; `None` when it is not one of ours, of another version, or damaged.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let rest = text.strip_prefix(HEAD)?.strip_prefix(' ')?;
        let (content, rest) = rest.split_once(' ').unwrap_or((rest, ""));
        Some(Self { content: Content::from_hex(content)?, marks: marks(rest)? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Area, Grade, Kind, Measure};

    fn finding() -> Finding {
        Finding {
            kind: Kind::JointBreak,
            grade: Grade::Fault,
            silenced: false,
            boxes: vec![Area { x: 3590, y: 0, width: 10, height: 400 }],
            measure: Some(Measure::new("color step", 14.25, "of 255", Bound::Max, 3.0)),
            says: "the right edge does not meet the left one".into(),
            remedy: "draw across the edge".into(),
        }
    }

    #[test]
    fn a_mark_names_the_finding_and_not_its_wording() {
        let one = Mark::of(&finding());
        let reworded = Finding { says: "a cut shows".into(), remedy: String::new(), silenced: true, ..finding() };
        assert_eq!(Mark::of(&reworded), one);
        let moved = Finding { boxes: vec![Area { x: 3590, y: 0, width: 10, height: 401 }], ..finding() };
        let graver =
            Finding { measure: Some(Measure::new("color step", 14.26, "of 255", Bound::Max, 3.0)), ..finding() };
        let stricter =
            Finding { measure: Some(Measure::new("color step", 14.25, "of 255", Bound::Max, 2.0)), ..finding() };
        let other = Finding { kind: Kind::JointShift, ..finding() };
        for different in [moved, graver, stricter, other] {
            assert_ne!(Mark::of(&different), one, "{different:?}");
        }
    }

    #[test]
    fn a_word_comes_back_from_its_text_and_damage_is_seen() {
        let bare = Finding { kind: Kind::ColorMode, boxes: Vec::new(), measure: None, ..finding() };
        let word = Word {
            content: Content::of(b"kelp"),
            marks: [Mark::of(&finding()), Mark::of(&bare)].into_iter().collect(),
        };
        let text = word.to_text();
        assert!(text.is_ascii() && !text.contains('\n'));
        assert_eq!(Word::from_text(&text), Some(word.clone()));
        let none = Word { marks: BTreeSet::new(), ..word };
        assert_eq!(Word::from_text(&none.to_text()), Some(none));
        for damaged in [
            "",
            "let-pass-1",
            "let-pass-1 ",
            &text.replace("let-pass-1", "let-pass-2"),
            &text.replace("let-pass-1", "let-pass-10"),
            &text[..text.len() - 1],
            &text.replace("joint.break:", "joint.break"),
            &format!("{text} x"),
        ] {
            assert_eq!(Word::from_text(damaged), None, "{damaged}");
        }
    }
}
