//! What files say beside their pixels: resolution, color, animation, and the words of refusals.

mod desk;

use burler::codec::{self, Excess, Limits, Refusal, chunks};
use burler::tile::{Format, Meta, Profile};
use std::io::Write;

fn deflate(data: &[u8]) -> Vec<u8> {
    let mut coder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    coder.write_all(data).expect("memory");
    coder.finish().expect("memory")
}

/// What a one-pixel PNG with these chunks before its image data says.
fn told(parts: &[(&[u8; 4], &[u8])]) -> Meta {
    let mut file = chunks::SIGNATURE.to_vec();
    let mut add = |name: &[u8; 4], data: &[u8]| file.extend(chunks::build(*name, data));
    add(b"IHDR", &[0, 0, 0, 1, 0, 0, 0, 1, 8, 6, 0, 0, 0]);
    parts.iter().for_each(|(name, data)| add(name, data));
    add(b"IDAT", &deflate(&[0, 1, 2, 3, 4]));
    add(b"IEND", &[]);
    codec::header(&file, &Limits::default()).expect("a whole picture").meta
}

/// A profile of one tag, its description, in the form of version 4 (ICC.1:2022, 10.15) or 2 (ICC.1:2001-04, 6.5.17).
fn profile(name: &str, version: u8) -> Vec<u8> {
    let mut tag = Vec::new();
    if version == 4 {
        let text: Vec<u8> = name.encode_utf16().flat_map(u16::to_be_bytes).collect();
        tag.extend(b"mluc\0\0\0\0\0\0\0\x02\0\0\0\x0cdeDE");
        tag.extend([2u32.to_be_bytes(), 40u32.to_be_bytes()].concat());
        tag.extend(b"enUS");
        tag.extend([(text.len() as u32).to_be_bytes(), 42u32.to_be_bytes()].concat());
        tag.extend(b"\0x");
        tag.extend(text);
    } else {
        tag.extend(b"desc\0\0\0\0");
        tag.extend((name.len() as u32 + 1).to_be_bytes());
        tag.extend(name.as_bytes());
        tag.push(0);
    }
    let mut file = vec![0; 128];
    file[36..40].copy_from_slice(b"acsp");
    file.extend(1u32.to_be_bytes());
    file.extend(b"desc");
    file.extend([144u32.to_be_bytes(), (tag.len() as u32).to_be_bytes()].concat());
    file.extend(tag);
    file
}

/// PNG third edition, 4.3: of several color tags the one of the lowest number counts: cICP 1, iCCP 2, sRGB 3, cHRM with
/// gAMA 4.
#[test]
fn color_tags_count_in_the_standards_order() {
    let embedded = [b"any\0\0".as_slice(), &deflate(&profile("Dulse 2", 2))].concat();
    let srgb_primaries: Vec<u8> = [31270u32, 32900, 64000, 33000, 30000, 60000, 15000, 6000]
        .iter()
        .flat_map(|value| value.to_be_bytes())
        .collect();
    let gamma = 45_455u32.to_be_bytes();
    let all: [(&[u8; 4], &[u8]); 5] = [
        (b"cICP", &[12, 13, 0, 1]),
        (b"iCCP", &embedded),
        (b"sRGB", &[0]),
        (b"cHRM", &srgb_primaries),
        (b"gAMA", &gamma),
    ];
    let names = [
        Profile::Other("code points 12 and 13".into()),
        Profile::Icc("Dulse 2".into()),
        Profile::Srgb,
        Profile::Other("gamma 2.20 with sRGB primaries".into()),
        Profile::Other("gamma 2.20".into()),
    ];
    for (skip, name) in names.into_iter().enumerate() {
        assert_eq!(told(&all[skip..]).profile, name);
        let mut turned = all[skip..].to_vec();
        turned.reverse();
        assert_eq!(told(&turned).profile, name, "whatever the order in the file");
    }
    assert_eq!(told(&[]).profile, Profile::Untagged);
    // Primaries 1 and transfer 13 are sRGB's own (ITU-T H.273).
    assert_eq!(told(&[(b"cICP", &[1, 13, 0, 1])]).profile, Profile::Srgb);
    assert_eq!(told(&[(b"gAMA", &[0, 0, 0, 0])]).profile, Profile::Untagged, "no gamma at all");
}

