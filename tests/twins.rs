//! Twins: one repeat under several names is known again, however it was exported, and what is only alike is not.
#![allow(clippy::panic, reason = "a test that cannot set its table has failed")]

mod art;
mod desk;

use art::chance::Chance;
use art::copies::{self, Copy};
use burler::archive::twins::groups::{Grouping, Link, Member};
use burler::archive::twins::index;
use burler::codec::{self, Limits};
use burler::pipeline::likeness::relation::{Colors, Relation, Side, relation};
use burler::pipeline::likeness::sign::{LENGTH, Sign};
use burler::pipeline::likeness::turn::Turn;
use burler::pipeline::likeness::wave::{SIDE, Spectrum};
use burler::pipeline::likeness::{Likeness, Look, Shades, pixels};
use burler::spec::Repeat;
use burler::tile::{Content, Deep, Raster};
use std::path::Path;

/// What two tiles are to each other when each is laid so.
fn between(one: (&Raster, Repeat), other: (&Raster, Repeat)) -> Option<Relation> {
    let members = [one, other].map(|(raster, repeat)| Likeness::of(raster, None, &[repeat]));
    let listed =
        (0_u8..).zip(&members).map(|(at, likeness)| Member { content: Content::of(&[at]), likeness: Some(likeness) });
    let mut grouping = Grouping::new(listed.collect());
    while let Some(question) = grouping.question() {
        let side = |raster, at: usize, look: usize| {
            let look = &members[at].looks[look];
            Side { raster, repeat: look.repeat, copies: look.copies }
        };
        let rasters = [one.0, other.0];
        let sides = [(question.one, question.looks[0]), (question.other, question.looks[1])];
        let [a, b] = sides.map(|(at, look)| side(rasters[at], at, look));
        let answer = relation(a, b, question.plain);
        if answer.is_some() {
            return answer;
        }
        grouping.answer(None);
    }
    None
}

fn block(one: &Raster, other: &Raster) -> Option<Relation> {
    between((one, Repeat::Block), (other, Repeat::Block))
}

fn drawn(name: &str, seed: u64) -> Raster {
    art::drawn(art::named(name), Repeat::Block, seed, 300, 240)
}

const STYLES: [&str; 5] = ["tossed", "wash", "plaid", "dead leaves", "clear motifs"];

#[test]
fn a_repeat_that_starts_elsewhere_is_known_to_the_pixel() {
    for name in STYLES {
        let base = drawn(name, 501);
        let found = block(&base, &copies::moved(&base, 71, -33)).unwrap_or_else(|| panic!("{name}"));
        // Moving the second back by as much makes it the first; a smaller repeat inside may come round earlier.
        let back = copies::moved(&copies::moved(&base, 71, -33), found.shift[0], found.shift[1]);
        assert_eq!((found.colors, found.confidence, found.scale), (Colors::Equal, 100, 1000), "{name}");
        if found.turn == Turn::default() {
            assert!(back == base, "{name} {:?}", found.shift);
        }
    }
}

#[test]
fn turned_and_mirrored_ones_are_known_and_the_way_back_is_right() {
    for name in ["tossed", "wash", "clear motifs"] {
        let base = drawn(name, 502);
        // One that lies as it lay is equal file by file, which is no question.
        for turn in Turn::all().into_iter().skip(1) {
            let made = turn.raster(base.clone());
            let found = block(&base, &made).unwrap_or_else(|| panic!("{name} {turn:?}"));
            assert_eq!(found.colors, Colors::Equal, "{name} {turn:?}");
            let back = found.turn.raster(made);
            assert!(copies::moved(&back, found.shift[0], found.shift[1]) == base, "{name} {turn:?} {found:?}");
        }
    }
}

#[test]
fn encoded_and_scaled_ones_are_known_but_not_called_equal() {
    for name in ["tossed", "wash", "plaid", "dead leaves"] {
        let base = drawn(name, 503);
        let coded = block(&base, &copies::jpeg(&base, 70)).unwrap_or_else(|| panic!("{name} coded"));
        assert_eq!((coded.colors, coded.scale), (Colors::Same, 1000), "{name}");
        assert!((70..100).contains(&coded.confidence), "{name}");
        let half = block(&base, &copies::scaled(&base, 0.5)).unwrap_or_else(|| panic!("{name} scaled"));
        assert_eq!((half.colors, half.scale), (Colors::Same, 2000), "{name}");
    }
}

