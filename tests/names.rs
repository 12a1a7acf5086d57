//! The names of an archive: the pattern, names that do not fit, sets of colorways, doubled codes, names used again.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;

use burler::archive::Remark;
use burler::archive::names::{Facts, Row, remarks, reused};
use burler::archive::naming::{LETTERS, LONGEST, Pattern};
use burler::codec::picture::encode_png;
use burler::tile::Raster;
use proptest::prelude::*;
use std::ffi::OsString;
use std::fs;
use std::os::unix::ffi::OsStringExt;
use std::path::{Path, PathBuf};
use std::process::Command;

const USUAL: &str = "{collection}_{design}_{colorway}";

fn pattern(text: &str) -> Pattern {
    Pattern::parse(text, LETTERS, LONGEST).unwrap()
}

fn row(path: &str) -> Row {
    Row { path: path.into(), facts: Facts::default() }
}

fn said(text: &str, rows: &[Row]) -> Vec<String> {
    let line = |remark: Remark| {
        let paths: Vec<_> = remark.paths.iter().map(|path| path.display().to_string()).collect();
        format!("{} | {} | {} | {}", remark.kind, paths.join(", "), remark.says, remark.remedy)
    };
    remarks(&pattern(text), rows).into_iter().map(line).collect()
}

#[test]
fn a_pattern_that_leaves_doubt_is_refused_with_a_remedy() {
    for (text, letters, what) in [
        ("", LETTERS, "\"\" has no word; write for example"),
        ("kelp", LETTERS, "\"kelp\" has no word; write"),
        ("{design", LETTERS, "a { is not closed in \"{design\"; write words as {design}"),
        ("design}_{colorway}", LETTERS, "a } is not opened in"),
        ("{}_{colorway}", LETTERS, "{} is no word; write letters"),
        ("{design}_{design}", LETTERS, "{design} stands there twice; give"),
        ("{design}{colorway}", LETTERS, "nothing stands before {colorway}, so it is not clear where it begins; put"),
        (
            "{design}-{colorway}",
            LETTERS,
            "'-' behind {design} is also an allowed letter, so it is not clear where that ends",
        ),
        ("{design}", " ", "no letters are allowed; write for example \"a-z 0-9 -\""),
        ("{design}", "z-a", "the letters z-a run backwards; write a-z"),
    ] {
        let wrong = Pattern::parse(text, letters, LONGEST).unwrap_err();
        let told = format!("{}; {}", wrong.what, wrong.remedy);
        assert!(told.starts_with(what), "{told}");
    }
    Pattern::parse("{design}-{colorway}", "a-z 0-9", LONGEST).unwrap();
}

#[test]
fn a_name_that_fits_gives_its_words() {
    let words = pattern(USUAL).fit(Path::new("2026/harbor_kelp-forest_sea-green.png")).unwrap();
    let words: Vec<_> = words.iter().map(|(word, value)| format!("{word}={value}")).collect();
    assert_eq!(words, ["collection=harbor", "colorway=sea-green", "design=kelp-forest"]);
    let words = pattern("{collection}/of-{design}_{colorway}").fit(Path::new("a/harbor/of-kelp_sand.tif")).unwrap();
    assert_eq!((words["collection"].as_str(), words["design"].as_str()), ("harbor", "kelp"));
}

#[test]
fn a_name_that_does_not_fit_is_told_with_one_that_would() {
    for (name, wrong, proposed) in [
        ("Harbor_Kelp_Sand.png", "'H' may not stand in {collection}; 'K' may not", Some("harbor_kelp_sand")),
        ("harbor kelp sand.png", "' ' may not stand in {collection}; \"_\" is missing", Some("harbor_kelp_sand")),
        ("harbor-kelp-sand.png", "\"_\" is missing", Some("harbor_kelp_sand")),
        // Unicode Standard Annex 15: NFKD sets the accents of both forms apart.
        ("harbor_algu\u{e9}_\u{e9}t\u{e9}.png", "'\u{e9}' may not", Some("harbor_algue_ete")),
        ("harbor_algue\u{301}_sand.png", "an accent of its own may not", Some("harbor_algue_sand")),
        ("harbor_wei\u{df}_sand.png", "'\u{df}' may not", Some("harbor_weiss_sand")),
        ("harbor_kelp__sand.png", "'_' may not stand in {colorway}", Some("harbor_kelp_sand")),
        ("harbor_kelp.png", "\"_\" is missing", None),
        ("harbor__sand.png", "{design} is missing", None),
        ("kelp.png", "\"_\" is missing", None),
    ] {
        let misfit = pattern(USUAL).fit(Path::new(name)).unwrap_err();
        assert!(misfit.wrong.join("; ").starts_with(wrong), "{name}: {:?}", misfit.wrong);
        assert_eq!(misfit.proposed.as_deref(), proposed, "{name}");
    }
    let long = format!("harbor_{}_sand.png", "kelp-".repeat(20));
    let misfit = pattern(USUAL).fit(Path::new(&long)).unwrap_err();
    assert_eq!(misfit.wrong, ["it has 112 letters, and 60 are the most"]);
    assert_eq!(misfit.proposed.unwrap().len(), 60);
    let raw = PathBuf::from(OsString::from_vec(b"harbor_k\xff_sand.png".to_vec()));
    assert_eq!(pattern(USUAL).fit(&raw).unwrap_err().wrong, ["the name is not UTF-8 text"]);
}

