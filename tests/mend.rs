//! Mending and its proof: nothing outside the mask changes, a mended tile needs no mending, and a bad mender is refused.
mod drawn;

use burler::finding::{Bound, Finding, Grade, Kind, Measure};
use burler::pipeline::check::alpha::{findings, survey};
use burler::pipeline::mend::mended::{Mended, mend};
use burler::pipeline::mend::proof::{Doubt, Judged, pixels, rest};
use burler::pipeline::mend::tag::wanted;
use burler::spec::{GroundDemand, Spec};
use burler::tile::{Deep, Raster, Resolution, Tile};
use drawn::{Dice, Thread, art, deep_art, deep_tile, raster, thread_into, tile};
use proptest::prelude::*;

/// A tile after a mend, as one would read it back.
fn copy_of(tile: &Tile, mended: &Mended) -> Tile {
    Tile { raster: mended.raster(tile), deep: mended.deep(tile), ..tile.clone() }
}

fn judge(tile: &Tile, demand: GroundDemand) -> Vec<Finding> {
    findings(&survey(tile, demand), tile, demand)
}

/// Proves a copy of a tile under an opaque ground.
fn proven(tile: &Tile, mended: Option<&Mended>, per_inch: Option<f64>, copy: &Tile) -> Result<(), Doubt> {
    let (before, now) = (judge(tile, GroundDemand::Opaque), judge(copy, GroundDemand::Opaque));
    pixels(tile, mended, copy)?;
    rest(Judged { meta: &tile.meta, findings: &before }, per_inch, Judged { meta: &copy.meta, findings: &now })
}

/// Lays see-through places of every kind into opaque samples: lines, border lines, holes, single pixels.
fn faulted<T: Copy>(samples: &mut [T], width: u32, height: u32, dice: &mut Dice, alpha: impl Fn(u64) -> T, clear: T) {
    for _ in 0..1 + dice.below(4) {
        let value = alpha(dice.next());
        let (x, y) = (dice.below(width.into()) as u32, dice.below(height.into()) as u32);
        let wide = 1 + dice.below(3) as u32;
        let kind = dice.below(12);
        let slope = dice.below(5) as u32;
        for py in 0..height {
            for px in 0..width {
                let at = (py as usize * width as usize + px as usize) * 4 + 3;
                let (hit, value) = match kind {
                    0..3 => (py.wrapping_sub(y) < wide, value),
                    3..6 => (px.wrapping_sub(x) < wide, value),
                    6..9 => ((px + slope * py) % width.max(9) < wide, value),
                    9 => (px == width - 1 || py == 0, value),
                    10 => (px.wrapping_sub(x) < 5 && py.wrapping_sub(y) < 6, clear),
                    _ => ((px, py) == (x, y), clear),
                };
                if hit {
                    samples[at] = value;
                }
            }
        }
    }
}

fn shallow(width: u32, height: u32, seed: u64, multiplied: bool) -> Tile {
    let mut dice = Dice(seed);
    let palette = [0; 3].map(|_| [0; 3].map(|_| dice.next() as u8));
    let mut raster = raster(width, height, |x, y| {
        let [r, g, b] = if seed.is_multiple_of(3) {
            [0; 3].map(|_| dice.next() as u8)
        } else {
            palette[((x / 7 + y / 5) % 3) as usize]
        };
        [r, g, b, 255]
    });
    faulted(raster.samples_mut(), width, height, &mut dice, |r| 1 + (r % 254) as u8, 0);
    if multiplied {
        for pixel in raster.samples_mut().as_chunks_mut::<4>().0 {
            let alpha = pixel[3];
            pixel[..3].iter_mut().for_each(|sample| *sample = drawn::through_multiplied(*sample, alpha));
        }
    }
    tile(raster)
}

fn deep(width: u32, height: u32, seed: u64) -> Tile {
    let mut dice = Dice(seed);
    let mut samples: Vec<u16> = (0..width * height)
        .flat_map(|_| {
            let [r, g, b] = [0; 3].map(|_| dice.next() as u16);
            [r, g, b, u16::MAX]
        })
        .collect();
    faulted(&mut samples, width, height, &mut dice, |r| 1 + (r % 65534) as u16, 0);
    deep_tile(width, height, samples)
}

