//! The digest: what needs the artist and what was mended since the last letter, as one mail.
