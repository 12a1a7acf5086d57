//! Holes in a design that comes again: filled with exactly what was drawn there where at least two other units show it, in a
//! file of its own beside the held picture; and left alone wherever anything speaks against it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod drawn;

use burler::codec::{self, Limits};
use burler::finding::{Kind, Verdict};
use burler::pipeline::lattice::Unit;
use burler::pipeline::mend::{self, Mended, fill, proof};
use burler::pipeline::{self, Order, Outcome, Product, Wants, check, mockup};
use burler::spec::{GroundDemand, Spec};
use burler::ticket::word::Mark;
use burler::tile::Tile;
use drawn::Dice;
use std::collections::BTreeSet;

/// A tile as straight RGBA of 16 bits; tiles of 8 bits use the first 255 values.
#[derive(Clone)]
struct Art {
    sides: [u32; 2],
    most: u16,
    pixels: Vec<[u16; 4]>,
}

impl Art {
    /// A design of the moves `(p, q)` and `(0, r)`: blots of three pixels in one of three colors, told by the place within the
    /// unit alone.
    fn of(seed: u64, sides: [u32; 2], moves: [i64; 3], most: u16) -> Self {
        Self::in_blots(3, seed, sides, moves, most)
    }

    /// The same in other blots; those of one pixel have any color.
    fn in_blots(blot: i64, seed: u64, sides: [u32; 2], [p, q, r]: [i64; 3], most: u16) -> Self {
        let at = |x: i64, y: i64| {
            let turns = x.div_euclid(p);
            let (x, y) = (x - turns * p, (y - turns * q).rem_euclid(r));
            let mut dice = Dice(seed ^ (((x / blot) as u64) << 20) ^ ((y / blot) as u64));
            let [red, green, blue] = match blot {
                1 => [0; 3].map(|_| dice.below(256) as u16),
                _ => [[30, 60, 90], [220, 210, 190], [140, 40, 66]][dice.below(3) as usize],
            };
            let deep = |code: u16| if most == 255 { code } else { code * 257 + 41 };
            [deep(red), deep(green), deep(blue), most]
        };
        let [width, height] = sides.map(i64::from);
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| at(x, y)).collect();
        Self { sides, most, pixels }
    }

    fn at(&mut self, x: u32, y: u32) -> &mut [u16; 4] {
        &mut self.pixels[(y * self.sides[0] + x) as usize]
    }

    /// Rubs out an area.
    fn hole(&mut self, [left, top]: [u32; 2], [wide, high]: [u32; 2]) {
        for (x, y) in (top..top + high).flat_map(|y| (left..left + wide).map(move |x| (x, y))) {
            *self.at(x, y) = [0; 4];
        }
    }

    fn png(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.sides[0], self.sides[1]);
        encoder.set_color(png::ColorType::Rgba);
        let samples = self.pixels.as_flattened();
        let data: Vec<u8> = if self.most == 255 {
            samples.iter().map(|sample| *sample as u8).collect()
        } else {
            encoder.set_depth(png::BitDepth::Sixteen);
            samples.iter().flat_map(|sample| sample.to_be_bytes()).collect()
        };
        encoder.write_header().unwrap().write_image_data(&data).unwrap();
        bytes
    }
}

fn opaque() -> Spec {
    Spec { ground: GroundDemand::Opaque, ..Spec::default() }
}

fn outcome(bytes: &[u8], spec: &Spec, let_pass: Option<&BTreeSet<Mark>>) -> Outcome {
    let wants = Wants { mend: true, held: true, ..Wants::default() };
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let order = Order { name: "dulse.png", spec, wants, mockup: &settings, limits: &limits, let_pass };
    pipeline::run(bytes, &order, Vec::new())
}

fn made(outcome: &Outcome, product: Product) -> Option<&[u8]> {
    outcome.made.iter().find(|(made, _)| *made == product).map(|(_, bytes)| bytes.as_slice())
}

fn decode(bytes: &[u8]) -> Tile {
    codec::decode(bytes, &Limits::default(), Vec::new()).unwrap()
}

