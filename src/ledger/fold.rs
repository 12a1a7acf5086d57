//! Folding names: two names that some disk takes for one have one folded form.
//!
//! Takes raw bytes, since a name need not be text. Pure; knows no disk.

use icu_normalizer::{ComposingNormalizerBorrowed, DecomposingNormalizerBorrowed};
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::Path;

/// The folded form of a path: without case and in one Unicode form (NFC of Unicode Standard Annex 15).
///
/// Case is taken away by going up and down, character by character, so that letters with several lower-case forms meet.
/// Bytes that are not UTF-8 stay as they are. Folding more than a given disk does costs a name its plain form at
/// worst; folding less would let one file cover another.
#[must_use]
pub fn folded(path: &Path) -> Vec<u8> {
    let mut out = Vec::with_capacity(path.as_os_str().len());
    for chunk in path.as_os_str().as_bytes().utf8_chunks() {
        if chunk.valid().is_ascii() {
            out.extend(chunk.valid().bytes().map(|byte| byte.to_ascii_lowercase()));
        } else {
            let apart = DecomposingNormalizerBorrowed::new_nfd().normalize(chunk.valid());
            let lower: String = apart.chars().flat_map(char::to_uppercase).flat_map(char::to_lowercase).collect();
            out.extend_from_slice(ComposingNormalizerBorrowed::new_nfc().normalize(&lower).as_bytes());
        }
        out.extend_from_slice(chunk.invalid());
    }
    out
}

/// The path that raw bytes spell.
pub(super) fn path(bytes: &[u8]) -> &Path {
    Path::new(OsStr::from_bytes(bytes))
}

/// The raw bytes of a path.
pub(super) fn bytes(path: &Path) -> &[u8] {
    path.as_os_str().as_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_some_disk_takes_for_one_fold_to_one() {
        let same = |a: &str, b: &str| folded(Path::new(a)) == folded(Path::new(b));
        assert!(same("Kelp.PNG", "kelp.png"));
        // UAX 15, figure 3: A with ring above, composed, decomposed, and the sign for angstrom.
        assert!(same("\u{c5}.png", "A\u{30a}.png"));
        assert!(same("\u{212b}.png", "\u{e5}.png"));
        assert!(same("Stra\u{df}e.png", "STRASSE.png"));
        assert!(same("\u{3a3}.png", "\u{3c2}.png"));
        assert!(!same("kelp.png", "kelp1.png"));
        assert!(!same("\u{e9}.png", "e.png"));
    }

    #[test]
    fn bytes_that_are_no_text_stay_apart() {
        let name = |bytes: &[u8]| folded(path(bytes));
        assert_eq!(name(b"A\xe9.PNG"), b"a\xe9.png");
        assert_ne!(name(b"\xe9.png"), name(b"\xe8.png"));
    }
}
