//! The transparency checks on drawn tiles: the ground first, then each kind of see-through place, and the traps.
mod drawn;

use burler::finding::{Area, Finding, Grade, Kind, MOST_BOXES, Reading};
use burler::pipeline::check::alpha::{Survey, findings, readings, survey};
use burler::pixel::mask::{Mask, Run};
use burler::spec::{Ground, GroundDemand};
use burler::tile::{Raster, Tile};
use drawn::{CLEAR, Dice, OPAQUE, Thread, art, deep_art, deep_tile, raster, thread_into, tile};

fn judged(tile: &Tile, demand: GroundDemand) -> (Survey, Vec<Finding>) {
    let survey = survey(tile, demand);
    let findings = findings(&survey, tile, demand);
    for finding in &findings {
        assert!(finding.boxes.len() <= MOST_BOXES && !finding.says.is_empty() && !finding.remedy.is_empty());
        for area in &finding.boxes {
            let inside = |at: u32, long: u32, side: u32| long > 0 && u64::from(at) + u64::from(long) <= u64::from(side);
            assert!(
                inside(area.x, area.width, tile.raster.width()) && inside(area.y, area.height, tile.raster.height())
            );
        }
    }
    (survey, findings)
}

fn kinds(findings: &[Finding]) -> Vec<(Kind, Grade)> {
    findings.iter().map(|finding| (finding.kind, finding.grade)).collect()
}

/// A flat opaque tile with some alphas changed.
fn flat(width: u32, height: u32, alpha: impl Fn(u32, u32) -> u8) -> Tile {
    tile(raster(width, height, |x, y| [180, 90, 40, alpha(x, y)]))
}

#[test]
fn opaque_art_raises_nothing_in_any_style() {
    for style in OPAQUE {
        let (survey, findings) = judged(&tile(art(style, 240, 3)), GroundDemand::Infer);
        assert_eq!((survey.ground, survey.see_through, findings), (Ground::Opaque, 0, Vec::new()), "{style}");
    }
}

#[test]
fn soft_art_on_a_clear_ground_raises_nothing() {
    for style in CLEAR {
        for (side, seed) in [(200, 1), (360, 2), (601, 3), (602, 4)] {
            let tile = tile(art(style, side, seed));
            for demand in [GroundDemand::Infer, GroundDemand::Either, GroundDemand::Transparent] {
                let (survey, findings) = judged(&tile, demand);
                assert_eq!(survey.ground, Ground::Transparent, "{style}, {side} px");
                assert_eq!((findings.len(), survey.mask.count()), (0, 0), "{style}, {side} px");
            }
        }
    }
}

#[test]
fn a_speck_fails_its_own_reading_and_no_other() {
    let tile = flat(30, 30, |x, y| if (x, y) == (9, 12) { 0 } else { 255 });
    let survey = survey(&tile, GroundDemand::Infer);
    let told = readings(&survey, &tile, GroundDemand::Infer);
    let failed: Vec<Kind> = told.iter().filter(|reading| !reading.passes()).map(|reading| reading.kind).collect();
    assert_eq!(failed, [Kind::AlphaSpeck]);
    let of_ground = |told: &Reading| told.kind == Kind::AlphaGround;
    assert!(told.iter().any(of_ground), "how the ground was decided");
    assert!(!readings(&survey, &tile, GroundDemand::Opaque).iter().any(of_ground), "it was demanded");
}

#[test]
fn a_spec_that_wants_an_opaque_ground_holds_a_clear_one() {
    for style in CLEAR {
        let (survey, findings) = judged(&tile(art(style, 360, 5)), GroundDemand::Opaque);
        assert!(findings.iter().any(|finding| finding.grade == Grade::Fault), "{style}");
        assert!(style == "doily" || kinds(&findings) == [(Kind::AlphaGround, Grade::Fault)], "{style}: {findings:?}");
        assert!(style == "doily" || survey.mask.is_empty(), "{style}");
    }
}

