//! The demo from outside: what it promises is written out here once more, and every promise is looked up in the ledger and
//! on the disk.

use burler::finding::{Grade, Kind, Verdict};
use burler::ticket::Ticket;
use burler::tile::Content;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Tile, verdict, kinds of the findings that count.
const PROMISES: &[(&str, Verdict, &[Kind])] = &[
    ("cloth-12in/kelp-fronds.png", Verdict::Sound, &[]),
    ("drop-9in/dulse-block-print.png", Verdict::Sound, &[]),
    ("towel-brick/paper-buoys.png", Verdict::Sound, &[]),
    ("scarf-15cm/fog-islands.png", Verdict::Sound, &[]),
    ("clear-10in/sea-lace.png", Verdict::Sound, &[]),
    ("urchin-beads.png", Verdict::Sound, &[]),
    ("herringbone-quay.png", Verdict::Sound, &[]),
    ("knot-sampler.jpg", Verdict::Sound, &[]),
    ("cloth-10in/sailcloth-45.png", Verdict::Mended, &[Kind::AlphaHairline]),
    ("signal-bunting.png", Verdict::Mended, &[Kind::AlphaFringe]),
    ("paper-8in/anchor-trellis.png", Verdict::Mended, &[Kind::SizeResolution]),
    ("tide-lines.png", Verdict::Held, &[Kind::JointBreak]),
    ("cloth-12in/lobster-pots.png", Verdict::Held, &[Kind::SizePixels]),
    ("limpets-on-slate.png", Verdict::Held, &[Kind::AlphaGap]),
    ("shell-terrazzo.png", Verdict::Held, &[Kind::AlphaSpeck]),
    ("glass-floats.png", Verdict::Unreadable, &[Kind::FileTruncated]),
];

fn burler(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_burler")).args(words).output().expect("burler starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("burler prints UTF-8")
}

#[test]
fn every_promise_is_kept_and_told() {
    let home = tempfile::tempdir().expect("a temporary folder");
    let demo = home.path().join("demo");
    let folder = demo.to_str().expect("a plain path");
    let ran = burler(&["demo", folder]);
    let told = text(&ran.stdout);
    assert!(ran.status.success(), "{told}\n{}", text(&ran.stderr));
    assert!(told.contains(&format!("all {} promises kept", PROMISES.len())), "{told}");

    let config = demo.join("burler.toml");
    let config = config.to_str().expect("a plain path");
    let status = burler(&["status", "--json", "--config", config]);
    assert_eq!(status.status.code(), Some(1), "some of the tiles need the artist");
    let tickets: Vec<Ticket> =
        text(&status.stdout).lines().map(|line| Ticket::from_line(line).expect("a ticket a line")).collect();
    assert_eq!(tickets.len(), PROMISES.len());
    for (tile, verdict, kinds) in PROMISES {
        let ticket =
            tickets.iter().find(|ticket| ticket.tile == *tile).unwrap_or_else(|| panic!("no ticket for {tile}"));
        let mut found: Vec<Kind> = ticket
            .findings
            .iter()
            .filter(|finding| finding.grade > Grade::Advice && !finding.silenced)
            .map(|finding| finding.kind)
            .collect();
        found.sort_unstable();
        found.dedup();
        assert_eq!((ticket.verdict, found.as_slice()), (*verdict, *kinds), "{tile}: {:#?}", ticket.findings);
        outputs_are_in_place(&demo, tile, ticket);
    }

    let letter = burler(&["digest", "--config", config]);
    assert_eq!(text(&letter.stdout).lines().next(), Some("5 need you, 11 ready"));
    let again = burler(&["digest", "--config", config]);
    assert_eq!(text(&again.stdout), "nothing new to tell, so no letter\n");

    let before = tree(&demo.join("checked"));
    let again = burler(&["demo", folder]);
    assert!(again.status.success(), "the demo's own folder is used again: {}", text(&again.stderr));
    assert_eq!(tree(&demo.join("checked")), before, "the same tiles again change nothing");
}

fn outputs_are_in_place(demo: &Path, tile: &str, ticket: &Ticket) {
    let checked = |file: String| demo.join("checked").join(file);
    let (ready, held) = (checked(format!("ready/{tile}")), checked(format!("held/{tile}.held.png")));
    let mockup = |name: &str| checked(format!("mockups/{tile}/{name}"));
    let good = matches!(ticket.verdict, Verdict::Sound | Verdict::Mended);
    for (file, there) in
        [(&ready, good), (&mockup("repeat.jpg"), good), (&mockup("strike-off.jpg"), good), (&held, !good)]
    {
        assert_eq!(file.is_file(), there, "{}", file.display());
        let listed = ticket.outputs.iter().any(|output| demo.join("checked").join(output) == *file);
        assert_eq!(listed, there, "{} in {:?}", file.display(), ticket.outputs);
    }
    let original = Content::of(&fs::read(demo.join("exports").join(tile)).expect("the original is there"));
    assert_eq!(original.to_string(), ticket.blake3, "{tile}: the original is the one that was judged");
    if good {
        let given_back = Content::of(&fs::read(&ready).expect("the tile is given back"));
        assert_eq!(
            given_back == original,
            ticket.verdict == Verdict::Sound,
            "{tile}: a sound tile comes back byte for byte"
        );
    }
}

/// Every file with its hash, letters aside.
fn tree(root: &Path) -> Vec<(String, Content)> {
    let mut files = Vec::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if !path.starts_with(root.join("letters")) {
                files.push((path.display().to_string(), Content::of(&fs::read(&path).expect("a file"))));
            }
        }
    }
    files.sort_by(|a, b| a.0.cmp(&b.0));
    files
}

#[test]
fn a_folder_of_someone_else_is_refused_and_left_alone() {
    let home = tempfile::tempdir().expect("a temporary folder");
    fs::write(home.path().join("taxes.txt"), "harbor dues").expect("a file");
    let refused = burler(&["demo", home.path().to_str().expect("a plain path")]);
    assert_eq!(refused.status.code(), Some(2));
    let told = text(&refused.stderr);
    assert!(
        told.contains("is not empty and was not made by the demo; name another folder, or none for a fresh one"),
        "{told}"
    );
    assert_eq!(fs::read_dir(home.path()).expect("a folder").count(), 1);
}