#[test]
fn a_half_drop_and_the_block_that_makes_the_same_cloth_are_one() {
    for name in ["tossed", "wash", "two-color"] {
        let [drop, straight] = copies::half_drop_and_block(art::named(name), 504, 180, 240);
        let found = between((&straight, Repeat::Block), (&drop, Repeat::HalfDrop)).unwrap_or_else(|| panic!("{name}"));
        assert_eq!((found.colors, found.repeats), (Colors::Equal, [Repeat::Block, Repeat::HalfDrop]), "{name}");
        // The same tile laid straight is another cloth.
        assert_eq!(between((&straight, Repeat::Block), (&drop, Repeat::Block)), None, "{name}");
    }
}

#[test]
fn other_colors_make_a_family_and_no_twin() {
    for (at, name) in (0..).zip(["tossed", "wash", "two-color", "clouds"]) {
        let base = drawn(name, 505);
        let mut chance = Chance::new(at);
        let curves = copies::curved(&copies::moved(&base, 40, 17), &mut chance);
        let found = block(&base, &curves).unwrap_or_else(|| panic!("{name} curves"));
        assert_eq!(found.colors, Colors::Exchanged, "{name}");
        if let Some(palette) = copies::exchanged(&base, &mut chance) {
            let found = block(&base, &palette).unwrap_or_else(|| panic!("{name} palette"));
            assert_eq!(found.colors, Colors::Exchanged, "{name}");
        }
    }
}

#[test]
fn lookalikes_are_nothing_to_each_other() {
    for name in ["tossed", "wash", "plaid", "dead leaves", "clear motifs"] {
        let seed = 506;
        let base = Copy { name: name.into(), raster: drawn(name, seed), deep: None, repeat: Repeat::Block };
        for (kind, make) in copies::LOOKALIKES {
            let Some(other) = make(art::named(name), seed, &base, &mut Chance::new(seed)) else { continue };
            assert_eq!(block(&base.raster, &other.raster), None, "{name}: {kind}");
        }
    }
}

/// Bars 9 px wide on white at the places of a set, each 30 px, over 240 px.
fn bars(places: [usize; 4]) -> Raster {
    let color = |x: usize| if places.contains(&(x / 30)) && x % 30 < 9 { [170, 40, 60, 255] } else { [255; 4] };
    Raster::new(240, 60, (0..60).flat_map(|_| (0..240).flat_map(color)).collect()).expect("a size")
}

#[test]
fn equal_spectra_do_not_prove_equal_tiles() {
    // {0,1,3,4} and {0,1,2,5} modulo 8 are different sets of equal power (Patterson, Phys. Rev. 65:195-201, 1944).
    let (one, other) = (bars([0, 1, 3, 4]), bars([0, 1, 2, 5]));
    let tones = [&one, &other].map(|raster| Likeness::of(raster, None, &[Repeat::Block]).looks.remove(0).tone);
    assert!(tones[0].apart(&tones[1]) <= 4, "{}", tones[0].apart(&tones[1]));
    assert_eq!(block(&one, &other), None);
    // The question is asked, only the pixels say no; a bar moved on the torus is still itself.
    assert_eq!(block(&one, &copies::moved(&one, 90, 0)).map(|found| found.colors), Some(Colors::Equal));
}

