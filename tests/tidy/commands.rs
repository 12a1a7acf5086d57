//! `sweep --tidy` and `sweep --undo` from outside.

use crate::shed::Shed;
use std::fs;
use std::path::Path;
use std::process::Command;

struct Said {
    status: i32,
    out: String,
    err: String,
}

fn burler(shed: &Shed, arguments: &[&str]) -> Said {
    let config = shed.home().join("burler.toml");
    fs::write(
        &config,
        "[archive.prints]\nfolder = \"archive\"\nchecked = \"checked\"\nmend = false\n[state]\nfolder = \"state\"\n",
    )
    .unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
    let ended = command.arg("--config").arg(&config).arg("sweep").args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).replace(shed.home().to_str().unwrap(), "~");
    Said { status: ended.status.code().unwrap(), out: text(&ended.stdout), err: text(&ended.stderr) }
}

#[test]
fn what_was_put_away_comes_back_by_a_command() {
    let shed = Shed::full();
    let before = shed.seen();
    shed.tidy();
    let dry = burler(&shed, &["--undo", "2026-11-27", "--dry-run"]);
    assert!(dry.status == 0 && dry.out.starts_with("prints: 6 files would be put back\n"), "{}{}", dry.out, dry.err);
    assert_eq!(shed.seen().len(), 1);
    let said = burler(&shed, &["--undo", "2026-11-27"]);
    assert_eq!(
        (said.status, said.out.as_str()),
        (
            0,
            "prints: 6 files are back\n  kelp (1).png\n  nets/.DS_Store\n  nets/deep/empty.png\n  nets/deep/~$list\n  \
             nets/dulse.png.part\n  nets/notes.txt\n"
        ),
        "{}",
        said.err
    );
    assert_eq!(shed.seen(), before);
    let again = burler(&shed, &["--undo", "2026-11-27"]);
    assert_eq!((again.status, again.out.as_str()), (0, "prints: 0 files are back; 6 in place already\n"));
    let json = burler(&shed, &["--undo", "2026-11-27", "--json"]);
    assert_eq!((json.status, json.out.as_str()), (0, ""));
}

#[test]
fn a_wrong_date_is_answered_with_the_right_ones() {
    let shed = Shed::full();
    let said = burler(&shed, &["--undo", "yesterday"]);
    assert!(said.status == 2 && said.err.contains("\"yesterday\" is no date; write it as 2026-11-27"), "{}", said.err);
    let said = burler(&shed, &["--undo", "2026-01-01"]);
    assert!(said.status == 2 && said.err.contains("put away on 2026-01-01; nothing ever was"), "{}", said.err);
    shed.tidy();
    let said = burler(&shed, &["--undo", "2026-01-01"]);
    assert!(said.status == 2 && said.err.contains("something was on 2026-11-27"), "{}", said.err);
}

/// Everything here was written just now, so that nothing may be put away yet.
#[test]
fn what_is_younger_than_a_day_stays() {
    let shed = Shed::full();
    let before = shed.seen();
    for words in [&["--tidy"][..], &["--tidy=all", "--dry-run"]] {
        let said = burler(&shed, words);
        assert!(!said.out.contains("put away"), "{}{}", said.out, said.err);
        assert_eq!(shed.seen(), before);
        assert!(!shed.home().join("checked").exists());
    }
    let said = burler(&shed, &["--tidy=everything"]);
    assert!(said.status == 2 && said.err.contains("leftovers, all"), "{}", said.err);
}

#[test]
fn only_one_sweeps_or_undoes_at_a_time() {
    let shed = Shed::full();
    shed.tidy();
    fs::create_dir_all(shed.home().join("state")).unwrap();
    let state = shed.home().join("state");
    let _held = burler::archive::duty(&burler::disk::Disk::new(), Path::new(&state)).unwrap();
    assert_eq!(burler(&shed, &["--undo", "2026-11-27"]).status, 75);
    assert_eq!(burler(&shed, &["--tidy"]).status, 75);
    assert_eq!(shed.seen().len(), 1);
}
