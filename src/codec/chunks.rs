//! PNG's outer shape: signature, chunks, checksums (PNG third edition, 5).
//!
//! Takes bytes and yields chunks as slices of them, so that what is copied is copied verbatim. Knows nothing of what a
//! chunk means.

/// The eight bytes every PNG starts with (PNG third edition, 5.2).
pub const SIGNATURE: [u8; 8] = [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a];

/// One chunk, whole.
#[derive(Clone, Copy, Debug)]
pub struct Chunk<'a> {
    /// The four letters.
    pub name: [u8; 4],
    /// Length, name, data and checksum as stored.
    pub whole: &'a [u8],
    /// Where [`Self::whole`] starts in the file.
    pub offset: usize,
}

impl<'a> Chunk<'a> {
    /// The data alone.
    #[must_use]
    pub fn data(&self) -> &'a [u8] {
        self.whole.get(8..self.whole.len().saturating_sub(4)).unwrap_or_default()
    }

    /// The checksum as stored.
    #[must_use]
    pub fn stored_checksum(&self) -> [u8; 4] {
        self.whole.last_chunk::<4>().copied().unwrap_or_default()
    }

    /// Whether the stored checksum is that of name and data (PNG third edition, 5.5).
    #[must_use]
    pub fn holds(&self) -> bool {
        let covered = self.whole.get(4..self.whole.len().saturating_sub(4)).unwrap_or_default();
        crc32fast::hash(covered).to_be_bytes() == self.stored_checksum()
    }

    /// Whether a reader may skip it (bit 5 of the first letter; PNG third edition, 5.4).
    #[must_use]
    pub fn is_ancillary(&self) -> bool {
        self.name[0] & 0x20 != 0
    }

    /// Whether an editor that does not know it may keep it though pixels change (bit 5 of the fourth letter).
    #[must_use]
    pub fn is_safe_to_copy(&self) -> bool {
        self.name[3] & 0x20 != 0
    }

    /// The name for messages.
    #[must_use]
    pub fn title(&self) -> String {
        String::from_utf8_lossy(&self.name).into_owned()
    }

    /// Where the chunk ends in the file.
    #[must_use]
    pub fn end(&self) -> usize {
        self.offset + self.whole.len()
    }
}

/// How a walk over chunks ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// With IEND.
    Complete,
    /// The file stops first, or holds nothing but zeros from here on.
    Early,
    /// Something that is no chunk stands in the way.
    Garbled,
}

/// Walks the chunks of a PNG up to and including IEND.
#[derive(Clone, Debug)]
pub struct Walk<'a> {
    bytes: &'a [u8],
    at: usize,
    ending: Option<Ending>,
}

/// Starts a walk; `None` when the signature is another.
#[must_use]
pub fn walk(bytes: &[u8]) -> Option<Walk<'_>> {
    bytes.starts_with(&SIGNATURE).then_some(Walk { bytes, at: SIGNATURE.len(), ending: None })
}

impl Walk<'_> {
    /// How the walk has ended; [`Ending::Early`] while it has not.
    #[must_use]
    pub fn ending(&self) -> Ending {
        self.ending.unwrap_or(Ending::Early)
    }
}

impl<'a> Iterator for Walk<'a> {
    type Item = Chunk<'a>;

    fn next(&mut self) -> Option<Chunk<'a>> {
        if self.ending.is_some() {
            return None;
        }
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let Some((head, _)) = rest.split_first_chunk::<8>() else {
            self.ending = Some(Ending::Early);
            return None;
        };
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let name = [head[4], head[5], head[6], head[7]];
        if !name.iter().all(u8::is_ascii_alphabetic) || length > 0x7fff_ffff {
            self.ending = Some(if only_zeros(rest) { Ending::Early } else { Ending::Garbled });
            return None;
        }
        let Some(whole) = length.checked_add(12).and_then(|whole| rest.get(..whole)) else {
            self.ending = Some(Ending::Early);
            return None;
        };
        let chunk = Chunk { name, whole, offset: self.at };
        self.at = chunk.end();
        if &name == b"IEND" {
            self.ending = Some(Ending::Complete);
        }
        Some(chunk)
    }
}

/// Whether nothing was written here: what preallocated or sparse files hold.
pub(crate) fn only_zeros(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| *byte == 0)
}

/// A whole chunk made of its parts.
#[must_use]
pub fn build(name: [u8; 4], data: &[u8]) -> Vec<u8> {
    let mut whole = Vec::with_capacity(data.len() + 12);
    append(&mut whole, name, data);
    whole
}

/// Appends a whole chunk; `data` must be under 2 GiB, which every caller's limits see to.
pub(crate) fn append(out: &mut Vec<u8>, name: [u8; 4], data: &[u8]) {
    out.extend_from_slice(&(data.len() as u32).to_be_bytes());
    let start = out.len();
    out.extend_from_slice(&name);
    out.extend_from_slice(data);
    let checksum = crc32fast::hash(out.get(start..).unwrap_or_default());
    out.extend_from_slice(&checksum.to_be_bytes());
}
