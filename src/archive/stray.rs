//! What lies in an archive and does not belong there. A pure rule over plain rows.
//!
//! Takes what a listing and a first look say of each file; yields what each stray is and whether it may be put away. In
//! doubt a file is only told, or left alone without a word: nothing that might be the only copy of art is ever put away.

use super::copies::bases;
use crate::arrival::names::is_hidden;
use crate::tile::Content;
use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Component, Path, PathBuf};
use std::time::Duration;

/// What is younger is left alone: it may still be written, or its owner may still know about it.
pub const YOUNG: Duration = Duration::from_hours(24);

/// What the bytes of a file look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Looks {
    /// They were not or could not be read.
    Unknown,
    /// They begin as no image does.
    NoImage,
    /// They begin as an image and end early.
    PartOfImage,
    /// They are an image's.
    Image,
}

/// What is known of one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Relative to the archive's folder, raw.
    pub path: PathBuf,
    /// Whether it is a plain file; links, folders, pipes and devices are left alone.
    pub is_plain: bool,
    /// Its bytes.
    pub size: u64,
    /// How long ago bytes, name or rights last changed; `None` when that lies in the future.
    pub age: Option<Duration>,
    /// How many names the file has on the disk.
    pub links: u64,
    /// Its first bytes, at most 16.
    pub head: Vec<u8>,
    /// What its bytes look like.
    pub looks: Looks,
    /// The hash of its bytes, where known.
    pub content: Option<Content>,
}

/// What a stray is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The leftover of a program that did not finish.
    Temporary,
    /// Without a byte.
    Empty,
    /// Written by a system for its own use.
    System,
    /// A copy that a sync client or a person made of a file beside it.
    Copy,
    /// An image under a name that no image has, so that nobody finds it.
    Unnamed,
    /// Not an image.
    Foreign,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 6] = [Self::Temporary, Self::Empty, Self::System, Self::Copy, Self::Unnamed, Self::Foreign];

    /// Its name in what machines read.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Temporary => "temporary",
            Self::Empty => "empty",
            Self::System => "system",
            Self::Copy => "copy",
            Self::Unnamed => "unnamed",
            Self::Foreign => "foreign",
        }
    }
}

/// What may become of a stray.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fate {
    /// It may be put away.
    PutAway,
    /// It may be put away on demand: its owner may well mean it to be there.
    OnDemand,
    /// It is only told.
    Told,
    /// It is told that it has another name on the disk, and left alone.
    Linked,
    /// It is told that it is a readable image, and left alone.
    Kept,
}

/// A file that does not belong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stray {
    /// Relative to the archive's folder, raw.
    pub path: PathBuf,
    /// What it is.
    pub kind: Kind,
    /// What may become of it.
    pub fate: Fate,
    /// The file of which it is a copy.
    pub base: Option<PathBuf>,
}

/// Whether a path may be a stray at all, by its name: hidden folders and hidden files of no known kind belong to other
/// programs.
#[must_use]
pub fn is_open(path: &Path) -> bool {
    let in_hidden = path.parent().into_iter().flat_map(Path::components).any(|part| match part {
        Component::Normal(name) => is_hidden(name),
        _ => true,
    });
    !in_hidden && path.file_name().is_some_and(|name| !is_hidden(name) || is_temporary(name) || may_be_system(name))
}

/// Judges every row that is not [`YOUNG`]; the strays come by path. Rows of files of which others may be copies must be among
/// them.
#[must_use]
pub fn judge(rows: &[Row]) -> Vec<Stray> {
    judge_older(rows, YOUNG)
}

