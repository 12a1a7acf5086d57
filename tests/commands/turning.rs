//! `turn` and `lay`: what is given, under which name, and what is refused in which words.

use crate::desk;
use crate::house::House;
use burler::codec::deep::encode_png_deep;
use burler::codec::{Limits, decode};

/// What a command says of the companion, without what every command says of the tile: status, lines, complaint.
fn told(house: &House, words: &[&str]) -> (i32, String, String) {
    let said = house.run(words);
    let own = |line: &&str| ["  turn ", "  as ", "  -> ", "  nothing"].iter().any(|start| line.starts_with(start));
    (said.status, said.out.lines().filter(own).map(str::trim_start).collect::<Vec<_>>().join("\n"), said.err)
}

fn refused(house: &House, words: &[&str], status: i32, says: &str) {
    let before = house.files(".");
    let (found, out, err) = told(house, words);
    assert_eq!((found, [out, err].concat().trim_end()), (status, says), "{words:?}");
    assert_eq!(house.files("."), before, "{words:?} writes nothing");
}

#[test]
fn a_tile_is_turned_and_laid_into_the_usual_place() {
    let house = House::with(&["kelp.png", "dulse.png"]);
    let originals = house.files(".");
    let cases = [
        (
            &["turn", "kelp.png", "--by", "45"][..],
            "turn 45: 120 x 120 px, 2 repeats, to be laid as block; turned by 45 degrees, scale 0.707107
-> checked/ready/kelp.png.turn-45.png",
        ),
        (
            &["turn", "kelp.png", "--by", "-36.8699", "--keep-scale", "--palette-only"],
            "turn -36.8699 keep-scale palette-only: 600 x 600 px, 25 repeats, to be laid as block; turned by -36.8699 degrees, scale 1
-> checked/ready/kelp.png.turn--36.8699-keep-scale-palette-only.png",
        ),
        (
            &["lay", "kelp.png", "--as", "half-drop"],
            "as half-drop: 120 x 240 px, 2 repeats, to be laid as half-drop
-> checked/ready/kelp.png.as-half-drop.png",
        ),
        (
            &["lay", "kelp.png", "--repeat", "half-drop", "--as", "block"],
            "as block: 240 x 120 px, 2 repeats, to be laid as block
-> checked/ready/kelp.png.as-block.png",
        ),
        // A tile with a line is mended first.
        (
            &["turn", "dulse.png", "--by", "1:1"],
            "turn 1:1: 120 x 120 px, 2 repeats, to be laid as block; turned by 45 degrees, scale 0.707107
-> checked/ready/dulse.png.turn-1to1.png",
        ),
    ];
    for (words, says) in cases {
        let dry = told(&house, &[words, &["--dry-run"]].concat());
        assert_eq!(
            (dry.0, dry.1, dry.2),
            (0, format!("{says}\nnothing was written: this was a dry run"), String::new())
        );
        let (status, out, err) = told(&house, words);
        assert_eq!((status, out.as_str(), err.as_str()), (0, says, ""));
        let again = told(&house, words);
        assert_eq!((again.0, again.1.as_str()), (0, says), "once more is as good as once");
    }
    let given = [
        "dulse.png.turn-1to1.png",
        "kelp.png.as-block.png",
        "kelp.png.as-half-drop.png",
        "kelp.png.turn--36.8699-keep-scale-palette-only.png",
        "kelp.png.turn-45.png",
    ];
    assert_eq!(house.names("checked/ready"), given);
    for (name, hash) in originals {
        assert_eq!(blake3::hash(&house.read(&name)).to_hex().to_string(), hash, "originals stay as they are");
    }
    // Pillow's view: size, layout and resolution; the half-drop is two tiles one above the other, the block has its second
    // column lowered by half; nothing is see-through.
    let program = "
import sys
import numpy as np
from PIL import Image
open_ = lambda name: Image.open(f'{sys.argv[1]}/{name}')
art = np.asarray(open_('kelp.png'))
for name in sys.argv[2:]:
    picture = open_(f'checked/ready/{name}')
    print(name, picture.size, picture.mode, [round(float(dpi)) for dpi in picture.info['dpi']], np.asarray(picture.convert('RGBA'))[:, :, 3].min())
drop, block = (np.asarray(open_(f'checked/ready/kelp.png.as-{name}.png')) for name in ('half-drop', 'block'))
print((drop == np.concatenate([art, art])).all(), (block == np.concatenate([art, np.roll(art, 60, 0)], 1)).all())
";
    let home = house.path("");
    let said = desk::run_python(program, &[&[home.to_str().unwrap()], &given[..]].concat());
    let wanted = "
        |dulse.png.turn-1to1.png (120, 120) RGBA [300, 300] 255
        |kelp.png.as-block.png (240, 120) RGB [300, 300] 255
        |kelp.png.as-half-drop.png (120, 240) RGB [300, 300] 255
        |kelp.png.turn--36.8699-keep-scale-palette-only.png (600, 600) RGB [300, 300] 255
        |kelp.png.turn-45.png (120, 120) RGB [300, 300] 255
        |True True
        ";
    assert_eq!(said, desk::margin(wanted));
    let json = house.run(&["turn", "kelp.png", "--by", "45", "--json"]).out;
    let entry = r#""companions":[{"wish":"turn 45","width":120,"height":120,"units":2,"repeat":"block","degrees":45.0,"scale":0.707107}],"outputs":["checked/ready/kelp.png.turn-45.png"]"#;
    assert!(json.contains(entry), "{json}");
}

