//! The map of the code, held by force. Each rule says why it exists when it fails.

#![expect(clippy::unwrap_used, reason = "a test that cannot read its input has failed")]

mod desk;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Every top-level module, from what knows least to what knows most. A module may import only what stands before it.
const ORDER: &[(&str, &[&str])] = &[
    ("ground", &["clock", "finding", "spec", "tile", "ticket", "pixel", "codec", "disk"]),
    ("flow", &["arrival", "settle", "pipeline", "worker", "ledger", "deliver", "archive", "digest"]),
    ("top", &["config", "daemon", "demo", "cli", "main"]),
];

/// Things that have one home, and why.
const HOMES: &[(&str, &[&str], &str)] = &[
    ("Instant::now", &["clock"], "read time through `clock`, so that settling and schedules can be tested"),
    ("SystemTime::now", &["clock"], "read time through `clock`, so that settling and schedules can be tested"),
    ("ZonedDateTime::now", &["clock"], "read time through `clock`, so that settling and schedules can be tested"),
    ("Timestamp::now", &["clock"], "read time through `clock`, so that settling and schedules can be tested"),
    ("fs::write", &["disk"], "write through `disk`, so that tests can stop or fail at each operation"),
    ("fs::rename", &["disk"], "publish through `disk`, so that tests can stop or fail at each operation"),
    ("fs::remove", &["disk"], "unlink through `disk`, so that tests can stop or fail at each operation"),
    ("fs::create_dir", &["disk"], "make folders through `disk`, so that tests can stop or fail at each operation"),
    ("fs::copy", &["disk"], "copy through `disk`, so that tests can stop or fail at each operation"),
    ("File::create", &["disk"], "write through `disk`, so that tests can stop or fail at each operation"),
    ("OpenOptions", &["disk"], "open through `disk`, so that tests can stop or fail at each operation"),
    (
        "serde_json::",
        &["ticket", "worker", "ledger"],
        "what is stored or sent has one shape, kept where its version is kept",
    ),
    ("png::", &["codec"], "bytes become pixels under one allocation budget, in `codec`"),
    ("image::", &["codec"], "bytes become pixels under one allocation budget, in `codec`"),
    ("jpeg_encoder::", &["codec"], "pixels become bytes in `codec`"),
    ("rusqlite::", &["ledger"], "the ledger's shape is known to the ledger alone, so that it can migrate"),
    ("notify::", &["arrival"], "events are a hint that `arrival` turns into looks; nobody else may trust them"),
    ("lettre::", &["digest"], "mail leaves through `digest` alone"),
    ("rustls::", &["digest"], "mail leaves through `digest` alone"),
    ("clap::", &["cli", "main"], "the library can be called without a command line"),
    ("println!", &["cli"], "standard output carries only a command's answer, printed by the command"),
    (
        "tokio::",
        &["arrival", "worker", "daemon", "cli", "main"],
        "the core is synchronous, so that it can be called from anywhere",
    ),
];

struct Room {
    /// Path of modules below the crate, e.g. `["pipeline", "check", "joint"]`.
    path: Vec<String>,
    file: PathBuf,
    /// The file up to its inline tests, comments and strings blanked.
    code: String,
    raw: String,
}

fn rooms() -> Vec<Room> {
    fn walk(folder: &Path, src: &Path, out: &mut Vec<Room>) {
        let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
        entries.sort();
        for path in entries {
            if path.is_dir() {
                walk(&path, src, out);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let raw = fs::read_to_string(&path).unwrap();
                let module = path.strip_prefix(src).unwrap().with_extension("");
                let path_of = module.iter().map(|part| part.to_str().unwrap().to_string()).collect();
                if only_for_tests(&path) {
                    continue;
                }
                let body = raw.split("\n#[cfg(test)]").next().unwrap();
                out.push(Room { path: path_of, file: path, code: blanked(body), raw });
            }
        }
    }
    let src = desk::root().join("src");
    let mut out = Vec::new();
    walk(&src, &src, &mut out);
    assert!(out.len() > 20, "the sources are not where they are looked for");
    out
}

/// Whether the parent declares the file under `cfg(test)`: an inline test module that got a file of its own.
fn only_for_tests(path: &Path) -> bool {
    let parent = path.parent().unwrap().with_extension("rs");
    let stem = path.file_stem().unwrap().to_str().unwrap();
    fs::read_to_string(parent).is_ok_and(|text| text.contains(&format!("#[cfg(test)]\nmod {stem};")))
}

/// The code with comments and string contents blanked, line breaks kept.
fn blanked(source: &str) -> String {
    let mut out = String::with_capacity(source.len());
    let mut rest = source;
    while let Some(c) = rest.chars().next() {
        let skip = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |at| at + 2)
        } else if let Some(raw) = rest.strip_prefix("r#\"") {
            raw.find("\"#").map_or(rest.len(), |at| at + 5)
        } else if c == '"' {
            let mut end = 1;
            let bytes = rest.as_bytes();
            while end < bytes.len() && bytes[end] != b'"' {
                end += if bytes[end] == b'\\' { 2 } else { 1 };
            }
            (end + 1).min(rest.len())
        } else if rest.starts_with("'\"'") {
            3
        } else {
            out.push(c);
            rest = &rest[c.len_utf8()..];
            continue;
        };
        out.extend(rest[..skip].chars().filter(|c| *c == '\n'));
        rest = &rest[skip..];
    }
    out
}

