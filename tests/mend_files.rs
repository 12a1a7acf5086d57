//! Whole files through the pipeline: random tiles in every layout and depth, mended, proven and read again. Outside the
//! mask no sample changes, what the file says about itself stays, a mended file needs no mending, and every run gives the
//! same bytes. `BURLER_CASES=1000000 cargo test --profile ground --test mend_files` looks at more, `BURLER_FIRST=SEED` at others.

mod desk;
mod drawn;
#[path = "mend_files/made.rs"]
mod made;

use burler::codec::{self, Limits};
use burler::finding::{Kind, Verdict};
use burler::pipeline::{self, Order, Outcome, Product, Wants, mockup};
use burler::spec::{GroundDemand, Repeat, Spec};
use burler::tile::Tile;
use made::Made;
use rayon::iter::Either;
use rayon::prelude::*;
use std::collections::HashMap;
use std::path::Path;

fn number(name: &str, usual: u64) -> u64 {
    std::env::var(name).map_or(usual, |text| text.parse().expect("a number"))
}

fn mended(bytes: &[u8]) -> Outcome {
    let spec = Spec { ground: GroundDemand::Opaque, repeat: Some(Repeat::None), ..Spec::default() };
    let wants = Wants { mend: true, ..Wants::default() };
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let order = Order { name: "swatch.png", spec: &spec, wants, mockup: &settings, limits: &limits, let_pass: None };
    pipeline::run(bytes, &order, Vec::new())
}

fn decode(bytes: &[u8]) -> Result<Tile, String> {
    codec::decode(bytes, &Limits::default(), Vec::new()).map_err(|refusal| refusal.says())
}

/// Samples in the file's own depth.
fn own(tile: &Tile) -> Vec<[u16; 4]> {
    match &tile.deep {
        Some(deep) => deep.0.as_chunks::<4>().0.to_vec(),
        None => tile.raster.samples().as_chunks::<4>().0.iter().map(|pixel| pixel.map(u16::from)).collect(),
    }
}

/// Whether `is` is what may become of the see-through pixel `was`: opaque, and of a color that low alpha can have rounded
/// to the stored one, at most MOST / 2A + 1/2 off.
fn restored(was: [u16; 4], is: [u16; 4], most: u16) -> bool {
    let slack = u64::from(most) + u64::from(was[3]);
    is[3] == most && (0..3).all(|i| 2 * u64::from(was[3]) * u64::from(was[i].abs_diff(is[i])) <= slack)
}

impl Made {
    /// Whether a filled copy may hold `is` where the file has `was`. The makers of faults rub out alpha alone, so most clear
    /// pixels still hold the color that was drawn.
    fn filled(&self, was: [u16; 4], is: [u16; 4]) -> bool {
        match was[3] {
            0 => is[3] == self.most && (!self.tells || was[..3] == is[..3]),
            alpha if alpha < self.most => restored(was, is, self.most),
            _ => was == is,
        }
    }
}

/// What was made of one file.
type Files = Vec<(Product, Vec<u8>)>;

