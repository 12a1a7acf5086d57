//! What comes beside a mended or held file: the mended places before and after, and the partly mended copy.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod drawn;

use burler::codec::{self, Limits, picture};
use burler::finding::Verdict;
use burler::pipeline::{self, Order, Outcome, Product, Wants, mockup};
use burler::spec::{GroundDemand, Repeat, Spec};
use burler::tile::{Raster, Tile};
use drawn::{Thread, raster, thread_into};

fn outcome(raster: &Raster, per_inch: Option<f64>) -> Outcome {
    ordered(&picture::encode_png(raster, per_inch).unwrap())
}

fn ordered(bytes: &[u8]) -> Outcome {
    let spec = Spec { ground: GroundDemand::Opaque, repeat: Some(Repeat::None), ..Spec::default() };
    let wants = Wants { mend: true, mockups: true, held: true, ..Wants::default() };
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let order = Order { name: "dulse.png", spec: &spec, wants, mockup: &settings, limits: &limits, let_pass: None };
    pipeline::run(bytes, &order, Vec::new())
}

fn made(outcome: &Outcome, product: Product) -> Option<Tile> {
    let (_, bytes) = outcome.made.iter().find(|(made, _)| *made == product)?;
    Some(codec::decode(bytes, &Limits::default(), Vec::new()).unwrap())
}

const SEA: [u8; 4] = [20, 60, 90, 255];

fn sea() -> Raster {
    raster(300, 300, |_, _| SEA)
}

/// Where the enlarged panels of the first place begin on a picture of one place: its rows above the legend.
fn panels(picture: &Raster) -> ([u32; 2], [u32; 2]) {
    // The panel of the mended place is one even field 480 wide; its first row is the first that is.
    let field = |x: u32, y: u32| (0..480).all(|i| picture.pixel(x + i, y) == SEA);
    let (before, after) = (56, 1600 - 56 - 728);
    let top = (0..picture.height()).find(|y| field(after, *y)).expect("an even field");
    ([before, top], [after, top])
}

#[test]
fn a_mended_line_shows_the_checker_before_and_the_art_after() {
    let mut art = sea();
    let level = Thread { angle: 0.0, off: 0.0, wide: 2.0, alpha: 0.4, part: (-999.0, 999.0) };
    thread_into(&mut art, &[level], false);
    let outcome = outcome(&art, Some(300.0));
    assert_eq!(outcome.ticket.verdict, Verdict::Mended);
    let tile = made(&outcome, Product::BeforeAfter).expect("before and after");
    assert!((tile.meta.resolution.unwrap().x - 200.0).abs() < 0.03, "print size is true at 200 per inch");
    let (before, after) = panels(&tile.raster);
    // 60 x 50 tile pixels at eight times, the line in the middle; a pixel is a plain square, the checker 16 wide behind it.
    let at = |[x, y]: [u32; 2], column: u32, row: u32| tile.raster.pixel(x + column * 8 + 4, y + row * 8 + 4);
    let see_through: Vec<u32> = (0..50).filter(|row| at(before, 5, *row) != SEA).collect();
    assert_eq!(see_through.len(), 2, "{see_through:?}");
    assert!((24..27).contains(&see_through[0]));
    for row in see_through {
        let light = [at(before, 4, row), at(before, 6, row)];
        assert_ne!(light[0], light[1], "two squares of the checker");
        assert!(light.iter().all(|color| color[0] > SEA[0] && color[2] > SEA[2]), "{light:?}");
    }
    assert!((0..50).all(|row| (0..60).all(|column| at(after, column, row) == SEA)), "the line is gone");
}

#[test]
fn every_mended_place_is_shown_up_to_a_dozen_and_the_rest_counted() {
    let heights = |lines: u32| {
        let art = raster(300, 300, |x, y| {
            let on_line = x % 20 == 3 && x / 20 < lines && (40..260).contains(&y);
            [20, 60, 90, if on_line { 120 } else { 255 }]
        });
        made(&outcome(&art, None), Product::BeforeAfter).expect("before and after").raster.height()
    };
    let place = heights(2) - heights(1);
    assert_eq!(place, 492);
    assert_eq!(heights(3) - heights(1), 2 * place);
    // Twelve places, and a line of text.
    let rest = heights(14) - heights(1) - 11 * place;
    assert!((40..50).contains(&rest), "{rest}");
}

