//! A line of text inside a PNG of our own, and reading it back.
//!
//! Takes bytes, yields bytes; pixels are not unpacked. Knows nothing of what the text means.

use crate::codec::chunks;

/// The most letters of a keyword (PNG third edition, 11.3.3.1).
const MOST_KEYWORD: usize = 79;

/// The PNG with a text chunk behind its header (tEXt; PNG third edition, 11.3.3.2). Keyword and text are ASCII without
/// control characters; `None` when they are not, or the bytes are no PNG with a header.
#[must_use]
pub fn noted(png: &[u8], keyword: &str, text: &str) -> Option<Vec<u8>> {
    let plain = |text: &str| text.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ');
    if keyword.is_empty() || keyword.len() > MOST_KEYWORD || !plain(keyword) || !plain(text) {
        return None;
    }
    let header = chunks::walk(png)?.next().filter(|chunk| &chunk.name == b"IHDR")?;
    let (before, after) = png.split_at_checked(header.end())?;
    let data = [keyword.as_bytes(), &[0], text.as_bytes()].concat();
    Some([before, &chunks::build(*b"tEXt", &data), after].concat())
}

/// The text under a keyword in a PNG; of several the first that is whole. `None` when there is none.
#[must_use]
pub fn note<'a>(png: &'a [u8], keyword: &str) -> Option<&'a str> {
    chunks::walk(png)?.filter(|chunk| &chunk.name == b"tEXt" && chunk.holds()).find_map(|chunk| {
        let text = chunk.data().strip_prefix(keyword.as_bytes())?.strip_prefix(&[0])?;
        std::str::from_utf8(text).ok().filter(|text| text.is_ascii())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::picture::encode_png;
    use crate::codec::{Completeness, Limits, completeness, decode};
    use crate::tile::Raster;

    #[test]
    fn a_note_is_read_back_and_changes_nothing_else() {
        let raster = Raster::new(2, 2, (0..16).collect()).unwrap();
        let bare = encode_png(&raster, Some(300.0)).unwrap();
        let with = noted(&bare, "a-word", "let it be 1:2").unwrap();
        assert_eq!(note(&with, "a-word"), Some("let it be 1:2"));
        assert_eq!((note(&bare, "a-word"), note(&with, "a-wor"), note(b"no picture", "a-word")), (None, None, None));
        assert_eq!(completeness(&with), Completeness::Complete);
        let again = decode(&with, &Limits::default(), Vec::new()).unwrap();
        assert_eq!(again.raster.samples(), raster.samples());
        let mut damaged = with.clone();
        let at = damaged.windows(3).position(|three| three == b"let").unwrap();
        damaged[at] ^= 1;
        assert_eq!(note(&damaged, "a-word"), None, "its checksum does not hold");
        for cut in 0..with.len() {
            let _ = note(&with[..cut], "a-word");
        }
        assert_eq!(noted(&bare, "a-word", "line\nbreak"), None);
        assert_eq!(noted(b"no picture", "a-word", "x"), None);
    }
}
