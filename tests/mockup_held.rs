//! The held picture: frames where something was found, the faults enlarged, words for what has no place.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod desk;

use burler::finding::{Area, Finding, Grade, Kind};
use burler::pipeline::mockup::held::{HeldView, picture, without_pixels};
use burler::spec::{Length, Repeat, Spec};
use burler::tile::{Channels, Content, Format, Meta, Profile, Raster, Resolution, Tile};
use proptest::prelude::*;

const GROUND: [u8; 4] = [196, 205, 190, 255];

fn tile(raster: Raster, per_inch: Option<f64>) -> Tile {
    let meta = Meta {
        format: Format::Png,
        bytes: 1000,
        channels: Channels::Rgba,
        bit_depth: 8,
        resolution: per_inch.map(|per_inch| Resolution { x: per_inch, y: per_inch, quantum: 0.03 }),
        profile: Profile::Srgb,
        interlaced: false,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Tile { raster, deep: None, meta, content: Content::of(b"held") }
}

fn raster(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
    let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    Raster::new(width, height, places.flat_map(|(x, y)| pixel(x, y)).collect()).unwrap()
}

fn finding(kind: Kind, grade: Grade, boxes: &[[u32; 4]]) -> Finding {
    Finding {
        kind,
        grade,
        silenced: false,
        boxes: boxes.iter().copied().map(Area::from).collect(),
        measure: None,
        says: "the sea shows through, 1.0 in from the top".into(),
        remedy: "fill it in your art and export again".into(),
    }
}

fn held(tile: &Tile, findings: &[Finding], repeat: Repeat) -> Raster {
    let spec = Spec::default();
    let view = HeldView { tile, name: "dulse-lattice.png", findings, repeat, spec: &spec, let_pass: true };
    decoded(&picture(&view).unwrap())
}

fn decoded(bytes: &[u8]) -> Raster {
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
    let (width, height) = (reader.info().width, reader.info().height);
    let mut rgb = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut rgb).unwrap();
    Raster::new(width, height, rgb.chunks_exact(3).flat_map(|p| [p[0], p[1], p[2], 255]).collect()).unwrap()
}

/// The first column of the map, and its first row, found by the ground's color.
fn map_corner(picture: &Raster) -> (u32, u32) {
    let y = (0..picture.height()).find(|&y| picture.pixel(816 + 700, y) == GROUND).expect("the map shows");
    (816, y)
}

/// Counts pixels of a color in columns and rows.
fn count(picture: &Raster, color: [u8; 4], [left, top, right, bottom]: [u32; 4]) -> usize {
    (top..bottom)
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .filter(|&(x, y)| picture.pixel(x, y) == color)
        .count()
}

#[test]
fn each_box_has_a_white_frame_inside_a_black_one_and_stays_untouched() {
    // 728 px: the map is pixel for pixel. Boxes of at least 36 px are framed as they are.
    let boxes = [[100, 150, 60, 50], [500, 300, 40, 120], [300, 600, 36, 36]];
    let tile = tile(raster(728, 728, |_, _| GROUND), Some(300.0));
    let findings = boxes.map(|area| finding(Kind::AlphaGap, Grade::Fault, &[area]));
    let picture = held(&tile, &findings, Repeat::Block);
    let (left, top) = map_corner(&picture);
    for [x, y, width, height] in boxes {
        let (x, y) = (left + x, top + y);
        assert_eq!(count(&picture, GROUND, [x, y, x + width, y + height]), (width * height) as usize);
        // The right and lower sides: a badge covers the upper left corner.
        for i in 0..8 {
            let frame = if i < 4 { [255; 4] } else { [0, 0, 0, 255] };
            for along in 0..height {
                assert_eq!(picture.pixel(x + width + i, y + along), frame, "right of {x}, {y} at {i}");
            }
            for along in 0..width {
                assert_eq!(picture.pixel(x + along, y + height + i), frame, "below {x}, {y} at {i}");
            }
        }
        assert_eq!(picture.pixel(x + width + 8, y + 20), GROUND);
        let badge = [x - 22 - 27, y - 22 - 27, x - 22 + 28, y - 22 + 28];
        assert!(count(&picture, [0, 0, 0, 255], badge) > 900, "a badge at {x}, {y}");
        assert!(count(&picture, [255; 4], badge) > 200, "its number and ring");
    }
}

