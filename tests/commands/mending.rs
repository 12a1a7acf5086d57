//! `mend`: what is given back, under which name, and that the original stays as it is.

use crate::CONFIG;
use crate::desk;
use crate::house::House;

#[test]
fn a_sound_tile_gets_nothing_written() {
    let house = House::with(&["kelp.png", "inks.jpg"]);
    let before = house.files(".");
    house.expect(
        &["mend", "kelp.png"],
        0,
        "
        |kelp.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgb 8 bit; opaque ground; joins as block, half-drop, brick, third-drop, quarter-drop
        |  nothing to mend, so nothing was written
        ",
        "",
    );
    house.expect(
        &["mend", "inks.jpg"],
        0,
        "
        |inks.jpg: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; cmyk 8 bit; opaque ground; joins as block
        |  - the colors are stored as printing inks (CMYK)
        |    to do: export it in RGB, unless the printer asked for inks
        |  nothing to mend, so nothing was written
        ",
        "",
    );
    assert!(house.run(&["mend", "--json", "kelp.png"]).out.contains("\"verdict\":\"sound\""));
    assert_eq!(house.files("."), before);
}

#[test]
fn a_line_is_mended_into_the_usual_place() {
    let house = House::with(&["dulse.png"]);
    let before = house.files(".");
    let told = "
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
        |  - a see-through line runs across the tile, 0.2 in from the top (lowest alpha 128 of 255, at least 255)
        |    to do: nothing: the line is mended
        |  -> checked/ready/dulse.png
        ";
    let dry = format!("|dulse.png: ready, mended{told}|  nothing was written: this was a dry run");
    house.expect(&["mend", "--dry-run", "dulse.png"], 0, &dry, "");
    assert_eq!(house.files("."), before, "a dry run writes nothing");
    let out = format!("|dulse.png: ready, mended{told}");
    house.expect(&["mend", "dulse.png"], 0, &out, "");
    let mended = house.files("checked");
    assert_eq!(house.names("."), ["checked/ready/dulse.png", "dulse.png"]);
    // Once more is as good as once.
    house.expect(&["mend", "dulse.png"], 0, &out, "");
    assert_eq!(house.files("checked"), mended);
    house.expect(
        &["inspect", "checked/ready/dulse.png"],
        0,
        "
        |checked/ready/dulse.png: ready
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
        ",
        "",
    );
    assert_eq!(house.read("dulse.png"), crate::tiles::bytes("dulse.png"));
}

/// Pillow reads the mended files: only the line has changed, and only to opaque.
#[test]
fn other_formats_are_mended_as_png() {
    let house = House::with(&["dulse.tif", "dulse.webp", "coarse.jpg", "coarse.tif", "kelp.webp", "coarse.png"]);
    house.put("burler.toml", CONFIG);
    let originals = house.files(".");
    let tail = "
        |    to do: nothing: the tag is corrected, no pixel changes
        |  -> checked/ready/";
    let cases = [
        ("dulse.tif", "dulse.tif.png", "block, brick", ""),
        ("dulse.webp", "dulse.webp.png", "block, brick", ""),
        ("coarse.jpg", "coarse.jpg.png", "block", "72"),
        ("coarse.tif", "coarse.tif.png", "block, half-drop", "72"),
        ("coarse.png", "coarse.png", "block, half-drop, brick, third-drop, quarter-drop", "72.01"),
    ];
    for (name, given, joins, tag) in cases {
        let (sheet, told) = if tag.is_empty() {
            let (print, place) = if name == "dulse.tif" {
                ("300 per inch, prints 1.0 x 1.0 cm", "0.1 in")
            } else {
                ("no print size given", "40 px")
            };
            let told = format!(
                "|  120 x 120 px; {print}; rgba 8 bit; opaque ground; joins as {joins}
                 |  - a see-through line runs across the tile, {place} from the top (lowest alpha 128 of 255, at least 255)
                 |    to do: nothing: the line is mended
                 |  -> checked/ready/{given}"
            );
            (vec![], told)
        } else {
            let told = format!(
                "|  120 x 120 px; 72 per inch, prints 4.2 x 4.2 cm; rgb 8 bit; opaque ground; joins as {joins}
                 |  - the file says 72 pixels per inch, so it would print 1.7 in wide; the order wants 300 (resolution {tag} per inch, should be 300){tail}{given}"
            );
            (vec!["--spec", "swatch"], told)
        };
        let words = [&["--config", "burler.toml", "mend", name][..], &sheet].concat();
        house.expect(&words, 0, &format!("|{name}: ready, mended\n{told}"), "");
    }
    house.expect(
        &["--config", "burler.toml", "mend", "kelp.webp", "--spec", "swatch"],
        0,
        "
        |kelp.webp: ready, mended
        |  120 x 120 px; no print size given; rgb 8 bit; opaque ground; joins as block, brick
        |  - the file does not say how large it prints; the order wants 300 pixels per inch (resolution 0 per inch, should be 300)
        |    to do: nothing: the tag is corrected, no pixel changes
        |  -> checked/ready/kelp.webp.png
        ",
        "",
    );
    let given = ["coarse.jpg.png", "coarse.png", "coarse.tif.png", "dulse.tif.png", "dulse.webp.png", "kelp.webp.png"];
    assert_eq!(house.names("checked/ready"), given);
    for (name, hash) in originals {
        assert_eq!(blake3::hash(&house.read(&name)).to_hex().to_string(), hash, "{}", name.display());
    }
    // JPEG decoders differ by a level or two (ITU-T T.83 allows it), the others not at all.
    let program = "
import sys
import numpy as np
from PIL import Image
for name in sys.argv[2:]:
    before = np.asarray(Image.open(f'{sys.argv[1]}/{name.removesuffix(\".png\") if name.count(\".\") > 1 else name}')).astype(int)
    picture = Image.open(f'{sys.argv[1]}/checked/ready/{name}')
    after = np.asarray(picture).astype(int)
    changed = np.argwhere((before != after).any(axis=2))
    if 'jpg' in name:
        far = np.abs(before - after).max()
        print(name, 'near' if far <= 2 else f'{far} off', picture.info['dpi'])
    else:
        print(name, sorted({int(y) for y, x in changed}), np.unique(after[40:42, :, 3:]), picture.info.get('dpi'))
";
    let home = house.path("");
    let said = desk::run_python(program, &[&[home.to_str().unwrap()], &given[..]].concat());
    let wanted = "
        |coarse.jpg.png near (299.9994, 299.9994)
        |coarse.png [] [] (299.9994, 299.9994)
        |coarse.tif.png [] [] (299.9994, 299.9994)
        |dulse.tif.png [40, 41] [255] (299.9994, 299.9994)
        |dulse.webp.png [40, 41] [255] None
        |kelp.webp.png [] [] (299.9994, 299.9994)
        ";
    assert_eq!(said, desk::margin(wanted));
}