/// The filled copy's own samples.
fn filled(art: &Art) -> Option<Vec<[u16; 4]>> {
    let outcome = outcome(&art.png(), &opaque(), None);
    assert_eq!(outcome.ticket.verdict, Verdict::Held, "{:?}", outcome.ticket.findings);
    assert!(made(&outcome, Product::Mended).is_none(), "never ready by itself");
    let tile = decode(made(&outcome, Product::Filled)?);
    Some(match &tile.deep {
        Some(deep) => deep.0.as_chunks::<4>().0.to_vec(),
        None => tile.raster.samples().as_chunks::<4>().0.iter().map(|pixel| pixel.map(u16::from)).collect(),
    })
}

fn unit(art: &Art) -> Unit {
    check::judge(&decode(&art.png()), &opaque()).lattice.unit.expect("a lattice")
}

const BLOCK: [i64; 3] = [40, 0, 40];

#[test]
fn a_hole_is_filled_with_what_was_drawn_there_in_every_layout_and_depth() {
    for most in [255, u16::MAX] {
        for (moves, sides) in [
            (BLOCK, [120, 120]),
            ([40, 20, 40], [160, 120]),
            ([30, 0, 90], [90, 90]),
            ([36, 12, 48], [144, 144]),
            // Sides that hold no whole number of units: told by the copies that lie inside.
            ([40, 0, 40], [120, 80]),
        ] {
            let drawn = Art::of(7, sides, moves, most);
            let mut art = drawn.clone();
            art.hole([50, 45], [9, 7]);
            // A soft rim as an eraser leaves it: the color stays under less alpha.
            for x in 50..59 {
                *art.at(x, 44) = drawn.pixels[(44 * sides[0] + x) as usize];
                art.at(x, 44)[3] = most / 3;
            }
            assert!(filled(&art).as_ref() == Some(&drawn.pixels), "{moves:?} on {sides:?}, {most}");
        }
    }
}

#[test]
fn random_holes_in_random_designs_are_filled_exactly_or_not_at_all() {
    let mut count = 0;
    for seed in 0..60 {
        let mut dice = Dice(seed);
        let (p, r) = (12 + 3 * dice.below(8) as i64, 12 + 3 * dice.below(8) as i64);
        let (across, down) = (2 + dice.below(3) as i64, 2 + dice.below(3) as i64);
        let drop = across % 2 == 0 && r % 2 == 0 && dice.below(2) == 0;
        let (sides, most) = ([(across * p) as u32, (down * r) as u32], if dice.below(2) == 0 { 255 } else { u16::MAX });
        let drawn = Art::of(seed, sides, [p, if drop { r / 2 } else { 0 }, r], most);
        let mut art = drawn.clone();
        for _ in 0..1 + dice.below(3) {
            let [wide, high] = [0; 2].map(|_| 1 + dice.below(5) as u32);
            let left = dice.below(u64::from(sides[0] - wide)) as u32;
            let top = dice.below(u64::from(sides[1] - high)) as u32;
            art.hole([left, top], [wide, high]);
        }
        if dice.below(3) == 0 {
            // A line whose color is left, besides.
            let x = dice.below(sides[0].into()) as u32;
            (0..sides[1]).for_each(|y| art.at(x, y)[3] = art.at(x, y)[3].min(most / 2));
        }
        if let Some(filled) = filled(&art) {
            assert!(filled == drawn.pixels, "seed {seed}");
            count += 1;
        }
    }
    assert!(count >= 40, "only {count} of 60 were filled");
}

