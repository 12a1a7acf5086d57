//! `sweep` over an archive with copies in it: twins and families are told in words and for machines, and pictured.

#[path = "desk/house.rs"]
mod house;
mod art;
mod desk;
#[path = "desk/tiles.rs"]
mod tiles;

use art::chance::Chance;
use art::copies;
use burler::codec::picture::{encode_jpeg, encode_png};
use burler::spec::Repeat;
use burler::tile::Raster;
use house::House;

fn png(raster: &Raster) -> Vec<u8> {
    encode_png(raster, Some(150.0)).expect("a picture")
}

/// Two works of Oddfathom with their copies, and one that is alone.
fn archive(house: &House) {
    let draw = |name: &str, seed| art::drawn(art::named(name), Repeat::Block, seed, 360, 300);
    let kelp = draw("tossed", 601);
    house.put("prints/kelp.png", png(&kelp));
    house.put("prints/kelp-copy.png", png(&kelp));
    house.put("prints/old/kelp-moved.png", png(&copies::moved(&kelp, 100, -60)));
    house.put("prints/old/kelp.jpg", encode_jpeg(&copies::quarters(&kelp, 1), 85, Some(150.0)).expect("a picture"));
    let mut chance = Chance::new(7);
    for color in ["coral", "slate", "moss"] {
        house.put(format!("prints/kelp-{color}.png"), png(&copies::curved(&kelp, &mut chance)));
    }
    house.put("prints/limpets.png", png(&draw("dead leaves", 602)));
    house.put("prints/foam.png", png(&draw("clouds", 603)));
    house
        .put(".config/burler/burler.toml", "[archive.prints]\nfolder = \"~/prints\"\nchecked = \"~/prints-checked\"\n");
}

#[test]
fn copies_and_colorways_are_told_and_pictured_once() {
    let house = House::new();
    archive(&house);
    let before = house.files("prints");
    let said = house.run(&["sweep", "--json"]);
    assert!(said.status <= 1, "{} {}", said.status, said.err);
    let remarks: Vec<&str> = said.out.lines().filter(|line| line.contains("\"line\":\"remark\"")).collect();
    let told = |words: &[&str]| {
        let found = remarks.iter().filter(|line| words.iter().all(|word| line.contains(word))).count();
        assert_eq!(found, 1, "{words:?} in\n{}", remarks.join("\n"));
    };
    told(&["\"kind\":\"twins\"", "the same file twice"]);
    told(&[
        "\"kind\":\"twins\"",
        "kelp-moved.png",
        "moved 0.67 in to the right and 0.40 in up; every pixel is equal (100 % sure)",
    ]);
    told(&["\"kind\":\"twins\"", "kelp.jpg", "turned a quarter clockwise", "encoded anew"]);
    told(&["\"kind\":\"family\"", "kelp-coral.png", "kelp-slate.png", "kelp-moss.png", "one drawing in 4 colorways"]);
    assert_eq!(remarks.len(), 4, "{}", remarks.join("\n"));
    assert!(!remarks.iter().any(|line| line.contains("limpets") || line.contains("foam")));
    assert_eq!(house.files("prints"), before, "nothing is written in an archive");
    let pictures = house.files("prints-checked/families");
    let names: Vec<String> = house.names("prints-checked/families");
    assert_eq!(names.iter().filter(|name| name.ends_with(".family.png")).count(), 1, "{names:?}");
    assert_eq!(names.iter().filter(|name| name.ends_with(".twin.png")).count(), 2, "{names:?}");

    // Again: the same words from what is kept, the same pictures.
    let again = house.run(&["sweep", "--json"]);
    let lines = |out: &str| -> Vec<String> {
        out.lines().filter(|line| line.contains("\"line\":\"remark\"")).map(str::to_string).collect()
    };
    assert_eq!(lines(&again.out), lines(&said.out));
    assert_eq!(house.files("prints-checked/families"), pictures);

    // What a person took away is not put back, and what no longer holds is taken away.
    std::fs::remove_file(house.path("prints-checked/families").join(&names[0])).expect("it is there");
    for copy in ["prints/old/kelp-moved.png", "prints/old/kelp.jpg", "prints/kelp-copy.png"] {
        std::fs::remove_file(house.path(copy)).expect("it is there");
    }
    let third = house.run(&["sweep"]);
    assert!(third.out.contains("one drawing in 4 colorways"), "{}", third.out);
    assert!(house.names("prints-checked/families").iter().all(|name| name.ends_with(".family.png")));
}

#[test]
fn a_dry_run_tells_twins_and_writes_nothing() {
    let house = House::new();
    archive(&house);
    let said = house.run(&["sweep", "--dry-run"]);
    assert!(said.out.contains("the same file twice"), "{} {}", said.out, said.err);
    assert!(said.out.contains("one drawing in 4 colorways"), "{}", said.out);
    assert!(!house.has("prints-checked"));
}