/// What must hold for any tile: the property of both tests below.
fn holds(tile: &Tile, demand: GroundDemand) -> Result<bool, TestCaseError> {
    let survey = survey(tile, demand);
    let Some(mended) = mend(tile, &survey) else {
        prop_assert!(survey.mask.is_empty());
        return Ok(false);
    };
    let copy = copy_of(tile, &mended);
    let width = tile.raster.width() as usize;
    let inside = |pixel: usize| mended.mask.contains((pixel % width) as u32, (pixel / width) as u32);
    let (was, is) = (tile.raster.samples().as_chunks::<4>().0, copy.raster.samples().as_chunks::<4>().0);
    let kept = was.iter().zip(is).enumerate().all(|(i, (was, is))| if inside(i) { is[3] == 255 } else { was == is });
    prop_assert!(kept, "outside nothing changes, inside all is opaque");
    let partly = was.iter().enumerate().all(|(i, was)| !inside(i) || (1..255).contains(&was[3]));
    prop_assert!(partly, "the mask holds half-covered pixels only");
    if let (Some(was), Some(is)) = (&tile.deep, &copy.deep) {
        let (was, is) = (was.0.as_chunks::<4>().0, is.0.as_chunks::<4>().0);
        let kept =
            was.iter().zip(is).enumerate().all(|(i, (was, is))| if inside(i) { is[3] == u16::MAX } else { was == is });
        prop_assert!(kept);
    }
    let whole = survey.gap.is_empty() && survey.speck.is_empty() && survey.lost.is_empty();
    if whole {
        let again = burler::pipeline::check::alpha::survey(&copy, demand);
        prop_assert_eq!(again.see_through, 0);
        prop_assert!(mend(&copy, &again).is_none(), "a mended tile needs no mending");
        prop_assert_eq!(proven(tile, Some(&mended), None, &copy), Ok(()));
    }
    Ok(whole)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(5_000) })]

    #[test]
    fn nothing_outside_the_mask_changes_in_8_bits(width in 1_u32..70, height in 1_u32..50, seed: u64, multiplied: bool, named: bool) {
        let demand = if named { GroundDemand::Opaque } else { GroundDemand::Infer };
        holds(&shallow(width, height, seed, multiplied), demand)?;
    }

    #[test]
    fn nothing_outside_the_mask_changes_in_16_bits(width in 1_u32..70, height in 1_u32..50, seed: u64, named: bool) {
        let demand = if named { GroundDemand::Opaque } else { GroundDemand::Infer };
        holds(&deep(width, height, seed), demand)?;
    }
}

#[test]
fn the_property_tests_meet_tiles_that_are_mended_whole() {
    let whole = (0..200)
        .filter(|&seed| holds(&shallow(60, 40, seed, false), GroundDemand::Opaque).is_ok_and(|whole| whole))
        .count();
    let deep =
        (0..200).filter(|&seed| holds(&deep(60, 40, seed), GroundDemand::Opaque).is_ok_and(|whole| whole)).count();
    assert!(whole > 40 && deep > 40, "{whole} and {deep} of 200");
}

/// A tile with hairlines and its mend.
fn example() -> (Tile, Mended) {
    let mut raster = art("weave", 200, 4);
    let threads = [Thread { angle: 30.0, off: 4.0, wide: 2.0, alpha: 0.4, part: (-300.0, 300.0) }];
    thread_into(&mut raster, &threads, false);
    let tile = tile(raster);
    let mended = mend(&tile, &survey(&tile, GroundDemand::Opaque)).expect("something to mend");
    (tile, mended)
}

/// A copy of the example's mend with one sample changed.
fn spoiled(tile: &Tile, mended: &Mended, at: usize, to: u8) -> Tile {
    let mut copy = copy_of(tile, mended);
    copy.raster.samples_mut()[at] = to;
    copy
}

fn at((x, y): (u32, u32), width: u32, channel: usize) -> usize {
    (y as usize * width as usize + x as usize) * 4 + channel
}

#[test]
fn a_true_mend_is_proven() {
    let (tile, mended) = example();
    assert_eq!(mended.estimated, 0);
    assert_eq!(proven(&tile, Some(&mended), None, &copy_of(&tile, &mended)), Ok(()));
}

#[test]
fn a_mender_that_changes_a_pixel_outside_is_refused() {
    let (tile, mended) = example();
    let outside = (0..200).flat_map(|y| (0..200).map(move |x| (x, y))).filter(|&(x, y)| !mended.mask.contains(x, y));
    for (i, pixel) in outside.enumerate().filter(|(i, _)| i % 997 == 0) {
        let sample = at(pixel, 200, i % 4);
        let value = copy_of(&tile, &mended).raster.samples()[sample];
        let doubt = proven(&tile, Some(&mended), None, &spoiled(&tile, &mended, sample, value ^ 1));
        assert!(matches!(doubt, Err(Doubt::Outside { x, y, .. }) if (x, y) == pixel), "{pixel:?}: {doubt:?}");
    }
    // The pixels right beside a run too.
    for run in mended.mask.runs().iter().filter(|run| run.end < 200 && !mended.mask.contains(run.end, run.y)) {
        let doubt = proven(&tile, Some(&mended), None, &spoiled(&tile, &mended, at((run.end, run.y), 200, 3), 254));
        assert!(matches!(doubt, Err(Doubt::Outside { .. })), "{run:?}: {doubt:?}");
    }
}