#[test]
fn powers_are_those_of_numpy_and_stay_under_a_shift() {
    // The shift theorem of the discrete Fourier transform; NumPy's fft2 is the second opinion.
    let value = |x: usize, y: usize| ((x * 7919 + y * 104_729 + x * y * 31) % 251) as f32;
    let field: Vec<f32> = (0..SIDE * SIDE).map(|at| value(at % SIDE, at / SIDE)).collect();
    let ours = Spectrum::of(&field);
    let program = "
import numpy as np
y, x = np.mgrid[0:256, 0:256]
f = ((x * 7919 + y * 104729 + x * y * 31) % 251).astype(float)
one, other = (np.abs(np.fft.fft2(g)) ** 2 for g in (f, np.roll(f, (37, 101), (0, 1))))
assert np.allclose(one, other, rtol=1e-6, atol=1e-3 * one.mean())
for k, l in ((1, 0), (0, 1), (3, -5), (8, 8), (60, 100), (127, -127)):
    print(k, l, one[l % 256, k % 256])
";
    let told = desk::run_python(program, &[]);
    for line in told.lines() {
        let words: Vec<f64> = line.split(' ').map(|word| word.parse().expect("a number")).collect();
        let power = f64::from(ours.power(words[0] as i32, words[1] as i32));
        assert!((power - words[2]).abs() <= 1e-3 * words[2] + 10.0, "{line}: {power}");
    }
    assert_eq!(told.lines().count(), 6);
}

#[test]
fn pixels_are_hashed_by_what_they_show() {
    let base = drawn("clear motifs", 507);
    let deep = Deep(base.samples().iter().map(|&sample| u16::from(sample) * 257).collect());
    assert_eq!(pixels(&base, Some(&deep)), pixels(&base, None), "16 bits of the same values");
    let mut finer = deep.clone();
    let at = (0..finer.0.len()).step_by(4).find(|at| finer.0[at + 3] > 0).expect("a visible pixel");
    finer.0[at] ^= 1;
    assert_ne!(pixels(&base, Some(&finer)), pixels(&base, None), "a finer value");
    let mut hidden = base.clone();
    let at = (0..hidden.samples().len()).step_by(4).find(|at| hidden.samples()[at + 3] == 0).expect("a clear pixel");
    hidden.samples_mut()[at] ^= 255;
    assert_eq!(pixels(&hidden, None), pixels(&base, None), "under no alpha");
    hidden.samples_mut()[at + 3] = 1;
    assert_ne!(pixels(&hidden, None), pixels(&base, None));
}

fn sign(chance: &mut Chance) -> Vec<f32> {
    (0..LENGTH).map(|_| chance.unit() * chance.unit() * 60.0).collect()
}

fn look(tone: &[f32], drawing: &[f32]) -> Look {
    let whole = |values: &[f32]| Sign(values.iter().map(|v| v.round() as u8).collect());
    Look { repeat: Repeat::Block, copies: [1; 2], tone: whole(tone), drawing: whole(drawing) }
}

#[test]
fn the_search_finds_what_comparing_all_finds() {
    let mut chance = Chance::new(9);
    let mut all: Vec<Likeness> = Vec::new();
    for _ in 0..150 {
        let (tone, drawing) = (sign(&mut chance), sign(&mut chance));
        for _ in 0..4 {
            let mut near = |values: &[f32]| -> Vec<f32> {
                values.iter().map(|v| (v + chance.between(-1.5, 1.5)).clamp(0.0, 255.0)).collect()
            };
            let looks = vec![look(&near(&tone), &near(&drawing))];
            // Each in colors of its own: what is met is met for its waves.
            let colors =
                Shades([chance.whole(0, 255) as u8, (all.len() % 256) as u8, (all.len() / 256 * 99) as u8, 0, 0, 0]);
            all.push(Likeness { size: [1, 1], pixels: [0; 32], colors, looks });
        }
    }
    let found: Vec<(u32, u32)> = index::near(&all.iter().map(Some).collect::<Vec<_>>())
        .into_iter()
        .map(|near| (near.one.0, near.other.0))
        .collect();
    for i in 0..all.len() {
        for j in i + 1..all.len() {
            let (a, b) = (&all[i].looks[0], &all[j].looks[0]);
            let near = a.drawing.apart(&b.drawing) <= 600 && a.tone.apart(&b.tone) <= 600;
            assert_eq!(near, i / 4 == j / 4, "the clusters are what they are meant to be");
            assert!(!near || found.contains(&(i as u32, j as u32)), "{i} {j}");
        }
    }
}