#[test]
fn what_cannot_be_mended_gets_its_picture() {
    let house = House::with(&["limpet.png", "pages.tif", "moving-dulse.png", "coarse-inks.tif", "bad/empty.png"]);
    house.put("burler.toml", CONFIG);
    house.expect(
        &["mend", "pages.tif"],
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
    // A fault holds the whole tile: a line of an animation and a tag over printing inks are not mended.
    house.expect(
        &["mend", "moving-dulse.png"],
        1,
        "
        |moving-dulse.png: needs you
        |  120 x 120 px; 300 per inch, prints 1.0 x 1.0 cm; rgba 8 bit; opaque ground; joins as block
        |  - the file is an animation of 2 frames; only the first was looked at (frames 2, at most 1)
        |    to do: export one still picture
        |  - a see-through line runs across the tile, 0.2 in from the top (lowest alpha 128 of 255, at least 255)
        |    to do: nothing: the line is mended
        |  -> checked/held/moving-dulse.png.held.png
        ",
        "",
    );
    house.expect(
        &["--config", "burler.toml", "mend", "--spec", "swatch", "coarse-inks.tif"],
        1,
        "
        |coarse-inks.tif: needs you
        |  120 x 120 px; 72 per inch, prints 4.2 x 4.2 cm; cmyk 8 bit; opaque ground; joins as block
        |  - the file says 72 pixels per inch, so it would print 1.7 in wide; the order wants 300 (resolution 72 per inch, should be 300)
        |    to do: export it again at 300 pixels per inch
        |  - the colors are stored as printing inks (CMYK)
        |    to do: export it in RGB, unless the printer asked for inks
        |  -> checked/held/coarse-inks.tif.held.png
        ",
        "",
    );
    house.expect(
        &["mend", "bad/empty.png"],
        1,
        "
        |bad/empty.png: cannot be opened
        |  - the file is empty
        |    to do: export the tile again and wait until the copy is complete
        |  -> checked/held/empty.png.held.png
        ",
        "",
    );
    let said = house.run(&["mend", "--json", "--output", "elsewhere", "limpet.png"]);
    assert_eq!(said.status, 1);
    assert!(said.out.contains("\"outputs\":[\"elsewhere/held/limpet.png.held.png\"]"), "{}", said.out);
    let held = ["coarse-inks.tif", "empty.png", "moving-dulse.png", "pages.tif"];
    assert_eq!(house.names("checked"), held.map(|name| format!("held/{name}.held.png")));
    assert_eq!(house.names("elsewhere"), ["held/limpet.png.held.png"]);
}

#[test]
fn a_missing_file_ends_the_command() {
    House::new().expect(
        &["mend", "gone.png"],
        74,
        "",
        "|burler: cannot read gone.png: it is not there; put it back, or connect the drive it is on",
    );
}
