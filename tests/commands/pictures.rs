//! `mockup`: which pictures are drawn of which tile. What they show has tests of its own.

use crate::desk;
use crate::house::House;

#[test]
fn a_sound_tile_gets_its_repeat_and_its_strike_off() {
    let house = House::with(&["kelp.png", "kelp.webp"]);
    let told = "
        |kelp.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  -> checked/mockups/kelp.png/repeat.jpg
        |  -> checked/mockups/kelp.png/strike-off.jpg
        ";
    house.expect(
        &["mockup", "--dry-run", "kelp.png"],
        0,
        &format!("{told}|  nothing was written: this was a dry run"),
        "",
    );
    assert!(!house.has("checked"));
    house.expect(&["mockup", "kelp.png"], 0, told, "");
    // Without a resolution there is no true scale.
    house.expect(
        &["mockup", "kelp.webp"],
        0,
        "
        |kelp.webp: ready
        |  120 x 120 px; no print size given; rgb 8 bit; opaque ground; joins as block, brick
        |  -> checked/mockups/kelp.webp/repeat.jpg
        ",
        "",
    );
    assert_eq!(
        house.names("checked"),
        ["mockups/kelp.png/repeat.jpg", "mockups/kelp.png/strike-off.jpg", "mockups/kelp.webp/repeat.jpg"]
    );
    // The layout can be said.
    let said = house.run(&["mockup", "--repeat", "half-drop", "--output", "other", "kelp.png"]);
    assert_eq!(said.status, 0);
    let sizes = desk::run_python(
        "import sys\nfrom PIL import Image\nfor name in sys.argv[1:]: print(Image.open(name).size)",
        &["checked", "other"]
            .map(|folder| house.path(format!("{folder}/mockups/kelp.png/repeat.jpg")))
            .each_ref()
            .map(|path| path.to_str().unwrap()),
    );
    assert_eq!(sizes, "(720, 720)\n(720, 720)\n");
    assert_ne!(house.read("checked/mockups/kelp.png/repeat.jpg"), house.read("other/mockups/kelp.png/repeat.jpg"));
}

#[test]
fn a_tile_to_be_mended_is_shown_as_it_will_be() {
    let house = House::with(&["dulse.png"]);
    house.expect(
        &["mockup", "dulse.png"],
        0,
        "
        |dulse.png: can be mended
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
        |  - a see-through line runs across the tile, 0.2 in from the top (lowest alpha 128 of 255, at least 255)
        |    to do: nothing: the line is mended
        |  -> checked/mockups/dulse.png/before-after.png
        |  -> checked/mockups/dulse.png/repeat.jpg
        |  -> checked/mockups/dulse.png/strike-off.jpg
        ",
        "",
    );
    assert_eq!(house.run(&["mend", "dulse.png"]).status, 0);
    assert_eq!(house.run(&["mockup", "--output", "of-mended", "checked/ready/dulse.png"]).status, 0);
    let repeat = |folder: &str| house.read(format!("{folder}/mockups/dulse.png/repeat.jpg"));
    assert!(repeat("checked") == repeat("of-mended"), "the picture is that of the mended tile");
}

#[test]
fn a_held_tile_gets_the_picture_of_its_fault() {
    let house = House::with(&["pages.tif", "bad/cut--12.png"]);
    house.expect(
        &["mockup", "pages.tif"],
        1,
        "
        |pages.tif: needs you
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  - the file holds 2 pages; only the first was looked at (pages 2, at most 1)
        |    to do: export one flat picture without layers or pages
        |  -> checked/held/pages.tif.held.png
        ",
        "",
    );
    let said = house.run(&["mockup", "--json", "bad/cut--12.png"]);
    assert_eq!(said.status, 1);
    assert!(said.out.contains("\"outputs\":[\"checked/held/cut--12.png.held.png\"]"), "{}", said.out);
    assert_eq!(house.names("checked"), ["held/cut--12.png.held.png", "held/pages.tif.held.png"]);
}