#[test]
fn two_see_through_edges_are_two_places() {
    let edges = |right: bool| {
        let see_through = |x: u32, y: u32| y == 299 || (right && x == 299);
        let art = raster(300, 300, |x, y| [20, 60, 90, if see_through(x, y) { 120 } else { 255 }]);
        let outcome = outcome(&art, Some(300.0));
        assert!(outcome.ticket.findings.iter().all(|finding| finding.kind.name() == "alpha.fringe"));
        made(&outcome, Product::BeforeAfter).expect("before and after").raster.height()
    };
    assert_eq!(edges(true) - edges(false), 492);
}

#[test]
fn a_tag_alone_has_no_before_and_after() {
    let bytes = picture::encode_png(&sea(), Some(72.0)).unwrap();
    let spec = Spec { resolution: Some(300.0), repeat: Some(Repeat::None), ..Spec::default() };
    let spec = Spec {
        width: Some(burler::spec::Length::Pixels(300)),
        height: Some(burler::spec::Length::Pixels(300)),
        ..spec
    };
    let wants = Wants { mend: true, mockups: true, ..Wants::default() };
    let (settings, limits) = (mockup::Settings::default(), Limits::default());
    let order = Order { name: "dulse.png", spec: &spec, wants, mockup: &settings, limits: &limits, let_pass: None };
    let outcome = pipeline::run(&bytes, &order, Vec::new());
    assert_eq!(outcome.ticket.verdict, Verdict::Mended, "{:?}", outcome.ticket.findings);
    assert!(made(&outcome, Product::BeforeAfter).is_none() && made(&outcome, Product::Repeat).is_some());
}

/// A line and a hole: held, and the copy beside the picture has the line mended, the hole and all else as they were.
#[test]
fn a_held_tile_with_a_line_gets_a_partly_mended_copy_and_stays_as_it_is() {
    let mut art = sea();
    let level = Thread { angle: 90.0, off: 60.0, wide: 2.0, alpha: 0.4, part: (-999.0, 999.0) };
    let laid = thread_into(&mut art, &[level], false);
    for (x, y) in (100..112).flat_map(|y| (30..50).map(move |x| (x, y))) {
        art.samples_mut()[(y * 300 + x) * 4 + 3] = 0;
    }
    let outcome = outcome(&art, Some(300.0));
    assert_eq!(outcome.ticket.verdict, Verdict::Held);
    let products: Vec<Product> = outcome.made.iter().map(|(product, _)| *product).collect();
    assert_eq!(products, [Product::PartlyMended, Product::Held]);
    let copy = made(&outcome, Product::PartlyMended).unwrap();
    for (at, (was, is)) in
        (0..).zip(art.samples().as_chunks::<4>().0.iter().zip(copy.raster.samples().as_chunks::<4>().0))
    {
        let (x, y) = (at % 300, at / 300);
        assert_eq!(*is, if laid.contains(x, y) { SEA } else { *was }, "{x}, {y}");
    }
    let told: Vec<&str> = outcome.ticket.findings.iter().map(|finding| finding.remedy.as_str()).collect();
    let mended = "nothing: it is mended in the partly mended copy, which you can go on with";
    assert_eq!(told, ["fill what is empty and export again", mended]);
    // The held picture shows the tile as it is: the tile itself was put back.
    assert_eq!(outcome.reuse, art.samples());
}

/// An animation is told and never mended, not even partly (the format's frames: PNG third edition, 11.3.6).
#[test]
fn an_animation_with_a_line_is_held_and_nothing_is_mended() {
    let mut art = sea();
    thread_into(&mut art, &[Thread { angle: 0.0, off: 0.0, wide: 2.0, alpha: 0.4, part: (-999.0, 999.0) }], false);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 300, 300);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_animated(2, 0).unwrap();
    let mut writer = encoder.write_header().unwrap();
    for _ in 0..2 {
        writer.write_image_data(art.samples()).unwrap();
    }
    writer.finish().unwrap();
    let outcome = ordered(&bytes);
    assert_eq!(outcome.ticket.verdict, Verdict::Held, "{:?}", outcome.ticket.findings);
    assert!(outcome.ticket.findings.iter().any(|finding| finding.kind.name() == "alpha.hairline"));
    assert!(made(&outcome, Product::PartlyMended).is_none() && made(&outcome, Product::Mended).is_none());
}
