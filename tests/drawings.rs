//! A name that is used again: another drawing under it is told from one that was worked on, what was given back of the old one
//! stays, and it is told everywhere.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod art;
#[path = "desk/vault.rs"]
mod vault;
#[path = "desk/watched.rs"]
mod watched;

use art::{copies, drawn, named};
use burler::archive::drawings::{Drawing, Known, compare};
use burler::codec::picture::encode_png;
use burler::ledger::News;
use burler::pipeline::likeness::Likeness;
use burler::pipeline::sketch::Sketch;
use burler::spec::Repeat;
use burler::tile::{Content, Raster};
use std::collections::BTreeMap;
use std::fs;
use vault::Vault;
use watched::Studio;

fn known(raster: &Raster) -> Known {
    Known { likeness: Likeness::of(raster, None, &[Repeat::Block]), sketch: Sketch::of(raster) }
}

/// A tile of which a share, from its corner on, is another one.
fn worked_on(base: &Raster, other: &Raster, share: f64) -> Raster {
    worked_on_from(0, base, other, share)
}

/// The same some pixels from its corner on, so that its edges still meet.
fn worked_on_from(first: u32, base: &Raster, other: &Raster, share: f64) -> Raster {
    let reach = [base.width(), base.height()].map(|side| first + (f64::from(side) * share.sqrt()) as u32);
    let there = |x, y| (first..reach[0]).contains(&x) && (first..reach[1]).contains(&y);
    let pixels = (0..base.height()).flat_map(|y| (0..base.width()).map(move |x| (x, y)));
    let pixel = |(x, y)| if there(x, y) { other.pixel(x, y) } else { base.pixel(x, y) };
    Raster::new(base.width(), base.height(), pixels.flat_map(pixel).collect()).unwrap()
}

/// Seeds that no threshold was chosen on; `names_ground` tries more of them.
#[test]
fn another_drawing_is_told_from_one_that_was_worked_on() {
    let mut counts: BTreeMap<&str, [u32; 3]> = BTreeMap::new();
    let mut count = |what, one: &Known, raster: &Raster| {
        let at = match compare(one, &known(raster)) {
            Drawing::Same => 0,
            Drawing::Unknown => 1,
            Drawing::Another => 2,
        };
        counts.entry(what).or_default()[at] += 1;
    };
    let free =
        ["tossed", "thin motifs", "two-color", "dark", "dead leaves", "clouds", "bristles", "hatching", "clear motifs"];
    for (style, seed) in free.iter().flat_map(|style| (700..704).map(move |seed| (named(style), seed))) {
        let draw = |seed| drawn(style, Repeat::Block, seed, 400, 360);
        let (base, other) = (draw(seed), draw(seed + 1_000));
        let own = known(&base);
        count("as it was", &own, &copies::jpeg(&base, 90));
        count("reduced", &own, &copies::scaled(&base, 0.5));
        count("moved by half", &own, &copies::moved(&base, 200, 180));
        for share in [0.05, 0.25] {
            count("worked on", &own, &worked_on(&base, &other, share));
        }
        count("another", &own, &other);
    }
    let [_, unknown, another] = counts["another"];
    assert!(another >= 34 && unknown <= 2, "{counts:?}");
    for same in ["as it was", "reduced", "moved by half", "worked on"] {
        assert_eq!(counts[same][2], 0, "{counts:?}");
    }
    assert!(counts["worked on"][0] >= 70, "{counts:?}");
}

#[test]
fn in_doubt_nothing_is_claimed() {
    let base = drawn(named("tossed"), Repeat::Block, 5, 300, 300);
    let plain = Raster::new(300, 300, [200, 10, 20, 255].repeat(300 * 300)).unwrap();
    assert_eq!(compare(&known(&plain), &known(&base)), Drawing::Unknown, "one is too even to say");
    let moved = copies::quarters(&copies::moved(&base, 130, 70), 1);
    assert_eq!(compare(&known(&base), &known(&moved)), Drawing::Unknown, "one repeat that starts elsewhere, turned");
}

fn png(raster: &Raster) -> Vec<u8> {
    encode_png(raster, Some(150.0)).unwrap()
}

fn tile(seed: u64) -> Raster {
    drawn(named("tossed"), Repeat::Block, seed, 360, 300)
}

/// With a see-through line, which can be mended.
fn lined(raster: &Raster) -> Vec<u8> {
    let mut samples = raster.samples().to_vec();
    let row = raster.width() as usize * 4;
    samples[100 * row..101 * row].iter_mut().skip(3).step_by(4).for_each(|alpha| *alpha = 120);
    png(&Raster::new(raster.width(), raster.height(), samples).unwrap())
}

