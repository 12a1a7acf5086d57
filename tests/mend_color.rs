//! Is the mended color the true one? Art of every style with hairlines laid in, stored straight and stored multiplied,
//! mended and compared with the art before: a tile passes when 99 % of its mended pixels are within CIEDE2000 1.
mod drawn;

use burler::pipeline::check::alpha::survey;
use burler::pipeline::mend::mend;
use burler::pixel::difference::ciede2000;
use burler::spec::GroundDemand;
use burler::tile::Raster;
use drawn::{Dice, FLAT, OPAQUE, Thread, art, deep_art, deep_tile, thread_into, tile};

/// The share of the mask within CIEDE2000 1 of the truth; `None` when the mask is not exactly the laid threads.
fn truth_share(truth: &Raster, threads: &[Thread], multiplied: bool) -> Option<f64> {
    let mut raster = truth.clone();
    let laid = thread_into(&mut raster, threads, multiplied);
    let tile = tile(raster);
    let survey = survey(&tile, GroundDemand::Infer);
    let mended = (survey.mask == laid).then(|| mend(&tile, &survey)).flatten()?;
    let copy = mended.raster(&tile);
    let near = |&(x, y): &(u32, u32)| {
        let ([r, g, b, _], [s, t, u, _]) = (copy.pixel(x, y), truth.pixel(x, y));
        ciede2000([r, g, b], [s, t, u]) <= 1.0
    };
    Some(laid.pixels().filter(near).count() as f64 / laid.count() as f64)
}

/// How many tiles of how many pass, for each style.
fn passing(
    side: u32,
    seeds: std::ops::Range<u64>,
    alpha: (f64, f64),
    multiplied: bool,
) -> Vec<(&'static str, u64, u64)> {
    let tally = |style: &'static str| {
        let pass = |&seed: &u64| {
            let mut dice = Dice(1000 + seed);
            let threads: Vec<Thread> = (0..1 + seed % 4).map(|_| Thread::cast(&mut dice, side, alpha)).collect();
            let share = truth_share(&art(style, side, seed), &threads, multiplied);
            share.is_some_and(|share| share >= 0.99)
        };
        (style, seeds.clone().filter(pass).count() as u64, seeds.end - seeds.start)
    };
    OPAQUE.into_iter().map(tally).collect()
}

fn total(tally: &[(&str, u64, u64)], styles: &[&str]) -> (u64, u64) {
    let some = tally.iter().filter(|(style, ..)| styles.contains(style));
    some.fold((0, 0), |(passed, all), (_, p, n)| (passed + p, all + n))
}

/// Alpha of ordinary hairlines (two soft edges leave 174 to 254), of thin ones, and of those with next to no color.
const ORDINARY: (f64, f64) = (0.39, 0.99);
const THIN: (f64, f64) = (0.1, 0.4);
const FAINT: (f64, f64) = (0.02, 0.12);

#[test]
fn color_stored_straight_is_the_true_color() {
    for alpha in [ORDINARY, FAINT] {
        let tally = passing(240, 0..2, alpha, false);
        assert_eq!(total(&tally, &OPAQUE), (20, 20), "{tally:?}");
    }
}

#[test]
fn color_rounded_away_is_restored_exactly_in_flat_art_and_mostly_elsewhere() {
    let mut restored = (0, 0);
    for alpha in [ORDINARY, THIN, FAINT] {
        let tally = passing(240, 0..4, alpha, true);
        println!("alpha {alpha:?}: {tally:?}");
        let (flat, all) = (total(&tally, &FLAT), total(&tally, &OPAQUE));
        assert!(flat.0 + 1 >= flat.1, "flat art: {tally:?}");
        restored = (restored.0 + all.0, restored.1 + all.1);
    }
    // 112 of 120 when this was written, and 432 of 480 at seeds 300 to 315. Nearly all that is left is grain, whose noise is
    // what such storage loses. Keeping the stored color passes far fewer, see below.
    assert!(restored.0 * 100 >= restored.1 * 90, "{restored:?}");
}

#[test]
fn keeping_the_stored_color_would_not_do() {
    // The control: what the share above would be without the repair, so that the bound there means something.
    let mut kept = 0;
    for style in FLAT {
        let truth = art(style, 240, 1);
        let mut raster = truth.clone();
        let threads = [Thread { angle: 30.0, off: 5.0, wide: 2.0, alpha: 0.08, part: (-999.0, 999.0) }];
        let laid = thread_into(&mut raster, &threads, true);
        let near = |&(x, y): &(u32, u32)| {
            let ([r, g, b, _], [s, t, u, _]) = (raster.pixel(x, y), truth.pixel(x, y));
            ciede2000([r, g, b], [s, t, u]) <= 1.0
        };
        kept += u32::from(laid.pixels().filter(near).count() as f64 >= 0.99 * laid.count() as f64);
        assert!(truth_share(&truth, &threads, true).is_some_and(|share| share >= 0.99), "{style}");
    }
    assert_eq!(kept, 0);
}

#[test]
fn sixteen_bits_keep_their_color_even_when_stored_multiplied() {
    for style in ["wash", "stripes"] {
        let truth = deep_art(style, 160, 3);
        let mut samples = truth.clone();
        for x in 0..160_usize {
            for (y, alpha) in [(50, 40_000_u64), (110, 900)] {
                let pixel = &mut samples[(y * 160 + x) * 4..][..4];
                for sample in &mut pixel[..3] {
                    let kept = (u64::from(*sample) * alpha * 2 + 65535) / (2 * 65535);
                    *sample = ((kept * 65535 * 2 + alpha) / (2 * alpha)).min(65535) as u16;
                }
                pixel[3] = alpha as u16;
            }
        }
        let tile = deep_tile(160, 160, samples);
        let mended = mend(&tile, &survey(&tile, GroundDemand::Infer)).expect("two lines");
        let copy = mended.deep(&tile).expect("16 bits").0;
        let worst = |y: usize| {
            let row = y * 640..(y + 1) * 640;
            copy[row.clone()].iter().zip(&truth[row]).map(|(is, was)| is.abs_diff(*was)).max()
        };
        // Half a step of 65535 / alpha, and half a unit: under 2 units at 40,000 and under 37 at 900 of 65535.
        assert!(worst(50) <= Some(2) && worst(110) <= Some(37), "{style}: {:?} {:?}", worst(50), worst(110));
        for (deep, shallow) in copy.iter().zip(mended.raster(&tile).samples()) {
            assert_eq!((u32::from(*deep) + 128) / 257, u32::from(*shallow), "both depths tell the same picture");
        }
    }
}