#[test]
fn sixteen_bits_and_other_formats_are_kept_as_far_as_png_can() {
    let house = House::with(&["kelp.tif", "kelp.webp"]);
    let wave =
        |at: u32, times: f64| (32768.0 + 20000.0 * (f64::from(at) / 40.0 * std::f64::consts::TAU * times).sin()) as u16;
    let pixels = (0..40).flat_map(|y| (0..40).map(move |x| (x, y)));
    let samples: Vec<u16> = pixels.flat_map(|(x, y)| [wave(x, 1.0), wave(y, 2.0), wave(x + y, 1.0), 65535]).collect();
    house.put("deep.png", encode_png_deep(40, 40, &samples, 300.0).unwrap());
    for (name, words) in
        [("deep.png", &["--as", "half-drop"]), ("kelp.tif", &["--as", "brick"]), ("kelp.webp", &["--as", "brick"])]
    {
        let (status, out, _) = told(&house, &[&["lay", name, "--repeat", "block"], &words[..]].concat());
        assert_eq!(status, 0, "{out}");
    }
    let tile = decode(&house.read("checked/ready/deep.png.as-half-drop.png"), &Limits::default(), Vec::new()).unwrap();
    assert_eq!(tile.deep.unwrap().0, [samples.clone(), samples].concat());
    assert_eq!(tile.meta.resolution.unwrap().x.round(), 300.0);
    assert!(house.has("checked/ready/kelp.tif.as-brick.png") && house.has("checked/ready/kelp.webp.as-brick.png"));
}

#[test]
fn what_is_no_angle_no_size_and_no_repeat_is_a_matter_of_words() {
    let house = House::with(&["kelp.png"]);
    let cases = [
        (
            &["turn", "kelp.png", "--by", "round"][..],
            "burler: \"round\" is no angle; write degrees such as 45 or -22.5, or a direction such as 4:3 (four right, three down)",
        ),
        (
            &["turn", "kelp.png", "--by", "NaN"],
            "burler: \"NaN\" is no angle; write degrees such as 45 or -22.5, or a direction such as 4:3 (four right, three down)",
        ),
        (&["turn", "kelp.png", "--by", "0"], "burler: an angle of 0 turns nothing; write another, such as 45"),
        (&["turn", "kelp.png", "--by", "-360"], "burler: an angle of -360 turns nothing; write another, such as 45"),
        (
            &["turn", "kelp.png", "--by", "0:0"],
            "burler: \"0:0\" is no direction, since it goes nowhere; write one such as 1:1 for 45 degrees",
        ),
        (
            &["turn", "kelp.png", "--by", "45", "--size", "0"],
            "burler: \"0\" is no size in pixels; write one such as 3600x3600, or 3600 for a square",
        ),
        (
            &["lay", "kelp.png", "--as", "across"],
            "burler: \"across\" is no repeat to lay a tile as; write block, half-drop, third-drop, quarter-drop or brick",
        ),
    ];
    for (words, says) in cases {
        refused(&house, words, 2, says);
    }
}