#[test]
fn a_speck_gets_a_frame_that_can_be_seen() {
    let tile = tile(raster(3640, 3640, |_, _| GROUND), Some(300.0));
    let picture = held(&tile, &[finding(Kind::AlphaSpeck, Grade::Fault, &[[1500, 2000, 1, 1]])], Repeat::Block);
    let (left, top) = map_corner(&picture);
    // 3640 to 728 px: a fifth.
    let (x, y) = (left + 300, top + 400);
    // 36 px around the speck: 17 before it, 18 after it.
    for (x, y) in [(x - 17, y + 10), (x + 18, y), (x, y + 18)] {
        assert_eq!(picture.pixel(x, y), GROUND);
    }
    for (x, y) in [(x - 18, y + 10), (x + 19, y), (x, y + 19)] {
        assert_eq!(picture.pixel(x, y), [255; 4]);
    }
    for (x, y) in [(x - 22, y + 10), (x + 23, y), (x, y + 23)] {
        assert_eq!(picture.pixel(x, y), [0, 0, 0, 255]);
    }
    assert_eq!(picture.pixel(x, y), GROUND);
}

#[test]
fn a_joint_is_shown_where_the_edges_meet() {
    let [green, red] = [[60, 140, 80, 255], [180, 60, 50, 255]];
    // Left half green, right half red: moved by half, red lies left and green right, and they meet in the middle.
    let halves = tile(raster(728, 728, |x, _| if x < 364 { green } else { red }), None);
    let joint = finding(Kind::JointBreak, Grade::Fault, &[[0, 500, 2, 100], [726, 500, 2, 100]]);
    let picture = held(&halves, std::slice::from_ref(&joint), Repeat::Block);
    let (left, top) = (816, (0..picture.height()).find(|&y| picture.pixel(816 + 700, y) == green).unwrap());
    for (x, color) in [(20, red), (363, red), (364, green), (700, green)] {
        // Inside the frame around row 500 - 364 and outside of it.
        assert_eq!(picture.pixel(left + x, top + 150), color, "column {x}");
        assert_eq!(picture.pixel(left + x, top + 400), color, "column {x}");
    }
    // The frame is at least 36 px wide and centered on the joint.
    for (x, color) in
        [(364 - 21, [255; 4]), (364 - 25, [0, 0, 0, 255]), (364 + 21, [255; 4]), (364 + 25, [0, 0, 0, 255])]
    {
        assert_eq!(picture.pixel(left + x, top + 200), color, "column {x}");
    }
    // Enlarged 8 times, the same joint runs down the panel below: 45 of its 91 columns lie left of it.
    let panel_rows: Vec<u32> = (top + 760..picture.height())
        .filter(|&y| picture.pixel(56 + 20, y) == red && picture.pixel(56 + 700, y) == green)
        .collect();
    assert_eq!(panel_rows.len(), 400);
    let y = panel_rows[0] + 200;
    assert_eq!((picture.pixel(56 + 359, y), picture.pixel(56 + 360, y)), (red, green));

    // Upper half green, lower half red: as half-drop the right column is lowered by half, so colors face their opposites.
    let bands = tile(raster(728, 728, |_, y| if y < 364 { green } else { red }), None);
    let picture = held(&bands, &[joint], Repeat::HalfDrop);
    let top = (0..picture.height()).find(|&y| picture.pixel(816 + 700, y) == green).unwrap();
    assert_eq!((picture.pixel(816 + 200, top + 20), picture.pixel(816 + 600, top + 20)), (red, green));
    assert_eq!((picture.pixel(816 + 200, top + 300), picture.pixel(816 + 600, top + 300)), (green, red));
}

