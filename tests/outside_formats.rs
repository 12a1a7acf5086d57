//! JPEG, TIFF and WebP against Pillow and tifffile.

mod desk;

use burler::codec::{self, Completeness, Limits};
use std::fs;

/// Every file reads as the library that wrote it sees it: to the sample where nothing is lost, and within the tolerance
/// named beside it where decoders may round. Resolution: ITU-T T.871, 10.1; TIFF 6.0, section 8; CIPA DC-008, 4.6.4.
#[test]
fn other_containers_read_as_their_writers_see_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path().to_str().expect("a plain path");
    let listing = desk::run_python(include_str!("codec/other_kinds.py"), &[at]);
    let mut wrong = Vec::new();
    let mut seen = 0;
    for line in listing.lines() {
        let fields: Vec<&str> = line.split(' ').collect();
        let [name, channels, depth, tolerance, across, down, quantum, frames, pages, lossy, profile] = fields[..]
        else {
            panic!("{line}")
        };
        seen += 1;
        let bytes = fs::read(folder.path().join(name)).expect("written");
        assert_eq!(codec::completeness(&bytes), Completeness::Complete, "{name}");
        let tile = match codec::decode(&bytes, &Limits::default(), vec![0x5a; 777]) {
            Ok(tile) => tile,
            Err(refusal) => {
                wrong.push(format!("{name}: {refusal:?}"));
                continue;
            }
        };
        let header = codec::header(&bytes, &Limits::default()).expect("decoded above");
        assert_eq!((header.width, header.height), (tile.raster.width(), tile.raster.height()), "{name}");
        assert_eq!(header.meta, tile.meta, "{name}");
        let expected = fs::read(folder.path().join(format!("{name}.rgba8"))).expect("written");
        let tolerance: u8 = tolerance.parse().expect("a number");
        let worst = tile.raster.samples().iter().zip(&expected).map(|(a, b)| a.abs_diff(*b)).max().unwrap_or(255);
        if tile.raster.samples().len() != expected.len() || worst > tolerance {
            wrong.push(format!("{name}: samples differ by up to {worst}"));
        }
        if depth == "16" {
            let expected = fs::read(folder.path().join(format!("{name}.rgba16"))).expect("written");
            let expected: Vec<u16> =
                expected.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect();
            if tile.deep.as_ref().is_none_or(|deep| deep.0 != expected) {
                wrong.push(format!("{name}: 16-bit samples differ"));
            }
        } else {
            assert!(tile.deep.is_none(), "{name}");
        }
        let meta = &tile.meta;
        let told = [
            meta.channels.name().to_string(),
            meta.bit_depth.to_string(),
            meta.frames.to_string(),
            meta.pages.to_string(),
            u8::from(meta.lossy).to_string(),
            meta.profile.name().replace(' ', "_"),
        ];
        if told != [channels, depth, frames, pages, lossy, profile] {
            wrong.push(format!("{name}: told {told:?}"));
        }
        let resolution = meta.resolution.map_or([0.0; 3], |found| [found.x, found.y, found.quantum]);
        let named = [across, down, quantum].map(|number| number.parse::<f64>().expect("a number"));
        if resolution.iter().zip(named).any(|(found, named)| (found - named).abs() > 1e-4) {
            wrong.push(format!("{name}: resolution {resolution:?} instead of {named:?}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {seen} wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(seen > 250, "only {seen} files were written");
}
