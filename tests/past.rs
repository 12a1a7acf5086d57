//! A lossy past is seen in the pixels: tiles through a JPEG and back, as a file that tells nothing of it.
mod art;

use art::past::{Save, through_jpeg_to_png};
use art::{STYLES, chance::Chance};
use burler::finding::Verdict;
use burler::pipeline::check;
use burler::pipeline::check::joint::past::lossy;
use burler::spec::{Ground, Repeat, Spec};

fn each(mut look: impl FnMut(&'static art::Style, u64, burler::tile::Raster)) {
    for style in STYLES.iter().filter(|style| style.ground == Ground::Opaque && style.name != "plain") {
        for seed in 0..4 {
            look(style, seed, art::drawn(style, Repeat::Block, seed ^ style.number(), 300, 331));
        }
    }
}

#[test]
fn traces_are_seen_in_most_jpegs_and_in_no_other_art() {
    let (mut of, mut seen, mut told) = (0, 0, Vec::new());
    each(|style, seed, raster| {
        if lossy(&raster) {
            told.push(format!("{} {seed}", style.name));
        }
        let save = Save { quality: [60, 75, 85, 92][seed as usize], halved: seed % 2 == 0 };
        of += 1;
        let past = lossy(&through_jpeg_to_png(&raster, save).raster);
        seen += u32::from(past);
    });
    assert!(told.is_empty(), "{told:?}");
    // High quality with whole chroma leaves next to nothing to see, and next to nothing at the joint.
    assert!(seen * 10 >= of * 6, "{seen} of {of}");
}

#[test]
fn a_sound_tile_with_a_lossy_past_is_sound() {
    let mut held = Vec::new();
    each(|style, seed, raster| {
        let save = Save::any(&mut Chance::new(seed + 77));
        let judgment = check::judge(&through_jpeg_to_png(&raster, save), &Spec::default());
        if judgment.verdict == Verdict::Held {
            held.push(format!(
                "{} {seed} {save:?}: {:?}",
                style.name,
                judgment.findings.iter().map(|f| &f.says).collect::<Vec<_>>()
            ));
        }
    });
    assert!(held.len() <= 2, "{} held: {held:#?}", held.len());
}
