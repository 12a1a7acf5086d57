//! What is written back: the same pixels to every reader, everything else carried over, the same bytes every time.

mod desk;

use burler::codec::{self, EncodeError, Limits, chunks};
use burler::tile::{Profile, Tile};
use std::collections::HashMap;
use std::fs;
use std::path::Path;

fn decode(bytes: &[u8]) -> Tile {
    codec::decode(bytes, &Limits::default(), Vec::new()).expect("a whole picture")
}

/// Makes every partial pixel opaque, as a mend does, in both views.
fn fill(tile: &mut Tile) {
    for pixel in tile.raster.samples_mut().chunks_exact_mut(4).filter(|pixel| pixel[3] > 0) {
        pixel[3] = 255;
    }
    for pixel in tile.deep.iter_mut().flat_map(|deep| deep.0.chunks_exact_mut(4)).filter(|pixel| pixel[3] > 0) {
        pixel[3] = u16::MAX;
    }
}

fn keep(folder: &Path, name: &str, written: &[u8], tile: &Tile) {
    fs::write(folder.join(format!("{name}.png")), written).expect("a writable folder");
    match &tile.deep {
        Some(deep) => {
            let bytes: Vec<u8> = deep.0.iter().flat_map(|sample| sample.to_le_bytes()).collect();
            fs::write(folder.join(format!("{name}.rgba16")), bytes).expect("a writable folder");
        }
        None => fs::write(folder.join(format!("{name}.rgba8")), tile.raster.samples()).expect("a writable folder"),
    }
}

/// Lets other readers look at all PNG files of a folder; yields their color type, depth and chunks by name.
fn others_agree(folder: &Path) -> HashMap<String, (u8, u8, String)> {
    let listing = desk::run_python(include_str!("codec/written.py"), &[folder.to_str().expect("a plain path")]);
    let line = |line: &str| {
        let fields: Vec<&str> = line.split(' ').collect();
        let [name, color, depth, names] = fields[..].try_into().expect("four words");
        let number = |text: &str| text.parse().expect("a number");
        (name.to_string(), (number(color), number(depth), names.to_string()))
    };
    listing.lines().map(line).collect()
}

/// Every kind of PNG, filled and written, reads the same to Pillow (up to 8 bits) and to a reader written from the
/// standard (16 bits), in the layout it came in.
#[test]
fn every_kind_of_png_is_written_so_that_others_read_the_same() {
    let (from, to) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let at = from.path().to_str().expect("a plain path");
    let listing = desk::run_python(include_str!("codec/png_kinds.py"), &[at]);
    let mut layouts = HashMap::new();
    for name in listing.lines().filter_map(|line| line.split(' ').next()) {
        let original = fs::read(from.path().join(format!("{name}.png"))).expect("written");
        let mut tile = decode(&original);
        fill(&mut tile);
        let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
        let back = decode(&written);
        assert!(back.raster == tile.raster && back.deep == tile.deep, "{name}: other pixels");
        assert_eq!(codec::metadata_kept(&original, &written, &[]), Ok(()), "{name}");
        keep(to.path(), name, &written, &tile);
        layouts.insert(name.to_string(), (original[25], original[24], original.windows(4).any(|part| part == b"tRNS")));
    }
    let seen = others_agree(to.path());
    assert_eq!(seen.len(), layouts.len());
    for (name, (color, depth, _)) in seen {
        let (old_color, old_depth, clear) = layouts[&name];
        let expected = match (old_color, clear) {
            // One clear color becomes alpha.
            (0, true) => (4, old_depth.max(8)),
            (2, true) => (6, old_depth),
            (3, _) => (3, old_depth),
            (color, _) => (color, old_depth.max(8)),
        };
        assert_eq!((color, depth), expected, "{name}");
    }
}

