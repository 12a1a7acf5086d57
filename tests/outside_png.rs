//! PNG against the standard's own rules, written out in Python, and against Pillow.

mod desk;

use burler::codec::{self, Limits};
use std::fs;

/// PNG third edition: every pair of color type and depth of table 12, plain and interlaced (8.1), with each kind of tRNS
/// (11.3.1.1) and all five filters (9.2). The Python program builds files and pixels; up to 8 bits Pillow must agree.
#[test]
fn every_kind_of_png_reads_as_the_standard_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path().to_str().expect("a plain path");
    let listing = desk::run_python(include_str!("codec/png_kinds.py"), &[at]);
    let mut seen = 0;
    for line in listing.lines() {
        let fields: Vec<&str> = line.split(' ').collect();
        let [name, channels, depth, interlaced, width, height] = fields[..] else { panic!("{line}") };
        let bytes = fs::read(folder.path().join(format!("{name}.png"))).expect("written");
        // A reused buffer full of another picture's samples must leave no trace.
        let tile = codec::decode(&bytes, &Limits::default(), vec![0x5a; 777]).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(tile.raster.width().to_string(), width, "{name}");
        assert_eq!(tile.raster.height().to_string(), height, "{name}");
        assert_eq!(tile.meta.channels.name(), channels, "{name}");
        assert_eq!(tile.meta.bit_depth.to_string(), depth, "{name}");
        assert_eq!(u8::from(tile.meta.interlaced).to_string(), interlaced, "{name}");
        let expected = fs::read(folder.path().join(format!("{name}.rgba8"))).expect("written");
        assert!(tile.raster.samples() == expected, "{name}: 8-bit pixels differ");
        assert_eq!(tile.deep.is_some(), depth == "16", "{name}");
        if let Some(deep) = tile.deep {
            let expected = fs::read(folder.path().join(format!("{name}.rgba16"))).expect("written");
            let expected: Vec<u16> =
                expected.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect();
            assert!(deep.0 == expected, "{name}: 16-bit pixels differ");
        }
        seen += 1;
    }
    // 15 pairs, 11 of which also come with tRNS; plain and interlaced; four sizes.
    assert_eq!(seen, (15 + 11) * 2 * 4);
}
