//! Files that are no tiles, or not any more: each gets a clear sentence, none harms, and the next one is looked at.

use crate::house::House;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

const ENDS: &str = "
    |cut.png: cannot be opened
    |  - the PNG file ends before the picture does
    |    to do: export the tile again and wait until the copy is complete
    ";

#[test]
fn a_file_cut_anywhere_is_told_as_cut() {
    let house = House::new();
    // The signature alone, inside the header, behind it, in the middle; before IEND, in its checksum, at the last byte.
    for left in ["8", "20", "33", "-641", "-12", "-4", "-1"] {
        house.bring(&format!("bad/cut-{left}.png"), "cut.png");
        house.expect(&["inspect", "cut.png"], 1, ENDS, "");
    }
    house.bring("bad/cut-1.png", "cut.png");
    house.expect(&["inspect", "cut.png"], 1, &ENDS.replace("PNG ", ""), "");
}

#[test]
fn other_containers_are_told_as_cut_too() {
    let house = House::new();
    for (name, title) in [("half.jpg", "JPEG"), ("half.tif", "TIFF"), ("half.webp", "WebP")] {
        house.bring(&format!("bad/{name}"), name);
        let said = ENDS.replace("cut.png", name).replace("PNG", title);
        house.expect(&["inspect", name], 1, &said, "");
    }
}

#[test]
fn what_is_no_picture_is_told_as_such() {
    let house = House::with(&["bad/empty.png", "bad/shopping-list.png", "bad/no-deflate.png", "bad/flipped.png"]);
    house.expect(
        &["inspect", "bad/empty.png", "bad/shopping-list.png", "bad/no-deflate.png", "bad/flipped.png"],
        1,
        "
        |bad/empty.png: cannot be opened
        |  - the file is empty
        |    to do: export the tile again and wait until the copy is complete
        |bad/shopping-list.png: cannot be opened
        |  - the name says image, but the content is none we know
        |    to do: export the tile as PNG, TIFF, JPEG or WebP
        |bad/no-deflate.png: cannot be opened
        |  - the PNG file is damaged: the picture data cannot be read
        |    to do: export the tile again and wait until the copy is complete
        |bad/flipped.png: cannot be opened
        |  - the PNG file is damaged: the picture data cannot be read
        |    to do: export the tile again and wait until the copy is complete
        ",
        "",
    );
}

/// With 1 GB for the inspecting process, so that what the bombs would unpack to (2 GiB each) cannot be had.
#[test]
fn bombs_are_refused_from_the_header_or_not_unpacked() {
    let house = House::with(&["bad/wide.png", "bad/many.png", "bad/bomb-of-pixels.png", "bad/bomb-of-text.png"]);
    house.put("small.toml", "[worker]\nmemory = \"1 GB\"\n");
    house.expect(
        &[
            "--config",
            "small.toml",
            "inspect",
            "bad/wide.png",
            "bad/many.png",
            "bad/bomb-of-pixels.png",
            "bad/bomb-of-text.png",
        ],
        1,
        "
        |bad/wide.png: cannot be opened
        |  - the tile is 100000 x 100000 pixels, and a side may have 30000 at most
        |    to do: export one repeat only, or at a lower resolution
        |bad/many.png: cannot be opened
        |  - the tile is 20000 x 20000, 400 million pixels, and may have 120 million
        |    to do: export one repeat only, or at a lower resolution
        |bad/bomb-of-pixels.png: ready
        |  64 x 64 px; no print size given; rgb 8 bit; opaque ground; joins as block, half-drop, brick, quarter-drop
        |bad/bomb-of-text.png: ready
        |  64 x 64 px; no print size given; rgb 8 bit; opaque ground; joins as block, half-drop, brick, quarter-drop
        ",
        "",
    );
}

#[test]
fn what_is_no_file_is_told_and_the_rest_still_looked_at() {
    let house = House::with(&["kelp.jpg"]);
    house.make("nets.png");
    assert!(Command::new("mkfifo").arg(house.path("pipe.png")).status().unwrap().success());
    std::os::unix::fs::symlink("nowhere.png", house.path("lost.png")).unwrap();
    house.expect(
        &["inspect", "gone.png", "nets.png", "pipe.png", "lost.png", "kelp.jpg/x.png", "/dev/zero", "kelp.jpg"],
        74,
        "
        |kelp.jpg: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block
        ",
        "
        |burler: cannot read gone.png: it is not there; put it back, or connect the drive it is on
        |burler: nets.png is a folder; name the tiles in it
        |burler: pipe.png is a pipe or a device and no file; name the tile itself
        |burler: cannot read lost.png: it is not there; put it back, or connect the drive it is on
        |burler: cannot read kelp.jpg/x.png: a file or link has the name of a folder on its path; move or rename that
        |burler: /dev/zero is a pipe or a device and no file; name the tile itself
        ",
    );
    // A missing file weighs more than a bad one.
    house.bring("bad/empty.png", "empty.png");
    assert_eq!(house.run(&["inspect", "empty.png", "gone.png"]).status, 74);
}

#[test]
fn a_file_that_may_not_be_read_is_told_as_such() {
    let house = House::with(&["kelp.jpg"]);
    house.bring("kelp.jpg", "locked.jpg");
    house.bring("kelp.jpg", "drawer/kelp.jpg");
    fs::set_permissions(house.path("locked.jpg"), fs::Permissions::from_mode(0o000)).unwrap();
    fs::set_permissions(house.path("drawer"), fs::Permissions::from_mode(0o000)).unwrap();
    let words = ["inspect", "locked.jpg", "drawer/kelp.jpg", "kelp.jpg"];
    let said = house.run_as_nobody(&words);
    fs::set_permissions(house.path("drawer"), fs::Permissions::from_mode(0o700)).unwrap();
    house.check(
        &said,
        &words,
        74,
        "
        |kelp.jpg: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block
        ",
        "
        |burler: cannot read locked.jpg: reading it is not permitted; allow this account to read it
        |burler: cannot read drawer/kelp.jpg: reading it is not permitted; allow this account to read it
        ",
    );
}

#[test]
fn names_cannot_command_a_terminal_or_break_a_line() {
    let house = House::new();
    let names: [&[u8]; 4] = [b"sea\nweed.jpg", b"caf\xe9.jpg", b"red\x1b[31m.jpg", b"-kelp.jpg"];
    for name in names {
        house.bring("kelp.jpg", OsStr::from_bytes(name));
    }
    let words: Vec<&OsStr> = [b"inspect", &b"--"[..]]
        .into_iter()
        .chain(names)
        .chain([&b"no\nsuch.jpg"[..]])
        .map(OsStr::from_bytes)
        .collect();
    let is = "|  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block";
    house.expect(
        &words,
        74,
        &format!(
            "
            |sea\u{fffd}weed.jpg: ready
            {is}
            |caf\u{fffd}.jpg: ready
            {is}
            |red\u{fffd}[31m.jpg: ready
            {is}
            |-kelp.jpg: ready
            {is}
            "
        ),
        "
        |burler: cannot read \"no\\nsuch.jpg\": it is not there; put it back, or connect the drive it is on
        ",
    );
}