#[test]
fn a_mender_that_touches_color_under_no_alpha_is_refused() {
    let mut raster = art("checks", 120, 2);
    for x in 0..120 {
        raster.samples_mut()[at((x, 60), 120, 3)] = 90;
    }
    raster.samples_mut()[at((7, 7), 120, 3)] = 0;
    let tile = tile(raster);
    let mended = mend(&tile, &survey(&tile, GroundDemand::Opaque)).expect("a line");
    let blue = at((7, 7), 120, 2);
    let value = tile.raster.samples()[blue];
    let doubt = proven(&tile, Some(&mended), None, &spoiled(&tile, &mended, blue, value ^ 255));
    assert!(matches!(doubt, Err(Doubt::Outside { x: 7, y: 7, .. })), "{doubt:?}");
}

#[test]
fn a_mender_that_leaves_254_is_refused() {
    let (tile, mended) = example();
    let pixel = mended.mask.pixels().nth(100).expect("a pixel");
    let doubt = proven(&tile, Some(&mended), None, &spoiled(&tile, &mended, at(pixel, 200, 3), 254));
    assert_eq!(doubt, Err(Doubt::SeeThrough { x: pixel.0, y: pixel.1, alpha: 254, full: 255 }));
}

#[test]
fn a_mender_that_shifts_color_is_refused() {
    let (tile, mended) = example();
    let shift = |by: u8| {
        let mut copy = copy_of(&tile, &mended);
        for pixel in mended.mask.pixels() {
            let sample = &mut copy.raster.samples_mut()[at(pixel, 200, 0)];
            *sample = if *sample > 128 { *sample - by } else { *sample + by };
        }
        proven(&tile, Some(&mended), None, &copy)
    };
    assert!(matches!(shift(40), Err(Doubt::Color { .. })), "{:?}", shift(40));
    assert!(matches!(shift(1), Err(Doubt::Color { .. } | Doubt::Estimated(0, _))), "{:?}", shift(1));
}

#[test]
fn a_mender_that_recolors_more_than_it_says_is_refused() {
    let mut raster = art("stripes", 200, 4);
    thread_into(&mut raster, &[Thread { angle: 0.0, off: 4.0, wide: 2.0, alpha: 0.1, part: (-300.0, 300.0) }], true);
    let tile = tile(raster);
    let mended = mend(&tile, &survey(&tile, GroundDemand::Opaque)).expect("a line");
    assert!(mended.estimated > 0);
    assert_eq!(proven(&tile, Some(&mended), None, &copy_of(&tile, &mended)), Ok(()));
    let mut humble = mended.clone();
    humble.estimated -= 1;
    let doubt = proven(&tile, Some(&humble), None, &copy_of(&tile, &mended));
    assert_eq!(doubt, Err(Doubt::Estimated(mended.estimated - 1, mended.estimated)));
}

#[test]
fn another_size_or_depth_is_refused() {
    let (tile, mended) = example();
    let copy = copy_of(&tile, &mended);
    let cut = Raster::new(200, 199, copy.raster.samples()[..200 * 199 * 4].to_vec()).expect("the size fits");
    let doubt = proven(&tile, Some(&mended), None, &Tile { raster: cut, ..copy.clone() });
    assert_eq!(doubt, Err(Doubt::Size((200, 200), (200, 199))));

    let mut samples = deep_art("wash", 90, 1);
    (0..90).for_each(|x| samples[at((x, 40), 90, 3)] = 30_000);
    let deep = deep_tile(90, 90, samples);
    let mended = mend(&deep, &survey(&deep, GroundDemand::Opaque)).expect("a line");
    let copy = copy_of(&deep, &mended);
    assert_eq!(proven(&deep, Some(&mended), None, &copy), Ok(()));
    let mut shallow = Tile { deep: None, ..copy.clone() };
    shallow.meta.bit_depth = 8;
    assert_eq!(proven(&deep, Some(&mended), None, &shallow), Err(Doubt::Depth(16, 8)));
    // A change that only 16 bits can see, of color and of alpha.
    for (pixel, channel, to) in [((3, 3), 1, 1), ((3, 40), 3, 65534)] {
        let mut samples = copy.deep.clone().expect("16 bits").0;
        samples[at(pixel, 90, channel)] = if channel == 3 { to } else { samples[at(pixel, 90, channel)] ^ to };
        let doubt = proven(&deep, Some(&mended), None, &Tile { deep: Some(Deep(samples)), ..copy.clone() });
        assert!(matches!(doubt, Err(Doubt::Outside { .. } | Doubt::SeeThrough { .. })), "{doubt:?}");
    }
}