#[test]
fn threads_on_a_transparent_ground_are_left_alone() {
    // Two soft strokes that nearly touch make pixels between opaque ones: never a fault where the ground is clear.
    let strokes = flat(300, 300, |x, y| match x % 60 {
        20..25 => 255,
        25 => 180,
        26..31 => 255,
        19 | 31 => 90,
        _ => u8::from(y % 50 < 3) * 255,
    });
    assert_eq!(judged(&strokes, GroundDemand::Infer).1, []);
    assert_eq!(judged(&strokes, GroundDemand::Transparent).1, []);
    let named = flat(100, 100, |_, y| if y == 50 { 128 } else { 255 });
    assert_eq!(judged(&named, GroundDemand::Transparent).1, [], "the spec decides when it names a ground");
}

#[test]
fn a_level_line_is_told_with_its_place_and_lowest_alpha() {
    let tile = flat(600, 900, |_, y| match y {
        599 => 200,
        600 => 100,
        _ => 255,
    });
    let (survey, findings) = judged(&tile, GroundDemand::Infer);
    assert_eq!((survey.ground, survey.see_through, survey.mask.count()), (Ground::Opaque, 1200, 1200));
    let [finding] = findings.as_slice() else { panic!("one finding, not {findings:?}") };
    assert_eq!((finding.kind, finding.grade), (Kind::AlphaHairline, Grade::Mend));
    assert_eq!(finding.boxes, [Area { x: 0, y: 599, width: 600, height: 2 }]);
    assert_eq!(finding.says, "a see-through line runs across the tile, 2.0 in from the top");
    assert_eq!(finding.remedy, "nothing: the line is mended");
    let measure = finding.measure.as_ref().expect("a measure");
    assert_eq!((measure.value, measure.limit, measure.unit.as_str()), (100.0, 255.0, "of 255"));
}

#[test]
fn there_is_no_threshold_of_alpha_on_an_opaque_ground() {
    for alpha in [1, 2, 3, 100, 191, 250, 254] {
        let (survey, findings) = judged(&flat(200, 200, |x, _| if x == 90 { alpha } else { 255 }), GroundDemand::Infer);
        assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend)], "alpha {alpha}");
        assert_eq!(findings[0].says, "a see-through line runs down the tile, 0.3 in from the left");
        assert_eq!(survey.mask.count(), 200);
    }
}

#[test]
fn slanted_lines_give_their_angle_and_boxes_that_hug_them() {
    for (angle, words) in [
        (45.0, "rises to the right at 45 degrees"),
        (135.0, "falls to the right at 45 degrees"),
        (30.0, "rises to the right at 30 degrees"),
        (172.0, "falls to the right at 8 degrees"),
    ] {
        let mut raster = art("weave", 800, 1);
        let thread = Thread { angle, off: 40.0, wide: 2.0, alpha: 0.6, part: (-2000.0, 2000.0) };
        let mask = thread_into(&mut raster, &[thread], false);
        let (survey, findings) = judged(&tile(raster), GroundDemand::Infer);
        assert_eq!(survey.mask, mask);
        let [finding] = findings.as_slice() else { panic!("one finding, not {findings:?}") };
        assert!(finding.says.contains(words), "{angle}: {}", finding.says);
        let boxed: u64 = finding.boxes.iter().map(|area| u64::from(area.width) * u64::from(area.height)).sum();
        assert!(boxed <= (3 * mask.count()).max(800 * 800 / 50), "{boxed} px in boxes around {}", mask.count());
        let held = |(x, y): (u32, u32)| {
            finding
                .boxes
                .iter()
                .any(|area| (area.x..area.x + area.width).contains(&x) && (area.y..area.y + area.height).contains(&y))
        };
        assert!(mask.pixels().all(held));
    }
}

#[test]
fn threads_of_any_angle_and_width_are_found_whole() {
    for (i, style) in OPAQUE.into_iter().enumerate() {
        let mut dice = Dice(90 + i as u64);
        for count in 1..4 {
            let threads: Vec<Thread> = (0..count).map(|_| Thread::cast(&mut dice, 360, (0.02, 0.999))).collect();
            let mut raster = art(style, 360, i as u64);
            let mask = thread_into(&mut raster, &threads, false);
            let (survey, findings) = judged(&tile(raster), GroundDemand::Infer);
            assert_eq!(survey.mask, mask, "{style}, {threads:?}");
            assert!(findings.iter().all(|finding| finding.grade == Grade::Mend), "{style}, {threads:?}: {findings:?}");
        }
    }
}

