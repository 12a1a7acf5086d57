//! Which files of an archive show one drawing: twins, colorways and copies of one family together.
//!
//! Takes remarks, yields for each file the name of its family. Pure; the names follow from the remarks alone.

use super::report::Remark;
use super::tidying::{COPY, SAME};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The family of each file that has one, named by the first of its paths.
#[must_use]
pub fn families(remarks: &[Remark], strays: &[Remark]) -> BTreeMap<PathBuf, PathBuf> {
    let mut beside: BTreeMap<&Path, BTreeSet<&Path>> = BTreeMap::new();
    let is_kin = |remark: &&Remark| match remark.kind.as_str() {
        "twins" | "family" => true,
        kind => kind == COPY && remark.says.ends_with(SAME),
    };
    for remark in remarks.iter().chain(strays).filter(is_kin) {
        for pair in remark.paths.windows(2) {
            beside.entry(&pair[0]).or_default().insert(&pair[1]);
            beside.entry(&pair[1]).or_default().insert(&pair[0]);
        }
    }
    let mut found: BTreeMap<PathBuf, PathBuf> = BTreeMap::new();
    for first in beside.keys() {
        let mut open = vec![*first];
        while let Some(path) = open.pop() {
            if !found.contains_key(path) {
                found.insert(path.into(), (*first).into());
                open.extend(&beside[path]);
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twins_and_colorways_that_meet_are_one_family() {
        let remark = |kind: &str, paths: &[&str]| Remark {
            kind: kind.into(),
            paths: paths.iter().map(PathBuf::from).collect(),
            says: String::new(),
            remedy: String::new(),
        };
        let all = [
            remark("twins", &["m/kelp.png", "kelp-moved.png"]),
            remark("family", &["m/kelp.png", "coral.png", "slate.png"]),
            remark("twins", &["x.png", "y.png"]),
            remark("stray.copy", &["a.png", "x.png"]),
        ];
        let copy = Remark {
            says: "a copy of y.png, exactly the same".into(),
            ..remark("stray.copy", &["y (1).png", "y.png"])
        };
        let found = families(&all, &[copy]);
        let of = |path: &str| found.get(Path::new(path)).map(|family| family.to_str().unwrap());
        for path in ["m/kelp.png", "kelp-moved.png", "coral.png", "slate.png"] {
            assert_eq!(of(path), Some("coral.png"), "{path}");
        }
        assert_eq!([of("x.png"), of("y (1).png"), of("a.png")], [Some("x.png"), Some("x.png"), None]);
    }
}