#[test]
fn what_cannot_be_turned_or_laid_says_what_can() {
    let house = House::with(&["kelp.png", "inks.jpg"]);
    let cases = [
        (
            &["turn", "kelp.png", "--by", "30"][..],
            1,
            "turn 30: a turn by 30 closes on no whole pixels: near it --by 5:3 is 30.9638 degrees, 102 x 102 px, scale 0.1458 (-85.42 %); --by 2:1 is 26.5651 degrees, 120 x 120 px, scale 0.4472 (-55.28 %); --by 1:1 is 45.0000 degrees, 120 x 120 px, scale 0.7071 (-29.29 %)",
        ),
        (
            &["turn", "kelp.png", "--by", "4:3", "--size", "121"],
            1,
            "turn 4:3 size 121x121: whole repeats of the turned tile do not fill 121 x 121 px: the nearest that they fill is 100 x 100 px, at scale 0.1667; or keep the scale, which takes 600 x 600 px",
        ),
        (
            &["turn", "kelp.png", "--by", "45", "--size", "40000"],
            1,
            "turn 45 size 40000x40000: the turned tile would be 40000 x 40000 px: a side may have 30000 at most; ask for a smaller one with --size",
        ),
        (
            &["lay", "kelp.png", "--as", "block", "--size", "60000x120"],
            1,
            "as block size 60000x120: as block the tile would be 60000 x 120 px: a side may have 30000 at most",
        ),
        (
            &["lay", "kelp.png", "--as", "block"],
            0,
            "as block: the tile is laid as block already, and there is no smaller one that makes the same cloth",
        ),
        (
            &["turn", "inks.jpg", "--by", "45"],
            1,
            "turn 45: the colors are printing inks (CMYK), which are not turned or laid anew; export the tile in RGB",
        ),
        (
            &["lay", "inks.jpg", "--as", "brick"],
            1,
            "as brick: the colors are printing inks (CMYK), which are not turned or laid anew; export the tile in RGB",
        ),
    ];
    for (words, status, says) in cases {
        refused(&house, words, status, says);
    }
}

#[test]
fn held_and_unreadable_tiles_get_their_picture_instead() {
    let house = House::with(&["moving-dulse.png", "limpet.png", "bad/empty.png"]);
    for (words, given) in [
        (&["turn", "moving-dulse.png", "--by", "45"], "-> checked/held/moving-dulse.png.held.png"),
        (&["lay", "limpet.png", "--as", "block"], "-> checked/held/limpet.png.held.png"),
        (&["turn", "bad/empty.png", "--by", "45"], "-> checked/held/empty.png.held.png"),
    ] {
        assert_eq!(told(&house, words), (1, given.into(), String::new()));
    }
}

#[test]
fn nothing_is_written_over() {
    let house = House::with(&["kelp.png"]);
    let words = ["turn", "kelp.png", "--by", "45"];
    house.put("checked/ready/kelp.png.turn-45.png", "mine");
    let present = "burler: checked/ready/kelp.png.turn-45.png is there already and was not written from this file; move it, choose another --output, or replace it with --force";
    refused(&house, &words, 74, present);
    assert_eq!(told(&house, &[&words[..], &["--force"]].concat()).0, 0);
    assert_ne!(house.read("checked/ready/kelp.png.turn-45.png"), b"mine");
    // The output is the input: a file that has the output's name already, given by a link.
    house.bring("kelp.png", "here/ready/kelp.png.turn-45.png");
    std::fs::hard_link(house.path("here/ready/kelp.png.turn-45.png"), house.path("here/kelp.png")).unwrap();
    let input = "burler: here/ready/kelp.png.turn-45.png is the file that was given; choose another --output, an original is never replaced";
    for force in [&[][..], &["--force"]] {
        refused(&house, &[&["turn", "here/kelp.png", "--by", "45", "--output", "here"][..], force].concat(), 74, input);
    }
}
