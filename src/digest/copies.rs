//! The names that sync clients give to a second copy of a file when two places saved it at once.
//!
//! Takes a path, yields the one it is a copy of. The patterns are common practice: no standard names them.

/// The tile that a path may be a conflicting copy of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// The path of that tile.
    pub base: String,
    /// Whether the name alone says so. A number in brackets is also how people count, so it says so only beside its base.
    pub sure: bool,
}

/// Reads `name (conflicted copy …).png`, `name-conflict-….png`, `name.sync-conflict-….png` and `name (1).png`.
#[must_use]
pub fn copy_of(path: &str) -> Option<Copy> {
    let (folder, name) = path.rsplit_once('/').map_or(("", path), |(folder, name)| (folder, name));
    let (stem, ending) = name.rsplit_once('.').filter(|(stem, _)| !stem.is_empty())?;
    let (base, sure) = said(stem).map(|base| (base, true)).or_else(|| Some((counted(stem)?, false)))?;
    let slash = if folder.is_empty() { "" } else { "/" };
    (!base.is_empty()).then(|| Copy { base: format!("{folder}{slash}{base}.{ending}"), sure })
}

/// The stem before the words about a conflict.
fn said(stem: &str) -> Option<&str> {
    // Only ASCII changes, so places in both are the same.
    let low = stem.to_ascii_lowercase();
    let at = low.rfind("conflict")?;
    if let Some(open) = stem.rfind('(').filter(|open| *open < at && stem.ends_with(')')) {
        return Some(stem.get(..open)?.trim_end());
    }
    let between = |c: char| matches!(c, '-' | '_' | '.' | ' ');
    let after = low.get(at..)?.trim_start_matches("conflict").trim_start_matches("ed");
    if !after.is_empty() && !after.starts_with(between) {
        return None;
    }
    let before = stem.get(..at)?.strip_suffix(between)?;
    let before = before
        .get(..before.len().saturating_sub(4))
        .filter(|_| low[..before.len()].ends_with("sync"))
        .unwrap_or(before);
    Some(before.trim_end_matches(between))
}

/// The stem before a number in brackets.
fn counted(stem: &str) -> Option<&str> {
    let (base, number) = stem.strip_suffix(')')?.rsplit_once('(')?;
    let counts = (1..=2).contains(&number.len()) && number.bytes().all(|byte| byte.is_ascii_digit());
    counts.then(|| base.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conflicting_copies_are_named_after_their_base() {
        for name in [
            "dulse (conflicted copy 2026-11-25).png",
            "dulse (Fen's conflicted copy 2026-11-25 181500).png",
            "dulse (Conflict).png",
            "dulse-conflict-20261125-181500.png",
            "dulse.sync-conflict-20261125-181500-ABCDEF.png",
            "dulse_conflicted.png",
            "dulse conflict.png",
        ] {
            assert_eq!(copy_of(name), Some(Copy { base: "dulse.png".into(), sure: true }), "{name}");
        }
        assert_eq!(copy_of("cloth-16in/kelp (2).png"), Some(Copy { base: "cloth-16in/kelp.png".into(), sure: false }));
    }

    #[test]
    fn other_names_are_their_own() {
        for name in [
            "dulse.png",
            "conflict.png",
            "conflicting-tides.png",
            "kelp-conflictual.png",
            "kelp (a).png",
            "kelp (2026).png",
        ] {
            assert_eq!(copy_of(name), None, "{name}");
        }
        for odd in ["", ".", "(1).png", ".png", "ü(conflict", "a/", "海 (conflicted copy).", "\u{130}-conflict-.png"]
        {
            let _ = copy_of(odd);
        }
    }
}
