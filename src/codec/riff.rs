//! WebP's outer shape: a RIFF head and chunks (the WebP container specification).
//!
//! Takes bytes, yields chunks. Knows nothing of what the coded data says.

/// One chunk.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece<'a> {
    pub(crate) name: [u8; 4],
    pub(crate) data: &'a [u8],
}

/// Chunks inside the promised length, and whether all of them are there whole.
#[derive(Clone, Debug)]
pub(crate) struct Walk<'a> {
    rest: &'a [u8],
    pub(crate) cut: bool,
}

/// Starts a walk; the head's length counts what follows its first eight bytes.
pub(crate) fn walk(bytes: &[u8]) -> Walk<'_> {
    let promised =
        bytes.get(4..8).and_then(<[u8]>::first_chunk::<4>).map_or(0, |four| u32::from_le_bytes(*four) as usize);
    let end = promised.saturating_add(8);
    Walk { rest: bytes.get(12..end.min(bytes.len())).unwrap_or_default(), cut: promised < 4 || bytes.len() < end }
}

impl<'a> Iterator for Walk<'a> {
    type Item = Piece<'a>;

    fn next(&mut self) -> Option<Piece<'a>> {
        if self.rest.is_empty() {
            return None;
        }
        let Some((head, body)) = self.rest.split_first_chunk::<8>() else {
            self.cut = true;
            self.rest = &[];
            return None;
        };
        let [a, b, c, d, length @ ..] = *head;
        let length = u32::from_le_bytes(length) as usize;
        let Some(data) = body.get(..length) else {
            self.cut = true;
            self.rest = &[];
            return None;
        };
        // Chunks of odd length are padded; the last one's padding is often forgotten.
        self.rest = body.get(length.saturating_add(length & 1)..).unwrap_or_default();
        Some(Piece { name: [a, b, c, d], data })
    }
}

/// Whether the promised length is there, in whole chunks, with picture data that has been written.
pub(crate) fn is_whole(bytes: &[u8]) -> bool {
    let mut walk = walk(bytes);
    let mut pictures = 0;
    for piece in walk.by_ref() {
        if matches!(&piece.name, b"VP8 " | b"VP8L" | b"ANMF") {
            pictures += 1;
            // A preallocated file holds its head and then a long run of nothing.
            if piece.data.last_chunk::<4096>().is_some_and(|tail| tail.iter().all(|byte| *byte == 0)) {
                return false;
            }
        }
    }
    pictures > 0 && !walk.cut
}
