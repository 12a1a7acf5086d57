//! The letter as a page for `checked/letters/`.
//!
//! Pictures are put into the page itself: it then stays whole when it is moved or synced alone, and when the held
//! pictures it shows have long been withdrawn.

use super::letter::{Inline, Letter};
use lettre::message::Body;
use lettre::message::header::ContentTransferEncoding;

/// The letter as one HTML file that needs nothing beside it.
#[must_use]
pub fn page(letter: &Letter) -> String {
    let mut html = letter.html.clone();
    for picture in &letter.pictures {
        // Names cannot forge this: the template escapes their quotes.
        html = html.replace(&format!("src=\"cid:{}\"", picture.cid), &format!("src=\"{}\"", data(picture)));
    }
    html
}

/// What every page begins with behind its character set.
const GENERATOR: &str = "<meta name=\"generator\" content=\"Burler letter\">";

/// Whether a file is such a page.
#[must_use]
pub fn is_page(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(500)];
    head.windows(GENERATOR.len()).any(|window| window == GENERATOR.as_bytes())
}

/// A picture as a `data:` address (RFC 2397).
fn data(picture: &Inline) -> String {
    let encoded = Body::new_with_encoding(picture.bytes.clone(), ContentTransferEncoding::Base64);
    let encoded = encoded.map(Body::into_vec).unwrap_or_default();
    let one_line: String = encoded.into_iter().filter(|byte| !byte.is_ascii_whitespace()).map(char::from).collect();
    format!("data:{};base64,{one_line}", picture.mime)
}
