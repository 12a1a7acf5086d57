//! The configuration: what is read, and every complaint with its place and remedy.
#![expect(clippy::panic, reason = "a test says what it did not expect")]

mod desk;

use burler::config::archives::Archive;
use burler::config::places::Home;
use burler::config::{self, Config, Ready, starter};
use burler::finding::Kind;
use burler::spec::{GroundDemand, Length, Repeat};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

fn home() -> Home {
    Home {
        home: "/home/fen".into(),
        state: "/home/fen/.local/state/burler".into(),
        config: "/home/fen/.config/burler.toml".into(),
    }
}

fn read(text: &str) -> Config {
    config::parse(text, Path::new("/etc/burler.toml"), &home()).unwrap_or_else(|wrong| panic!("{wrong}"))
}

fn complaint(text: &str) -> String {
    match config::parse(text, Path::new("burler.toml"), &home()) {
        Ok(config) => panic!("this was accepted: {config:?}"),
        Err(wrong) => wrong.to_string(),
    }
}

#[test]
fn two_lines_are_enough() {
    let config = read("[folder.studio]\nexports = \"~/oddfathom/exports\"\n");
    let folder = &config.folders[0];
    assert_eq!(folder.exports, Path::new("/home/fen/oddfathom/exports"));
    assert_eq!(folder.checked, Path::new("/home/fen/oddfathom/checked"));
    assert_eq!(folder.ready, Ready::All);
    assert_eq!(config.quiet, Duration::from_secs(2));
    assert_eq!(config.state, Path::new("/home/fen/.local/state/burler"));
}