#[test]
fn profiles_are_named_by_their_own_description() {
    let packed = |bytes: &[u8]| [b"keyword\0\0".as_slice(), &deflate(bytes)].concat();
    let name = |data: &[u8]| told(&[(b"iCCP", data)]).profile;
    assert_eq!(name(&packed(&profile("Kelp", 2))), Profile::Icc("Kelp".into()));
    assert_eq!(name(&packed(&profile("Größe\u{1F41A}", 4))), Profile::Icc("Größe\u{1F41A}".into()));
    assert_eq!(name(&packed(&profile("two\nlines", 2))), Profile::Icc("twolines".into()), "one line in a ticket");
    // Without a description that can be read, the chunk's keyword names it.
    let whole = profile("Kelp", 4);
    for length in 0..whole.len() {
        assert_eq!(name(&packed(&whole[..length])), Profile::Icc("keyword".into()), "cut to {length}");
    }
    assert_eq!(name(b"keyword\0\0no zlib"), Profile::Icc("keyword".into()));
    assert_eq!(name(b"keyword\0\x07other"), Profile::Untagged, "an unknown compression says nothing");
    assert_eq!(
        name(b"no end of the keyword, which has 79 letters at most, but goes on and on and on, past any limit"),
        Profile::Untagged
    );
    // A second reader on a profile of its own making.
    let program = "
import io, sys
from PIL import Image, ImageCms
profile = ImageCms.ImageCmsProfile(ImageCms.createProfile('sRGB'))
Image.new('RGB', (1, 1)).save(sys.argv[1], icc_profile=profile.tobytes())
print(ImageCms.getProfileDescription(profile).strip())";
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.png");
    let expected = desk::run_python(program, &[path.to_str().expect("a plain path")]);
    let header = codec::header(&std::fs::read(path).expect("written"), &Limits::default()).expect("a whole picture");
    assert_eq!(header.meta.profile, Profile::Icc(expected.trim().into()));
}

/// PNG third edition, 11.3.4.3 (unit 0 says a ratio and no size; no chunk says nothing) and 11.3.4.5 (Exif may be stale,
/// so it counts only where pHYs is missing).
#[test]
fn resolution_is_read_where_it_counts() {
    let exif: &[u8] = b"MM\0*\0\0\0\x08\0\x03\x01\x1a\0\x05\0\0\0\x01\0\0\0\x32\x01\x1b\0\x05\0\0\0\x01\0\0\0\x32\
                        \x01\x28\0\x03\0\0\0\x01\0\x02\0\0\0\0\0\0\0\0\0\xf0\0\0\0\x01";
    let meter = [0, 0, 0x2e, 0x23, 0, 0, 0x17, 0x12, 1];
    let mut ratio = meter;
    ratio[8] = 0;
    let found = |parts: &[(&[u8; 4], &[u8])]| told(parts).resolution.map(|found| (found.x, found.y, found.quantum));
    let (x, y, quantum) = found(&[(b"pHYs", &meter)]).expect("tagged");
    assert!((x - 299.9994).abs() < 1e-9 && (y - 150.0124).abs() < 1e-9 && quantum == 0.03, "{x} {y} {quantum}");
    assert_eq!(found(&[(b"pHYs", &ratio)]), None);
    assert_eq!(found(&[]), None);
    assert_eq!(found(&[(b"eXIf", exif)]), Some((240.0, 240.0, 0.03)));
    assert_eq!(found(&[(b"eXIf", exif), (b"pHYs", &meter)]), Some((x, y, 0.03)));
    assert_eq!(found(&[(b"eXIf", exif), (b"pHYs", &ratio)]), None);
    assert_eq!(found(&[(b"pHYs", &[0; 9])]), None, "no pixels per meter are no resolution");
    for length in 0..exif.len() {
        assert_eq!(found(&[(b"eXIf", &exif[..length])]), None, "cut to {length}");
    }
}

