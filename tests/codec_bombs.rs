//! Small files that claim or unpack to much: refused from the header or read in little memory. One test, since it
//! watches the memory of its own process.

use burler::codec::{self, Completeness, Limits, chunks};
use burler::finding::Kind;
use std::io::Write;

fn png(parts: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
    let mut file = chunks::SIGNATURE.to_vec();
    parts.iter().for_each(|(name, data)| file.extend(chunks::build(**name, data)));
    file
}

fn header(width: u32, height: u32, depth: u8, color: u8, interlaced: u8) -> Vec<u8> {
    [&width.to_be_bytes()[..], &height.to_be_bytes(), &[depth, color, 0, 0, interlaced]].concat()
}

/// `count` zeros, deflated: a thousandth of their size.
fn zeros(count: usize) -> Vec<u8> {
    let mut coder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::new(6));
    let block = vec![0; 1 << 20];
    for _ in 0..count >> 20 {
        coder.write_all(&block).expect("memory");
    }
    coder.finish().expect("memory")
}

/// The most memory this process has ever held, in MB (proc(5), VmHWM).
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find(|line| line.starts_with("VmHWM")).expect("a peak");
    line.split_whitespace().nth(1).and_then(|number| number.parse::<u64>().ok()).expect("a number") / 1024
}

fn kind(bytes: &[u8]) -> Kind {
    let limits = Limits::default();
    let refusal = codec::decode(bytes, &limits, Vec::new()).expect_err("refused");
    assert_eq!(codec::header(bytes, &limits).expect_err("refused from the header").kind(), refusal.kind());
    assert!(!refusal.says().is_empty() && !refusal.remedy().is_empty());
    refusal.kind()
}

/// A TIFF of one directory in little-endian order; values that do not fit are given as places by the caller.
fn tiff(entries: &[(u16, u16, u32, u32)], next: u32, behind: &[u8]) -> Vec<u8> {
    let mut file = b"II*\0\x08\0\0\0".to_vec();
    file.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        file.extend([tag.to_le_bytes(), kind.to_le_bytes()].concat());
        file.extend([count.to_le_bytes(), value.to_le_bytes()].concat());
    }
    file.extend(next.to_le_bytes());
    file.extend(behind);
    file
}

fn jpeg(width: u16, height: u16, kind: u8) -> Vec<u8> {
    let [a, b] = height.to_be_bytes();
    let [c, d] = width.to_be_bytes();
    let frame = [0xff, kind, 0, 17, 8, a, b, c, d, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0];
    let scan = [0xff, 0xda, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 63, 0, 0x55, 0xff, 0xd9];
    [&[0xff, 0xd8][..], &frame, &scan].concat()
}