#[test]
fn tiles_of_the_same_colors_are_proposed_after_all_others() {
    let mut chance = Chance::new(12);
    let works = [sign(&mut chance), sign(&mut chance), sign(&mut chance)];
    let made = |work: usize, colors: [u8; 6]| Likeness {
        size: [1, 1],
        pixels: [0; 32],
        colors: Shades(colors),
        looks: vec![look(&works[work], &works[work])],
    };
    // The third is the first in other waves, as a coder leaves them of a fine texture; the last differs by one code too much.
    let all = [
        made(0, [90, 80, 70, 255, 30, 30]),
        made(0, [10, 80, 70, 255, 30, 30]),
        made(1, [93, 78, 70, 255, 28, 30]),
        made(2, [94, 80, 70, 255, 30, 30]),
    ];
    let near = index::near(&all.iter().map(Some).collect::<Vec<_>>());
    let pairs: Vec<(u32, u32)> = near.iter().map(|near| (near.one.0, near.other.0)).collect();
    assert_eq!(pairs, [(0, 1), (2, 3), (0, 2)]);
}

#[test]
fn plain_drawings_are_one_in_other_colors_behind_a_lossy_coder_and_not_with_other_proportions() {
    let bars = |wide: u32, inks: [[u8; 4]; 2]| {
        let color = |at: u32| inks[usize::from(at % 60 < wide)];
        Raster::new(240, 240, (0..240 * 240).flat_map(|at| color(at % 240)).collect()).expect("a size")
    };
    let (blue, red) = ([[240, 236, 220, 255], [20, 40, 120, 255]], [[250, 220, 160, 255], [150, 30, 30, 255]]);
    let found = block(&bars(20, blue), &copies::jpeg(&bars(20, red), 85));
    assert_eq!(found.map(|found| found.colors), Some(Colors::Exchanged));
    assert_eq!(block(&bars(20, blue), &bars(25, red)), None);
    // A 60th of the repeat is hardly more than the fringe that a coder leaves around edges.
    assert_eq!(block(&bars(20, blue), &bars(21, red)), None);
    assert_eq!(block(&bars(20, blue), &copies::jpeg(&bars(21, red), 85)), None);
    let chevron = drawn("chevron", 512);
    let found = block(&chevron, &copies::jpeg(&copies::curved(&chevron, &mut Chance::new(512)), 85));
    assert_eq!(found.map(|found| found.colors), Some(Colors::Exchanged));
}

#[test]
fn what_a_reduction_makes_of_fine_strong_contrast_is_no_other_color() {
    // Light of black and white side by side is 50 %, which is code 188 and not the mean of codes (IEC 61966-2-1): a field of fine
    // checks gets lighter where it is softened by codes, and does not where it is reduced in light, as by Pillow's or libvips'
    // linear-light resampling.
    let color = |x: u32, y: u32| match (x < 150, (x / 2 + y / 2) % 2) {
        (true, 0) => [10, 20, 30, 255],
        (true, _) => [250, 240, 230, 255],
        (false, _) if x + y < 330 => [160, 60, 70, 255],
        (false, _) => [60, 90, 160, 255],
    };
    let base = Raster::new(300, 300, (0..90_000).flat_map(|at| color(at % 300, at / 300)).collect()).expect("a size");
    for by in [0.5, 0.61, 0.83] {
        let found = block(&base, &copies::scaled(&copies::moved(&base, 37, 11), by)).map(|found| found.colors);
        assert_eq!(found, Some(Colors::Same), "{by}");
    }
}

#[test]
fn threads_too_fine_for_the_grid_are_not_moved_in_a_part_of_a_twin() {
    // A twill of four pixels: in the upper half of the second it begins half a thread later.
    let twill = |later: u32| {
        let color = |x: u32, y: u32| if (x + y + if y < 120 { later } else { 0 }) % 4 < 2 { 90 } else { 170 };
        // Motifs by which the repeat is known.
        let motif = |x: u32, y: u32| if (x / 40 * 7 + y / 60 * 5 + x / 80 * y / 120) % 9 < 3 { 190 } else { 60 };
        let pixel = |x, y| [color(x, y), 120, motif(x, y), 255];
        let pixels = (0..480 * 480).flat_map(|at| pixel(at % 480, at / 480)).collect();
        Raster::new(480, 480, pixels).expect("a size")
    };
    let found = block(&twill(0), &copies::jpeg(&copies::moved(&twill(0), 31, 57), 70)).map(|found| found.colors);
    assert_eq!(found, Some(Colors::Same));
    assert_eq!(block(&twill(0), &twill(2)), None);
    assert_eq!(block(&twill(0), &copies::jpeg(&twill(2), 70)), None);
}