/// An animated PNG tells its frames and shows its first; Pillow wrote it and sees the same.
#[test]
fn moving_pictures_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = "
import sys
import numpy as np
from PIL import Image
rng = np.random.default_rng(1)
frames = [Image.fromarray(rng.integers(0, 256, (5, 6, 4), np.uint8)) for _ in range(4)]
frames[0].save(sys.argv[1] + '/a.png', save_all=True, append_images=frames[1:], duration=50)
np.asarray(frames[0]).tofile(sys.argv[1] + '/a.rgba')
print(Image.open(sys.argv[1] + '/a.png').n_frames)";
    let frames = desk::run_python(program, &[folder.path().to_str().expect("a plain path")]);
    let bytes = std::fs::read(folder.path().join("a.png")).expect("written");
    let tile = codec::decode(&bytes, &Limits::default(), Vec::new()).expect("a whole picture");
    assert_eq!(tile.meta.frames.to_string(), frames.trim());
    assert_eq!(tile.raster.samples(), std::fs::read(folder.path().join("a.rgba")).expect("written"));
}

/// Kinds that cannot be tiles for cloth are refused in words: floating point, signed, Lab and 32-bit samples.
#[test]
fn unreadable_kinds_are_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = "
import sys
import numpy as np, tifffile
shape = (8, 8, 3)
for name, kind, options in (('float', 'f4', {}), ('half', 'f2', {}), ('signed', 'i2', {}), ('long', 'u4', {}),
                            ('lab', 'u1', dict(photometric='cielab'))):
    tifffile.imwrite(f'{sys.argv[1]}/{name}.tif', np.ones(shape, kind), **{'photometric': 'rgb', **options})";
    desk::run_python(program, &[folder.path().to_str().expect("a plain path")]);
    for (name, word) in [
        ("float", "floating-point"),
        ("half", "floating-point"),
        ("signed", "signed"),
        ("long", "depth"),
        ("lab", "Lab"),
    ] {
        let bytes = std::fs::read(folder.path().join(format!("{name}.tif"))).expect("written");
        let refusal = codec::decode(&bytes, &Limits::default(), Vec::new()).expect_err("not read");
        assert!(matches!(refusal, Refusal::Unsupported { .. }), "{name}: {refusal:?}");
        assert!(refusal.says().contains(word), "{name}: {}", refusal.says());
    }
}

/// What a designer reads, word for word.
#[test]
fn refusals_say_what_is_wrong_and_what_to_do() {
    let format = Format::Png;
    let (width, height) = (40_000, 5_000);
    let all = [
        Refusal::Empty,
        Refusal::Unfinished,
        Refusal::NotAnImage,
        Refusal::Damaged { format, part: "picture data".into() },
        Refusal::Truncated { format: Format::Jpeg },
        Refusal::Unsupported { format: Format::Tiff, what: "Lab colors".into() },
        Refusal::TooLarge(Excess::Side { width, height, limit: 30_000 }),
        Refusal::TooLarge(Excess::Pixels { width, height, limit: 120_000_000 }),
        Refusal::TooLarge(Excess::Bytes { bytes: 3 << 30, limit: 1 << 30 }),
        Refusal::TooLarge(Excess::Memory { bytes: 1 << 30 }),
    ];
    let again = "export the tile again and wait until the copy is complete";
    let smaller = "export one repeat only, or at a lower resolution";
    let words = [
        ("file.unreadable", "the file is empty", again),
        ("file.truncated", "the file ends before the picture does", again),
        (
            "file.unreadable",
            "the name says image, but the content is none we know",
            "export the tile as PNG, TIFF, JPEG or WebP",
        ),
        ("file.unreadable", "the PNG file is damaged: the picture data cannot be read", again),
        ("file.truncated", "the JPEG file ends before the picture does", again),
        (
            "file.unsupported",
            "this kind of TIFF is not read: it holds Lab colors",
            "export the tile as an ordinary PNG with 8 or 16 bits per channel",
        ),
        ("file.too_large", "the tile is 40000 x 5000 pixels, and a side may have 30000 at most", smaller),
        ("file.too_large", "the tile is 40000 x 5000, 200 million pixels, and may have 120 million", smaller),
        ("file.too_large", "the file has 3072 MB, and may have 1024 MB at most", smaller),
        ("file.too_large", "there is no room in memory for the picture's 1024 MB", smaller),
    ];
    for (refusal, (kind, says, remedy)) in all.iter().zip(words) {
        assert_eq!((refusal.kind().name(), refusal.says().as_str(), refusal.remedy().as_str()), (kind, says, remedy));
    }
}