/// All `crate::`, `super::`, `self::` and (in main) `burler::` paths, with the braces of use trees spread out.
fn references(code: &str) -> Vec<Vec<String>> {
    fn spread(prefix: &[String], rest: &str, out: &mut Vec<Vec<String>>) -> usize {
        let mut path = prefix.to_vec();
        let mut at = 0;
        loop {
            let tail = &rest[at..];
            let ident: String = tail.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            if !ident.is_empty() {
                at += ident.len();
                path.push(ident);
                if rest[at..].starts_with("::") {
                    at += 2;
                    continue;
                }
                out.push(path);
                return at;
            }
            if tail.starts_with('{') {
                at += 1;
                while at < rest.len() && !rest[at..].starts_with('}') {
                    let step = rest[at..].chars().next().unwrap();
                    if step.is_whitespace() || step == ',' {
                        at += step.len_utf8();
                    } else {
                        let used = spread(&path, &rest[at..], out);
                        at += used.max(1);
                        // An `as` name is not a path of its own.
                        if rest[at..].trim_start().starts_with("as ") {
                            at += rest[at..].find([',', '}']).unwrap_or(0);
                        }
                    }
                }
                return at + 1;
            }
            out.push(path);
            return at;
        }
    }
    let mut out = Vec::new();
    for root in ["crate::", "super::", "self::", "burler::"] {
        let mut from = 0;
        while let Some(found) = code[from..].find(root) {
            let at = from + found;
            from = at + root.len();
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            spread(&[], &code[at..], &mut out);
        }
    }
    out
}

/// The children of every module in the order its file declares them.
fn declared(rooms: &[Room]) -> BTreeMap<Vec<String>, Vec<String>> {
    rooms
        .iter()
        .map(|room| {
            let children = room
                .code
                .lines()
                .filter_map(|line| {
                    line.trim().strip_prefix("pub mod ").or_else(|| line.trim().strip_prefix("mod ")).or_else(|| {
                        line.trim()
                            .strip_prefix("pub(crate) mod ")
                            .or_else(|| line.trim().strip_prefix("pub(super) mod "))
                    })
                })
                .map(|name| name.trim_end_matches([';', '{', ' ']).to_string())
                .collect();
            (room.path.clone(), children)
        })
        .collect()
}

fn rank(module: &str) -> Option<(usize, usize)> {
    ORDER
        .iter()
        .enumerate()
        .find_map(|(layer, (_, names))| names.iter().position(|name| *name == module).map(|place| (layer, place)))
}

#[test]
fn imports_follow_the_order_of_the_data() {
    let rooms = rooms();
    let children = declared(&rooms);
    let known: BTreeSet<Vec<String>> = rooms.iter().map(|room| room.path.clone()).collect();
    let mut wrong = Vec::new();
    for room in rooms.iter().filter(|room| room.path != ["lib"]) {
        for reference in references(&room.code) {
            let Some(target) = resolved(&room.path, &reference, &known) else { continue };
            if target == room.path || target.is_empty() {
                continue;
            }
            let shared = room.path.iter().zip(&target).take_while(|(a, b)| a == b).count();
            let spelled = (room.path.join("::"), target.join("::"));
            if shared == target.len() {
                wrong.push(format!("`{}` imports its parent `{}`", spelled.0, spelled.1));
            } else if shared == room.path.len() {
                // A parent may import its children.
            } else if shared == 0 {
                let (from, to) = (rank(&room.path[0]), rank(&target[0]));
                match (from, to) {
                    (Some(from), Some(to)) if to < from => {}
                    (Some(_), Some(_)) => {
                        wrong.push(format!("`{}` imports `{}`, which comes later", spelled.0, spelled.1));
                    }
                    _ => wrong.push(format!("`{}` or `{}` is not in the order", spelled.0, spelled.1)),
                }
            } else {
                let order = &children[&room.path[..shared]];
                let place = |name: &String| order.iter().position(|child| child == name);
                match (place(&room.path[shared]), place(&target[shared])) {
                    (Some(from), Some(to)) if to < from => {}
                    _ => {
                        wrong.push(format!("`{}` imports `{}`, which its parent declares later", spelled.0, spelled.1));
                    }
                }
            }
        }
    }
    wrong.sort();
    wrong.dedup();
    assert!(
        wrong.is_empty(),
        "data flows one way, so that any stage can be read, tested and replaced with only what comes before it in mind:\n{}",
        wrong.join("\n")
    );
}

