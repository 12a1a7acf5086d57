//! Stripes that may be hard on the eyes: told as a caution at print scale and viewing distance, and never more than that.

mod art;

use burler::digest::{Entry, Settings, Window, letter};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::pipeline::check::{self, glare};
use burler::spec::{Repeat, Spec};
use burler::tile::{Raster, Tile};

/// Upright stripes of two codes, `period` pixels wide together, of which `light` are light, at 300 per inch.
fn striped(period: u32, light: u32, codes: [u8; 2]) -> Tile {
    let width = period * 12;
    let code = |x: u32| if x % period < light { codes[0] } else { codes[1] };
    let pixels = (0..200).flat_map(|_| 0..width).flat_map(|x| [code(x), code(x), code(x), 255]);
    art::tile(Raster::new(width, 200, pixels.collect()).expect("as many samples as pixels"))
}

fn told(tile: &Tile, spec: &Spec) -> Option<Finding> {
    glare::judge(tile, spec).finding
}

fn from(viewing: f64) -> Spec {
    Spec { viewing: Some(viewing), ..Spec::default() }
}

/// Harding and others, Epilepsia 46(9), 2005; Wilkins and others, Brain 107, 1984: worst near 3 cycles per degree.
#[test]
fn strong_even_stripes_are_a_caution_with_its_figures() {
    // 6 mm at 1 m are 2.9089 cycles per degree; 71 pixels of 300 per inch are 6.01 mm.
    let tile = striped(71, 35, [255, 20]);
    let found = glare::judge(&tile, &Spec::default());
    let finding = found.finding.unwrap();
    assert_eq!((finding.kind, finding.grade), (Kind::GlareStripes, Grade::Advice));
    assert!(finding.says.contains("2.9 cycles per degree from 1.0 m away"), "{}", finding.says);
    assert!(finding.remedy.contains("no statement about safety") && finding.remedy.contains("local codes"));
    let frequency = found.readings.iter().find(|reading| reading.measure.unit == "cycles per degree").unwrap();
    assert_eq!(frequency.measure.value, 2.9);
    // Code 20 has 0.7 % of the light of white: (1 - 0.007) / (1 + 0.007).
    assert_eq!(finding.measure.unwrap().value, 0.99);
}

#[test]
fn the_distance_decides() {
    let tile = striped(71, 35, [255, 20]);
    assert!(told(&tile, &from(300.0)).is_none(), "0.9 cycles per degree: too coarse");
    assert!(told(&tile, &from(2500.0)).is_some(), "7.3 cycles per degree");
    assert!(told(&tile, &from(3000.0)).is_none(), "8.7 cycles per degree: too fine");
}

#[test]
fn weak_uneven_dark_or_unmeasured_stripes_are_not_told() {
    assert!(told(&striped(71, 35, [255, 175]), &Spec::default()).is_none(), "a contrast of 0.39");
    assert!(told(&striped(71, 35, [255, 165]), &Spec::default()).is_some(), "a contrast of 0.45");
    assert!(told(&striped(70, 7, [255, 20]), &Spec::default()).is_none(), "a tenth is light");
    assert!(told(&striped(71, 35, [100, 0]), &Spec::default()).is_none(), "not bright in an ordinary room");
    let mut unmeasured = striped(71, 35, [255, 20]);
    unmeasured.meta.resolution = None;
    assert!(told(&unmeasured, &Spec::default()).is_none());
}

/// A small placement print is no field: 3.4 by 0.7 inches at 1 m are 0.0015 sr, below 0.006 (Harding and others, 2005).
#[test]
fn a_print_that_does_not_repeat_must_fill_a_field() {
    let tile = striped(71, 35, [255, 20]);
    assert!(told(&tile, &Spec { repeat: Some(Repeat::None), ..Spec::default() }).is_none());
    assert!(told(&tile, &Spec { repeat: Some(Repeat::None), ..from(400.0) }).is_some());
}

#[test]
fn only_stripes_are_told_among_all_art() {
    for style in art::STYLES {
        for seed in [5, 6, 7] {
            let tile = art::tile(art::drawn(style, Repeat::Block, seed, 240, 300));
            if let Some(finding) = told(&tile, &from(700.0)) {
                assert!(style.name.contains("stripes"), "{} {seed}: {}", style.name, finding.says);
            }
        }
    }
}

#[test]
fn a_caution_never_holds_a_tile_and_never_leads_a_letter() {
    let tile = striped(71, 35, [255, 20]);
    let judgment = check::judge(&tile, &Spec::default());
    assert_eq!(judgment.verdict, Verdict::Sound);
    let caution = judgment.findings.into_iter().find(|finding| finding.kind == Kind::GlareStripes).unwrap();

    let fault = Finding {
        kind: Kind::JointBreak,
        grade: Grade::Fault,
        says: "the top and bottom edge do not meet".into(),
        ..caution.clone()
    };
    let entry = |tile: &str, verdict, findings| Entry {
        folder: "studio".into(),
        tile: tile.into(),
        verdict,
        findings,
        original: tile.into(),
        outputs: Vec::new(),
        picture: None,
        before: None,
        copy_of: None,
        notes: Vec::new(),
    };
    let entries = [
        entry("deck.png", Verdict::Sound, vec![caution.clone()]),
        entry("awning.png", Verdict::Held, vec![fault, caution.clone()]),
    ];
    let window = Window { until: "Friday".into(), ..Window::default() };
    let letter = letter(&entries, &window, &Settings::default()).unwrap();
    let words = "hard on the eyes";
    assert!(!letter.subject.contains(words));
    let head = letter.text.find("Cautions").unwrap();
    assert!(letter.text.find(words).unwrap() > head, "{}", letter.text);
    assert_eq!(letter.text.matches(words).count(), 2);
    assert!(letter.text.contains("awning.png\n  The top and bottom edge do not meet."), "{}", letter.text);
}