#[test]
fn a_hole_shows_the_checker_when_enlarged_and_white_paper_at_print_size() {
    let hole = |x: u32, y: u32| (400..440).contains(&x) && (300..340).contains(&y);
    let tile = tile(raster(728, 728, |x, y| if hole(x, y) { [0; 4] } else { GROUND }), Some(200.0));
    let picture = held(&tile, &[finding(Kind::AlphaGap, Grade::Fault, &[[400, 300, 40, 40]])], Repeat::Block);
    let (_, top) = map_corner(&picture);
    let below = [top + 760, picture.height() - 100];
    // 40 px fit half the panel 4 times enlarged: 160 x 160 of checker, half of each gray.
    let gray = count(&picture, [212, 212, 212, 255], [56, below[0], 784, below[1]]);
    assert!((12_000..=13_600).contains(&gray), "{gray}");
    // At 200 per inch print size is pixel for pixel: 40 x 40 of white on the right, and no gray.
    assert_eq!(count(&picture, [212, 212, 212, 255], [816, below[0], 1544, below[1]]), 0);
    let rows = (below[0]..below[1]).filter(|&y| picture.pixel(816 + 3, y) == GROUND);
    let rows: Vec<u32> = rows.collect();
    assert_eq!(rows.len(), 400);
    let middle = rows[0] + 200;
    // The enlarged panel starts at 329, 270 of the tile: the hole at 284, framed with two tile pixels around it.
    for (x, color) in [(277, GROUND), (274, [255; 4]), (270, [0, 0, 0, 255]), (266, GROUND)] {
        assert_eq!(picture.pixel(56 + x, middle), color, "left of the enlarged hole at {x}");
    }
    assert_eq!(count(&picture, [255; 4], [816 + 344, middle - 20, 816 + 384, middle + 20]), 1600);
    assert_eq!(picture.pixel(816 + 343, middle), GROUND);
}

#[test]
fn sentences_and_the_way_out_are_written() {
    let tile = tile(raster(400, 400, |_, _| GROUND), Some(300.0));
    let one = vec![finding(Kind::AlphaGap, Grade::Fault, &[[10, 10, 20, 20]])];
    let spec = Spec::default();
    let view =
        HeldView { tile: &tile, name: "a.png", findings: &one, repeat: Repeat::Block, spec: &spec, let_pass: true };
    let shown = decoded(&picture(&view).unwrap());
    let dark = |picture: &Raster, area: [u32; 4]| count(picture, [17, 17, 17, 255], area);
    assert!(dark(&shown, [56, 40, 1544, 110]) > 300, "the name");
    assert!(dark(&shown, [56, 180, 784, 500]) > 3000, "what is wrong and what to do");
    let end = shown.height();
    assert!(dark(&shown, [56, end - 110, 1544, end - 30]) > 1000, "how to say that it is meant");
    let without = decoded(&picture(&HeldView { let_pass: false, ..view }).unwrap());
    assert!(without.height() < end);

    // Silenced findings are as if they were not there; what Burler mends is told without a number.
    let mut silenced = one.clone();
    silenced.push(Finding { silenced: true, ..finding(Kind::JointBreak, Grade::Fault, &[[0, 0, 2, 400]]) });
    assert_eq!(picture(&HeldView { findings: &silenced, ..view }).unwrap(), picture(&view).unwrap());
    let mut mended = one.clone();
    mended.push(finding(Kind::AlphaHairline, Grade::Mend, &[[0, 200, 400, 2]]));
    let shown_mended = decoded(&picture(&HeldView { findings: &mended, ..view }).unwrap());
    let black = |picture: &Raster| count(picture, [0, 0, 0, 255], [800, 0, 1600, picture.height()]);
    assert_eq!(black(&shown), black(&shown_mended));
    assert_ne!(shown, shown_mended);
}

#[test]
fn a_wrong_size_is_drawn_beside_the_wanted_one() {
    let tile = tile(raster(300, 600, |_, _| GROUND), Some(300.0));
    let findings = [finding(Kind::SizePixels, Grade::Fault, &[])];
    let spec = Spec { width: Some(Length::Pixels(600)), height: Some(Length::Millimeters(50.8)), ..Spec::default() };
    let view = HeldView {
        tile: &tile,
        name: "a.png",
        findings: &findings,
        repeat: Repeat::Block,
        spec: &spec,
        let_pass: true,
    };
    let shown = decoded(&picture(&view).unwrap());
    // Both to one scale, 240 px high: 120 px wide with the tile in it, and 240 px wide and white.
    let own = count(&shown, GROUND, [56, 300, 420, shown.height()]);
    assert_eq!(own, 120 * 240);
    let row = (300..shown.height()).find(|&y| shown.pixel(56 + 60, y) == GROUND).unwrap() + 100;
    let ruled = |x: u32| shown.pixel(x, row) == [17, 17, 17, 255];
    assert!(ruled(420 - 2) && ruled(420 + 240 + 1) && !ruled(420 + 120));
    // Without a demand there is nothing to compare with.
    let spec = Spec::default();
    let plain = decoded(&picture(&HeldView { spec: &spec, ..view }).unwrap());
    assert_eq!(count(&plain, GROUND, [56, 300, 420, plain.height()]), 0);
}