/// A palette with no room for the new colors becomes RGBA; with room it stays.
#[test]
fn a_palette_stays_while_its_colors_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut data = Vec::new();
    for y in 0..17u16 {
        data.push(0);
        data.extend((0..16).map(|x| (y * 16 + x).min(254) as u8));
    }
    let palette: Vec<u8> = (0..=255u8).flat_map(|index| [index, 255 - index, index / 2]).collect();
    let header = [0, 0, 0, 16, 0, 0, 0, 17, 8, 3, 0, 0, 0];
    let original = png(&[(b"IHDR", &header), (b"PLTE", &palette), (b"IDAT", &deflate(&data)), (b"IEND", &[])]);
    let mut tile = decode(&original);
    // All 256 places are taken, and the last one never occurs; now the second and third do not occur either.
    tile.raster.samples_mut()[4..8].copy_from_slice(&[0, 255, 0, 255]);
    tile.raster.samples_mut()[8..12].copy_from_slice(&[1, 2, 3, 9]);
    let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
    assert_eq!(written[25], 3, "the new color takes the place of one that no longer occurs");
    assert_eq!(decode(&written).raster.samples(), tile.raster.samples());
    keep(folder.path(), "room", &written, &tile);
    for (index, pixel) in (0..=255u8).chain(0..=255).zip(tile.raster.samples_mut().chunks_exact_mut(4)) {
        pixel[..2].copy_from_slice(&[index, 77]);
    }
    tile.raster.samples_mut()[257 * 4] = 200;
    let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
    assert_eq!(written[25], 6, "more than 256 colors");
    assert_eq!(decode(&written).raster.samples(), tile.raster.samples());
    keep(folder.path(), "full", &written, &tile);
    others_agree(folder.path());
}

fn png(parts: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
    let mut file = chunks::SIGNATURE.to_vec();
    parts.iter().for_each(|(name, data)| file.extend(chunks::build(**name, data)));
    file
}

fn deflate(data: &[u8]) -> Vec<u8> {
    let mut coder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    std::io::Write::write_all(&mut coder, data).expect("memory");
    coder.finish().expect("memory")
}

fn list(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let walk = chunks::walk(bytes).expect("a PNG");
    walk.filter(|chunk| &chunk.name != b"IDAT").map(|chunk| (chunk.title(), chunk.data().to_vec())).collect()
}

/// A small RGBA picture with one chunk of every sort an editor may meet (PNG third edition, 11.3 and 14.2). `ofTs` is
/// private and safe to copy, `ofTS` is private and not.
fn laden() -> Vec<u8> {
    let header = [0, 0, 0, 2, 0, 0, 0, 2, 8, 6, 0, 0, 0];
    let rows = [0, 9, 8, 7, 255, 6, 5, 4, 100, 0, 3, 2, 1, 0, 1, 2, 3, 254];
    let exif = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x01\0\0\0\0\0\0\0";
    png(&[
        (b"IHDR", &header),
        (b"iCCP", &[b"mine\0\0".as_slice(), &deflate(&[7; 200])].concat()),
        (b"gAMA", &45_455u32.to_be_bytes()),
        (b"cHRM", &[0; 32]),
        (b"cICP", &[1, 13, 0, 1]),
        (b"sBIT", &[8, 8, 8, 8]),
        (b"PLTE", &[1, 2, 3]),
        (b"hIST", &[0, 1]),
        (b"bKGD", &[0, 1, 0, 2, 0, 3]),
        (b"pHYs", &[0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1]),
        (b"eXIf", exif),
        (b"tEXt", b"Title\0Oddfathom: dulse lattice"),
        (b"ofTs", b"kept"),
        (b"ofTS", b"not kept"),
        (b"IDAT", &deflate(&rows)),
        (b"zTXt", &[b"Comment\0\0".as_slice(), &deflate(b"a packed word")].concat()),
        (b"iTXt", "Author\0\0\0\0\0Ödfathom".as_bytes()),
        (b"tIME", &[7, 230, 1, 2, 3, 4, 5]),
        (b"ofTs", b"kept behind"),
        (b"IEND", &[]),
    ])
}

