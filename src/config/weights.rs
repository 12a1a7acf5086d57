//! The lists of an order sheet that give a rule another weight: `silence`, `tell` and `hold`.
//!
//! Takes the TOML shape of a spec, yields kinds, or a complaint at the word that is not known, contradicts another list or
//! asks for what cannot be. Knows nothing of how rules judge.

use super::complaint::{Complaint, Source, choice};
use super::shape;
use crate::finding::Kind;

/// The three lists, each in the order written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lists {
    /// In the ticket, without weight.
    pub silence: Vec<Kind>,
    /// Told, never blocking.
    pub tell: Vec<Kind>,
    /// Blocking.
    pub hold: Vec<Kind>,
}

/// Kinds whose weight follows from what happened, not from a rule.
const FIXED: [Kind; 5] =
    [Kind::FileUnreadable, Kind::FileTruncated, Kind::FileUnsupported, Kind::FileTooLarge, Kind::MendUnproven];

/// Reads the lists of a spec.
///
/// # Errors
/// A complaint at the first word that is no kind of finding, stands in two lists, or cannot have that weight.
pub fn lists(source: &Source<'_>, shape: &shape::Spec) -> Result<Lists, Complaint> {
    let kinds: Vec<(&str, Kind)> = Kind::ALL.iter().map(|kind| (kind.name(), *kind)).collect();
    let mut taken: Vec<(Kind, &str)> = Vec::new();
    let mut read = |name: &'static str, words: &[shape::Text]| {
        let mut list = Vec::new();
        for word in words {
            let kind = choice(source, word, &kinds)?;
            if let Some((_, other)) = taken.iter().find(|(taken, other)| *taken == kind && *other != name) {
                return Err(source.at(
                    word,
                    format!("{kind} stands in `{other}` and in `{name}`"),
                    "a finding has one weight: keep it in one of the lists",
                ));
            }
            if let Some((what, remedy)) = refused(name, kind) {
                return Err(source.at(word, what, remedy));
            }
            taken.push((kind, name));
            if !list.contains(&kind) {
                list.push(kind);
            }
        }
        Ok(list)
    };
    Ok(Lists {
        silence: read("silence", &shape.silence)?,
        tell: read("tell", &shape.tell)?,
        hold: read("hold", &shape.hold)?,
    })
}

/// What cannot be asked for, and what to do instead.
fn refused(list: &str, kind: Kind) -> Option<(String, &'static str)> {
    if list == "silence" {
        return None;
    }
    if FIXED.contains(&kind) {
        return Some((
            format!("{kind} has one weight only: such a file cannot be given back"),
            "take it out of the list",
        ));
    }
    if list == "hold" && kind == Kind::GlareStripes {
        return Some((
            format!("{kind} is a caution and cannot hold a tile: nothing here can tell what is safe"),
            "take it out of the list and ask someone qualified",
        ));
    }
    None
}