/// As [`judge`], of what nobody has touched for so long.
#[must_use]
pub fn judge_older(rows: &[Row], untouched: Duration) -> Vec<Stray> {
    let by_path: BTreeMap<&Path, &Row> = rows.iter().map(|row| (row.path.as_path(), row)).collect();
    let there: BTreeSet<&Path> = rows.iter().filter(|row| row.is_plain).map(|row| row.path.as_path()).collect();
    let mut out: Vec<Stray> = rows
        .iter()
        .filter(|row| row.is_plain && is_open(&row.path) && row.age.is_some_and(|age| age >= untouched))
        .filter_map(|row| {
            let name = row.path.file_name()?;
            let base = bases(&row.path).into_iter().find(|base| there.contains(base.as_path()));
            let (kind, fate) = if is_system(name, &row.head) {
                (Kind::System, Fate::PutAway)
            } else if is_temporary(name) {
                (Kind::Temporary, Fate::PutAway)
            } else if row.size == 0 {
                (Kind::Empty, Fate::PutAway)
            } else if let Some(base) = &base {
                (Kind::Copy, copy_fate(row, by_path.get(base.as_path()).copied()))
            } else if crate::arrival::names::is_tile(&row.path) {
                return None;
            } else {
                match row.looks {
                    Looks::NoImage => (Kind::Foreign, Fate::OnDemand),
                    Looks::Unknown => (Kind::Foreign, Fate::Told),
                    Looks::PartOfImage | Looks::Image => (Kind::Unnamed, Fate::Told),
                }
            };
            let fate = match (fate, row.looks) {
                (Fate::PutAway | Fate::OnDemand, _) if row.links > 1 => Fate::Linked,
                (Fate::PutAway, Looks::Image) if kind != Kind::Copy => Fate::Kept,
                // What could not be read may be anything.
                (Fate::PutAway, Looks::Unknown) if kind != Kind::Copy && row.size > 0 => Fate::Told,
                (fate, _) => fate,
            };
            Some(Stray { path: row.path.clone(), kind, fate, base: base.filter(|_| kind == Kind::Copy) })
        })
        .collect();
    out.sort_by(|one, other| one.path.cmp(&other.path));
    out
}

/// A copy may go only when the file beside it has exactly the same bytes.
fn copy_fate(copy: &Row, base: Option<&Row>) -> Fate {
    let same =
        base.is_some_and(|base| copy.content.is_some() && copy.content == base.content && base.size == copy.size);
    if same { Fate::PutAway } else { Fate::Told }
}

/// Whether a name is one that programs give to unfinished files and rename when they are done (common practice).
#[must_use]
pub fn is_temporary(name: &OsStr) -> bool {
    const ENDINGS: [&[u8]; 10] =
        [b".tmp", b".temp", b".part", b".partial", b".crdownload", b".download", b".filepart", b".swp", b".swo", b"~"];
    let name = name.as_bytes().to_ascii_lowercase();
    let is_more = |rest: &[u8]| rest.len() < name.len();
    ENDINGS.iter().any(|ending| name.ends_with(ending) && is_more(ending))
        || [&b"~$"[..], b".~lock."].iter().any(|prefix| name.starts_with(prefix) && is_more(prefix))
        || (name.len() > 2 && name.starts_with(b"#") && name.ends_with(b"#"))
        || is_unfinished_copy(&name)
}

/// `.dulse.png.x9fk2q`: a hidden name with six letters or digits after an image's name, as copying programs make it.
fn is_unfinished_copy(name: &[u8]) -> bool {
    let Some((front, tail)) =
        name.strip_prefix(b".").and_then(|rest| rest.split_at_checked(rest.len().checked_sub(7)?))
    else {
        return false;
    };
    tail.first() == Some(&b'.')
        && tail.iter().skip(1).all(u8::is_ascii_alphanumeric)
        && crate::codec::looks_like_image_name(OsStr::from_bytes(front))
}

/// Names under which systems keep how a folder looks, and small pictures of what is in it (common practice).
const SYSTEM: [&[u8]; 4] = [b".ds_store", b"thumbs.db", b"ehthumbs.db", b"desktop.ini"];

fn may_be_system(name: &OsStr) -> bool {
    let name = name.as_bytes().to_ascii_lowercase();
    SYSTEM.contains(&name.as_slice()) || name.starts_with(b"._")
}

/// A file whose name begins `._` is a system's only when it begins as AppleDouble does (RFC 1740, appendix A).
fn is_system(name: &OsStr, head: &[u8]) -> bool {
    let name = name.as_bytes().to_ascii_lowercase();
    SYSTEM.contains(&name.as_slice()) || (name.starts_with(b"._") && head.starts_with(&[0, 5, 0x16, 7]))
}
