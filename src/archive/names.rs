//! What the names of an archive say together: names that do not fit, sets with missing colorways, unequal sets, doubled codes,
//! and a name under which another drawing lies now. Pure over plain rows; the order follows from the rows alone.

use super::copies::bases;
use super::naming::{Pattern, Words};
use super::report::Remark;
use crate::disk::spelled;
use crate::ledger::folded;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// What is known of a tile beside its name; what is not known is not compared.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Pixels across and down.
    pub size: Option<(u32, u32)>,
    /// The layouts it joins in, by name.
    pub layouts: Option<Vec<String>>,
    /// How many flat colors it has, where its art is flat.
    pub colors: Option<u32>,
}

/// One tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Relative to the archive's folder, raw.
    pub path: PathBuf,
    /// What is known of it.
    pub facts: Facts,
}

/// One tile whose name fits.
struct Named<'a> {
    row: &'a Row,
    words: Words,
}

/// All remarks about the names of an archive. Copies of files that are there are told elsewhere.
#[must_use]
pub fn remarks(pattern: &Pattern, rows: &[Row]) -> Vec<Remark> {
    let mut rows: Vec<&Row> = rows.iter().collect();
    rows.sort_by(|one, other| one.path.cmp(&other.path));
    let there: BTreeSet<&Path> = rows.iter().map(|row| row.path.as_path()).collect();
    rows.retain(|row| !bases(&row.path).iter().any(|base| there.contains(base.as_path())));
    let mut taken: BTreeSet<Vec<u8>> = rows.iter().filter_map(|row| code(pattern, &row.path)).collect();
    let (mut out, mut named) = (Vec::new(), Vec::new());
    for row in &rows {
        match pattern.fit(&row.path) {
            Ok(words) => named.push(Named { row, words }),
            Err(misfit) => {
                // Two names are never sent to one.
                let free = misfit.proposed.filter(|name| taken.insert(folded(Path::new(name))));
                let ending = row.path.extension().map(|ending| format!(".{}", ending.to_string_lossy().to_lowercase()));
                let remedy = match free {
                    Some(name) => format!("name it {name}{}", ending.unwrap_or_default()),
                    None => format!("name it as {} says", pattern.text()),
                };
                out.push(Remark {
                    kind: "name.odd".into(),
                    paths: vec![row.path.clone()],
                    says: format!("the name is not as {} says: {}", pattern.text(), misfit.wrong.join("; ")),
                    remedy,
                });
            }
        }
    }
    out.extend(doubled(pattern, &rows));
    out.extend(sets(&named));
    out
}

/// A name as a code: without its ending, case and Unicode form.
fn code(pattern: &Pattern, path: &Path) -> Option<Vec<u8>> {
    pattern.subject(path).map(|name| folded(Path::new(&name)))
}

fn doubled(pattern: &Pattern, rows: &[&Row]) -> Vec<Remark> {
    let mut codes: BTreeMap<Vec<u8>, Vec<PathBuf>> = BTreeMap::new();
    for row in rows {
        if let Some(code) = code(pattern, &row.path) {
            codes.entry(code).or_default().push(row.path.clone());
        }
    }
    let remark = |(code, paths): (Vec<u8>, Vec<PathBuf>)| Remark {
        kind: "name.doubled".into(),
        says: format!("{} tiles have the one name {}", paths.len(), String::from_utf8_lossy(&code)),
        remedy: "keep one of them here, or give each a name of its own: an order by name could bring either".into(),
        paths,
    };
    codes.into_iter().filter(|(_, paths)| paths.len() > 1).map(remark).collect()
}