#[test]
fn nearly_black_art_is_one_drawing_in_light_colors() {
    for seed in [513, 514] {
        let base = drawn("dark", seed);
        let light = copies::exchanged(&base, &mut Chance::new(seed)).expect("few inks");
        assert_eq!(block(&base, &light).map(|found| found.colors), Some(Colors::Exchanged), "{seed}");
        assert_eq!(
            block(&base, &copies::exchanged(&drawn("dark", seed + 9), &mut Chance::new(seed)).expect("few")),
            None
        );
    }
}

#[test]
fn a_drawing_that_almost_comes_again_is_laid_where_every_pixel_is_equal() {
    for seed in 507..510 {
        let base = drawn("halftone", seed);
        let found = block(&base, &copies::moved(&base, 71, -33)).unwrap_or_else(|| panic!("{seed}"));
        assert_eq!((found.colors, found.confidence), (Colors::Equal, 100), "{seed}");
    }
}

#[test]
fn a_motif_edited_in_one_of_several_tiles_laid_side_by_side_is_seen() {
    for name in ["checks", "chevron", "tossed"] {
        let base = drawn(name, 511);
        let doubled = Raster::new(
            base.width() * 2,
            base.height(),
            (0..base.height()).flat_map(|y| [base.row(y), base.row(y)].concat()).collect(),
        )
        .expect("a size");
        let mut edited = base.clone();
        // A square of a 20th of the side, in the color that is farthest from what is there.
        let width = base.width() as usize;
        for y in 100..112 {
            for pixel in edited.samples_mut()[(y * width + 90) * 4..][..12 * 4].as_chunks_mut::<4>().0 {
                *pixel = [if pixel[0] > 127 { 0 } else { 255 }, if pixel[1] > 127 { 0 } else { 255 }, 128, 255];
            }
        }
        assert!(between((&base, Repeat::Block), (&doubled, Repeat::Brick)).is_some(), "{name}");
        assert_eq!(between((&edited, Repeat::Block), (&doubled, Repeat::Brick)), None, "{name}");
    }
}

#[test]
fn what_an_answer_settles_is_not_asked_again() {
    let mut chance = Chance::new(10);
    let drawing = sign(&mut chance);
    let tones = [sign(&mut chance), sign(&mut chance)];
    // Four tiles of one drawing, two in each coloring; the fifth is the second's file again.
    let likeness = |at: usize| Likeness {
        size: [at as u32 + 1, 1],
        pixels: [at as u8; 32],
        colors: Shades([at as u8 / 2 * 100; 6]),
        looks: vec![look(&tones[at / 2], &drawing)],
    };
    let all: Vec<Likeness> = (0..4).map(likeness).collect();
    let contents = [0, 1, 2, 3, 1].map(|at: u8| Content::of(&[at]));
    let members = contents
        .iter()
        .zip([0, 1, 2, 3, 1])
        .map(|(content, at)| Member { content: *content, likeness: Some(&all[at]) });
    let mut grouping = Grouping::new(members.collect());
    let mut asked = 0;
    while let Some(question) = grouping.question() {
        asked += 1;
        let same = question.one / 2 == question.other / 2;
        grouping.answer(Some(Relation {
            colors: if same { Colors::Same } else { Colors::Exchanged },
            turn: Turn::default(),
            shift: [0, 0],
            scale: 1000,
            repeats: [Repeat::Block; 2],
            confidence: 90,
        }));
    }
    assert_eq!(asked, 3, "two pairs of twins and one of colorways");
    let families = grouping.families();
    assert_eq!(families.len(), 1);
    assert_eq!(families[0].colorways, [vec![0, 1, 4], vec![2, 3]]);
    assert_eq!(families[0].pairs.len(), 4);
    assert!(families[0].pairs.iter().any(|pair| pair.link == Link::Bytes && pair.other == 4));
}

