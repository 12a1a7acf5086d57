//! `inspect`: what is said of readable files, for people and for machines.

use crate::desk;
use crate::house::House;
use crate::{CONFIG, tiles};
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;

#[test]
fn every_container_is_described() {
    let house = House::with(&["kelp.png", "kelp.jpg", "kelp.tif", "kelp.webp", "fog.png"]);
    let before = house.files(".");
    house.expect(
        &["inspect", "kelp.png", "kelp.jpg", "kelp.tif", "kelp.webp", "fog.png"],
        0,
        "
        |kelp.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |kelp.jpg: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block
        |kelp.tif: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop
        |kelp.webp: ready
        |  120 x 120 px; no print size given; rgb 8 bit; opaque ground; joins as block, brick
        |fog.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; transparent ground; joins as block, half-drop, brick, third-drop, quarter-drop
        ",
        "",
    );
    assert_eq!(house.files("."), before, "inspect writes nothing");
}

#[test]
fn faults_are_told_with_place_measure_and_what_to_do() {
    let house = House::with(&["dulse.png", "limpet.jpg", "inks.jpg", "moving.webp", "pages.tif"]);
    house.expect(
        &["inspect", "dulse.png", "limpet.jpg", "inks.jpg", "moving.webp", "pages.tif"],
        1,
        "
        |dulse.png: can be mended
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
        |  - a see-through line runs across the tile, 0.2 in from the top (lowest alpha 128 of 255, at least 255)
        |    to do: nothing: the line is mended
        |limpet.jpg: needs you
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as down
        |  - the right edge does not meet the left one: a cut shows from 0.2 in to 0.4 in from the top (part of the edge that steps 66.67 %, at most 40.31)
        |    to do: go on at the left edge with what the right edge cuts, and export the tile again
        |inks.jpg: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; cmyk 8 bit; opaque ground; joins as block
        |  - the colors are stored as printing inks (CMYK)
        |    to do: export it in RGB, unless the printer asked for inks
        |moving.webp: needs you
        |  120 x 120 px; no print size given; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  - the file is an animation of 2 frames; only the first was looked at (frames 2, at most 1)
        |    to do: export one still picture
        |pages.tif: needs you
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  - the file holds 2 pages; only the first was looked at (pages 2, at most 1)
        |    to do: export one flat picture without layers or pages
        ",
        "",
    );
}

#[test]
fn a_sheet_of_the_configuration_judges_size() {
    let house = House::with(&["sand.png", "coarse.png"]);
    house.put("burler.toml", CONFIG);
    house.bring("sand.png", "exports/swatch/sand.png");
    let told = "
        |  300 x 300 px; 300 per inch, prints 2.5 x 2.5 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  - the width is 300 px and the order wants 120 px (width 300 px, should be 120)
        |    to do: export it 120 px wide
        |  - the height is 300 px and the order wants 120 px (height 300 px, should be 120)
        |    to do: export it 120 px high
        ";
    // Named; and chosen by the folder that the file lies in.
    let sheet = ["--config", "burler.toml", "inspect", "--spec", "swatch"];
    house.expect(&[&sheet[..], &["sand.png"]].concat(), 1, &format!("|sand.png: needs you{told}"), "");
    let place = "exports/swatch/sand.png";
    house.expect(&["--config", "burler.toml", "inspect", place], 1, &format!("|{place}: needs you{told}"), "");
    house.expect(
        &[&sheet[..], &["coarse.png"]].concat(),
        0,
        "
        |coarse.png: can be mended
        |  120 x 120 px; 72 per inch, prints 4.2 x 4.2 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  - the file says 72 pixels per inch, so it would print 1.7 in wide; the order wants 300 (resolution 72.01 per inch, should be 300)
        |    to do: nothing: the tag is corrected, no pixel changes
        ",
        "",
    );
}

/// Python's own reader takes each line, and standard output holds nothing else.
#[test]
fn machines_get_one_line_of_json_a_file_and_nothing_else() {
    let house = House::with(&["kelp.png", "dulse.tif", "limpet.png", "bad/empty.png", "bad/wide.png"]);
    let odd = OsStr::from_bytes(b"caf\xe9\n.png");
    house.bring("kelp.png", odd);
    let named: Vec<&OsStr> =
        ["inspect", "--json", "kelp.png", "dulse.tif", "limpet.png", "gone.png", "bad/empty.png", "bad/wide.png"]
            .map(OsStr::new)
            .into_iter()
            .chain([odd])
            .collect();
    let said = house.run(&named);
    assert_eq!(said.status, 74);
    assert_eq!(said.err.lines().count(), 1, "{}", said.err);
    let read = desk::run_python(
        "import json, sys\n\
         for line in sys.argv[1].split('\\n')[:-1]:\n\
         \x20   t = json.loads(line)\n\
         \x20   print(t['tile'].encode('unicode_escape').decode(), t.get('tile_hex'), t['format'] or '-', t['verdict'],\n\
         \x20         [(f['kind'], f['grade']) for f in t['findings']], t['outputs'], t['schema'], t['rules'])\n",
        &[&said.out],
    );
    let rules = burler::ticket::RULES;
    let wanted = format!(
        "
        |kelp.png None png sound [] [] 1 {rules}
        |dulse.tif None tiff mendable [('alpha.hairline', 'mend')] [] 1 {rules}
        |limpet.png None png held [('joint.break', 'fault'), ('joint.break', 'advice')] [] 1 {rules}
        |bad/empty.png None - unreadable [('file.unreadable', 'fault')] [] 1 {rules}
        |bad/wide.png None png unreadable [('file.too_large', 'fault')] [] 1 {rules}
        |caf\\ufffd\\n.png 636166e90a2e706e67 png sound [] [] 1 {rules}
        "
    );
    assert_eq!(read, desk::margin(&wanted));
    let content = blake3::hash(&tiles::bytes("kelp.png")).to_hex();
    assert!(said.out.lines().next().unwrap().contains(&format!("\"blake3\":\"{content}\"")));
}

