//! Broken, cut and hostile bytes: always a refusal in words, never a panic, never a picture that is not all there.

mod desk;

use burler::codec::{self, Completeness, Limits, Refusal, chunks};
use burler::finding::Kind;
use proptest::prelude::*;
use std::ffi::OsStr;
use std::fs;
use std::sync::OnceLock;

/// How many.
const FILES: usize = 15;

/// Small whole files of every container and several codings, by name.
fn whole_files() -> &'static Vec<(String, Vec<u8>)> {
    static FILES: OnceLock<Vec<(String, Vec<u8>)>> = OnceLock::new();
    FILES.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let program = "
import sys, io
import numpy as np, tifffile
from PIL import Image
out = sys.argv[1]
rng = np.random.default_rng(3)
noise = rng.integers(0, 256, (9, 11, 4), np.uint8)
rgba, rgb = Image.fromarray(noise), Image.fromarray(noise[..., :3].copy())
exif = Image.Exif()
exif[274], exif[282], exif[283], exif[296] = 6, 300.0, 300.0, 2
rgba.save(f'{out}/a.png', dpi=(300, 300), exif=exif)
rgb.quantize(7).save(f'{out}/b.png')
rgb.save(f'{out}/c.jpg', quality=90, exif=exif, dpi=(300, 300))
rgb.save(f'{out}/d.jpg', quality=90, progressive=True)
rgb.convert('CMYK').save(f'{out}/e.jpg', quality=90)
for index, method in enumerate((None, 'tiff_lzw', 'tiff_adobe_deflate', 'packbits')):
    rgba.save(f'{out}/f{index}.tif', compression=method, dpi=(300, 300))
rgb.resize((16, 16)).save(f'{out}/g.tif', compression='jpeg')
rgb.quantize(7).save(f'{out}/h.tif')
tifffile.imwrite(f'{out}/i.tif', np.dstack([noise] * 5)[..., :3].astype(np.uint16) * 257, tile=(16, 16),
                 photometric='rgb', planarconfig='contig', bigtiff=True, byteorder='>')
rgba.save(f'{out}/j.webp', lossless=True, exact=True, exif=exif)
rgba.save(f'{out}/k.webp', quality=80)
rgba.save(f'{out}/l.webp', lossless=True, save_all=True, append_images=[rgba.rotate(90)], duration=50)
";
        desk::run_python(program, &[folder.path().to_str().expect("a plain path")]);
        let mut files: Vec<_> = fs::read_dir(folder.path())
            .expect("a folder")
            .map(|entry| entry.expect("an entry").path())
            .map(|path| {
                (path.file_name().expect("a name").to_string_lossy().into_owned(), fs::read(&path).expect("a file"))
            })
            .collect();
        files.sort();
        files
    })
}

fn decode(bytes: &[u8]) -> Result<burler::tile::Tile, Refusal> {
    codec::decode(bytes, &Limits::default(), Vec::new())
}

#[test]
fn the_whole_files_are_sound() {
    assert_eq!(whole_files().len(), FILES);
    for (name, bytes) in whole_files() {
        decode(bytes).unwrap_or_else(|refusal| panic!("{name}: {refusal:?}"));
        assert_eq!(codec::completeness(bytes), Completeness::Complete, "{name}");
        assert!(codec::looks_like_image_name(OsStr::new(name)), "{name}");
    }
}

/// Cut at any byte, a file is incomplete and refused as one that ends early; the last bytes of TIFF and WebP may be
/// padding that no picture needs.
#[test]
fn no_cut_file_is_taken_for_whole() {
    for (name, bytes) in whole_files() {
        for length in 0..bytes.len() {
            let cut = &bytes[..length];
            match decode(cut) {
                Ok(tile) => {
                    let spare = bytes.len() - length;
                    assert!(!name.ends_with("png") && !name.ends_with("jpg") && spare <= 1, "{name} cut by {spare}");
                    let whole = decode(bytes).expect("whole");
                    assert!(tile.raster == whole.raster, "{name} cut by {spare} changes pixels");
                }
                Err(refusal) => {
                    let kind = if length == 0 { Kind::FileUnreadable } else { Kind::FileTruncated };
                    assert_eq!(refusal.kind(), kind, "{name} cut to {length}: {refusal:?}");
                    assert_eq!(codec::completeness(cut), Completeness::Incomplete, "{name} cut to {length}");
                }
            }
        }
    }
}