#[test]
fn odd_names_doubled_codes_and_missing_colorways_are_told() {
    let rows = [
        row("harbor_kelp_sand.png"),
        row("harbor_kelp_rust.png"),
        row("harbor_dulse_sand.png"),
        row("sets/Harbor_Dulse_Sand.tif"),
        row("harbor_kelp_sand (1).png"),
        row("kelp new.png"),
        row("fog_net_gray.png"),
    ];
    assert_eq!(
        said(USUAL, &rows),
        [
            "name.odd | kelp new.png | the name is not as {collection}_{design}_{colorway} says: ' ' may not stand in \
             {collection}; \"_\" is missing | name it as {collection}_{design}_{colorway} says",
            // The fitting name is taken, so it is not proposed.
            "name.odd | sets/Harbor_Dulse_Sand.tif | the name is not as {collection}_{design}_{colorway} says: 'H' may not \
             stand in {collection}; 'D' may not stand in {design}; 'S' may not stand in {colorway} | name it as \
             {collection}_{design}_{colorway} says",
            "name.doubled | harbor_dulse_sand.png, sets/Harbor_Dulse_Sand.tif | 2 tiles have the one name \
             harbor_dulse_sand | keep one of them here, or give each a name of its own: an order by name could bring either",
            "name.missing | harbor_dulse_sand.png | the colorway rust of dulse is missing; others of its collection have it | \
             export what is missing, or leave it so on purpose",
        ]
    );
}

#[test]
fn colorways_of_one_design_must_be_alike() {
    let with = |path: &str, side: u32, layouts: &[&str], colors: Option<u32>| Row {
        path: path.into(),
        facts: Facts {
            size: Some((side, side)),
            layouts: Some(layouts.iter().map(ToString::to_string).collect()),
            colors,
        },
    };
    let rows = [
        with("harbor_kelp_sand.png", 3600, &["block"], Some(6)),
        with("harbor_kelp_rust.png", 3600, &["block", "half-drop"], Some(7)),
        with("harbor_kelp_teal.png", 1800, &["block"], None),
    ];
    assert_eq!(
        said(USUAL, &rows),
        [
            "name.unequal | harbor_kelp_rust.png, harbor_kelp_sand.png, harbor_kelp_teal.png | the colorways of kelp are not \
          alike: teal with 1800 x 1800 pixels, rust and sand with 3600 x 3600 pixels; rust joining as block, half-drop, sand \
          and teal joining as block; rust in 7 colors, sand in 6 colors | export those that differ again as the others are"
        ]
    );
    // What is not known is not compared, and other designs are not either.
    let rows = [row("harbor_kelp_sand.png"), with("harbor_kelp_rust.png", 9, &[], Some(2))];
    assert_eq!(said(USUAL, &rows), Vec::<String>::new());
}

#[test]
fn another_drawing_under_a_used_name_is_told_in_words() {
    let path = Path::new("untitled.png");
    let told = reused(path, &["old/kelp.png".into()]);
    assert_eq!(
        (told.kind.as_str(), told.says.as_str(), told.remedy.as_str()),
        (
            "name.reused",
            "another drawing has this name now; what was made of the old one is kept",
            "give the new one a name of its own; the old one still lies at old/kelp.png"
        )
    );
    assert!(reused(path, &[]).remedy.contains("backup"));
}

proptest! {
    #[test]
    fn a_proposal_always_fits_and_order_changes_nothing(names in prop::collection::vec("[ -~\u{e0}-\u{ff}]{1,80}", 1..8)) {
        let pattern = pattern(USUAL);
        let mut rows: Vec<Row> = names.iter().map(|name| row(&format!("{}.png", name.replace('/', "_")))).collect();
        for row in &rows {
            if let Err(misfit) = pattern.fit(&row.path) {
                prop_assert!(!misfit.wrong.is_empty());
                if let Some(name) = misfit.proposed {
                    prop_assert!(pattern.fit(Path::new(&format!("{name}.png"))).is_ok(), "{name}");
                }
            }
        }
        let before = remarks(&pattern, &rows);
        rows.reverse();
        prop_assert_eq!(remarks(&pattern, &rows), before);
    }
}

