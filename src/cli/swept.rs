//! What a sweep found, as people and machines read it: a table in words, lines of JSON, or comma-separated values.

use super::plain::{answer, printable};
use crate::archive::kin;
use crate::archive::tile::Tile;
use crate::archive::{Line, Remark, Report, State, Swept};
use crate::config::archives::Archive;
use crate::finding::Verdict;
use crate::ledger::{Ledger, LedgerError, MemberState};
use crate::pipeline::check::words::count;
use crate::ticket::swept;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Lines of news that a table shows of one archive; machines are told all.
const MOST: usize = 40;
/// Remarks of one sort that a table shows.
const MOST_REMARKS: usize = 25;
/// Names that a table shows of one remark.
const MOST_NAMES: usize = 6;
/// The names of the columns of comma-separated values.
const COLUMNS: [&str; 14] = [
    "archive",
    "tile",
    "state",
    "moved_from",
    "blake3",
    "bytes",
    "verified",
    "spec",
    "verdict",
    "findings",
    "says",
    "do",
    "tile_hex",
    "family",
];

/// How an answer is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A table in words.
    Table,
    /// One line of JSON for every tile, every remark, and the counts.
    Json,
    /// Comma-separated values, one line a tile.
    Csv,
}

/// Why an answer could not be given.
#[derive(Debug, thiserror::Error)]
pub enum TellError {
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// A line of JSON.
    #[error("a line of the answer could not be written: {0}; please report this")]
    Json(String),
}

impl Form {
    /// Begins an answer.
    pub fn begin(self) {
        if self == Self::Csv {
            answer(&row(&COLUMNS.map(str::to_string)));
        }
    }

    /// Tells what was found in one archive.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn tell(self, archive: &Archive, found: &Swept, ledger: &Mutex<Ledger>, dry: bool) -> Result<(), TellError> {
        let families = kin::families(&found.report.twins, &found.report.strays);
        match self {
            Self::Table => answer(table(archive, &found.report, dry).trim_end()),
            Self::Csv => {
                for tile in &found.tiles {
                    let tile = spelled(archive, tile, &families, ledger)?;
                    let findings = tile.findings.join(" ");
                    answer(&row(&[
                        tile.archive,
                        tile.tile,
                        tile.state,
                        tile.moved_from.unwrap_or_default(),
                        tile.blake3,
                        tile.bytes.to_string(),
                        tile.verified,
                        tile.spec,
                        tile.verdict.unwrap_or_default(),
                        findings,
                        tile.says.unwrap_or_default(),
                        tile.remedy.unwrap_or_default(),
                        tile.tile_hex.unwrap_or_default(),
                        tile.family.unwrap_or_default(),
                    ]));
                }
                for remark in remarks(&found.report) {
                    for path in &remark.paths {
                        answer(&row(&remark_row(archive, remark, path)));
                    }
                }
            }
            Self::Json => {
                let say = |line: &swept::Line| {
                    line.to_line().map(|line| answer(&line)).map_err(|error| TellError::Json(error.to_string()))
                };
                for tile in &found.tiles {
                    say(&swept::Line::Tile(spelled(archive, tile, &families, ledger)?))?;
                }
                for remark in remarks(&found.report) {
                    say(&swept::Line::Remark(swept::Remark {
                        archive: archive.name.clone(),
                        kind: remark.kind.clone(),
                        files: remark.paths.iter().map(|path| path.to_string_lossy().into_owned()).collect(),
                        files_hex: hexes(&remark.paths),
                        says: remark.says.clone(),
                        remedy: remark.remedy.clone(),
                    }))?;
                }
                say(&swept::Line::Summary(summary(archive, &found.report, dry)))?;
            }
        }
        Ok(())
    }
}

/// One line of comma-separated values (RFC 4180) without the line end.
fn row(fields: &[String]) -> String {
    let mut writer = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    // Writing into memory does not fail, and every row has the same number of fields.
    let _ = writer.write_record(fields);
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).trim_end_matches('\n').to_string()
}

/// A remark as a line of values: its kind stands in the place of a state.
fn remark_row(archive: &Archive, remark: &Remark, path: &Path) -> [String; COLUMNS.len()] {
    COLUMNS.map(|column| match column {
        "archive" => archive.name.clone(),
        "tile" => path.to_string_lossy().into_owned(),
        "state" => remark.kind.clone(),
        "says" => remark.says.clone(),
        "do" => remark.remedy.clone(),
        "tile_hex" => hex(path).unwrap_or_default(),
        _ => String::new(),
    })
}

fn remarks(report: &Report) -> impl Iterator<Item = &Remark> {
    report.twins.iter().chain(&report.names).chain(&report.strays)
}