#[test]
fn specks_and_lines_without_color_are_filled_and_lines_with_color_mended_in_the_same_copy() {
    // Fine enough that a pixel has no flat neighbor to be told from.
    let drawn = Art::in_blots(1, 3, [160, 120], BLOCK, 255);
    let mut art = drawn.clone();
    for at in [[10, 90], [11, 90], [70, 15]] {
        art.at(at[0], at[1])[3] = 120;
    }
    // Alpha 1 keeps a color to within 128 levels; this file held it multiplied: all or nothing is left of each sample.
    for x in 0..160 {
        let pixel = art.at(x, 60);
        *pixel = [pixel[0] / 128 * 255, pixel[1] / 128 * 255, pixel[2] / 128 * 255, 1];
    }
    for y in (0..120).filter(|y| *y != 60) {
        art.at(100, y)[3] = 200;
    }
    let lost = check::judge(&decode(&art.png()), &opaque()).survey.lost.count();
    assert!(lost > 100, "only {lost} pixels without color");
    let outcome = outcome(&art.png(), &opaque(), None);
    let kinds: BTreeSet<Kind> = outcome.ticket.findings.iter().map(|finding| finding.kind).collect();
    assert!(kinds.contains(&Kind::AlphaSpeck) && kinds.contains(&Kind::AlphaHairline), "{kinds:?}");
    assert!(made(&outcome, Product::PartlyMended).is_some(), "what needs no fill is offered without one");
    assert!(filled(&art) == Some(drawn.pixels));
}

#[test]
fn the_copy_is_offered_beside_the_picture_and_told_and_the_tile_stays() {
    let mut art = Art::of(5, [120, 120], BLOCK, 255);
    art.hole([50, 45], [9, 7]);
    let bytes = art.png();
    let outcome = outcome(&bytes, &opaque(), None);
    let products: Vec<Product> = outcome.made.iter().map(|(product, _)| *product).collect();
    assert_eq!(products, [Product::Filled, Product::Held]);
    let told: Vec<&str> = outcome.ticket.findings.iter().map(|finding| finding.remedy.as_str()).collect();
    let offer = "fill what is empty and export again, or take the filled copy beside the held picture if it is right: it \
                 shows there what the other units of the design show, and would be ready";
    assert_eq!(told[0], offer);
    assert_eq!(outcome.reuse, decode(&bytes).raster.samples(), "the tile itself is put back");
    // Saved as a tile, the copy is ready, and nothing is made of it.
    let copy = made(&outcome, Product::Filled).unwrap();
    let again = self::outcome(copy, &opaque(), None);
    assert_eq!((again.ticket.verdict, again.made.len()), (Verdict::Sound, 0), "{:?}", again.ticket.findings);
    assert_eq!(
        made(&self::outcome(&bytes, &opaque(), None), Product::Filled),
        Some(copy),
        "the same bytes on every run"
    );
}

#[test]
fn units_that_disagree_fill_nothing() {
    let mut art = Art::of(7, [160, 120], BLOCK, 255);
    art.hole([50, 45], [9, 7]);
    assert!(filled(&art).is_some());
    // One pixel of one other unit, in the place of the hole.
    let pixel = art.at(50 + 80, 48);
    pixel[1] ^= 1;
    unit(&art);
    assert!(filled(&art).is_none());
}

#[test]
fn one_other_unit_is_too_few() {
    let two = |unit: [i64; 3], sides| {
        let mut art = Art::of(11, sides, unit, 255);
        art.hole([20, 25], [6, 6]);
        art
    };
    let art = two([60, 0, 80], [120, 80]);
    assert_eq!(unit(&art).per_tile(120, 80), Some(2));
    assert!(filled(&art).is_none());
    assert!(filled(&two([60, 0, 80], [180, 80])).is_some(), "two others are enough");
    // Three units, but a line runs through the place in one of the others.
    let mut art = two([60, 0, 80], [180, 80]);
    for y in 0..80 {
        art.at(83, y)[3] = 90;
    }
    assert!(filled(&art).is_none());
}

#[test]
fn free_art_is_never_filled() {
    let mut art = Art::of(13, [120, 120], [120, 0, 120], 255);
    art.hole([50, 45], [9, 7]);
    assert_eq!(check::judge(&decode(&art.png()), &opaque()).lattice.unit, None);
    assert!(filled(&art).is_none());
}

#[test]
fn a_unit_that_is_another_one_around_its_hole_is_not_filled() {
    let mut art = Art::of(7, [160, 120], BLOCK, 255);
    art.hole([50, 45], [9, 7]);
    art.at(61, 48)[0] ^= 1;
    assert!(filled(&art).is_none(), "three pixels beside the hole something is as in no other unit");
    art.at(61, 48)[0] ^= 1;
    art.at(70, 48)[0] ^= 1;
    assert!(filled(&art).is_some(), "far from it that says nothing of the hole");
}