#[test]
fn a_sweep_tells_another_drawing_and_keeps_what_was_made_of_the_old_one() {
    let mut vault = Vault::new();
    vault.mend = true;
    let (first, second) = (tile(21), tile(22));
    vault.put("untitled.png", lined(&first));
    vault.put("dulse.png", lined(&tile(23)));
    vault.put("old/copy.png", lined(&first));
    vault.sweep();
    let mended = fs::read(vault.at("checked/ready/untitled.png")).unwrap();
    vault.put("untitled.png", lined(&second));
    vault.put("dulse.png", lined(&worked_on(&tile(23), &second, 0.1)));
    let swept = vault.sweep();
    let told: Vec<_> =
        swept.report.names.iter().map(|one| (one.kind.as_str(), one.paths.clone(), &one.remedy)).collect();
    let lies = format!(
        "give the new one a name of its own; the old one still lies at {}",
        vault.file("old/copy.png").display()
    );
    assert_eq!(told, [("name.reused", vec!["untitled.png".into()], &lies)]);
    let before = Content::of(&lined(&first));
    assert_eq!(vault.member("untitled.png").news, News::Reused { before });
    assert_eq!(vault.member("dulse.png").news, News::Changed, "worked on");
    assert_eq!(fs::read(vault.at("checked/ready/untitled.png")).unwrap(), mended, "the old one stays");
    let ready = ready(&vault.at("checked"));
    assert_eq!(ready.len(), 3, "{ready:?}");
    assert!(ready.iter().any(|name| name.starts_with("untitled~") && name.ends_with(".png")), "{ready:?}");
    // Told once, and nothing happens to it by itself.
    assert_eq!(vault.sweep().report.names, []);
    assert_eq!(self::ready(&vault.at("checked")), ready);
}

fn ready(checked: &std::path::Path) -> Vec<String> {
    let entries = fs::read_dir(checked.join("ready")).into_iter().flatten();
    let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.retain(|name| name.contains('.') && !name.starts_with(".burler"));
    names.sort();
    names
}

#[test]
fn a_tablet_that_names_every_drawing_alike_loses_none() {
    let studio = Studio::new();
    let watch = studio.watch();
    let both = || ready(&studio.at("checked"));
    studio.save(b"Untitled.png", &png(&tile(31)));
    studio.comes("mockups/Untitled.png/strike-off.jpg");
    studio.save(b"Untitled.png", &png(&tile(32)));
    studio.until("the second beside the first", || both().len() == 2);
    let beside = both().into_iter().find(|name| name.starts_with("Untitled~")).unwrap();
    assert_eq!(fs::read(studio.at("checked/ready/Untitled.png")).unwrap(), png(&tile(31)));
    assert_eq!(fs::read(studio.at("checked/ready").join(&beside)).unwrap(), png(&tile(32)));
    studio.until("it is told", || studio.log().contains("another drawing had this name before"));
    // The second one worked on takes the place of the second, not of the first.
    let newer = png(&worked_on_from(40, &tile(32), &tile(33), 0.15));
    studio.save(b"Untitled.png", &newer);
    studio
        .until("the newer second", || fs::read(studio.at("checked/ready").join(&beside)).is_ok_and(|now| now == newer));
    assert_eq!(both().len(), 2);
    assert_eq!(fs::read(studio.at("checked/ready/Untitled.png")).unwrap(), png(&tile(31)));
    let status = studio.says(&["status"]);
    assert!(
        status
            .contains("name used again for another drawing: Untitled.png; what was given back of the one before stays"),
        "{status}"
    );
    studio.says(&["digest"]);
    let page =
        studio.files("checked/letters").into_keys().find(|name| name.extension().is_some_and(|e| e == "html")).unwrap();
    let page = fs::read_to_string(studio.at(page.to_str().unwrap())).unwrap();
    let told = format!(
        "Another drawing had this name before; what was given back of it stays as checked/ready/Untitled.png, and this one is given back as checked/ready/{beside}"
    );
    assert!(page.contains(&told), "{page}");
    // The first one, saved under a name of its own, takes its files along, and the second keeps its own.
    studio.save(b"kelp.png", &png(&tile(31)));
    studio.comes("ready/kelp.png");
    studio.goes("ready/Untitled.png");
    // The same drawing again is a new export of it, as ever.
    studio.save(b"kelp.png", &png(&worked_on_from(40, &tile(31), &tile(34), 0.1)));
    studio
        .until("a new export", || studio.files("checked/earlier").keys().any(|name| name.ends_with("ready/kelp.png")));
    assert_eq!(both(), [beside.clone(), "kelp.png".into()]);
    assert!(watch.stop().success());
}
