//! Of which file a name says that it is a copy. Pure.
//!
//! Takes a path; yields the paths whose file it may be a copy of. Whether one of those is there, and whether the bytes are the
//! same, is for others to say.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

/// The paths of which this may be a copy, the likeliest first; none when the name says nothing of the kind.
///
/// Marks, all common practice: `name (conflicted copy …)`, `name.conflict-…`, `name (1)`, `name copy`, `name copy 2`,
/// `name - Copy`, `Copy of name`; letters of either case, before the ending.
#[must_use]
pub fn bases(path: &Path) -> Vec<PathBuf> {
    let Some(name) = path.file_name() else { return Vec::new() };
    let (stem, ending) = split(name.as_bytes());
    let mut found: Vec<&[u8]> = Vec::new();
    found.extend(bracketed(stem));
    found.extend(said_conflict(stem));
    found.extend(said_copy(stem));
    found
        .into_iter()
        .filter(|base| !base.is_empty())
        .map(|base| path.with_file_name(OsStr::from_bytes(&[base, ending].concat())))
        .collect()
}

/// A name without its ending, and the ending with its dot.
fn split(name: &[u8]) -> (&[u8], &[u8]) {
    let dot = name.iter().rposition(|byte| *byte == b'.').filter(|at| *at > 0);
    name.split_at(dot.unwrap_or(name.len()))
}

/// `name (1)`, `name (conflicted copy 2026-05-01)`: a bracket at the end that holds a number or speaks of a conflict.
fn bracketed(stem: &[u8]) -> Option<&[u8]> {
    let inner = stem.strip_suffix(b")")?;
    let open = inner.iter().rposition(|byte| *byte == b'(')?;
    let said = &inner[open + 1..];
    let is_number = (1..=3).contains(&said.len()) && said.iter().all(u8::is_ascii_digit);
    (is_number || find(said, b"conflict").is_some()).then(|| trimmed(&stem[..open]))
}

/// `name.conflict-20260501`, `name.sync-conflict-…`, `name_conflict`: the word after a separator, and nothing but a date and
/// marks without a blank behind it.
fn said_conflict(stem: &[u8]) -> Option<&[u8]> {
    let at = find(stem, b"conflict")?;
    let mut base = stem.get(..at)?;
    base = match base.split_last() {
        Some((b'.' | b'-' | b'_', rest)) => rest,
        _ => return None,
    };
    if base.to_ascii_lowercase().ends_with(b".sync") {
        base = &base[..base.len() - 5];
    }
    let tail = &stem[at + b"conflict".len()..];
    let tail = tail.strip_prefix(b"ed").unwrap_or(tail);
    let is_mark = |byte: &u8| byte.is_ascii_alphanumeric() || b"-_.".contains(byte);
    (tail.iter().all(is_mark) && tail.first().is_none_or(|first| b"-_.".contains(first))).then(|| trimmed(base))
}

/// `name copy`, `name copy 2`, `name - Copy`, `Copy of name`.
fn said_copy(stem: &[u8]) -> Option<&[u8]> {
    let lower = stem.to_ascii_lowercase();
    if lower.starts_with(b"copy of ") {
        return stem.get(b"copy of ".len()..);
    }
    let digits = lower.iter().rev().take_while(|byte| byte.is_ascii_digit()).count();
    let mut end = lower.len() - digits;
    if digits > 0 {
        end = end.checked_sub(1).filter(|at| lower[*at] == b' ')?;
    }
    let base = lower[..end].strip_suffix(b" copy")?.len();
    let base = trimmed(&stem[..base]);
    Some(base.strip_suffix(b" -").unwrap_or(base))
}

/// Without blanks at the end.
fn trimmed(text: &[u8]) -> &[u8] {
    text.trim_ascii_end()
}

/// Where a word of lower-case letters stands in a text of either case.
fn find(text: &[u8], word: &[u8]) -> Option<usize> {
    text.windows(word.len()).position(|window| window.eq_ignore_ascii_case(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_names_its_base() {
        for (name, base) in [
            ("a/kelp (1).png", "a/kelp.png"),
            ("kelp(12).png", "kelp.png"),
            ("kelp (conflicted copy 2026-05-01).png", "kelp.png"),
            ("kelp (Ada's conflicted copy).png", "kelp.png"),
            ("kelp (Conflict 2).png", "kelp.png"),
            ("kelp.conflict-20260501-101112.png", "kelp.png"),
            ("kelp.sync-conflict-20260501-101112-ABC.png", "kelp.png"),
            ("kelp_conflict.png", "kelp.png"),
            ("kelp copy.png", "kelp.png"),
            ("kelp copy 3.png", "kelp.png"),
            ("kelp - Copy.png", "kelp.png"),
            ("Copy of kelp.png", "kelp.png"),
            ("kelp (1)", "kelp"),
        ] {
            assert_eq!(bases(Path::new(name)).first().map(PathBuf::as_path), Some(Path::new(base)), "{name}");
        }
    }

    #[test]
    fn other_names_are_no_copies() {
        for name in [
            "kelp.png",
            "kelp (red).png",
            "kelp (2026).png",
            "conflict.png",
            "war conflict blue.png",
            "copy.png",
            "(1).png",
        ] {
            assert_eq!(bases(Path::new(name)), Vec::<PathBuf>::new(), "{name}");
        }
    }
}