/// What became of one file, or what is wrong with it.
fn look(made: &Made) -> Result<(Verdict, Files), String> {
    let outcome = mended(&made.bytes);
    let verdict = outcome.ticket.verdict;
    let of =
        |wanted: Product| outcome.made.iter().find(|(product, _)| *product == wanted).map(|(_, file)| file.clone());
    let (file, partly) = (of(Product::Mended), of(Product::PartlyMended));
    let partial = |pixel: &[u16; 4]| pixel[3] > 0 && pixel[3] < made.most;
    let must =
        |holds: bool, what: &str| if holds { Ok(()) } else { Err(format!("{what}; {:?}", outcome.ticket.findings)) };
    if own(&decode(&made.bytes)?) != made.pixels {
        return Err("the original is read wrong".into());
    }
    let unproven = outcome.ticket.findings.iter().any(|finding| finding.kind == Kind::MendUnproven);
    must(!unproven, "a mend did not pass its proof")?;
    match (verdict, &file) {
        (Verdict::Mended, Some(file)) => {
            must(!made.holes, "a tile with a hole is not called mended")?;
            let copy = decode(file)?;
            must((copy.raster.width(), copy.raster.height()) == (made.width, made.height), "another size")?;
            must((copy.meta.bit_depth == 16) == (made.depth == 16), "another depth")?;
            for (i, (was, is)) in made.pixels.iter().zip(own(&copy)).enumerate() {
                let (x, y) = (i as u32 % made.width, i as u32 / made.width);
                let fine = if partial(was) { restored(*was, is, made.most) } else { *was == is };
                must(fine, &format!("the pixel {x}, {y} was {was:?} and is {is:?}"))?;
            }
            codec::metadata_kept(&made.bytes, file, &[])?;
            let says = |bytes: &[u8], text: &[u8]| bytes.windows(text.len()).any(|part| part == text);
            must(says(file, b"Oddfathom swatch") && says(file, b"after the pixels"), "a text is lost")?;
            must(says(file, b"ofTssafe to copy"), "a private chunk is lost")?;
            let again = mended(file);
            must(again.ticket.verdict == Verdict::Sound && again.made.is_empty(), "a mended file needs no mending")?;
            let twice = mended(&made.bytes).made.into_iter().next().map(|(_, file)| file);
            must(twice.as_ref() == Some(file), "another run gave other bytes")?;
        }
        (Verdict::Sound, None) => must(!made.pixels.iter().any(|pixel| pixel[3] < made.most), "called sound")?,
        (Verdict::Held, None) => {
            must(made.pixels.iter().any(|pixel| pixel[3] < made.most), "held for nothing")?;
            if let Some(partly) = &partly {
                let copy = own(&decode(partly)?);
                let fine =
                    |(was, is): (&[u16; 4], &[u16; 4])| was == is || partial(was) && restored(*was, *is, made.most);
                must(made.pixels.iter().zip(&copy).all(fine), "a partly mended copy changed something else")?;
                must(made.pixels != copy, "a partly mended copy in which nothing is mended")?;
                codec::metadata_kept(&made.bytes, partly, &[])?;
                let again = mended(partly);
                let left = again.made.iter().all(|(product, _)| *product == Product::Filled);
                must(again.ticket.verdict == Verdict::Held && left, "what is left is the artist's")?;
            }
            if let Some(filled) = of(Product::Filled) {
                let copy = own(&decode(&filled)?);
                must(made.pixels.iter().zip(&copy).all(|(was, is)| made.filled(*was, *is)), "a wrong fill")?;
                codec::metadata_kept(&made.bytes, &filled, &[])?;
                let again = mended(&filled);
                must(again.ticket.verdict == Verdict::Sound && again.made.is_empty(), "a filled copy would be ready")?;
            }
        }
        (verdict, _) => return Err(format!("{verdict:?}: {:?}", outcome.ticket.findings)),
    }
    Ok((verdict, outcome.made))
}

/// Seeds that once went wrong: lines over a regular design, or moves that nearly everything follows beside exact ones, made
/// one of its units look set aside, which held the tile.
const LEARNED: [u64; 2] = [9_035_862, 410_870_150];

