//! Strays in words: what lies in an archive and does not belong there, and what is done about it.
//!
//! Takes what the rule found; yields remarks, one for each kind and fate, and one for each copy. Pure.

use super::report::Remark;
use super::stray::{Fate, Kind, Stray};
use crate::disk::spelled;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// The kind of a remark about a copy, and how it ends when the copy is exactly the same.
pub(super) const COPY: &str = "stray.copy";
pub(super) const SAME: &str = "exactly the same";

/// A remark about several strays of one kind as one about each; any other as it is.
pub(super) fn singly(remark: &Remark) -> Vec<Remark> {
    let kind = Kind::ALL.into_iter().find(|kind| remark.kind == format!("stray.{}", kind.name()));
    match kind.filter(|_| remark.kind != COPY && remark.paths.len() > 1) {
        Some(kind) => remark
            .paths
            .iter()
            .map(|path| Remark { paths: vec![path.clone()], says: seen(kind, 1), ..remark.clone() })
            .collect(),
        None => vec![remark.clone()],
    }
}

/// Remarks about strays that lie where they are.
#[must_use]
pub fn remarks(strays: &[Stray]) -> Vec<Remark> {
    let mut groups: BTreeMap<(Kind, Fate), Vec<PathBuf>> = BTreeMap::new();
    let mut copies = Vec::new();
    for stray in strays {
        match &stray.base {
            Some(base) => copies.push(copy(stray, base.clone())),
            None => groups.entry((stray.kind, stray.fate)).or_default().push(stray.path.clone()),
        }
    }
    let mut out: Vec<Remark> = groups.into_iter().map(|((kind, fate), paths)| remark(kind, fate, paths)).collect();
    out.extend(copies);
    out
}

/// Remarks about what was put away, or would be in a dry run; `folder` is where, as told.
#[must_use]
pub fn put_away(away: &[(PathBuf, Kind)], folder: &str, date: &str, dry_run: bool) -> Vec<Remark> {
    let mut groups: BTreeMap<Kind, Vec<PathBuf>> = BTreeMap::new();
    for (path, kind) in away {
        groups.entry(*kind).or_default().push(path.clone());
    }
    let remark = |(kind, paths): (Kind, Vec<PathBuf>)| {
        let what = seen(kind, paths.len());
        let (says, remedy) = if dry_run {
            (format!("{what}: would be put away"), "leave out --dry-run to do so".to_string())
        } else {
            (format!("{what}: put away in {folder}"), format!("nothing; burler sweep --undo {date} puts it back"))
        };
        Remark { kind: format!("tidied.{}", kind.name()), paths, says, remedy }
    };
    groups.into_iter().map(remark).collect()
}

/// What is seen of a kind, as it follows the names of one or several files.
fn seen(kind: Kind, files: usize) -> String {
    let one = files == 1;
    match kind {
        Kind::Temporary if one => "left over by a program that did not finish",
        Kind::Temporary => "left over by programs that did not finish",
        Kind::Empty if one => "an empty file",
        Kind::Empty => "empty files",
        Kind::System if one => "written by a system for its own use",
        Kind::System => "written by systems for their own use",
        Kind::Copy if one => "a copy of the file beside it, exactly the same",
        Kind::Copy => "copies of the files beside them, exactly the same",
        Kind::Unnamed if one => "an image under a name that no image has, so it is not looked at",
        Kind::Unnamed => "images under names that no image has, so they are not looked at",
        Kind::Foreign if one => "not an image that Burler reads",
        Kind::Foreign => "not images that Burler reads",
    }
    .into()
}

fn remark(kind: Kind, fate: Fate, paths: Vec<PathBuf>) -> Remark {
    let what = seen(kind, paths.len());
    let it = if paths.len() == 1 { "it" } else { "them" };
    let (says, remedy) = match (kind, fate) {
        (_, Fate::PutAway) => (what, format!("burler sweep --tidy puts {it} away; nothing is deleted")),
        (_, Fate::OnDemand) => {
            (what, format!("nothing, if you keep {it} here on purpose; burler sweep --tidy=all puts {it} away"))
        }
        (Kind::Unnamed, Fate::Told) => (what, format!("give {it} the ending of an image, such as .png")),
        (_, Fate::Told) => (format!("{what}, and cannot be read"), format!("allow this account to read {it}")),
        (_, Fate::Linked) => (
            format!("{what}, with further names on the disk; left alone"),
            "move it yourself, if it is not used".into(),
        ),
        (_, Fate::Kept) => (
            format!("{what}, and yet a whole image; left alone"),
            format!("give {it} the ending of an image, or move {it} yourself"),
        ),
    };
    Remark { kind: format!("stray.{}", kind.name()), paths, says, remedy }
}

fn copy(stray: &Stray, base: PathBuf) -> Remark {
    let name = spelled(&base);
    let (says, remedy) = match stray.fate {
        Fate::PutAway => {
            (format!("a copy of {name}, {SAME}"), "burler sweep --tidy puts it away; nothing is deleted".to_string())
        }
        Fate::Linked => (
            format!("a copy of {name}, with further names on the disk; left alone"),
            "move it yourself, if it is not used".into(),
        ),
        Fate::Told | Fate::OnDemand | Fate::Kept => (
            format!("named as a copy of {name}, with other content; left alone"),
            "compare both and give the one you want to keep a name of its own".into(),
        ),
    };
    Remark { kind: COPY.into(), paths: vec![stray.path.clone(), base], says, remedy }
}
