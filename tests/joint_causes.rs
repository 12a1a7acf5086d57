//! What broke a joint, on drawn art: the kind that is named, how much is told, and that turning the tile turns the answer.

#![expect(clippy::unwrap_used, reason = "a test that gets no finding has failed")]

mod art;

use art::{broken, joints as makers};
use burler::finding::{Finding, Grade, Kind};
use burler::pipeline::check::joint;
use burler::spec::{Ground, Repeat};
use burler::tile::Raster;

fn drawn(style: &str, seed: u64) -> Raster {
    art::drawn(art::named(style), Repeat::Block, seed, 420, 360)
}

fn findings(raster: Raster) -> Vec<Finding> {
    joint::judge(&art::tile(raster), Ground::Opaque, None).findings
}

/// The one finding, its kind, how much, and its unit.
fn told(raster: Raster) -> (Kind, f64, String) {
    let found = findings(raster);
    assert_eq!(found.len(), 1, "{found:?}");
    let measure = found[0].measure.clone().unwrap();
    (found[0].kind, measure.value, measure.unit)
}

#[test]
fn a_shift_is_named_with_its_size() {
    for (style, by) in [("tossed", 1), ("tossed", -3), ("dead leaves", 2), ("dead leaves", -8)] {
        let sound = drawn(style, 11);
        assert_eq!(findings(sound.clone()), [], "{style}");
        let size = f64::from(by as i32).abs();
        assert_eq!(told(makers::sheared(&sound, by)), (Kind::JointShift, size, "px".into()), "{style} by {by}");
    }
}

#[test]
fn lines_too_many_are_counted() {
    for lines in [1, 2, 3, 7] {
        let made = makers::doubled(&drawn("dead leaves", 12), lines);
        assert_eq!(told(made), (Kind::JointDoubled, f64::from(lines), "px".into()));
    }
}

#[test]
fn missing_lines_are_told_from_a_break() {
    assert_eq!(told(makers::missing(&drawn("tossed", 1), 3)).0, Kind::JointMissing);
    let stretch = broken::Stretch { from: 0.0, part: 1.0 };
    assert_eq!(told(broken::displaced(&drawn("tossed", 1), stretch, (97, 61))).0, Kind::JointBreak);
}

#[test]
fn light_that_drifts_is_held_from_two_just_noticeable_differences() {
    let sound = drawn("dead leaves", 13);
    let (kind, difference, unit) = told(makers::lightened(&sound, 0.16));
    assert_eq!((kind, unit.as_str()), (Kind::JointDrift, "CIEDE2000"));
    assert!(difference > 2.0, "{difference}");
    let says = findings(makers::lightened(&sound, 0.16))[0].says.clone();
    // From 0.92 to 1.08 of its light: the bottom is 17 % lighter than the top.
    assert!(says.starts_with("the bottom edge is about 1") && says.contains("% lighter than the top"), "{says}");
    let faint = findings(broken::ramp(&sound, 4.0));
    assert_eq!((faint[0].kind, faint[0].grade), (Kind::JointDrift, Grade::Advice), "{faint:?}");
}

#[test]
fn findings_turn_with_the_tile() {
    let sound = drawn("dead leaves", 14);
    let stretch = broken::Stretch { from: 0.2, part: 0.5 };
    for made in [makers::sheared(&sound, 3), makers::doubled(&sound, 2), broken::displaced(&sound, stretch, (40, 70))] {
        let (width, own) = (made.width(), findings(made.clone()));
        let turned = findings(makers::transposed(&made));
        let mirrored = findings(makers::mirrored(&made));
        assert_eq!(own.len(), 1);
        for (other, back) in [
            (&turned, &(|[x, y, w, h]: [u32; 4]| [y, x, h, w]) as &dyn Fn([u32; 4]) -> [u32; 4]),
            (&mirrored, &|[x, y, w, h]| [width - x - w, y, w, h]),
        ] {
            assert_eq!(other.len(), 1, "{other:?}");
            assert_eq!((other[0].kind, &other[0].measure), (own[0].kind, &own[0].measure));
            let sorted = |boxes: &mut dyn Iterator<Item = [u32; 4]>| {
                let mut boxes: Vec<[u32; 4]> = boxes.collect();
                boxes.sort_unstable();
                boxes
            };
            let there = sorted(&mut other[0].boxes.iter().map(|area| back((*area).into())));
            assert_eq!(there, sorted(&mut own[0].boxes.iter().map(|area| (*area).into())));
        }
    }
}

#[test]
fn a_lattice_known_in_one_direction_does_not_speak_for_the_joint_in_the_other() {
    // Checks that are sheared toward an edge still come again along it, to the last pixel.
    for (style, seed) in [("checks", 3), ("weave", 5), ("chevron", 2), ("small repeat", 4)] {
        let sound = drawn(style, seed);
        let (tile, spec) = (art::tile(makers::sheared(&sound, 5)), burler::spec::Spec::default());
        let judgment = burler::pipeline::check::judge(&tile, &spec);
        let verdict = |raster| burler::pipeline::check::judge(&art::tile(raster), &spec).verdict;
        assert_eq!(verdict(sound), burler::finding::Verdict::Sound, "{style}");
        assert_eq!(judgment.verdict, burler::finding::Verdict::Held, "{style}");
    }
}