#[test]
fn everything_a_png_says_outlives_a_mend() {
    let folder = tempfile::tempdir().expect("a folder");
    let original = laden();
    let mut tile = decode(&original);
    fill(&mut tile);
    let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
    keep(folder.path(), "laden", &written, &tile);
    others_agree(folder.path());
    let mut expected = list(&original);
    // The histogram counts pixels that are no longer there; the private chunk says itself that it may not be copied.
    expected.retain(|(name, _)| name != "hIST" && name != "ofTS");
    assert_eq!(list(&written), expected);

    let retagged = codec::encode_mended(&original, &tile, Some(150.0)).expect("a plain picture");
    for (name, data) in &mut expected {
        if name == "pHYs" {
            *data = vec![0, 0, 0x17, 0x12, 0, 0, 0x17, 0x12, 1];
        }
    }
    assert_eq!(list(&retagged), expected);
}

/// The proof catches an encoder that drops the resolution, one that changes a word, and one that shuffles.
#[test]
fn lost_and_changed_metadata_is_caught() {
    let original = laden();
    let written = codec::encode_mended(&original, &decode(&original), None).expect("a plain picture");
    assert_eq!(codec::metadata_kept(&original, &written, &[]), Ok(()));
    type Parts = Vec<(String, Vec<u8>)>;
    let rebuilt = |change: &dyn Fn(&mut Parts)| {
        let mut parts: Parts =
            chunks::walk(&written).expect("a PNG").map(|chunk| (chunk.title(), chunk.data().to_vec())).collect();
        change(&mut parts);
        let parts: Vec<([u8; 4], Vec<u8>)> =
            parts.into_iter().map(|(name, data)| (name.as_bytes().try_into().expect("four letters"), data)).collect();
        png(&parts.iter().map(|(name, data)| (name, data.as_slice())).collect::<Vec<_>>())
    };
    assert_eq!(codec::metadata_kept(&original, &rebuilt(&|_| {}), &[]), Ok(()), "the control itself is sound");
    let dropped = rebuilt(&|parts| parts.retain(|(name, _)| name != "pHYs"));
    let caught = codec::metadata_kept(&original, &dropped, &[]).expect_err("pHYs is missing");
    assert!(caught.contains("pHYs"), "{caught}");
    assert_eq!(codec::metadata_kept(&original, &dropped, &[*b"pHYs"]), Ok(()), "allowed when it is to change");
    let changed = rebuilt(&|parts| {
        parts.iter_mut().filter(|(name, _)| name == "tEXt").for_each(|(_, data)| *data.last_mut().expect("text") ^= 1);
    });
    assert!(codec::metadata_kept(&original, &changed, &[]).expect_err("a letter differs").contains("tEXt"));
    let shuffled = rebuilt(&|parts| {
        let place = parts.iter().position(|(name, _)| name == "gAMA").expect("carried");
        parts.swap(place, place + 1);
    });
    assert!(codec::metadata_kept(&original, &shuffled, &[]).is_err());
    assert!(codec::metadata_kept(&original, b"\xff\xd8\xff", &[]).is_err());
}

