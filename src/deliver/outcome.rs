//! What is handed in to be delivered and what is handed back, as plain data.

use crate::disk::{Source, Stamp};
use crate::finding::Verdict;
use crate::ledger::{Key, Output, OutputState, Role};
use crate::pipeline::Product;
use crate::ticket::Ticket;
use crate::ticket::word::Mark;
use crate::tile::{Content, Format};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The folder a tile belongs to.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    /// Its name in the configuration.
    pub folder: &'a str,
    /// The designer's folder; only asked whether an original is still there.
    pub exports: &'a Path,
    /// The output folder.
    pub checked: &'a Path,
}

/// One file to be published.
#[derive(Debug)]
pub struct Parcel {
    /// What it is for.
    pub role: Role,
    /// Where its bytes are: a scratch file, the open original, or memory.
    pub source: Source,
    /// The hash its bytes must have.
    pub content: Content,
}

/// What a file is to the one that had its path before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Succession {
    /// The same drawing exported anew, or nobody can tell: it takes the place of the one before.
    #[default]
    Replaces,
    /// Another drawing: whatever was given back of the one before stays, and this one gets a name beside it.
    Another {
        /// The hash of an earlier file of this path, kept since, of which it is a newer export: it takes that one's place.
        renews: Option<Content>,
    },
}

/// What a tile came to, with the files that say so.
#[derive(Debug)]
pub struct Outcome {
    /// The original's path relative to the exports folder, raw bytes.
    pub path: PathBuf,
    /// The original's stamp when it was read.
    pub stamp: Stamp,
    /// The hash of the original.
    pub content: Content,
    /// The standing's verdict, which says "mended" where the ticket says "mendable".
    pub verdict: Verdict,
    /// The ticket.
    pub ticket: Ticket,
    /// The digest of the settings the pictures were drawn with.
    pub pictures: String,
    /// What the artist had let pass of this content when it was judged.
    pub let_pass: BTreeSet<Mark>,
    /// What it is to the file that had its path before.
    pub succession: Succession,
    /// What is to be published; everything else of this path is withdrawn.
    pub parcels: Vec<Parcel>,
}

impl Outcome {
    /// What it was judged on.
    #[must_use]
    pub fn key(&self) -> Key {
        Key { content: self.content, spec_digest: self.ticket.spec_digest.clone(), rules: self.ticket.rules }
    }
}

/// How a delivery ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Delivery {
    /// The standing holds.
    Done(Delivered),
    /// The original changed meanwhile: nothing was published, and it must be looked at again.
    Superseded,
}

/// What a delivery did. All paths are relative to the output folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Delivered {
    /// Every file that is now in place for this tile, by name.
    pub outputs: Vec<PathBuf>,
    /// Those of them that were put in place just now.
    pub published: Vec<PathBuf>,
    /// What moved to `earlier/`: from, to.
    pub withdrawn: Vec<(PathBuf, PathBuf)>,
    /// What moved along with a renamed original: from, to.
    pub moved: Vec<(PathBuf, PathBuf)>,
    /// What did not get its name because a file not written here has it: wanted, given.
    pub beside: Vec<(PathBuf, PathBuf)>,
    /// What stays of another drawing that had the path before.
    pub kept: Vec<PathBuf>,
    /// What a person has changed and is left alone.
    pub edited: Vec<PathBuf>,
    /// What a person has taken away and is not put back.
    pub removed: Vec<PathBuf>,
    /// Whether verdict, findings or original changed, so that a report should tell it.
    pub told: bool,
}

impl Delivered {
    /// Lists the files of a tile's rows by what has become of them.
    pub(super) fn list(&mut self, rows: &[Output]) {
        for output in rows {
            match output.state {
                OutputState::Published => self.outputs.push(output.file.clone()),
                OutputState::Edited => self.edited.push(output.file.clone()),
                OutputState::Removed => self.removed.push(output.file.clone()),
                OutputState::Publishing | OutputState::Moving { .. } | OutputState::Withdrawn(_) => {}
            }
        }
        self.outputs.sort();
        self.edited.sort();
        self.removed.sort();
    }
}

/// What a product of the pipeline is for, given the container of the original as tickets name it.
#[must_use]
pub fn role(product: Product, format: &str) -> Role {
    match product {
        Product::Mended if format == Format::Png.name() => Role::Ready,
        Product::Mended => Role::ReadyAsPng,
        Product::Repeat => Role::Repeat,
        Product::StrikeOff => Role::StrikeOff,
        Product::Held => Role::Held,
        Product::BeforeAfter => Role::BeforeAfter,
        Product::PartlyMended => Role::PartlyMended,
        Product::Filled => Role::Filled,
        Product::Companion(wish) => Role::Companion(wish),
    }
}
