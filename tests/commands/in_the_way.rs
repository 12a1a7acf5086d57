//! What is never written over, and where nothing is ever written.

use crate::CONFIG;
use crate::house::House;
use std::fs;

const DONE: &str = "
    |dulse.png: ready, mended
    |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
    |  - a see-through line runs across the tile, 0.2 in from the top (lowest alpha 128 of 255, at least 255)
    |    to do: nothing: the line is mended
    |  -> checked/ready/dulse.png
    ";

#[test]
fn a_file_of_someone_else_stays_unless_forced() {
    let house = House::with(&["dulse.png"]);
    house.put("checked/ready/dulse.png", "mine");
    let refused = "|burler: checked/ready/dulse.png is there already and was not written from this file; move it, choose another --output, or replace it with --force";
    house.expect(&["mend", "dulse.png"], 74, "", refused);
    house.expect(&["mend", "--dry-run", "dulse.png"], 74, "", refused);
    assert_eq!(house.read("checked/ready/dulse.png"), b"mine");
    let dry = format!("{DONE}|  nothing was written: this was a dry run");
    house.expect(&["mend", "--force", "--dry-run", "dulse.png"], 0, &dry, "");
    assert_eq!(house.read("checked/ready/dulse.png"), b"mine");
    house.expect(&["mend", "--force", "dulse.png"], 0, DONE, "");
    assert_ne!(house.read("checked/ready/dulse.png"), b"mine");
}

#[test]
fn a_folder_or_a_link_in_the_way_stays_even_when_forced() {
    let house = House::with(&["dulse.png"]);
    house.make("checked/ready/dulse.png/nets");
    let folder = "|burler: cannot put in place checked/ready/dulse.png: a folder of that name is in the way; move or rename the folder";
    house.expect(&["mend", "dulse.png"], 74, "", folder);
    house.expect(&["mend", "--force", "dulse.png"], 74, "", folder);
    fs::remove_dir_all(house.path("checked/ready/dulse.png")).unwrap();
    std::os::unix::fs::symlink("../../dulse.png", house.path("checked/ready/dulse.png")).unwrap();
    let link = "|burler: cannot put in place checked/ready/dulse.png: there is already something of that name, which was not written here; move or rename it";
    house.expect(&["mend", "--force", "dulse.png"], 74, "", link);
    assert_eq!(house.read("dulse.png"), crate::tiles::bytes("dulse.png"));
    // A file where the output folder should be.
    house.put("taken", "mine");
    let said = house.run(&["mend", "--force", "--output", "taken", "dulse.png"]);
    assert_eq!((said.status, said.out.as_str()), (74, ""), "{said:?}");
    assert_eq!(house.read("taken"), b"mine");
}

#[test]
fn an_exports_folder_is_never_written_into() {
    let house = House::with(&["dulse.png"]);
    house.put("burler.toml", CONFIG);
    fs::create_dir(house.path("exports/deep")).unwrap();
    std::os::unix::fs::symlink("exports/deep", house.path("by-link")).unwrap();
    for output in ["exports", "exports/new", "exports/deep/../other", "by-link", "by-link/new"] {
        let refused = format!(
            "|burler: {output} lies in the exports folder ~/exports, where nothing is ever written; choose another --output"
        );
        for force in [&["--force"][..], &[]] {
            let words = [&["--config", "burler.toml", "mend", "dulse.png", "--output", output][..], force].concat();
            house.expect(&words, 74, "", &refused);
        }
    }
    assert_eq!(house.names("exports").len(), 0);
    assert!(!house.has("exports/new"));
}

#[test]
fn the_input_is_never_the_output() {
    let house = House::new();
    house.bring("dulse.png", "here/ready/dulse.png");
    fs::hard_link(house.path("here/ready/dulse.png"), house.path("dulse.png")).unwrap();
    let before = house.files(".");
    let refused = "|burler: here/ready/dulse.png is the file that was given; choose another --output, an original is never replaced";
    for force in [&["--force"][..], &[]] {
        for input in ["here/ready/dulse.png", "dulse.png"] {
            house.expect(&[&["mend", input, "--output", "here"][..], force].concat(), 74, "", refused);
        }
    }
    assert_eq!(house.files("."), before);
}