/// A file whose room was reserved before its bytes came: everything behind some byte is zero.
#[test]
fn no_preallocated_file_is_taken_for_whole() {
    for (name, bytes) in whole_files().iter().filter(|(name, _)| name.ends_with("png") || name.ends_with("jpg")) {
        for length in 0..bytes.len() - 4 {
            let mut sparse = bytes[..length].to_vec();
            sparse.resize(bytes.len(), 0);
            assert_eq!(codec::completeness(&sparse), Completeness::Incomplete, "{name} filled to {length}");
            let refusal = decode(&sparse).expect_err("not all there");
            let kind = refusal.kind();
            assert!(
                matches!(kind, Kind::FileTruncated | Kind::FileUnreadable),
                "{name} filled to {length}: {refusal:?}"
            );
        }
    }
    // A lossless WebP of more than one block of zeros, and a file of nothing but zeros.
    let (_, webp) = whole_files().iter().find(|(name, _)| name == "j.webp").expect("written");
    let mut sparse = webp[..40].to_vec();
    sparse[4..8].copy_from_slice(&9_992u32.to_le_bytes());
    let at = sparse.windows(4).position(|name| name == b"VP8L" || name == b"VP8X").expect("a chunk");
    sparse[at..at + 4].copy_from_slice(b"VP8L");
    sparse[at + 4..at + 8].copy_from_slice(&9_980u32.to_le_bytes());
    sparse.resize(10_000, 0);
    assert_eq!(codec::completeness(&sparse), Completeness::Incomplete);
    assert_eq!(codec::completeness(&[0; 4096]), Completeness::Incomplete);
    assert_eq!(decode(&[0; 4096]).expect_err("nothing").kind(), Kind::FileTruncated);
}