#[test]
fn nothing_outside_the_mask_changes_in_any_layout_and_mending_is_idempotent() {
    let (first, cases) = (number("BURLER_FIRST", 0), number("BURLER_CASES", 10_000));
    let looked = (first..first + cases).into_par_iter().chain(LEARNED).map(|seed| {
        let made = Made::of(seed);
        match look(&made) {
            Ok((verdict, files)) => {
                let has = |wanted| files.iter().any(|(product, _)| *product == wanted);
                let copies = (has(Product::PartlyMended), has(Product::Filled));
                Ok(((made.color, made.depth, made.interlaced), verdict, copies))
            }
            Err(wrong) => {
                let Made { width, height, color, depth, interlaced, .. } = made;
                let of = format!("{width} x {height}, color type {color}, {depth} bits, interlaced {interlaced}");
                println!("seed {seed}, {of}: {wrong}");
                Err(seed)
            }
        }
    });
    // All of them: a run of a million cases takes long, and tells of every seed that goes wrong.
    let (looked, wrong): (Vec<_>, Vec<_>) = looked.partition_map(|case| match case {
        Ok(case) => Either::Left(case),
        Err(seed) => Either::Right(seed),
    });
    println!("{} cases right, {} wrong", looked.len(), wrong.len());
    assert!(wrong.is_empty(), "these seeds went wrong: {wrong:?}");
    let of = |color, depth, interlaced, verdict| {
        looked.iter().filter(|case| (case.0, case.1) == ((color, depth, interlaced), verdict)).count()
    };
    let filled = looked.iter().filter(|case| case.2.1).count();
    println!("{filled} held tiles were filled");
    assert!(cases < 10_000 || filled >= 100, "only {filled} held tiles were filled");
    let partly = looked.iter().filter(|case| case.2.0).count();
    println!("{partly} held tiles were partly mended");
    assert!(cases < 10_000 || partly >= 500, "only {partly} held tiles were partly mended");
    for (color, depth, _) in made::LAYOUTS {
        for interlaced in [false, true] {
            let said = |verdict| of(color, depth, interlaced, verdict);
            println!(
                "color type {color}, {depth} bits, interlaced {interlaced}: {} mended, {} held, {} sound",
                said(Verdict::Mended),
                said(Verdict::Held),
                said(Verdict::Sound)
            );
            // One clear color makes holes only.
            let enough = if matches!(color, 0 | 2) { said(Verdict::Held) } else { said(Verdict::Mended) };
            assert!(cases < 10_000 || enough >= 15, "color type {color}, {depth} bits: only {enough}");
        }
    }
}

/// Pillow reads the mended files equal up to 8 bits, and a reader written from the standard those of 16.
#[test]
fn other_readers_see_the_mended_files_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut kept: HashMap<(u8, u8, bool), u32> = HashMap::new();
    let mut count = 0;
    for seed in 0..1_500 {
        let made = Made::of(seed);
        let seen = kept.entry((made.color, made.depth, made.interlaced)).or_default();
        if *seen >= 6 {
            continue;
        }
        let Ok((Verdict::Mended | Verdict::Held, files)) = look(&made) else { continue };
        // The last one made: filled before partly mended.
        let Some((_, file)) = files.last() else { continue };
        let copy = own(&decode(file).expect("a whole picture"));
        let keep = |ending: &str, bytes: &[u8]| {
            std::fs::write(folder.path().join(format!("{seed}.{ending}")), bytes).expect("a writable folder");
        };
        keep("png", file);
        if made.most == 255 {
            keep("rgba8", &copy.as_flattened().iter().map(|sample| *sample as u8).collect::<Vec<u8>>());
        } else {
            keep("rgba16", &copy.as_flattened().iter().flat_map(|sample| sample.to_le_bytes()).collect::<Vec<u8>>());
        }
        *seen += 1;
        count += 1;
    }
    let path: &Path = folder.path();
    let listing = desk::run_python(include_str!("codec/written.py"), &[path.to_str().expect("a plain path")]);
    assert_eq!(listing.lines().count(), count);
    assert!(count >= 80, "{kept:?}");
}

/// Where color was lost under low alpha and is told from beside, the ticket says how many pixels that concerns.
#[test]
fn the_ticket_tells_what_color_was_told_from_beside() {
    let color = |x: u16, y: u16| [100 + 3 * (x / 4), 60 + 3 * (y / 4), 90];
    let mut pixels = Vec::new();
    for (x, y) in (0..60_u16).flat_map(|y| (0..64_u16).map(move |x| (x, y))) {
        let [r, g, b] = match y {
            29 => color(x, y).map(|sample| u16::from(drawn::through_multiplied(sample as u8, 12))),
            _ => color(x, y),
        };
        pixels.push([r, g, b, if y == 29 { 12 } else { 255 }]);
    }
    let made = Made::from_pixels(64, 60, 3, pixels);
    let (_, files) = look(&made).expect("a mended tile");
    let copy = own(&decode(&files[0].1).expect("a whole picture"));
    assert!((0..64).all(|x| copy[29 * 64 + usize::from(x)][..3] == color(x, 29)), "flat art comes back exactly");
    let told = "nothing: the line is mended; the color of 64 px was lost in it and is told from what lies beside";
    assert_eq!(mended(&made.bytes).ticket.findings[0].remedy, told);
}