fn spelled(
    archive: &Archive,
    tile: &Tile,
    families: &BTreeMap<PathBuf, PathBuf>,
    ledger: &Mutex<Ledger>,
) -> Result<swept::Tile, LedgerError> {
    let member = &tile.member;
    let judged = member.judged.as_ref();
    // The judgment of a sound tile has only advice, which is not told here.
    let is_told = judged.is_some_and(|judged| judged.verdict != Verdict::Sound);
    let judgment =
        if is_told { tile.judgment(Some(&ledger.lock().unwrap_or_else(PoisonError::into_inner)))? } else { None };
    let findings: Vec<_> = judgment.iter().flat_map(|ticket| &ticket.findings).filter(|one| !one.silenced).collect();
    let (moved_from, found) = match (&tile.state, member.state) {
        (State::Moved { from }, _) => (Some(from), None),
        (_, MemberState::Damaged { found }) => (None, Some(found.to_string())),
        _ => (None, None),
    };
    Ok(swept::Tile {
        archive: archive.name.clone(),
        tile: member.path.to_string_lossy().into_owned(),
        tile_hex: hex(&member.path),
        state: tile.state.name().into(),
        moved_from: moved_from.map(|from| from.to_string_lossy().into_owned()),
        moved_from_hex: moved_from.and_then(|from| hex(from)),
        family: families.get(&member.path).map(|family| family.to_string_lossy().into_owned()),
        blake3: member.content.to_string(),
        found_blake3: found,
        bytes: member.size(),
        verified: jiff::Timestamp::try_from(member.verified).map(|time| time.to_string()).unwrap_or_default(),
        spec: judged.map(|judged| judged.spec.clone()).unwrap_or_default(),
        verdict: judged.map(|judged| judged.verdict.name().into()),
        findings: findings.iter().map(|finding| finding.kind.name().into()).collect(),
        says: findings.first().map(|finding| finding.says.clone()),
        remedy: findings.first().map(|finding| finding.remedy.clone()),
    })
}