/// Missing and unequal colorways. Designs are compared within a collection: within all words but design and colorway.
fn sets(named: &[Named<'_>]) -> Vec<Remark> {
    type Designs<'a> = BTreeMap<String, Vec<(&'a str, &'a Row)>>;
    let mut collections: BTreeMap<Vec<(String, String)>, Designs<'_>> = BTreeMap::new();
    for Named { row, words } in named {
        let (Some(design), Some(colorway)) = (words.get("design"), words.get("colorway")) else { continue };
        let rest = words.iter().filter(|(word, _)| !["design", "colorway"].contains(&word.as_str()));
        let key = rest.map(|(word, value)| (word.clone(), value.clone())).collect();
        collections.entry(key).or_default().entry(design.clone()).or_default().push((colorway, row));
    }
    let mut out = Vec::new();
    for designs in collections.values() {
        let all: BTreeSet<&str> = designs.values().flatten().map(|(colorway, _)| *colorway).collect();
        for (design, tiles) in designs {
            let own: BTreeSet<&str> = tiles.iter().map(|(colorway, _)| *colorway).collect();
            let missing: Vec<&str> = all.difference(&own).copied().collect();
            let paths: Vec<PathBuf> = tiles.iter().map(|(_, row)| row.path.clone()).collect();
            if !missing.is_empty() {
                let [noun, are, which] =
                    if missing.len() == 1 { ["colorway", "is", "it"] } else { ["colorways", "are", "them"] };
                out.push(Remark {
                    kind: "name.missing".into(),
                    paths: paths.clone(),
                    says: format!(
                        "the {noun} {} of {design} {are} missing; others of its collection have {which}",
                        listed(&missing)
                    ),
                    remedy: "export what is missing, or leave it so on purpose".into(),
                });
            }
            let unequal = unequal(tiles);
            if !unequal.is_empty() {
                out.push(Remark {
                    kind: "name.unequal".into(),
                    paths,
                    says: format!("the colorways of {design} are not alike: {}", unequal.join("; ")),
                    remedy: "export those that differ again as the others are".into(),
                });
            }
        }
    }
    out
}

/// What differs within one design, each as a sentence about those that are fewer.
fn unequal(tiles: &[(&str, &Row)]) -> Vec<String> {
    let of = |say: &dyn Fn(&Facts) -> Option<String>| -> Option<String> {
        let mut groups: BTreeMap<String, Vec<&str>> = BTreeMap::new();
        for (colorway, row) in tiles {
            if let Some(said) = say(&row.facts) {
                groups.entry(said).or_default().push(colorway);
            }
        }
        let most = groups.values().map(Vec::len).max()?;
        let usual = groups.iter().find(|(_, colorways)| colorways.len() == most).map(|(said, _)| said.clone())?;
        let others: Vec<String> = groups
            .iter()
            .filter(|(said, _)| **said != usual)
            .map(|(said, colorways)| format!("{} {said}", listed(colorways)))
            .collect();
        let rest = groups[&usual].as_slice();
        (!others.is_empty()).then(|| format!("{}, {} {usual}", others.join(", "), listed(rest)))
    };
    let size = of(&|facts| facts.size.map(|(width, height)| format!("with {width} x {height} pixels")));
    let layouts = of(&|facts| {
        facts.layouts.as_ref().map(|layouts| match layouts.as_slice() {
            [] => "joining in no layout".to_string(),
            layouts => format!("joining as {}", layouts.join(", ")),
        })
    });
    let colors = of(&|facts| facts.colors.map(|colors| format!("in {colors} colors")));
    [size, layouts, colors].into_iter().flatten().collect()
}

/// "a", "a and b", "a, b and c".
fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_string(),
        [front @ .., last] => format!("{} and {last}", front.join(", ")),
    }
}

/// The remark about a tile that was written anew with another drawing: `copies` says where the old one still lies.
#[must_use]
pub fn reused(path: &Path, copies: &[PathBuf]) -> Remark {
    let remedy = match copies {
        [] => "give the new one a name of its own, and put the old one back from a backup if you still need it".into(),
        [copy, ..] => format!("give the new one a name of its own; the old one still lies at {}", spelled(copy)),
    };
    Remark {
        kind: "name.reused".into(),
        paths: vec![path.into()],
        says: "another drawing has this name now; what was made of the old one is kept".into(),
        remedy,
    }
}