#[test]
fn bombs_are_refused_or_stay_small() {
    const BIG: usize = 1 << 30;
    let gigabyte = zeros(BIG);
    assert!(gigabyte.len() < 2 << 20);
    let row = [0u8; 8 * 4 + 1].repeat(8);
    let picture = {
        let mut coder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
        coder.write_all(&row).expect("memory");
        coder.finish().expect("memory")
    };
    let small = header(8, 8, 8, 6, 0);
    let before = peak();

    // Sides beyond the limits, whatever stands behind the header.
    for (width, height) in [(100_000, 100_000), (30_001, 1), (1, 30_001), (20_000, 20_000), (u32::MAX, u32::MAX)] {
        for interlaced in [0, 1] {
            let file = png(&[(b"IHDR", &header(width, height, 8, 6, interlaced)), (b"IDAT", &picture), (b"IEND", &[])]);
            assert_eq!(kind(&file), Kind::FileTooLarge, "{width} x {height}");
        }
        let sides = [(256, 4, 1, width), (257, 4, 1, height), (262, 3, 1, 2)];
        assert_eq!(kind(&tiff(&sides, 0, &[])), Kind::FileTooLarge, "{width} x {height}");
    }
    for frame in [0xc0, 0xc2] {
        assert_eq!(kind(&jpeg(65_535, 65_535, frame)), Kind::FileTooLarge);
    }
    let canvas = b"RIFF\x16\0\0\0WEBPVP8X\x0a\0\0\0\x10\0\0\0\xff\x3f\0\xff\x3f\0";
    assert_eq!(kind(canvas), Kind::FileTooLarge, "16384 x 16384");
    let coded = b"RIFF\x12\0\0\0WEBPVP8L\x05\0\0\0\x2f\xff\xff\xff\x0f\0";
    assert_eq!(kind(coded), Kind::FileTooLarge, "16384 x 16384");
    let fewer = Limits { max_bytes: 50, ..Limits::default() };
    let file = png(&[(b"IHDR", &small), (b"IDAT", &picture), (b"IEND", &[])]);
    assert_eq!(codec::decode(&file, &fewer, Vec::new()).expect_err("over").kind(), Kind::FileTooLarge);

    // Sides within the limits, and bytes that cannot hold so many pixels: no memory is asked for.
    let file = png(&[(b"IHDR", &header(30_000, 4_000, 16, 6, 0)), (b"IDAT", &picture), (b"IEND", &[])]);
    assert_eq!(kind(&file), Kind::FileTruncated);
    for frame in [0xc0, 0xc2] {
        assert_eq!(kind(&jpeg(30_000, 4_000, frame)), Kind::FileTruncated);
    }

    // A gigabyte in the image data of a small picture: only its own rows are unpacked.
    let file = png(&[(b"IHDR", &small), (b"IDAT", &gigabyte), (b"IEND", &[])]);
    assert!(codec::decode(&file, &Limits::default(), Vec::new()).is_ok());
    // In text and in the profile: text is never unpacked, the profile up to a limit; the picture reads.
    let packed = |head: &[u8]| [head, &gigabyte].concat();
    let file = png(&[
        (b"IHDR", &small),
        (b"iCCP", &packed(b"swollen\0\0")),
        (b"zTXt", &packed(b"Comment\0\0")),
        (b"iTXt", &packed(b"Comment\0\x01\0\0\0")),
        (b"IDAT", &picture),
        (b"IEND", &[]),
    ]);
    let tile = codec::decode(&file, &Limits::default(), Vec::new()).expect("the picture is small");
    assert_eq!(tile.meta.profile.name(), "swollen");
    assert_eq!(codec::metadata_kept(&file, &codec::encode_mended(&file, &tile, None).expect("small"), &[]), Ok(()));

    // TIFF: counts of values beyond the file, a gigabyte in a small strip, a JPEG strip of 65535 x 65535 in 8 x 8 pixels,
    // and directories in a ring.
    let base = |compression, strip, bytes| {
        vec![
            (256, 3, 1, 8),
            (257, 3, 1, 8),
            (258, 3, 1, 8),
            (259, 3, 1, compression),
            (262, 3, 1, 1),
            (273, 4, 1, strip),
            (278, 3, 1, 8),
            (279, 4, 1, bytes),
        ]
    };
    let behind = 8 + 2 + 8 * 12 + 4;
    let mut entries = base(1, behind, 64);
    entries[5] = (273, 4, 0x4000_0000, behind);
    assert_eq!(kind(&tiff(&entries, 0, &[0; 64])), Kind::FileTruncated);
    let file = tiff(&base(8, behind, gigabyte.len() as u32), 0, &gigabyte);
    assert!(codec::decode(&file, &Limits::default(), Vec::new()).is_ok());
    let strip = jpeg(65_535, 65_535, 0xc0);
    assert_eq!(kind(&tiff(&base(7, behind, strip.len() as u32), 0, &strip)), Kind::FileUnreadable);
    let ring = tiff(&base(1, behind, 64), 8, &[9; 64]);
    assert_eq!(codec::completeness(&ring), Completeness::Complete, "looked at a thousand times, not for ever");
    assert_eq!(kind(&ring), Kind::FileUnreadable);

    let grown = peak() - before;
    assert!(grown < 80, "{grown} MB for files of a few pixels");
}