/// The raw bytes of a name that is not UTF-8.
fn hex(path: &Path) -> Option<String> {
    path.to_str().is_none().then(|| path.as_os_str().as_bytes().iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Likewise of several; none when all are UTF-8.
pub(super) fn hexes(paths: &[PathBuf]) -> Vec<String> {
    let all: Vec<Option<String>> = paths.iter().map(|path| hex(path)).collect();
    if all.iter().all(Option::is_none) { Vec::new() } else { all.into_iter().map(Option::unwrap_or_default).collect() }
}

fn summary(archive: &Archive, report: &Report, dry_run: bool) -> swept::Summary {
    let (files, tiles) = (&report.integrity, &report.verdicts);
    swept::Summary {
        archive: archive.name.clone(),
        files: files.files,
        bytes: files.bytes,
        read: files.read,
        read_bytes: files.read_bytes,
        inspected: tiles.inspected,
        unchanged: files.unchanged,
        new: files.new,
        changed: files.changed,
        damaged: files.damaged,
        restored: files.restored,
        moved: files.moved,
        vanished: files.vanished,
        not_looked_at: files.left,
        sound: tiles.sound,
        mendable: tiles.mendable,
        mended: tiles.mended,
        held: tiles.held,
        unreadable: tiles.unreadable,
        given_mended: report.given.mended,
        given_pictured: report.given.pictured,
        left: report.left.files,
        left_bytes: report.left.bytes,
        left_to_mend: report.unmended,
        dry_run,
        seconds: (report.took.as_secs_f64() * 1e3).round() / 1e3,
        troubles: report.troubles.clone(),
    }
}

/// The table in words.
fn table(archive: &Archive, report: &Report, dry: bool) -> String {
    let (files, tiles) = (&report.integrity, &report.verdicts);
    let mut out = format!(
        "{}: {}, {} ({})\n",
        printable(&archive.name),
        counted(files.files, "tile", "tiles"),
        size(files.bytes),
        printable(&archive.folder.to_string_lossy())
    );
    let mut put = |what: &str, parts: Vec<(u64, &str)>| {
        let some: Vec<String> = parts
            .iter()
            .filter(|(number, _)| *number > 0)
            .map(|(number, words)| format!("{} {words}", count(*number, "")))
            .collect();
        if !some.is_empty() {
            let _ = writeln!(out, "  {what:<8}{}", some.join(", "));
        }
    };
    put(
        "files",
        vec![
            (files.unchanged, "as recorded"),
            (files.new, "new"),
            (files.changed, "written anew"),
            (files.moved, "moved"),
            (files.restored, "as recorded again"),
            (files.damaged, "damaged"),
            (files.vanished, "no longer there"),
            (files.left, "not looked at"),
        ],
    );
    put(
        "tiles",
        vec![
            (tiles.sound, "ready"),
            (tiles.mended, "ready, mended"),
            (tiles.mendable, "can be mended"),
            (tiles.held, if tiles.held == 1 { "needs you" } else { "need you" }),
            (tiles.unreadable, "cannot be opened"),
        ],
    );
    let _ = writeln!(
        out,
        "  {:<8}{} read in full, {}; {} inspected; {}",
        "work",
        count(files.read, ""),
        size(files.read_bytes),
        count(tiles.inspected, ""),
        time(report.took.as_secs_f64())
    );
    let given = &report.given;
    if given.mended + given.pictured > 0 {
        let _ = writeln!(
            out,
            "  {:<8}{} mended, {} pictured, in {}",
            "given",
            count(given.mended, ""),
            count(given.pictured, ""),
            printable(&archive.checked.to_string_lossy())
        );
    }
    news(&mut out, &report.lines);
    let mut more_remarks = 0;
    for group in [&report.twins, &report.names, &report.strays] {
        group.iter().take(MOST_REMARKS).for_each(|remark| told(&mut out, remark));
        more_remarks += group.len().saturating_sub(MOST_REMARKS);
    }
    if more_remarks > 0 {
        let _ = writeln!(out, "  and {} more remarks; --json tells all", count(more_remarks as u64, "").trim());
    }
    for trouble in &report.troubles {
        let _ = writeln!(out, "  {trouble}");
    }
    if report.left.files > 0 {
        let left = counted(report.left.files, "file", "files");
        let _ = writeln!(out, "  {left}, {}, are left: the next sweep goes on there", size(report.left.bytes));
    }
    if report.unmended > 0 {
        let left = counted(report.unmended, "tile", "tiles");
        let _ = writeln!(out, "  {left} are left to be mended or pictured by the next sweep");
    }
    if dry {
        let would = counted(given.would, "tile", "tiles");
        let _ = writeln!(out, "  nothing was written: this was a dry run; {would} would be mended or pictured");
    }
    out
}

/// A line about one remark.
fn told(out: &mut String, remark: &Remark) {
    // A copy's original stands in the sentence.
    let shown = if remark.kind == "stray.copy" { &remark.paths[..1] } else { &remark.paths };
    let names: Vec<String> = shown.iter().map(|path| printable(&path.to_string_lossy())).collect();
    let more = match names.len().saturating_sub(MOST_NAMES) {
        0 => String::new(),
        more => format!(" and {} more", count(more as u64, "").trim()),
    };
    let names = names.iter().take(MOST_NAMES).map(String::as_str).collect::<Vec<_>>().join(", ");
    let _ = writeln!(out, "  {names}{more}: {}{}", remark.says, to_do(&remark.remedy));
}

fn news(out: &mut String, lines: &[Line]) {
    // What may be lost comes first, then what needs the artist, then the rest; each by path.
    let weight = |line: &Line| match (&line.state, line.verdict) {
        (State::Damaged, _) => 0,
        (State::Vanished, _) => 1,
        (_, Some(Verdict::Unreadable)) => 2,
        (_, Some(Verdict::Held)) => 3,
        _ => 4,
    };
    let mut sorted: Vec<&Line> = lines.iter().collect();
    sorted.sort_by_key(|line| weight(line));
    for line in sorted.iter().take(MOST) {
        let name = printable(&line.path.to_string_lossy());
        let what = match (&line.state, line.verdict) {
            (State::Damaged, _) => "damaged",
            (State::Vanished, _) => "gone",
            (State::Moved { .. }, _) => "moved",
            (State::Healed | State::Returned, _) => "back",
            (State::Left, _) => "not looked at",
            (_, Some(verdict)) => verdict.plain(),
            (_, None) => "not judged",
        };
        let _ = writeln!(out, "  {what}: {name}: {}{}", line.says, to_do(&line.remedy));
    }
    if sorted.len() > MOST {
        let _ = writeln!(out, "  and {} more; --json tells all", count((sorted.len() - MOST) as u64, ""));
    }
}

fn to_do(remedy: &str) -> String {
    if remedy.is_empty() { String::new() } else { format!("; to do: {remedy}") }
}

fn counted(number: u64, one: &str, many: &str) -> String {
    count(number, if number == 1 { one } else { many })
}

fn size(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.2} GB", bytes as f64 / 1e9),
    }
}

fn time(seconds: f64) -> String {
    if seconds < 100.0 { format!("{seconds:.1} s") } else { format!("{:.1} min", seconds / 60.0) }
}