/// PNG third edition, 11.3.4.3: pixels per meter, one inch being 0.0254 m: 72, 150, 300 and 600 per inch are 2835, 5906,
/// 11811 and 23622. The chunks are spelled out whole, checksum included, and Pillow writes and reads the same.
#[test]
fn resolution_tags_are_exact_to_the_byte() {
    let exact = [
        (72.0, "0000000970485973 00000b13 00000b13 01 009a9c18"),
        (150.0, "0000000970485973 00001712 00001712 01 679fd252"),
        (300.0, "0000000970485973 00002e23 00002e23 01 78a53f76"),
        (600.0, "0000000970485973 00005c46 00005c46 01 14944341"),
    ];
    let header = [0, 0, 0, 1, 0, 0, 0, 1, 8, 6, 0, 0, 0];
    let bare = png(&[(b"IHDR", &header), (b"IDAT", &deflate(&[0, 1, 2, 3, 4])), (b"tEXt", b"a\0b"), (b"IEND", &[])]);
    // What follows IEND is none of PNG's business and stays.
    let bare = [bare.as_slice(), b"trailing"].concat();
    let mut tagged_before = Vec::new();
    for (per_inch, hex) in exact {
        let spelled = hex.replace(' ', "");
        // Put in where there was none, then put in the place of another.
        for original in [bare.clone(), std::mem::take(&mut tagged_before)].iter().filter(|file| !file.is_empty()) {
            let tagged = codec::retag(original, per_inch).expect("a whole PNG");
            let places: Vec<_> = chunks::walk(&tagged).expect("a PNG").collect();
            let chunk = places.iter().find(|chunk| &chunk.name == b"pHYs").expect("tagged");
            let found: String = chunk.whole.iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(found, spelled);
            assert!(chunk.end() <= places.iter().find(|chunk| &chunk.name == b"IDAT").expect("data").offset);
            let rest = [&tagged[..chunk.offset], &tagged[chunk.end()..]].concat();
            assert_eq!(rest, bare, "every other byte stays");
            let read = decode(&tagged).meta.resolution.expect("tagged");
            assert!((read.x - per_inch).abs() <= 0.0127 && read.x == read.y, "{read:?}");
            let program = "import sys,struct,io\nfrom PIL import Image\nb=io.BytesIO()\n\
                Image.new('RGBA',(1,1)).save(b,'PNG',dpi=(float(sys.argv[1]),)*2)\nd=b.getvalue()\ni=d.index(b'pHYs')-4\n\
                print(d[i:i+21].hex())";
            assert_eq!(desk::run_python(program, &[&per_inch.to_string()]).trim(), spelled);
            tagged_before = tagged;
        }
    }
    let again = codec::retag(&tagged_before, 300.0).expect("a whole PNG");
    assert_eq!(again.len(), tagged_before.len(), "replaced, not added");
    for impossible in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
        assert_eq!(codec::retag(&bare, impossible), None, "{impossible}");
        let refused = codec::encode_mended(&bare, &decode(&bare), Some(impossible));
        assert!(matches!(refused, Err(EncodeError::Resolution(_))), "{impossible}");
    }
    assert_eq!(codec::retag(&bare[..bare.len() - 20], 300.0), None, "not whole");
    assert_eq!(codec::retag(b"text", 300.0), None);
}

/// A picture of woven bands and one of noise, larger than one strip, in bytes that no number of threads changes.
#[test]
fn the_same_bytes_whatever_the_threads() {
    let folder = tempfile::tempdir().expect("a folder");
    let (width, height) = (1500u32, 900u32);
    for noisy in [false, true] {
        let original = large(width, height, noisy);
        let tile = decode(&original);
        let with = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            pool.install(|| codec::encode_mended(&original, &tile, Some(300.0)).expect("a plain picture"))
        };
        let alone = with(1);
        assert!(decode(&alone).raster == tile.raster);
        assert!(alone == with(2) && alone == with(5), "noisy: {noisy}");
        assert!(alone.len() * 10 <= original.len() * 11, "noisy {noisy}: {} from {}", alone.len(), original.len());
        keep(folder.path(), if noisy { "noise" } else { "flat" }, &alone, &tile);
    }
    others_agree(folder.path());
}

fn large(width: u32, height: u32, noisy: bool) -> Vec<u8> {
    let mut state = 1u32;
    let mut rows = Vec::new();
    for y in 0..height {
        rows.push(0);
        for x in 0..width {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let base = if (x / 30 + y / 30) % 2 == 0 { [24, 42, 84] } else { [238, 229, 210] };
            let grain = if noisy { (state >> 24) as u8 / 16 } else { 0 };
            rows.extend(base.map(|sample: u8| sample.wrapping_add(grain)));
            rows.push(255);
        }
    }
    let mut header = [width.to_be_bytes(), height.to_be_bytes()].concat();
    header.extend([8, 6, 0, 0, 0]);
    png(&[(b"IHDR", &header), (b"IDAT", &deflate(&rows)), (b"IEND", &[])])
}

