//! The lists of an order sheet that loosen or tighten a rule by name, over the whole pipeline.

use burler::codec::{self, Limits};
use burler::finding::{Finding, Grade, Kind, Verdict};
use burler::pipeline::{Order, Outcome, Product, Wants, mockup, run};
use burler::spec::Spec;
use burler::tile::Raster;

/// A plain tile with a see-through line across it, as PNG.
fn with_hairline() -> Vec<u8> {
    let mut rgba = [40, 90, 120, 255].repeat(64 * 64);
    for pixel in rgba[64 * 4 * 30..64 * 4 * 31].chunks_exact_mut(4) {
        pixel[3] = 190;
    }
    let raster = Raster::new(64, 64, rgba).expect("64 x 64 pixels");
    codec::picture::encode_png(&raster, None).expect("a small picture")
}

fn judged(spec: &Spec) -> Outcome {
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let wants = Wants { mend: true, ..Wants::default() };
    run(
        &with_hairline(),
        &Order { name: "dulse.png", spec, wants, mockup: &settings, limits: &limits, let_pass: None },
        Vec::new(),
    )
}

fn hairline(outcome: &Outcome) -> &Finding {
    outcome.ticket.findings.iter().find(|finding| finding.kind == Kind::AlphaHairline).expect("a finding")
}

fn mended(outcome: &Outcome) -> bool {
    outcome.made.iter().any(|(product, _)| *product == Product::Mended)
}

#[test]
fn a_hairline_is_mended_unless_a_list_says_otherwise() {
    let plain = judged(&Spec::default());
    assert_eq!((plain.ticket.verdict, hairline(&plain).grade), (Verdict::Mended, Grade::Mend));
    assert!(mended(&plain));

    let told = judged(&Spec { tell: vec![Kind::AlphaHairline], ..Spec::default() });
    assert_eq!((told.ticket.verdict, hairline(&told).grade), (Verdict::Sound, Grade::Advice));
    assert!(!mended(&told) && !hairline(&told).silenced);
    assert!(hairline(&told).remedy.ends_with("told and not mended"), "{}", hairline(&told).remedy);

    let held = judged(&Spec { hold: vec![Kind::AlphaHairline], ..Spec::default() });
    assert_eq!((held.ticket.verdict, hairline(&held).grade), (Verdict::Held, Grade::Fault));
    assert!(!mended(&held));
    assert!(!hairline(&held).remedy.contains("is mended"), "{}", hairline(&held).remedy);

    let silent = judged(&Spec { silence: vec![Kind::AlphaHairline], ..Spec::default() });
    assert_eq!((silent.ticket.verdict, hairline(&silent).silenced), (Verdict::Sound, true));
    assert!(!mended(&silent));
}

#[test]
fn every_list_is_part_of_the_digest() {
    let kinds = vec![Kind::UnitStray];
    let specs = [
        Spec::default(),
        Spec { silence: kinds.clone(), ..Spec::default() },
        Spec { tell: kinds.clone(), ..Spec::default() },
        Spec { hold: kinds, ..Spec::default() },
        Spec { colors: Some(6), ..Spec::default() },
        Spec { viewing: Some(2000.0), ..Spec::default() },
    ];
    let digests: std::collections::BTreeSet<String> = specs.iter().map(Spec::digest).collect();
    assert_eq!(digests.len(), specs.len());
}
