//! What is told once: a pair of files as twins or as a copy and its original, and each remark in one letter.
//!
//! Takes tiles and a report; yields them without what says the same of the same files, and what the ledger keeps of it for letters.

use super::copies::bases;
use super::report::{Remark, Report};
use super::tidying;
use super::tile::Tile;
use crate::ledger::{MemberState, Noted};
use crate::tile::Content;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Two files without order.
type Pair = BTreeSet<PathBuf>;

fn pair(remark: &Remark, kind: &str) -> Option<Pair> {
    let pair: Pair = remark.paths.iter().cloned().collect();
    (remark.kind == kind && pair.len() == 2).then_some(pair)
}

/// The tiles without those that are named as copies of another and have exactly its bytes: they are told as copies, and what
/// is said of the original is not said of each of them.
#[must_use]
pub(super) fn without_copies(tiles: &[Tile]) -> Vec<Tile> {
    let contents: BTreeMap<&Path, Content> = tiles
        .iter()
        .filter(|tile| tile.member.state == MemberState::Present)
        .map(|tile| (tile.member.path.as_path(), tile.member.content))
        .collect();
    let is_copy = |tile: &&Tile| {
        let same = |base: &PathBuf| contents.get(base.as_path()) == Some(&tile.member.content);
        bases(&tile.member.path).iter().any(same)
    };
    tiles.iter().filter(|tile| !is_copy(tile)).cloned().collect()
}

/// Leaves out of a report that a file is named as a copy where it is told how the two are one repeat.
pub fn told_once(report: &mut Report) {
    let twins: BTreeSet<Pair> = report.twins.iter().filter_map(|one| pair(one, "twins")).collect();
    report.strays.retain(|one| pair(one, tidying::COPY).is_none_or(|pair| !twins.contains(&pair)));
}

/// The remarks of a report that the next letter tells, strays file by file. Names used again are told with the files, and what
/// a person had put away is known to them.
#[must_use]
pub fn for_letters(report: &Report) -> Vec<Noted> {
    let all = report.twins.iter().chain(&report.names).chain(&report.strays);
    all.filter(|one| one.kind != "name.reused" && !one.kind.starts_with("tidied."))
        .flat_map(tidying::singly)
        .map(|Remark { kind, paths, says, remedy }| Noted { kind, paths, says, remedy })
        .collect()
}