#[test]
fn names_come_from_a_list_too() {
    let house = House::with(&["kelp.jpg"]);
    house.bring("kelp.jpg", OsStr::from_bytes(b"caf\xe9 au lait.jpg"));
    let list = b"kelp.jpg\n\ncaf\xe9 au lait.jpg\nkelp.jpg";
    let is = "|  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block";
    let out = format!(
        "
        |kelp.jpg: ready
        {is}
        |caf\u{fffd} au lait.jpg: ready
        {is}
        |kelp.jpg: ready
        {is}
        "
    );
    let words = ["inspect", "--files-from", "-"];
    house.check(&house.run_reading(&words, list), &words, 0, &out, "");
    house.put("list", list);
    house.expect(&["inspect", "--files-from", "list"], 0, &out, "");
    // Files named and listed are all looked at; an empty list is no mistake; a missing one is.
    let both = house.run_reading(&["inspect", "kelp.jpg", "--files-from", "-"], list);
    assert_eq!((both.status, both.out.lines().count()), (0, 8));
    house.check(&house.run_reading(&words, b""), &words, 0, "", "");
    house.expect(
        &["inspect", "--files-from", "no-list"],
        74,
        "",
        "|burler: cannot read no-list: it is not there; put it back, or connect the drive it is on",
    );
}

#[test]
fn ground_and_repeat_can_be_said() {
    let house = House::with(&["limpet.png", "dulse.png"]);
    house.expect(
        &["inspect", "--repeat", "none", "limpet.png"],
        0,
        "
        |limpet.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joints not judged
        ",
        "",
    );
    let said = house.run(&["inspect", "--ground", "transparent", "dulse.png"]);
    assert!(said.out.contains("transparent ground") && said.status == 0, "{said:?}");
}

#[test]
fn words_that_are_not_known_are_answered_with_the_nearest() {
    let house = House::with(&["kelp.png"]);
    house.put("burler.toml", CONFIG);
    let expect = |words: &[&str], status: i32, err: &str| house.expect(words, status, "", err);
    let with = ["--config", "burler.toml", "inspect", "kelp.png"];
    expect(
        &[&with[..], &["--spec", "swath"]].concat(),
        2,
        "|burler: there is no order sheet \"swath\"; did you mean `swatch`?",
    );
    expect(
        &["inspect", "kelp.png", "--spec", "swatch"],
        2,
        "|burler: there is no order sheet \"swatch\"; none is configured, so add [spec.swatch] to the configuration, or leave --spec out",
    );
    expect(
        &["inspect", "kelp.png", "--repeat", "halfdrop"],
        2,
        "|burler: \"halfdrop\" is no repeat; did you mean `half-drop`?",
    );
    expect(
        &["inspect", "kelp.png", "--repeat", "x"],
        2,
        "|burler: \"x\" is no repeat; known here: block, half-drop, third-drop, quarter-drop, brick, across, down, none",
    );
    expect(&["inspect", "kelp.png", "--ground", "opaqe"], 2, "|burler: \"opaqe\" is no ground; did you mean `opaque`?");
    expect(
        &["inspect"],
        2,
        "
        |error: the following required arguments were not provided:
        |  <FILE>...
        |
        |Usage: burler inspect <FILE>...
        |
        |For more information, try '--help'.
        ",
    );
    expect(
        &["inspekt", "kelp.png"],
        2,
        "
        |error: unrecognized subcommand 'inspekt'
        |
        |  tip: a similar subcommand exists: 'inspect'
        |
        |Usage: burler [OPTIONS] <COMMAND>
        |
        |For more information, try '--help'.
        ",
    );
    assert_eq!(house.run(&[""; 0]).status, 2);
    let version = house.run(&["--version"]);
    assert_eq!((version.status, version.out), (0, format!("burler {}\n", env!("CARGO_PKG_VERSION"))));
}

/// What passed is said as well as what did not, for people and for machines, and only when it is asked for.
#[test]
fn a_verdict_can_be_argued_with() {
    let house = House::with(&["dulse.png", "sand.png"]);
    house.put("burler.toml", CONFIG);
    let words = ["--config", "burler.toml", "inspect", "--spec", "swatch", "--explain"];
    let said = house.run(&[&words[..], &["sand.png", "dulse.png"]].concat());
    assert_eq!(said.status, 1);
    for line in [
        "  beyond  size.pixels: the file, width 300 px, should be 120",
        "  passed  size.pixels: the file, width 120 px, should be 120",
        "  passed  alpha.hairline: the whole tile, see-through lines 0 px, at most 0",
        "  beyond  alpha.hairline: the whole tile, see-through lines 240 px, at most 0",
    ] {
        assert!(said.out.lines().any(|told| told == line), "{line}\n{}", said.out);
    }
    assert!(
        said.out.contains("  passed  joint.break: right and left edge, step along the whole edge "),
        "{}",
        said.out
    );
    let said = house.run(&["inspect", "--json", "--explain", "sand.png"]);
    assert!(said.out.contains(r#""readings":[{"kind":"#), "{}", said.out);
    assert!(!house.run(&["inspect", "--json", "sand.png"]).out.contains("readings"));
}