/// The module a path points into: the longest prefix that is a module.
fn resolved(from: &[String], reference: &[String], known: &BTreeSet<Vec<String>>) -> Option<Vec<String>> {
    let mut at: Vec<String>;
    let mut rest = reference;
    match reference[0].as_str() {
        "crate" | "burler" => at = Vec::new(),
        "self" => at = from.to_vec(),
        _ => {
            at = from.to_vec();
            while rest.first().is_some_and(|part| part == "super") {
                at.pop();
                rest = &rest[1..];
            }
            rest = &reference[reference.len() - rest.len() - 1..];
        }
    }
    for part in &rest[1..] {
        at.push(part.clone());
        if !known.contains(&at) {
            at.pop();
            break;
        }
    }
    Some(at)
}

#[test]
fn every_module_has_its_place_in_the_order() {
    for room in rooms() {
        let name = &room.path[0];
        assert!(
            name == "lib" || rank(name).is_some(),
            "`{name}` has no place in the order of tests/architecture.rs: say where it stands, so that it is clear what it may know"
        );
    }
}

#[test]
fn each_file_says_its_duty_first() {
    for room in rooms() {
        let doc = room.raw.lines().take_while(|line| line.starts_with("//!")).count();
        assert!(
            doc > 0,
            "{} does not begin with its duty: a reader decides there whether to read on",
            room.file.display()
        );
        let most = if room.path == ["lib"] { 40 } else { 12 };
        assert!(doc <= most, "{}: {doc} lines of duty are more than one duty", room.file.display());
    }
}

#[test]
fn files_stay_short() {
    for room in rooms() {
        let lines = room.code.lines().count();
        assert!(
            lines <= 400,
            "{} has {lines} lines before its tests: over 400 it does more than one thing, and nobody reads it whole",
            room.file.display()
        );
    }
}

#[test]
fn what_has_one_home_stays_there() {
    for room in rooms() {
        for (word, homes, why) in HOMES {
            let found = room.code.match_indices(word).any(|(at, _)| {
                let before = room.code[..at].chars().next_back();
                // `crate::codec::png::` names a module of ours, not the crate; `eprintln!` is another macro.
                !before.is_some_and(|c| {
                    c.is_alphanumeric()
                        || c == '_'
                        || (c == ':' && !word.starts_with(char::is_uppercase) && !word.starts_with("fs::"))
                })
            });
            assert!(
                !found || homes.contains(&room.path[0].as_str()),
                "{} uses `{word}`, whose home is {homes:?}: {why}",
                room.file.display()
            );
        }
    }
}

#[test]
fn input_cannot_bring_the_program_down_and_nothing_is_left_for_later() {
    let marks = ["TODO", "FIXME", "XXX", "HACK"];
    for room in rooms() {
        for word in [".unwrap()", "todo!(", "unimplemented!(", "dbg!("] {
            assert!(
                !room.code.contains(word),
                "{} has `{word}`: an error told is kept work, a panic is lost work",
                room.file.display()
            );
        }
        for mark in marks {
            assert!(
                !room.raw.contains(mark),
                "{} has `{mark}`: what is not done is an issue, not a comment",
                room.file.display()
            );
        }
    }
    let (mut expects, mut lines) = (0, 0);
    for room in rooms() {
        expects += room.code.matches(".expect(").count();
        lines += room.code.lines().count();
    }
    assert!(
        expects * 500 <= lines,
        "{expects} uses of expect in {lines} lines: more than two in a thousand are a habit"
    );
}

#[test]
fn the_top_level_is_the_fixed_one() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "LICENSE",
        "README.md",
        "DEVELOPERS.md",
        "src",
        "tests",
        "config",
        "systemd",
        "target",
    ];
    for entry in fs::read_dir(desk::root()).unwrap() {
        let name = entry.unwrap().file_name();
        let name = name.to_str().unwrap();
        assert!(
            name.starts_with('.') || allowed.contains(&name),
            "`{name}` does not belong beside {allowed:?}: a small top level is the first page a newcomer reads"
        );
    }
}

mod the_rules_can_fail {
    use super::*;

    #[test]
    fn use_trees_are_spread() {
        let found = references(
            "use crate::{ledger::Row, pipeline::{check, mend::Mended as M}};\nlet x = super::words::place();",
        );
        let spelled: Vec<String> = found.iter().map(|path| path.join("::")).collect();
        assert_eq!(
            spelled,
            ["crate::ledger::Row", "crate::pipeline::check", "crate::pipeline::mend::Mended", "super::words::place"]
        );
    }

    #[test]
    fn parents_and_modules_are_told_apart() {
        let path = |text: &str| text.split("::").map(str::to_string).collect::<Vec<_>>();
        let known = [path("a"), path("a::b"), path("a::c")].into_iter().collect();
        assert_eq!(resolved(&path("a::b"), &path("super::c::f"), &known), Some(path("a::c")));
        assert_eq!(resolved(&path("a::b"), &path("super::Thing"), &known), Some(path("a")));
        assert_eq!(resolved(&path("a::b"), &path("crate::a::Thing"), &known), Some(path("a")));
    }

    #[test]
    fn comments_and_strings_do_not_count() {
        assert_eq!(blanked("a // crate::x\nb(\"crate::y \\\" z\") /* crate::w */ c"), "a \nb()  c");
    }
}