/// A tile from another container becomes a PNG with its pixels, depth, profile and resolution; no time is written.
#[test]
fn other_containers_become_whole_pngs() {
    let (from, to) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let at = from.path().to_str().expect("a plain path");
    let listing = desk::run_python(include_str!("codec/other_kinds.py"), &[at]);
    let mut seen = 0;
    for name in listing.lines().filter_map(|line| line.split(' ').next()).filter(|name| !name.starts_with("inks")) {
        let original = fs::read(from.path().join(name)).expect("written");
        let mut tile = decode(&original);
        fill(&mut tile);
        let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
        let back = decode(&written);
        assert!(back.raster == tile.raster && back.deep == tile.deep, "{name}: other pixels");
        assert_eq!(codec::metadata_kept(&original, &written, &[]), Ok(()), "{name}");
        let gray = matches!(written[25], 0 | 4);
        let kept = if gray { &Profile::Untagged } else { &tile.meta.profile };
        assert_eq!(&back.meta.profile, kept, "{name}: an RGB profile may not stand in a gray PNG");
        let names: Vec<String> = list(&written).into_iter().map(|(name, _)| name).collect();
        assert!(
            names.iter().all(|name| ["IHDR", "iCCP", "pHYs", "IEND"].contains(&name.as_str())),
            "{name}: {names:?}"
        );
        keep(to.path(), name, &written, &tile);
        if tile.meta.resolution.is_some() {
            let lost = codec::retag(&written, 77.0).expect("a whole PNG");
            assert!(codec::metadata_kept(&original, &lost, &[]).is_err(), "{name}: another resolution is caught");
            assert_eq!(codec::metadata_kept(&original, &lost, &[*b"pHYs"]), Ok(()), "{name}");
        }
        seen += 1;
    }
    assert!(seen > 250);
    others_agree(to.path());
}

#[test]
fn what_cannot_be_carried_is_said() {
    let original = laden();
    let tile = decode(&original);
    let other = decode(&large(3, 3, false));
    assert!(matches!(codec::encode_mended(&original, &other, None), Err(EncodeError::OtherSides(3, 3))));
    let cut = &original[..original.len() - 12];
    assert!(matches!(codec::encode_mended(cut, &tile, None), Err(EncodeError::NotWhole)));
    let text = vec![b'a'; codec::MOST_METADATA];
    let swollen = [&original[..33], &chunks::build(*b"tEXt", &text), &original[33..]].concat();
    let refused = codec::encode_mended(&swollen, &tile, None).expect_err("too much to carry");
    assert!(matches!(refused, EncodeError::Metadata(_)), "{refused}");
}

/// A run that a decoder still owes when the packed bytes are used up must not be lost: flat pictures end in one.
#[test]
fn flat_pictures_of_any_height_read_to_the_last_row() {
    for height in 1..=600u32 {
        let mut header = [7u32.to_be_bytes(), height.to_be_bytes()].concat();
        header.extend([8, 6, 0, 0, 0]);
        let rows: Vec<u8> = (0..height).flat_map(|_| [&[0][..], &[9, 8, 7, 100].repeat(7)].concat()).collect();
        let original = png(&[(b"IHDR", &header), (b"IDAT", &deflate(&rows)), (b"IEND", &[])]);
        let mut tile = decode(&original);
        assert!(tile.raster.samples().chunks_exact(4).all(|pixel| pixel == [9, 8, 7, 100]), "height {height}");
        fill(&mut tile);
        let written = codec::encode_mended(&original, &tile, None).expect("a plain picture");
        assert!(decode(&written).raster == tile.raster, "height {height}");
        // The same file with one row too few in it.
        let short = png(&[(b"IHDR", &header), (b"IDAT", &deflate(&rows[29..])), (b"IEND", &[])]);
        let refusal = codec::decode(&short, &Limits::default(), Vec::new()).expect_err("a row is missing");
        assert_eq!(refusal.kind(), burler::finding::Kind::FileTruncated, "height {height}");
    }
}