/// A checksum covers every byte of a PNG behind its signature, so no flipped bit goes unseen.
#[test]
fn every_flipped_bit_of_a_png_is_seen() {
    let (_, bytes) = whole_files().iter().find(|(name, _)| name == "a.png").expect("written");
    for place in 0..bytes.len() {
        for bit in 0..8 {
            let mut flipped = bytes.clone();
            flipped[place] ^= 1 << bit;
            let refusal = decode(&flipped).expect_err("damaged");
            let kind = refusal.kind();
            assert!(matches!(kind, Kind::FileUnreadable | Kind::FileTruncated), "byte {place} bit {bit}: {refusal:?}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever bytes are put in whatever places: a picture of the size its header says, or a refusal in words.
    #[test]
    fn changed_bytes_never_bring_it_down(
        file in 0..FILES,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in prop::option::weighted(0.1, any::<prop::sample::Index>()),
    ) {
        let (name, bytes) = &whole_files()[file];
        let mut changed = bytes.clone();
        for (place, value) in &changes {
            changed[place.index(bytes.len())] = *value;
        }
        if let Some(cut) = cut {
            changed.truncate(cut.index(bytes.len()));
        }
        if name.ends_with("png") {
            mend_checksums(&mut changed);
        }
        // Limits that keep a changed side from asking for a picture of a hundred million pixels in every case.
        let limits = Limits { max_side: 4096, max_pixels: 1 << 20, ..Limits::default() };
        let _ = codec::completeness(&changed);
        let _ = codec::retag(&changed, 300.0); static N: std::sync::atomic::AtomicU32 = std::sync::atomic::AtomicU32::new(0); static OKS: std::sync::atomic::AtomicU32 = std::sync::atomic::AtomicU32::new(0); let n = N.fetch_add(1, std::sync::atomic::Ordering::Relaxed); if n % 10000 == 9999 { println!("N {n} ok {}", OKS.load(std::sync::atomic::Ordering::Relaxed)); }
        match codec::decode(&changed, &limits, Vec::new()) {
            Ok(tile) => {
                OKS.fetch_add(1, std::sync::atomic::Ordering::Relaxed); let header = codec::header(&changed, &limits).expect("decoded");
                prop_assert_eq!((header.width, header.height), (tile.raster.width(), tile.raster.height()));
                let written = codec::encode_mended(&changed, &tile, None);
                if let Ok(written) = written {
                    let back = decode(&written).expect("our own file");
                    prop_assert!(back.raster == tile.raster && back.deep == tile.deep, "{} written otherwise", name);
                }
            }
            Err(refusal) => {
                prop_assert!(!refusal.says().is_empty() && !refusal.remedy().is_empty());
                prop_assert!(!refusal.says().ends_with('.') && refusal.says().starts_with(char::is_lowercase));
            }
        }
    }

    #[test]
    fn any_bytes_behind_a_signature_are_survived(
        head in prop::sample::select(vec![
            chunks::SIGNATURE.to_vec(), vec![0xff, 0xd8, 0xff], b"II*\0\x08\0\0\0".to_vec(), b"MM\0*\0\0\0\x08".to_vec(),
            b"II\x2b\0\x08\0\0\0\x10\0\0\0\0\0\0\0".to_vec(), b"RIFF\x80\0\0\0WEBPVP8L".to_vec(), b"RIFF\x80\0\0\0WEBPVP8 ".to_vec(),
            b"RIFF\xff\xff\xff\xffWEBPVP8X\x0a\0\0\0".to_vec(),
        ]),
        tail in prop::collection::vec(any::<u8>(), 0..300),
    ) {
        let bytes = [head, tail].concat();
        let _ = codec::completeness(&bytes);
        let limits = Limits { max_side: 4096, max_pixels: 1 << 20, ..Limits::default() };
        let _ = codec::decode(&bytes, &limits, Vec::new());
    }
}

/// Makes the checksums of a changed PNG right again, so that the change reaches what lies behind them.
fn mend_checksums(bytes: &mut [u8]) {
    let places: Vec<(usize, usize)> =
        chunks::walk(bytes).into_iter().flatten().map(|chunk| (chunk.offset, chunk.end())).collect();
    for (start, end) in places {
        let checksum = crc32fast::hash(&bytes[start + 4..end - 4]);
        bytes[end - 4..end].copy_from_slice(&checksum.to_be_bytes());
    }
}

#[test]
fn what_is_no_image_is_told_from_what_is_broken() {
    let kinds: [(&[u8], Kind, Completeness); 8] = [
        (b"", Kind::FileUnreadable, Completeness::Incomplete),
        (b"These are words, renamed to tile.png.", Kind::FileUnreadable, Completeness::NotAnImage),
        (b"\x89PN", Kind::FileTruncated, Completeness::Incomplete),
        (b"\xff\xd8", Kind::FileTruncated, Completeness::Incomplete),
        (b"RIFF\x10\0\0\0WE", Kind::FileTruncated, Completeness::Incomplete),
        (b"RIFF\x10\0\0\0WAVEfmt ", Kind::FileUnreadable, Completeness::NotAnImage),
        (b"GIF89a\x01\0\x01\0\0\0\0;", Kind::FileUnreadable, Completeness::NotAnImage),
        (b"\x89PNG\r\n\x1a\nnonsense, and more of it", Kind::FileUnreadable, Completeness::Incomplete),
    ];
    for (bytes, kind, completeness) in kinds {
        let refusal = decode(bytes).expect_err("no image");
        assert_eq!(refusal.kind(), kind, "{bytes:?}: {refusal:?}");
        assert_eq!(codec::completeness(bytes), completeness, "{bytes:?}");
    }
}

#[test]
fn names_are_told_by_their_ending_in_any_case() {
    for name in ["a.png", "A.PNG", "b.Jpg", "c.jpeg", "d.jpe", "e.JFIF", "f.tif", "g.TIFF", "h.webp", "i.tar.png"] {
        assert!(codec::looks_like_image_name(OsStr::new(name)), "{name}");
    }
    for name in ["png", ".png", "a.png.part", "b.psd", "c", "d.gif", "e.pngx", ""] {
        assert!(!codec::looks_like_image_name(OsStr::new(name)), "{name}");
    }
    use std::os::unix::ffi::OsStrExt;
    assert!(codec::looks_like_image_name(OsStr::from_bytes(b"\xff\xfe.png")), "names need not be UTF-8");
}