#[test]
fn color_that_is_left_in_a_rim_speaks_against_another_one() {
    let drawn = Art::of(7, [160, 120], BLOCK, 255);
    let rim = |color: [u16; 3]| {
        let mut art = drawn.clone();
        art.hole([50, 45], [9, 7]);
        *art.at(54, 44) = [color[0], color[1], color[2], 128];
        filled(&art)
    };
    let [red, green, blue, _] = drawn.pixels[44 * 160 + 54];
    assert!(rim([red, green, blue]).as_ref() == Some(&drawn.pixels));
    // At alpha 128 multiplied storage keeps a sample to within 255 / (2 x 128) + 1/2, which is less than 2.
    assert!(rim([red, green + 1, blue]).as_ref() == Some(&drawn.pixels));
    assert!(rim([red, green + 2, blue]).is_none());
}

#[test]
fn what_the_artist_or_the_order_sheet_means_is_not_filled() {
    let mut art = Art::of(7, [160, 120], BLOCK, 255);
    art.hole([50, 45], [9, 7]);
    art.at(100, 100)[3] = 77;
    let bytes = art.png();
    let gap = outcome(&bytes, &opaque(), None).ticket.findings.into_iter().find(|found| found.kind == Kind::AlphaGap);
    let marks = BTreeSet::from([Mark::of(&gap.unwrap())]);
    let copy = |spec: &Spec, let_pass: Option<&BTreeSet<Mark>>| {
        let outcome = outcome(&bytes, spec, let_pass);
        assert_eq!(outcome.ticket.verdict, Verdict::Held);
        decode(made(&outcome, Product::Filled).expect("the speck is filled"))
    };
    let silent = Spec { silence: vec![Kind::AlphaGap], ..opaque() };
    for copy in [copy(&opaque(), Some(&marks)), copy(&silent, None)] {
        assert_eq!(copy.raster.pixel(54, 48)[3], 0, "the hole is meant");
        assert_eq!(copy.raster.pixel(100, 100)[3], 255);
    }
    let told = Spec { tell: vec![Kind::AlphaGap, Kind::AlphaSpeck], ..opaque() };
    assert!(outcome(&bytes, &told, None).made.is_empty(), "told alone, nothing is held and nothing offered");
}

#[test]
fn a_copy_that_would_not_be_ready_is_not_offered() {
    let mut art = Art::of(7, [160, 120], BLOCK, 255);
    art.hole([50, 45], [9, 7]);
    let spec = Spec { width: Some(burler::spec::Length::Pixels(320)), ..opaque() };
    let outcome = outcome(&art.png(), &spec, None);
    assert!(outcome.ticket.findings.iter().any(|finding| finding.kind == Kind::SizePixels));
    assert!(made(&outcome, Product::Filled).is_none());
}

/// The proof asks the units once more, by another way: a color that they do not show does not pass.
#[test]
fn a_fill_of_another_color_does_not_pass_the_proof() {
    for most in [255, u16::MAX] {
        let mut art = Art::of(7, [160, 120], BLOCK, most);
        art.hole([50, 45], [9, 7]);
        let tile = decode(&art.png());
        let judgment = check::judge(&tile, &opaque());
        let fill = fill::fill(&tile, &judgment.survey.gap, judgment.lattice.unit.unwrap()).unwrap();
        let mended = Mended::filling(mend::mend(&tile, &judgment.survey), fill);
        let mut copy = tile.clone();
        let _ = mended.apply(&mut copy);
        assert_eq!(proof::pixels(&tile, Some(&mended), &copy), Ok(()));
        let at = (48 * 160 + 54) * 4;
        match &mut copy.deep {
            Some(deep) => deep.0[at] ^= 1,
            None => copy.raster.samples_mut()[at] ^= 1,
        }
        let doubt = proof::pixels(&tile, Some(&mended), &copy).unwrap_err();
        assert!(matches!(doubt, proof::Doubt::Unshown { x: 54, y: 48, .. }), "{doubt}");
        assert!(doubt.to_string().contains("no two other units"), "{doubt}");
    }
}
