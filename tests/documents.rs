//! The documents: what README and DEVELOPERS.md show is run, parsed and compared with the code.

#![expect(clippy::unwrap_used, reason = "a test that cannot read the documents has failed")]

mod desk;

use burler::cli::Arguments;
use burler::codec::picture::encode_png;
use burler::config::{self, places::Home};
use burler::finding::Kind;
use burler::tile::Raster;
use clap::CommandFactory;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn document(name: &str) -> String {
    fs::read_to_string(desk::root().join(name)).unwrap()
}

/// The contents of the fenced blocks of a language.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let open = format!("```{language}\n");
    text.split(&open).skip(1).map(|rest| rest.split("\n```").next().unwrap().to_string()).collect()
}

/// The shell lines of README, without their comments.
fn shell_lines() -> Vec<String> {
    let readme = document("README.md");
    let lines = blocks(&readme, "sh").join("\n");
    lines
        .lines()
        .map(|line| line.split(" #").next().unwrap().trim().to_string())
        .filter(|line| !line.is_empty())
        .collect()
}

#[test]
fn the_commands_of_the_readme_do_what_it_says() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    fs::create_dir(at("exports")).unwrap();
    // Plain color joins in every layout: a sound tile.
    let tile = Raster::new(64, 64, [30, 90, 120, 255].repeat(64 * 64)).unwrap();
    fs::write(at("tile.png"), encode_png(&tile, Some(300.0)).unwrap()).unwrap();
    fs::copy(at("tile.png"), at("exports/tile.png")).unwrap();
    fs::create_dir(at("old-tiles")).unwrap();
    fs::copy(at("tile.png"), at("old-tiles/tile.png")).unwrap();
    let mut ran = 0;
    for line in shell_lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        if words[0] != "burler" {
            // Building, installing and this very test run are left to those who run them.
            assert!(["cargo", "tests/run"].contains(&words[0]), "{line}");
            continue;
        }
        let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
        command.args(&words[1..]).current_dir(home.path()).env("HOME", home.path());
        command.env_remove("XDG_CONFIG_HOME").env_remove("XDG_STATE_HOME").stdin(Stdio::null()).stderr(Stdio::piped());
        match line.as_str() {
            // On a terminal it asks; here it is told.
            "burler config init" => {
                command.args(["--exports", at("exports").to_str().unwrap()]);
            }
            // Without a mail server at hand, letters go into a folder.
            "burler digest test" => {
                let file = at(".config/burler/burler.toml");
                let config = fs::read_to_string(&file).unwrap() + "[digest]\nfile = \"~/letters\"\n";
                fs::write(&file, config).unwrap();
            }
            "burler watch" => {
                watched_until(&mut command, &at("checked/ready/tile.png"));
                ran += 1;
                continue;
            }
            _ => {}
        }
        let output = command.output().unwrap();
        assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
        ran += 1;
    }
    assert!(ran >= 8, "README shows how to use every part");
    assert!(at("checked/mockups/tile.png/strike-off.jpg").is_file());
}

/// Runs the daemon until a file appears, then stops it as a service manager would.
fn watched_until(command: &mut Command, file: &Path) {
    let mut daemon = command.spawn().unwrap();
    let deadline = Instant::now() + Duration::from_secs(60);
    while !file.exists() {
        assert!(Instant::now() < deadline && daemon.try_wait().unwrap().is_none(), "{} never came", file.display());
        std::thread::yield_now();
    }
    let pid = rustix::process::Pid::from_child(&daemon);
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    assert!(daemon.wait().unwrap().success());
}

#[test]
fn the_configurations_of_the_readme_are_right() {
    let home =
        Home { home: "/home/fen".into(), state: "/home/fen/state".into(), config: "/home/fen/burler.toml".into() };
    let samples = blocks(&document("README.md"), "toml");
    assert_eq!(samples.len(), 6);
    for sample in samples {
        config::parse(&sample, Path::new("/home/fen/burler.toml"), &home).unwrap();
    }
}

#[test]
fn every_finding_and_every_command_is_explained() {
    let readme = document("README.md");
    let explained: BTreeSet<&str> = readme
        .lines()
        .filter(|line| line.starts_with("| `"))
        .flat_map(|line| line.split('|').nth(1).unwrap().split('`').skip(1).step_by(2))
        .collect();
    let kinds: BTreeSet<&str> = Kind::ALL.iter().map(|kind| kind.name()).collect();
    assert_eq!(explained, kinds);
    for command in Arguments::command().get_subcommands().filter(|command| !command.is_hide_set()) {
        let name = command.get_name();
        let shown = shell_lines().iter().any(|line| line.split_whitespace().any(|word| word == name));
        assert!(shown, "README does not show `burler {name}`");
    }
}

#[test]
fn pictures_and_files_that_the_documents_name_are_there() {
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = document(name);
        let linked = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
        let named = text.split('`').skip(1).step_by(2).filter(|word| {
            ["src/", "tests/", "config/", "systemd/"].iter().any(|folder| word.starts_with(folder))
                && !word.contains(' ')
        });
        for path in linked.chain(named).filter(|path| !path.contains("://")) {
            assert!(desk::root().join(path).exists(), "{name} names {path}, which is not there");
        }
    }
}
