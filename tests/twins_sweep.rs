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

fn remarks(out: &str) -> Vec<String> {
    out.lines().filter(|line| line.contains("\"line\":\"remark\"")).map(str::to_string).collect()
}

#[test]
fn machines_read_the_family_and_the_bytes_of_names_that_are_no_text() {
    use std::os::unix::ffi::OsStrExt;
    let house = House::new();
    archive(&house);
    house.put(std::ffi::OsStr::from_bytes(b"prints/caf\xe9.png"), house.read("prints/limpets.png"));
    let json = house.run(&["sweep", "--json"]).out;
    let csv = house.run(&["sweep", "--csv"]).out;
    let said = desk::run_python(
        "import csv, io, json, sys\n\
         lines = [json.loads(line) for line in sys.argv[1].splitlines()]\n\
         rows = [r for r in csv.DictReader(io.StringIO(sys.argv[2])) if r['blake3']]\n\
         tiles = {l['tile']: l.get('family', '') for l in lines if l['line'] == 'tile'}\n\
         assert tiles == {r['tile']: r['family'] for r in rows}, (tiles, rows)\n\
         kelp = [tile for tile, family in tiles.items() if family == 'kelp-copy.png']\n\
         assert sorted(kelp) == sorted(tile for tile in tiles if 'kelp' in tile) and len(kelp) == 7, tiles\n\
         odd = [l for l in lines if l['line'] == 'remark' and 'files_hex' in l]\n\
         assert [sorted(l['files_hex']) for l in odd] == [['', '636166e92e706e67']], odd\n\
         assert tiles['foam.png'] == '' and tiles['limpets.png'] == tiles['caf\\ufffd.png'] != ''\n\
         print('read')\n",
        &[&json, &csv],
    );
    assert_eq!(said.trim(), "read");
}

/// Damage is told with the file; its bytes are nobody's twin, and what it should be is not there.
#[test]
fn a_damaged_file_is_compared_with_none() {
    let house = House::new();
    archive(&house);
    let first = remarks(&house.run(&["sweep", "--json"]).out);
    assert!(first.iter().any(|line| line.contains("kelp-moved.png") && line.contains("\"kind\":\"twins\"")));
    let path = house.path("prints/old/kelp-moved.png");
    let time = std::fs::metadata(&path).expect("it is there").modified().expect("a time");
    let mut bytes = std::fs::read(&path).expect("it is there");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 4;
    std::fs::write(&path, bytes).expect("it is written");
    std::fs::File::options().write(true).open(&path).expect("it opens").set_modified(time).expect("a time is set");
    let said = house.run(&["sweep", "--full", "--json"]);
    assert!(said.out.contains("\"tile\":\"old/kelp-moved.png\",\"state\":\"damaged\""), "{}", said.out);
    let second = remarks(&said.out);
    assert!(second.iter().all(|line| !line.contains("kelp-moved.png")), "{second:?}");
    assert_eq!(second.len(), first.len() - 1);
}

#[test]
fn a_copy_and_its_original_are_told_once_and_a_letter_tells_a_few_of_each_sort() {
    let house = House::new();
    archive(&house);
    let kelp = house.read("prints/kelp.png");
    house.put("prints/kelp (1).png", &kelp);
    house.put(
        "prints/limpets copy.png",
        png(&copies::moved(&art::drawn(art::named("dead leaves"), Repeat::Block, 602, 360, 300), 50, 9)),
    );
    for name in ["a", "b", "c", "d", "e"] {
        house.put(format!("prints/notes-{name}.txt"), "ask the mill");
    }
    house.put(
        ".config/burler/burler.toml",
        "[folder.studio]\nexports = \"~/exports\"\n[archive.prints]\nfolder = \"~/prints\"\nchecked = \"~/prints-checked\"\n\
         tidy_after = \"1 s\"\n",
    );
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(30);
    let found = loop {
        let found = remarks(&house.run(&["sweep", "--json"]).out);
        if found.iter().any(|line| line.contains("\"kind\":\"stray.copy\""))
            && found.iter().any(|line| line.contains("notes-e"))
        {
            break found;
        }
        assert!(std::time::Instant::now() < deadline, "{found:?}");
        std::thread::sleep(std::time::Duration::from_millis(100));
    };
    let of = |name: &str| -> Vec<&String> { found.iter().filter(|line| line.contains(name)).collect() };
    let exact = of("kelp (1).png");
    assert!(exact.iter().all(|line| line.contains("stray.copy")) && exact.len() == 1, "{found:?}");
    let other = of("limpets copy.png");
    assert!(other.iter().all(|line| line.contains("\"kind\":\"twins\"")) && other.len() == 1, "{found:?}");

    let page = |said: &str| {
        let path = said.lines().map(str::trim).find(|line| line.ends_with(".html")).expect("a page").to_string();
        String::from_utf8(house.read(path.replace("~/", ""))).expect("text")
    };
    let letter = page(&house.run(&["digest"]).out);
    let (_, told) = letter.split_once("<h2>The archive</h2>").expect("a section");
    for words in [
        "pairs of tiles are one repeat under two names",
        "1 drawing has several colorways; pictures of them are in prints-checked/families.",
        "One drawing in 4 colorways",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert!(told.contains("6 files do not seem to belong there; nothing was touched."), "{told}");
    assert_eq!(told.matches("notes-").count(), 3, "the first few: {told}");
    assert!(told.contains("and 3 more"), "{told}");
    // Told once, whatever sweeps find again; a new one is news.
    house.run(&["sweep"]);
    assert_eq!(house.run(&["digest"]).out.trim(), "nothing new to tell, so no letter");
    std::thread::sleep(std::time::Duration::from_millis(1200));
    house.put("prints/list.txt", "knots, pots");
    std::thread::sleep(std::time::Duration::from_millis(1200));
    house.run(&["sweep"]);
    let letter = page(&house.run(&["digest"]).out);
    assert!(
        letter.contains("1 file does not seem to belong there")
            && letter.contains("list.txt")
            && !letter.contains("notes-a"),
        "{letter}"
    );
}