#[test]
fn many_lines_are_told_in_groups_by_angle() {
    let net = flat(900, 900, |x, y| if (x + y) % 90 < 2 || (900 + x - y) % 90 < 1 { 150 } else { 255 });
    let (survey, findings) = judged(&net, GroundDemand::Infer);
    assert_eq!(survey.mask.count(), survey.see_through);
    let says: Vec<&str> = findings.iter().map(|finding| finding.says.as_str()).collect();
    assert!(findings.len() <= 3, "{says:?}");
    assert!(says[0].ends_with("see-through lines rise to the right at 45 degrees"), "{says:?}");
    assert!(says[1].ends_with("see-through lines fall to the right at 45 degrees"), "{says:?}");
}

#[test]
fn bits_of_one_line_are_one_line() {
    // Where two antialiased edges happen to fill a pixel, rounding leaves a line in bits.
    let bits = flat(300, 300, |x, y| if y == 150 && x % 4 < 2 { 240 } else { 255 });
    let (survey, findings) = judged(&bits, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend)]);
    assert_eq!(survey.mask.count(), 150);
}

#[test]
fn border_lines_are_a_fringe_and_crossing_lines_are_not() {
    let (last, both) = (flat(300, 200, |x, _| if x == 299 { 128 } else { 255 }), |x: u32, y: u32| x == 0 || y >= 198);
    let (_, findings) = judged(&last, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaFringe, Grade::Mend)]);
    assert_eq!(findings[0].says, "the right edge is see-through, 1 px deep");
    assert_eq!(findings[0].boxes, [Area { x: 299, y: 0, width: 1, height: 200 }]);

    let (survey, findings) = judged(&flat(300, 200, |x, y| if both(x, y) { 60 } else { 255 }), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaFringe, Grade::Mend)]);
    assert_eq!(findings[0].says, "the bottom and left edges are see-through, 2 px deep");
    assert_eq!(survey.mask.count(), survey.see_through);

    // A fringe all around: four lines meet their copies and make cross shapes at the corners.
    let around = flat(300, 200, |x, y| if x < 2 || y < 2 || x >= 298 || y >= 198 { 60 } else { 255 });
    let (survey, findings) = judged(&around, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaFringe, Grade::Mend)]);
    assert_eq!(survey.mask.count(), survey.see_through);

    let crossing = flat(300, 200, |x, y| if (x + 2 * y) % 150 < 3 { 60 } else { 255 });
    let (_, findings) = judged(&crossing, GroundDemand::Infer);
    assert!(findings.iter().all(|finding| finding.kind == Kind::AlphaHairline), "{findings:?}");
}

#[test]
fn a_fringe_and_a_line_that_ends_in_it_are_told_apart() {
    let tile = flat(300, 300, |x, y| if x == 140 || y == 0 { 128 } else { 255 });
    let (survey, findings) = judged(&tile, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend), (Kind::AlphaFringe, Grade::Mend)]);
    assert_eq!(survey.mask.count(), 599);
}

#[test]
fn holes_are_faults_and_nothing_is_promised() {
    let hole = |x: u32, y: u32| (i64::from(x) - 150).pow(2) + (i64::from(y) - 100).pow(2) < 64;
    for alpha in [0, 120] {
        let (survey, findings) =
            judged(&flat(300, 300, |x, y| if hole(x, y) { alpha } else { 255 }), GroundDemand::Infer);
        assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)], "alpha {alpha}");
        assert!(findings[0].says.starts_with("a hole, 15 px wide and 15 px high"), "{}", findings[0].says);
        assert_eq!(findings[0].boxes, [Area { x: 143, y: 93, width: 15, height: 15 }]);
        assert!(survey.mask.is_empty());
    }
}

#[test]
fn a_soft_rim_belongs_to_its_hole() {
    let alpha = |x: u32, y: u32| {
        let off = (f64::from(x) - 150.0).hypot(f64::from(y) - 100.0);
        ((off - 8.0) * 100.0).clamp(0.0, 255.0) as u8
    };
    let (survey, findings) = judged(&flat(300, 300, alpha), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)]);
    assert_eq!(survey.gap.count(), survey.see_through);
}