/// The whole way: configuration, sweep, and the three forms of its answer.
#[test]
fn a_sweep_tells_names_in_every_form() {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir(home.path().join("archive")).unwrap();
    for (name, side) in
        [("harbor_kelp_sand", 64), ("harbor_kelp_rust", 32), ("harbor_dulse_sand", 64), ("Fog Net Gray", 64)]
    {
        let tile = Raster::new(side, side, [30, 90, 120, 255].repeat((side * side) as usize)).unwrap();
        fs::write(home.path().join(format!("archive/{name}.png")), encode_png(&tile, Some(300.0)).unwrap()).unwrap();
    }
    let config = home.path().join("burler.toml");
    let write = |more: &str| {
        let text = "[state]\nfolder = \"state\"\n[archive.prints]\nfolder = \"archive\"\nmend = false\n";
        fs::write(&config, format!("{text}{more}\n")).unwrap();
    };
    let run = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
        let ended = command.arg("--config").arg(&config).args(words).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (ended.status.code().unwrap(), text(ended.stdout), text(ended.stderr))
    };
    for (more, told) in [
        ("names = \"{design}{colorway}\"", "burler.toml:6:9: nothing stands before {colorway}"),
        ("letters = \"z-a\"", "burler.toml:6:11: the letters z-a run backwards"),
        ("longest = 0", "burler.toml:6:11: a name cannot have that many letters"),
    ] {
        write(more);
        let (status, _, err) = run(&["config", "check"]);
        assert!(status == 78 && err.contains(told), "{status} {err}");
    }
    write("names = \"{collection}_{design}_{colorway}\"");
    let (_, table, err) = run(&["sweep"]);
    for line in [
        "  Fog Net Gray.png: the name is not as {collection}_{design}_{colorway} says: ",
        "; to do: name it fog_net_gray.png\n",
        "  harbor_dulse_sand.png: the colorway rust of dulse is missing; others of its collection have it; to do: ",
        "the colorways of kelp are not alike: sand with 64 x 64 pixels, rust with 32 x 32 pixels",
    ] {
        assert!(table.contains(line), "{line}\n{table}{err}");
    }
    let (_, csv, _) = run(&["sweep", "--csv"]);
    assert!(csv.contains("\nprints,harbor_dulse_sand.png,name.missing,,"), "{csv}");
    let (_, json, _) = run(&["sweep", "--json"]);
    let counted = desk::run_python(
        "import csv, io, json, sys\n\
         lines = [json.loads(line) for line in sys.argv[1].splitlines()]\n\
         rows = list(csv.DictReader(io.StringIO(sys.argv[2])))\n\
         kinds = sorted(l['kind'] for l in lines if l['line'] == 'remark' and l['kind'].startswith('name.'))\n\
         assert {r['state'] for r in rows if r['state'].startswith('name.')} == set(kinds)\n\
         print(*kinds)\n",
        &[&json, &csv],
    );
    assert_eq!(counted.trim(), "name.missing name.odd name.unequal");
}

/// Colorways whose art is flat are compared by the number of their colors, whatever the order sheet says.
#[test]
fn colorways_with_other_numbers_of_colors_are_told() {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir(home.path().join("archive")).unwrap();
    for (name, colors) in [("sand", 4_u8), ("rust", 4), ("slate", 3), ("moss", 4)] {
        // Spots on a ground, each column of them in its turn.
        let pixel = |x: u32, y: u32| {
            let at = [x % 24, y % 24].map(|at| at.abs_diff(12));
            let turn = (x / 24 + y / 24) as u8 % 3 % (colors - 1);
            if at[0] + at[1] < 9 { [60 + 70 * turn, 40, 90, 255] } else { [230, 220, 200, 255] }
        };
        let samples = (0..144).flat_map(|y| (0..144).map(move |x| (x, y))).flat_map(|(x, y)| pixel(x, y)).collect();
        let tile = Raster::new(144, 144, samples).unwrap();
        fs::write(
            home.path().join(format!("archive/harbor_spots_{name}.png")),
            encode_png(&tile, Some(150.0)).unwrap(),
        )
        .unwrap();
    }
    let config = "[state]\nfolder = \"state\"\n[archive.prints]\nfolder = \"archive\"\nmend = false\n\
                  names = \"{collection}_{design}_{colorway}\"\n";
    fs::write(home.path().join("burler.toml"), config).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
    let ended = command.arg("--config").arg(home.path().join("burler.toml")).arg("sweep").output().unwrap();
    let table = String::from_utf8(ended.stdout).unwrap();
    let told = "the colorways of spots are not alike: slate in 3 colors, moss, rust and sand in 4 colors";
    assert!(table.contains(told), "{table}");
}