fn read(path: &Path) -> Raster {
    let bytes = std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    codec::decode(&bytes, &Limits::default(), Vec::new()).unwrap_or_else(|refusal| panic!("{}", refusal.says())).raster
}

/// Open painted papers, stones and grounds of Debian packages; `None`, after saying so, where they were not to be had.
fn open_images() -> Option<Vec<std::path::PathBuf>> {
    let real = desk::root().join("target/real/usr/share");
    let papers =
        ["A-Little-Exercise-1.JPG", "Waterhouse-Efficiency-Curve-2.JPG", "What-Goes-Up-3.JPG", "Hans-Ponders-5.JPG"];
    let grounds = ["grass01.png", "rock05.png", "pebbles01.png", "sand01.png"];
    let mut all: Vec<_> = papers.iter().map(|name| real.join("wallpapers").join(name)).collect();
    all.extend(grounds.iter().map(|name| real.join("games/etr/terrains").join(name)));
    all.extend(["stones.jpg", "rockwall.jpg"].map(|name| real.join("doc/libirrlicht-dev/media").join(name)));
    all.retain(|path| path.is_file());
    if all.is_empty() {
        use std::io::Write;
        writeln!(std::io::stderr(), "skipped: open images, since {} is not there", real.display()).expect("it is open");
        return None;
    }
    Some(all)
}

#[test]
fn open_images_are_known_again_after_pillow_had_them_and_are_nothing_to_each_other() {
    // propaganda-debian, extremetuxracer-data, libirrlicht-doc (GPL and zlib licenses), read from their packages. Pillow and
    // NumPy move, turn, recolor, scale and encode them: nothing of Burler's is used to make the copies. An ordinary perceptual
    // hash finds such copies with a precision of .341 and a recall of .079 (pHash on UKBench, manual of imagededup).
    let Some(images) = open_images() else { return };
    let program = "
import os, sys
import numpy as np
from PIL import Image
out = sys.argv[1]
for number, path in enumerate(sys.argv[2:]):
    chance = np.random.default_rng(number)
    image = Image.open(path).convert('RGB')
    pixels = np.asarray(image)
    height, width, _ = pixels.shape
    rolled = np.roll(pixels, (int(chance.integers(1, height)), int(chance.integers(1, width))), (0, 1))
    save = lambda name, picture, **more: picture.save(os.path.join(out, f'{number:02}-{name}'), **more)
    save('plain.png', image)
    save('moved.png', Image.fromarray(rolled))
    save('turned.png', Image.fromarray(np.rot90(rolled, int(chance.integers(1, 4)))))
    save('mirrored.png', Image.fromarray(np.fliplr(rolled)))
    save('coded.jpg', Image.fromarray(rolled), quality=50)
    save('half.png', image.resize((width // 2, height // 2), Image.Resampling.BOX))
    save('colors.png', Image.fromarray((255 * (rolled[:, :, [2, 0, 1]] / 255.0) ** 0.8).astype(np.uint8)))
";
    let folder = tempfile::tempdir().expect("a folder");
    let mut words = vec![folder.path().to_str().expect("a plain path")];
    words.extend(images.iter().map(|path| path.to_str().expect("a plain path")));
    desk::run_python(program, &words);
    // As Pillow decodes them: two decoders of one JPEG may differ by a level.
    let originals: Vec<Raster> =
        (0..images.len()).map(|number| read(&folder.path().join(format!("{number:02}-plain.png")))).collect();
    for (number, original) in originals.iter().enumerate() {
        for (name, colors) in [
            ("moved.png", Colors::Equal),
            ("turned.png", Colors::Equal),
            ("mirrored.png", Colors::Equal),
            ("coded.jpg", Colors::Same),
            ("half.png", Colors::Same),
            ("colors.png", Colors::Exchanged),
        ] {
            let copy = read(&folder.path().join(format!("{number:02}-{name}")));
            let found = block(original, &copy).map(|found| found.colors);
            assert_eq!(found, Some(colors), "{} {name}", images[number].display());
        }
        for (other, second) in originals.iter().enumerate().skip(number + 1) {
            assert_eq!(block(original, second), None, "{} {}", images[number].display(), images[other].display());
        }
    }
}