#[test]
fn every_key_of_the_starter_is_read_when_switched_on() {
    let text: String = starter::STARTER
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.starts_with('[') || rest.split('#').next().unwrap_or("").contains(" = ") => {
                format!("{rest}\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    let config = read(&text);
    let spec = &config.specs["cloth-12in"];
    assert_eq!(spec.width, Some(Length::Pixels(3600)));
    assert_eq!(spec.resolution, Some(300.0));
    assert_eq!(spec.ground, GroundDemand::Opaque);
    assert_eq!(spec.repeat, Some(Repeat::Block));
    assert_eq!((spec.blocks, spec.bytes, spec.depth, spec.rgb_only), (Some(4), Some(25_000_000), Some(8), true));
    assert_eq!((&spec.silence[..], &spec.tell[..]), (&[Kind::SizeDivisible][..], &[Kind::UnitStray][..]));
    assert_eq!((&spec.hold[..], spec.colors), (&[Kind::ColorTwins][..], Some(6)));
    assert_eq!(spec.viewing, Some(burler::spec::VIEWING_MM));
    let companions: Vec<String> = spec.companions.iter().map(ToString::to_string).collect();
    assert_eq!(companions, ["turn 45", "as block"]);
    assert_eq!(config.digest.zone.as_deref(), Some("Europe/Lisbon"));
    assert_eq!(config.digest.to, ["you@oddfathom.example"]);
    let prints = &config.archives[0];
    assert_eq!((prints.name.as_str(), prints.spec.as_deref()), ("prints", Some("cloth-12in")));
    assert_eq!(prints.until, Some(jiff::civil::time(6, 0, 0, 0)));
    assert_eq!(prints.names.as_deref(), Some("{collection}_{design}_{colorway}"));
    let plain = Archive::of("prints", Path::new("/home/fen/oddfathom/archive"));
    let plain = Archive { spec: prints.spec.clone(), until: prints.until, names: prints.names.clone(), ..plain };
    assert_eq!(*prints, plain);
    // What the starter shows as defaults are the defaults.
    let bare = read("");
    assert_eq!(
        (config.quiet, config.grace, config.scan, config.workers, config.worker_memory, config.worker_time),
        (bare.quiet, bare.grace, bare.scan, bare.workers, bare.worker_memory, bare.worker_time)
    );
    assert_eq!(
        (config.mockup_side, config.mockup_quality, config.digest.at),
        (bare.mockup_side, bare.mockup_quality, bare.digest.at)
    );
    assert_eq!(config.folders[0].keep_earlier, Duration::from_secs(30 * 86_400));
}

#[test]
fn the_filled_starter_says_what_was_answered() {
    let config = read(&starter::filled("/srv/kelp \"north\"", Some("/srv/out"), Some(4800)));
    assert_eq!(config.folders[0].exports, Path::new("/srv/kelp \"north\""));
    assert_eq!(config.folders[0].checked, Path::new("/srv/out"));
    assert_eq!(config.folders[0].spec.as_deref(), Some("cloth-16in"));
    assert_eq!(config.specs["cloth-16in"].height, Some(Length::Pixels(4800)));
    assert_eq!(config.specs["cloth-16in"].ground, GroundDemand::Opaque);
    assert!(read(&starter::filled("/srv/kelp", None, None)).specs.is_empty());
}

#[test]
fn the_nearest_folder_named_as_a_spec_wins() {
    let config = read(
        "[spec.scarf]\nresolution = 200\n[spec.cloth]\nresolution = 300\n[spec.wall]\nresolution = 150\n\
         [folder.studio]\nexports = \"/x\"\nspec = \"wall\"\n",
    );
    let named = |path: &str| config.spec_for(&config.folders[0], Path::new(path)).name;
    assert_eq!(named("dulse.png"), "wall");
    assert_eq!(named("scarf/dulse.png"), "scarf");
    assert_eq!(named("scarf/cloth/red/dulse.png"), "cloth");
    assert_eq!(named("cloth.png"), "wall");
}

#[test]
fn complaints_point_at_the_place_and_say_what_to_do() {
    for (text, expected) in [
        ("[folder.studio]\nexport = \"x\"\n", "burler.toml:2:1: unknown key `export`; did you mean `exports`?"),
        ("[spec.a]\nwidht = \"3 px\"\n", "burler.toml:2:1: unknown key `widht`; did you mean `width`?"),
        ("[foldr.studio]\nexports = \"x\"\n", "burler.toml:1:2: unknown key `foldr`; did you mean `folder`?"),
        ("[folder.studio]\n", "burler.toml:1:1: the key `exports` is missing; add a line exports = …"),
        (
            "[spec.a]\nwidth = \"3600\"\n",
            "burler.toml:2:9: \"3600\" is not a length; write for example \"3600 px\", \"30.5 cm\", \"305 mm\" or \"12 in\"",
        ),
        (
            "[spec.a]\nwidth = \"12 in\"\n",
            "burler.toml:2:9: [spec.a] gives a print length but no resolution, so pixels cannot be counted; add resolution = 300, \
             or write the length in px",
        ),
        (
            "[spec.a]\nrepeat = \"half drop\"\n",
            "burler.toml:2:10: \"half drop\" is not known here; did you mean `half-drop`?",
        ),
        (
            "[spec.a]\nground = \"green\"\n",
            "burler.toml:2:10: \"green\" is not known here; known here: opaque, transparent, either",
        ),
        (
            "[spec.a]\nresolution = 0\n",
            "burler.toml:2:14: a resolution is between 1 and 100000 pixels per inch; write for example 300",
        ),
        (
            "[spec.cloth]\n[folder.a]\nexports = \"/x\"\nspec = \"clot\"\n",
            "burler.toml:4:8: there is no [spec.clot]; did you mean `cloth`?",
        ),
        (
            "[folder.a]\nexports = \"/x\"\nchecked = \"/x/checked\"\n",
            "burler.toml:2:11: exports of [folder.a] (/x) and checked of [folder.a] (/x/checked) overlap; give each folder a place \
             of its own, none inside another",
        ),
        (
            "[settle]\nquiet = \"2\"\n",
            "burler.toml:2:9: \"2\" is not a duration; write for example \"2 s\", \"10 min\" or \"36 h\"",
        ),
        ("[worker]\ncount = 0\n", "burler.toml:2:9: 0 is out of range; write a number from 1 to 64"),
        (
            "[worker]\nmemory = \"2 Gb\"\n",
            "burler.toml:2:10: \"2 Gb\" is not a size; write for example \"25 MB\" or \"300 kB\"",
        ),
        (
            "[digest]\nat = \"late\"\n",
            "burler.toml:2:6: \"late\" is not a time of day; write for example at = \"18:00\"",
        ),
        (
            "[digest]\nzone = \"Sea/Deep\"\n",
            "burler.toml:2:8: there is no time zone \"Sea/Deep\"; write an IANA name such as \"Europe/Lisbon\"",
        ),
        (
            "[digest]\nto = [\"fen\"]\n",
            "burler.toml:2:7: \"fen\" is not a mail address; write for example \"you@oddfathom.example\"",
        ),
        (
            "[spec.a]\nsilence = [\"joint.brake\"]\n",
            "burler.toml:2:12: \"joint.brake\" is not known here; did you mean `joint.break`?",
        ),
        (
            "[spec.a]\ntell = [\"joint.break\", \"color.twin\"]\n",
            "burler.toml:2:24: \"color.twin\" is not known here; did you mean `color.twins`?",
        ),
        (
            "[spec.a]\nhold = [\"unit.strays\"]\n",
            "burler.toml:2:9: \"unit.strays\" is not known here; did you mean `unit.stray`?",
        ),
        (
            "[spec.a]\nhold = [\"unit.stray\"]\ntell = [\"unit.stray\"]\n",
            "burler.toml:2:9: unit.stray stands in `tell` and in `hold`; a finding has one weight: keep it in one of the lists",
        ),
        (
            "[spec.a]\nsilence = [\"alpha.speck\"]\ntell = [\"alpha.gap\", \"alpha.speck\"]\n",
            "burler.toml:3:22: alpha.speck stands in `silence` and in `tell`; a finding has one weight: keep it in one of the lists",
        ),
        (
            "[spec.a]\ntell = [\"file.truncated\"]\n",
            "burler.toml:2:9: file.truncated has one weight only: such a file cannot be given back; take it out of the list",
        ),
        (
            "[spec.a]\nhold = [\"glare.stripes\"]\n",
            "burler.toml:2:9: glare.stripes is a caution and cannot hold a tile: nothing here can tell what is safe; take it out \
             of the list and ask someone qualified",
        ),
        (
            "[spec.a]\nviewing = \"2000 px\"\n",
            "burler.toml:2:11: \"2000 px\" is not a distance; write for example \"2 m\", \"60 cm\" or \"24 in\"",
        ),
        ("[spec.a]\ncolors = 0\n", "burler.toml:2:10: 0 is out of range; write a number from 1 to 10000"),
        (
            "[spec.a]\ncompanions = [\"turn 45\", \"turn round\"]\n",
            "burler.toml:2:26: \"round\" is no angle; write degrees such as 45 or -22.5, or a direction such as 4:3 (four right, three down)",
        ),
        (
            "[spec.a]\ncompanions = [\"flip\"]\n",
            "burler.toml:2:15: \"flip\" is no companion; write for example \"turn 45\", \"turn 45 keep-scale\" or \"as block\"",
        ),
        (
            "[folder.\"archive/a\"]\nexports = \"/x\"\n",
            "burler.toml:1:9: a folder cannot be named \"archive/a\": archives are kept under such names; give it a name \
             without a slash",
        ),
        ("[archive.a]\n", "burler.toml:1:1: the key `folder` is missing; add a line folder = …"),
        ("[archive.a]\nfoldr = \"/a\"\n", "burler.toml:2:1: unknown key `foldr`; did you mean `folder`?"),
        (
            "[spec.cloth]\n[archive.a]\nfolder = \"/a\"\nspec = \"clot\"\n",
            "burler.toml:4:8: there is no [spec.clot]; did you mean `cloth`?",
        ),
        (
            "[archive.a]\nfolder = \"/a\"\nat = \"at night\"\n",
            "burler.toml:3:6: \"at night\" is not a time of day; write hours and minutes, for example \"02:30\"",
        ),
        (
            "[archive.a]\nfolder = \"/a\"\nuntil = \"02:30\"\n",
            "burler.toml:3:9: [archive.a] stops at the time at which it begins; write a later time, or leave until out to let a \
             sweep take as long as it needs",
        ),
        (
            "[archive.a]\nfolder = \"/a\"\nverify = \"6 h\"\n",
            "burler.toml:3:10: \"6 h\" is less than a day, and a sweep runs once a night; write for example \"30 days\"; \
             \"1 day\" reads every file each night",
        ),
        (
            "[folder.s]\nexports = \"/x\"\nchecked = \"/c\"\n[archive.a]\nfolder = \"/x/old\"\n",
            "burler.toml:5:10: exports of [folder.s] (/x) and folder of [archive.a] (/x/old) overlap; give each folder a place \
             of its own, none inside another",
        ),
        (
            "[folder.s]\nexports = \"/o/x\"\n[archive.a]\nfolder = \"/o\"\n",
            "burler.toml:4:10: exports of [folder.s] (/o/x) and folder of [archive.a] (/o) overlap; give each folder a place of \
             its own, none inside another",
        ),
        (
            "[archive.a]\nfolder = \"/o\"\nchecked = \"/o/checked\"\n",
            "burler.toml:2:10: folder of [archive.a] (/o) and checked of [archive.a] (/o/checked) overlap; give each folder a \
             place of its own, none inside another",
        ),
        (
            "[state]\nfolder = \"/o/state\"\n[archive.a]\nfolder = \"/o\"\n",
            "burler.toml:4:10: the state folder (/o/state) and folder of [archive.a] (/o) overlap; give each folder a place of \
             its own, none inside another",
        ),
    ] {
        assert_eq!(complaint(text), expected, "{text}");
    }
    assert!(complaint("x = [\n").starts_with("burler.toml:"), "{}", complaint("x = [\n"));
}

#[test]
fn folders_that_meet_through_a_link_are_refused() {
    let root = tempfile::tempdir().unwrap();
    let at = |name: &str| -> PathBuf { root.path().join(name) };
    fs::create_dir(at("exports")).unwrap();
    std::os::unix::fs::symlink(at("exports"), at("link")).unwrap();
    let text = format!("[folder.a]\nexports = {:?}\nchecked = {:?}\n", at("exports"), at("link/out"));
    assert!(complaint(&text).contains("overlap"));
    let state = format!(
        "[state]\nfolder = {:?}\n[folder.a]\nexports = {:?}\nchecked = {:?}\n",
        at("out/state"),
        at("exports"),
        at("out")
    );
    assert!(complaint(&state).contains("the state folder"));
}