#[test]
fn pillow_reads_its_size_and_resolution() {
    let folder = tempfile::tempdir().unwrap();
    let mut paths = Vec::new();
    for (name, per_inch) in [("known", Some(300.0)), ("unknown", None)] {
        let tile = tile(raster(500, 900, |x, y| [x as u8, y as u8, 40, 255]), per_inch);
        let findings = [finding(Kind::AlphaGap, Grade::Fault, &[[3, 3, 9, 9]])];
        let spec = Spec::default();
        let view =
            HeldView { tile: &tile, name, findings: &findings, repeat: Repeat::Brick, spec: &spec, let_pass: true };
        let path = folder.path().join(name);
        std::fs::write(&path, picture(&view).unwrap()).unwrap();
        paths.push(path.to_str().unwrap().to_string());
    }
    let program = "import sys\nfrom PIL import Image\nfor p in sys.argv[1:]:\n    im = Image.open(p)\n    im.load()\n    \
        print(im.format, im.mode, im.width, 800 < im.height < 3000, round(im.info.get('dpi', (0, 0))[0], 3))";
    let said = desk::run_python(program, &paths.iter().map(String::as_str).collect::<Vec<_>>());
    // PNG third edition, 11.3.4.3: 7874 pixels per meter are 199.9996 per inch.
    assert_eq!(said.lines().collect::<Vec<_>>(), ["PNG RGB 1600 True 200.0", "PNG RGB 1600 True 0"]);
}

#[test]
fn many_findings_stay_a_picture_that_can_be_looked_at() {
    let tile = tile(raster(900, 900, |_, _| GROUND), Some(300.0));
    let findings: Vec<Finding> = (0..60_u32)
        .map(|i| {
            let boxes: Vec<[u32; 4]> =
                (0..64).map(|k| [(k * 97 + i * 13) % 890, (k * 53 + i * 7) % 890, 5, 5]).collect();
            Finding {
                says: "see-through ".repeat(80),
                remedy: "fill it ".repeat(80),
                ..finding(Kind::AlphaGap, Grade::Fault, &boxes)
            }
        })
        .collect();
    let shown = held(&tile, &findings, Repeat::Block);
    assert_eq!(shown.width(), 1600);
    assert!(shown.height() < 12_000, "{}", shown.height());
}

#[test]
fn without_pixels_there_are_words() {
    let findings = [finding(Kind::FileTruncated, Grade::Fault, &[])];
    let shown = decoded(&without_pixels("dulse\nlattice\u{202e}.png", &findings).unwrap());
    assert_eq!(shown.width(), 1600);
    assert!(count(&shown, [17, 17, 17, 255], [56, 0, 1544, shown.height()]) > 5000);
    assert!(decoded(&without_pixels("", &[]).unwrap()).height() > 56);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]

    #[test]
    fn any_boxes_any_name_and_any_repeat_give_a_picture(
        width in 1_u32..90, height in 1_u32..90, which in 0_usize..8, kind in 0_usize..21, name in ".{0,80}",
        boxes in proptest::collection::vec(proptest::array::uniform4(prop_oneof![0_u32..100, Just(u32::MAX)]), 0..12),
        per_inch in proptest::option::of(prop_oneof![Just(0.0), Just(1e12), 1.0..1200.0]),
    ) {
        let tile = tile(raster(width, height, |x, y| [x as u8, y as u8, 9, (x * y) as u8]), per_inch);
        let findings = [finding(Kind::ALL[kind], Grade::Fault, &boxes)];
        let spec = Spec { height: Some(Length::Millimeters(20.0)), ..Spec::default() };
        let repeat = Repeat::ALL[which];
        let view = HeldView { tile: &tile, name: &name, findings: &findings, repeat, spec: &spec, let_pass: true };
        let bytes = picture(&view).unwrap();
        prop_assert_eq!(decoded(&bytes).width(), 1600);
    }
}
