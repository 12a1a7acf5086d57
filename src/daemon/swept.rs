//! What sweeps of archives have to tell in the next letter.
//!
//! Takes the configuration and the ledger; yields plain data. Writes nothing.

use crate::archive::{self, Line, Roots, Since, State};
use crate::config::Config;
use crate::digest::{Count, Folded, Remark, Swept};
use crate::finding::Verdict;
use crate::ledger::{Ledger, LedgerError, archive_folder};
use crate::pipeline::check::words;
use std::path::PathBuf;
use std::time::SystemTime;

/// Where an archive's contact sheets lie in its output folder.
const FAMILIES: &str = "families";

/// What was found in configured archives since the last letter, one entry for each with news. `spelled` writes a time as the
/// reader's clock shows it.
///
/// # Errors
/// When the ledger cannot be read.
pub fn swept(
    config: &Config,
    ledger: &Ledger,
    spelled: impl Fn(SystemTime) -> String,
) -> Result<Vec<Swept>, LedgerError> {
    let pictured = |archive: &str| {
        let checked = &config.archives.iter().find(|one| one.name == archive)?.checked;
        let name = checked.file_name()?.to_string_lossy().into_owned();
        checked.join(FAMILIES).is_dir().then(|| format!("; pictures of them are in {name}/{FAMILIES}"))
    };
    let all = since(config, ledger)?.into_iter();
    Ok(all
        .map(|one| (pictured(&one.archive).unwrap_or_default(), one))
        .map(|(seen, one)| of(one, &seen, &spelled))
        .collect())
}

/// When the oldest news of an archive came that is reason enough for a letter; `None` when there is none.
///
/// # Errors
/// When the ledger cannot be read.
pub fn waiting_since(config: &Config, ledger: &Ledger, unknown: SystemTime) -> Result<Option<SystemTime>, LedgerError> {
    let news = since(config, ledger)?
        .into_iter()
        .filter(|one| !(one.lines.is_empty() && one.reused.is_empty() && one.remarks.is_empty()));
    Ok(news.map(|one| one.last.map_or(unknown, |last| last.ended.unwrap_or(last.began))).min())
}

fn since(config: &Config, ledger: &Ledger) -> Result<Vec<Since>, LedgerError> {
    if config.archives.is_empty() {
        return Ok(Vec::new());
    }
    let after = ledger.last_letter()?.map_or(0, |letter| letter.upto);
    let mut all = archive::since(ledger, after, &roots(config))?;
    all.retain(|one| config.archives.iter().any(|archive| archive.name == one.archive));
    Ok(all)
}

/// Where the files lie that the ledger knows, by the names of their folders there.
#[must_use]
pub fn roots(config: &Config) -> Roots {
    let folders = config.folders.iter().map(|folder| (folder.name.clone(), &folder.exports, &folder.checked));
    let archives =
        config.archives.iter().map(|archive| (archive_folder(&archive.name), &archive.folder, &archive.checked));
    let both = |(key, files, checked): (String, &PathBuf, &PathBuf)| {
        [(format!("outputs/{key}"), checked.clone()), (key, files.clone())]
    };
    folders.chain(archives).flat_map(both).collect()
}

fn of(since: Since, pictured: &str, spelled: impl Fn(SystemTime) -> String) -> Swept {
    let Since { archive, last, new, integrity, verdicts, lines, reused, remarks } = since;
    let count = |number: u64, one: &str, several: &str| Count {
        number: usize::try_from(number).unwrap_or(usize::MAX),
        one: one.into(),
        several: several.into(),
    };
    let counts = [
        count(integrity.files, "tile", "tiles"),
        count(new, "new", "new"),
        count(integrity.damaged, "damaged", "damaged"),
        count(verdicts.held + verdicts.unreadable, "needs you", "need you"),
        count(verdicts.mended, "mended", "mended"),
    ];
    let lines = lines.into_iter().map(|line| (weight(&line), told(line)));
    let mut lines: Vec<(u8, Remark)> = reused.iter().map(|remark| (1, about(remark))).chain(lines).collect();
    // By path within one weight, as they come.
    lines.sort_by_key(|(weight, _)| *weight);
    Swept {
        archive,
        when: last.map(|last| spelled(last.ended.unwrap_or(last.began))).unwrap_or_default(),
        counts: counts.into_iter().filter(|count| count.number > 0).collect(),
        lines: lines.into_iter().map(|(_, line)| line).collect(),
        folded: folded(&remarks, pictured),
    }
}

/// The gravest first: what is being lost, what needs the artist, what only happened.
fn weight(line: &Line) -> u8 {
    match (&line.state, line.verdict) {
        (State::Damaged, _) => 0,
        (State::Vanished, _) => 1,
        (_, Some(Verdict::Held | Verdict::Unreadable)) => 2,
        (_, Some(Verdict::Mendable | Verdict::Mended)) => 3,
        _ => 4,
    }
}

/// Remarks by what they are about, each group with one sentence for all.
fn folded(remarks: &[archive::Remark], pictured: &str) -> Vec<Folded> {
    let group = |kinds: &dyn Fn(&str) -> bool, one: &str, several: &str, then: &str| {
        let of: Vec<&archive::Remark> = remarks.iter().filter(|remark| kinds(&remark.kind)).collect();
        let says = format!("{} {then}", words::count(of.len() as u64, if of.len() == 1 { one } else { several }));
        (!of.is_empty()).then(|| Folded { says, lines: of.into_iter().map(in_short).collect() })
    };
    [
        group(
            &|kind| kind == "twins",
            "pair of tiles is",
            "pairs of tiles are",
            &format!("one repeat under two names{pictured}"),
        ),
        group(&|kind| kind == "family", "drawing has", "drawings have", &format!("several colorways{pictured}")),
        group(
            &|kind| kind.starts_with("name."),
            "name or set of names is",
            "names or sets of names are",
            "worth a look",
        ),
        group(
            &|kind| kind.starts_with("stray."),
            "file does",
            "files do",
            "not seem to belong there; nothing was touched",
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A remark without what to do, which its group has in common.
fn in_short(remark: &archive::Remark) -> Remark {
    const MOST: usize = 3;
    // A copy names its original in words.
    let paths = if remark.kind == "stray.copy" { &remark.paths[..1] } else { &remark.paths };
    let mut names: Vec<String> = paths.iter().take(MOST).map(|path| path.to_string_lossy().into_owned()).collect();
    if paths.len() > MOST {
        names.push(format!("{} more", paths.len() - MOST));
    }
    // The rule stands in the settings; what a name should be is shorter.
    let says = if remark.kind == "name.odd" { &remark.remedy } else { &remark.says };
    Remark { name: names.join(", "), says: says.clone() }
}

fn about(remark: &archive::Remark) -> Remark {
    let name = remark.paths.first().map(|path| path.to_string_lossy().into_owned()).unwrap_or_default();
    Remark { name, says: format!("{}; {}", remark.says, remark.remedy) }
}

fn told(line: Line) -> Remark {
    let says = if line.remedy.is_empty() { line.says } else { format!("{}; {}", line.says, line.remedy) };
    Remark { name: line.path.to_string_lossy().into_owned(), says }
}