fn resolution_finding(grade: Grade) -> Finding {
    Finding {
        kind: Kind::SizeResolution,
        grade,
        silenced: false,
        boxes: Vec::new(),
        measure: Some(Measure::new("resolution", 72.0, "pixels per inch", Bound::Equal, 300.0)),
        says: "the file says 72 pixels per inch".into(),
        remedy: "nothing: the tag is corrected".into(),
    }
}

#[test]
fn the_tag_is_wanted_only_where_it_alone_is_wrong() {
    let spec = Spec { resolution: Some(300.0), ..Spec::default() };
    assert_eq!(wanted(&[resolution_finding(Grade::Mend)], &spec), Some(300.0));
    assert_eq!(wanted(&[resolution_finding(Grade::Fault)], &spec), None);
    assert_eq!(wanted(&[Finding { silenced: true, ..resolution_finding(Grade::Mend) }], &spec), None);
    assert_eq!(wanted(&[], &spec), None);
    assert_eq!(wanted(&[resolution_finding(Grade::Mend)], &Spec::default()), None);
}

#[test]
fn a_tag_mend_proves_all_pixels_identical_and_the_tag_right() {
    let mut tile = tile(art("mosaic", 90, 1));
    tile.meta.resolution = Some(Resolution { x: 72.0, y: 72.0, quantum: 0.03 });
    let mut copy = tile.clone();
    let tagged = |per_inch: f64| Some(Resolution { x: per_inch, y: per_inch, quantum: 0.03 });
    // PNG third edition, 11.3.4.3: whole pixels per meter; 300 per inch is 11811.02, so 11811 or a neighbor, not 11800.
    for (per_meter, right) in [(11810.0, true), (11811.0, true), (11812.0, true), (11800.0, false), (2835.0, false)] {
        copy.meta.resolution = tagged(per_meter * 0.0254);
        let proof = proven(&tile, None, Some(300.0), &copy);
        assert_eq!(proof.is_ok(), right, "{per_meter}: {proof:?}");
        assert!(right || matches!(proof, Err(Doubt::Resolution(..))));
    }
    copy.meta.resolution = None;
    assert!(matches!(proven(&tile, None, Some(300.0), &copy), Err(Doubt::Resolution(..))), "a lost tag");
    assert!(matches!(proven(&tile, None, None, &copy), Err(Doubt::Resolution(..))), "a lost tag that was to be kept");
    copy.meta.resolution = tagged(300.0);
    copy.raster.samples_mut()[4321] ^= 1;
    assert!(matches!(proven(&tile, None, Some(300.0), &copy), Err(Doubt::Outside { .. })));
}

#[test]
fn findings_that_stay_or_appear_are_refused() {
    let (tile, mended) = example();
    let (copy, before) = (copy_of(&tile, &mended), judge(&tile, GroundDemand::Opaque));
    let said = |before: &[Finding], now: &[Finding]| {
        pixels(&tile, Some(&mended), &copy)?;
        rest(Judged { meta: &tile.meta, findings: before }, None, Judged { meta: &copy.meta, findings: now })
    };
    let joint = Finding { kind: Kind::JointBreak, ..resolution_finding(Grade::Fault) };
    assert!(matches!(said(&before, std::slice::from_ref(&joint)), Err(Doubt::NewFault(Kind::JointBreak, _))));
    let had = [before.as_slice(), std::slice::from_ref(&joint)].concat();
    assert_eq!(said(&had, std::slice::from_ref(&joint)), Ok(()), "the original had it already");
    assert!(matches!(said(&before, &[resolution_finding(Grade::Mend)]), Err(Doubt::Left(Kind::SizeResolution, _))));
    let speck = Finding { kind: Kind::AlphaSpeck, ..resolution_finding(Grade::Fault) };
    assert!(matches!(said(&before, std::slice::from_ref(&speck)), Err(Doubt::Left(Kind::AlphaSpeck, _))));
    assert_eq!(said(&before, &[Finding { silenced: true, ..speck }]), Ok(()), "the spec silences it");
    let advice = Finding { grade: Grade::Advice, ..joint };
    assert_eq!(said(&before, &[advice]), Ok(()));
}

#[test]
fn doubts_are_said_in_plain_words() {
    let (tile, mended) = example();
    let pixel = mended.mask.pixels().next().expect("a pixel");
    let doubt = proven(&tile, Some(&mended), None, &spoiled(&tile, &mended, at(pixel, 200, 3), 254));
    let words = format!("the mended pixel {}, {} (column, row) is still see-through, 254 of 255", pixel.0, pixel.1);
    assert_eq!(doubt.map_err(|doubt| doubt.to_string()), Err(words));
}

#[test]
fn a_mended_copy_is_the_same_bytes_every_time() {
    let make = || {
        let (tile, mended) = example();
        copy_of(&tile, &mended).raster.into_samples()
    };
    assert_eq!(make(), make());
}