#[test]
fn a_clear_line_is_a_hole_and_a_clear_border_is_an_empty_edge() {
    let (_, findings) = judged(&flat(300, 300, |x, y| if x == y { 0 } else { 255 }), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)]);
    let boxed: u32 = findings[0].boxes.iter().map(|area| area.width * area.height).sum();
    assert!(boxed <= 300 * 300 / 50, "{boxed} px in boxes");
    let (_, findings) = judged(&flat(300, 300, |x, _| if x == 299 { 0 } else { 255 }), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)]);
    assert_eq!(findings[0].says, "the right edge is empty, 1 px deep");
}

#[test]
fn a_blot_too_narrow_to_be_wide_is_still_no_line() {
    let blot = |x: u32, y: u32| (i64::from(x) - 60).pow(2) + (i64::from(y) - 64).pow(2) <= 4;
    for corner in [0, 3] {
        let tile = flat(200, 200, |x, y| if blot(x + corner, y + corner) { 140 } else { 255 });
        assert_eq!(kinds(&judged(&tile, GroundDemand::Infer).1), [(Kind::AlphaGap, Grade::Fault)]);
    }
}

#[test]
fn specks_are_faults_up_to_nine_pixels() {
    let dots = [(10, 10, 0), (200, 40, 254), (90, 180, 128)];
    let at = |x: u32, y: u32| dots.iter().find(|dot| (dot.0, dot.1) == (x, y)).map_or(255, |dot| dot.2);
    let (survey, findings) = judged(&flat(300, 300, at), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaSpeck, Grade::Fault)]);
    assert_eq!(findings[0].says, "3 see-through specks, the first 10 px from the top, 10 px from the left");
    assert_eq!((survey.speck.count(), findings[0].boxes.len()), (3, 3));
    for (long, kind) in [(9, Kind::AlphaSpeck), (10, Kind::AlphaHairline)] {
        let scratch = flat(300, 300, |x, y| if y == 50 && (100..100 + long).contains(&x) { 90 } else { 255 });
        assert_eq!(judged(&scratch, GroundDemand::Infer).1[0].kind, kind, "{long} px");
    }
}

#[test]
fn a_hole_across_the_border_is_told_as_the_places_on_the_canvas() {
    let near = |at: u32, side: u32| i64::from(at.min(side - at)) < 6;
    let tile = flat(300, 300, |x, y| if near(x, 300) && (100..110).contains(&y) { 0 } else { 255 });
    let (_, findings) = judged(&tile, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)]);
    assert!(findings[0].says.starts_with("2 holes, the largest 6 px wide and 10 px high"), "{}", findings[0].says);
}

#[test]
fn curved_lines_are_mended_and_not_called_straight() {
    let ring = flat(600, 600, |x, y| {
        let off = (f64::from(x) - 300.0).hypot(f64::from(y) - 300.0) - 220.0;
        if off.abs() < 1.2 { 191 } else { 255 }
    });
    let (survey, findings) = judged(&ring, GroundDemand::Infer);
    assert_eq!(survey.mask.count(), survey.see_through);
    assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend)]);
    assert!(findings[0].says.starts_with("short or curved see-through lines"), "{}", findings[0].says);
}

#[test]
fn a_tile_that_is_only_partly_mendable_says_so() {
    let tile = flat(300, 300, |x, y| match (x, y) {
        (_, 200) => 128,
        (20..40, 20..40) => 0,
        _ => 255,
    });
    let (survey, findings) = judged(&tile, GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault), (Kind::AlphaHairline, Grade::Mend)]);
    assert!(findings[1].remedy.contains("once the holes"), "{}", findings[1].remedy);
    assert_eq!(survey.mask, Mask::of(vec![Run { y: 200, start: 0, end: 300 }]));
}

#[test]
fn an_unclear_ground_is_told_as_advice_and_nothing_is_touched() {
    // Two percent of the tile is one open place: accident or intent?
    let open = |x: u32, y: u32| (100..140).contains(&x) && (100..145).contains(&y) || y == 250;
    let tile = flat(300, 300, |x, y| if open(x, y) { 0 } else { 255 });
    for demand in [GroundDemand::Infer, GroundDemand::Either] {
        let (survey, findings) = judged(&tile, demand);
        assert_eq!((survey.ground, survey.mask.count()), (Ground::Unclear, 0));
        assert_eq!(findings[0].kind, Kind::AlphaGround);
        assert!(findings.iter().all(|finding| finding.grade == Grade::Advice));
    }
    let (survey, findings) = judged(&tile, GroundDemand::Opaque);
    assert_eq!(survey.ground, Ground::Opaque);
    assert_eq!(kinds(&findings), [(Kind::AlphaGap, Grade::Fault)], "named opaque, it is a hole");
}

