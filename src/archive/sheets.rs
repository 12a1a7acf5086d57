//! Which order sheet a tile of an archive is judged against: the nearest folder above it named as one, else the archive's own.
//!
//! Pure. Digests are computed once, since every file of every sweep is compared with one.

use crate::ledger::{Key, Member, Verdicted};
use crate::spec::Spec;
use crate::ticket::RULES;
use crate::tile::Content;
use std::collections::BTreeMap;
use std::path::Path;

/// A spec with its digest.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The spec.
    pub spec: Spec,
    /// The digest of its content.
    pub digest: String,
}

impl Sheet {
    /// A spec as a sheet.
    #[must_use]
    pub fn of(spec: Spec) -> Self {
        let digest = spec.digest();
        Self { spec, digest }
    }

    /// The key of a content's judgment under this sheet and today's rules.
    #[must_use]
    pub fn key(&self, content: Content) -> Key {
        Key { content, spec_digest: self.digest.clone(), rules: RULES }
    }

    /// Whether a file was judged under this sheet and today's rules.
    #[must_use]
    pub fn is_of(&self, judged: &Verdicted) -> bool {
        judged.rules == RULES && judged.spec_digest == self.digest
    }
}

/// The sheets of an archive.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheets {
    default: Sheet,
    named: BTreeMap<String, Sheet>,
}

impl Sheets {
    /// The sheets of this name, and the one for tiles whose folders name none.
    #[must_use]
    pub fn new(default: Spec, named: &BTreeMap<String, Spec>) -> Self {
        let named = named.iter().map(|(name, spec)| (name.clone(), Sheet::of(spec.clone()))).collect();
        Self { default: Sheet::of(default), named }
    }

    /// The sheet for a tile, by its path relative to the archive's folder.
    #[must_use]
    pub fn for_path(&self, path: &Path) -> &Sheet {
        path.parent()
            .into_iter()
            .flat_map(Path::ancestors)
            .find_map(|above| self.named.get(above.file_name()?.to_str()?))
            .unwrap_or(&self.default)
    }

    /// Whether the judgment of a file is today's.
    #[must_use]
    pub fn is_current(&self, member: &Member) -> bool {
        member.judged.as_ref().is_some_and(|judged| self.for_path(&member.path).is_of(judged))
    }
}