#[test]
fn lace_and_textures_are_not_taken_for_accidents() {
    // A mesh of holes too small to survive opening, and a grain of half-covered pixels all over: meant, or unclear.
    let mesh = flat(300, 300, |x, y| if x % 10 < 3 && y % 10 < 3 { 0 } else { 255 });
    assert_eq!(judged(&mesh, GroundDemand::Infer), (survey(&mesh, GroundDemand::Infer), Vec::new()));
    for share in [2, 10, 40] {
        let mut dice = Dice(share);
        let grain: Vec<u8> =
            (0..90_000).map(|_| if dice.below(100) < share { 60 + dice.below(190) as u8 } else { 255 }).collect();
        let (survey, findings) = judged(&flat(300, 300, |x, y| grain[(y * 300 + x) as usize]), GroundDemand::Infer);
        assert!(survey.ground != Ground::Opaque && survey.mask.is_empty(), "{share} % of grain");
        assert!(findings.iter().all(|finding| finding.grade == Grade::Advice), "{share} % of grain");
    }
}

#[test]
fn a_line_without_color_left_is_a_hole_unless_flat_neighbors_tell_its_color() {
    let line = |mut raster: Raster| {
        let threads = [Thread { angle: 0.0, off: 20.5, wide: 1.0, alpha: 2.0 / 255.0, part: (-999.0, 999.0) }];
        thread_into(&mut raster, &threads, true);
        judged(&tile(raster), GroundDemand::Infer)
    };
    let (survey, findings) = line(art("grain", 240, 1));
    assert_eq!(kinds(&findings)[0], (Kind::AlphaGap, Grade::Fault));
    assert!(findings[0].says.contains("no color is left"), "{}", findings[0].says);
    assert!(!survey.lost.is_empty());
    let (survey, findings) = line(art("stripes", 240, 1));
    assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend)]);
    assert!(survey.lost.is_empty());
}

#[test]
fn sixteen_bits_are_judged_and_told_in_their_own_depth() {
    let mut samples = deep_art("wash", 120, 1);
    for x in 0..120 {
        samples[(40 * 120 + x) * 4 + 3] = 65534;
        samples[(90 * 120 + x) * 4 + 3] = 200;
    }
    let (survey, findings) = judged(&deep_tile(120, 120, samples), GroundDemand::Infer);
    assert_eq!(kinds(&findings), [(Kind::AlphaHairline, Grade::Mend); 2], "alpha 200 of 65535 still leaves color");
    assert_eq!(survey.mask.count(), 240);
    let mut told: Vec<(f64, String)> = findings
        .into_iter()
        .filter_map(|finding| finding.measure)
        .map(|measure| (measure.value, measure.unit))
        .collect();
    told.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert_eq!(told, [(200.0, "of 65535".to_string()), (65534.0, "of 65535".to_string())]);
}

#[test]
fn what_a_spec_silences_is_taken_out_of_the_mask() {
    let tile = flat(300, 300, |x, y| if x == 140 || y == 0 { 128 } else { 255 });
    let survey = survey(&tile, GroundDemand::Opaque);
    assert_eq!(survey.clone().leaving(true, false).mask.count(), 300 - 1);
    assert_eq!(survey.clone().leaving(false, true).mask.count(), 300);
    assert!(survey.leaving(true, true).mask.is_empty());
}

#[test]
fn the_smallest_tiles_are_judged_without_falling_over() {
    for (width, height) in [(1, 1), (1, 40), (40, 1), (2, 3), (5, 5), (7, 64), (65, 4)] {
        for alpha in [0, 128, 255] {
            for demand in [GroundDemand::Infer, GroundDemand::Opaque, GroundDemand::Transparent] {
                judged(&flat(width, height, |x, y| if (x + y) % 3 == 0 { alpha } else { 255 }), demand);
                judged(&flat(width, height, |_, _| alpha), demand);
            }
        }
    }
}
