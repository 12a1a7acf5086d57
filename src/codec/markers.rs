//! JPEG's outer shape: marker segments and the entropy-coded data between them (ITU-T T.81, annex B).
//!
//! Takes bytes, yields segments. Knows nothing of what the coded data says.

use crate::codec::chunks::only_zeros;

/// One marker segment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Segment<'a> {
    /// The marker's second byte.
    pub(crate) marker: u8,
    /// Its parameters without the length.
    pub(crate) data: &'a [u8],
}

/// The end of the image.
const EOI: u8 = 0xd9;
/// The start of a scan.
const SOS: u8 = 0xda;

/// Walks the segments after SOI, leaping over entropy-coded data.
#[derive(Clone, Debug)]
pub(crate) struct Walk<'a> {
    rest: &'a [u8],
    /// Whether EOI was met.
    pub(crate) ended: bool,
}

/// Starts a walk.
pub(crate) fn walk(bytes: &[u8]) -> Walk<'_> {
    Walk { rest: bytes.get(2..).unwrap_or_default(), ended: false }
}

impl Walk<'_> {
    /// Whether the walk stopped at something that is neither a marker nor the file's end nor room not yet written.
    pub(crate) fn is_garbled(&self) -> bool {
        !self.ended && !self.rest.is_empty() && self.rest[0] != 0xff && !only_zeros(self.rest)
    }
}

impl<'a> Iterator for Walk<'a> {
    type Item = Segment<'a>;

    fn next(&mut self) -> Option<Segment<'a>> {
        if self.ended {
            return None;
        }
        loop {
            // Any number of fill bytes FF may stand before a marker (B.1.1.2).
            let [0xff, marker, after @ ..] = self.rest else { return None };
            let (marker, after) = (*marker, after);
            match marker {
                0xff => self.rest = self.rest.get(1..)?,
                EOI => {
                    self.ended = true;
                    self.rest = after;
                    return None;
                }
                // TEM and RST stand alone (table B.1).
                0x01 | 0xd0..=0xd7 => self.rest = after,
                0x00 | 0xd8 => return None,
                _ => {
                    let length = usize::from(u16::from_be_bytes(*after.first_chunk::<2>()?));
                    let data = after.get(2..length)?;
                    let coded = after.get(length..)?;
                    self.rest = if marker == SOS { coded.get(coded_length(coded)..)? } else { coded };
                    return Some(Segment { marker, data });
                }
            }
        }
    }
}

/// Bytes of entropy-coded data up to the next marker that is neither stuffing nor a restart (B.1.1.5).
fn coded_length(coded: &[u8]) -> usize {
    let mut at = 0;
    while let Some(found) = coded.get(at..).and_then(|rest| rest.iter().position(|byte| *byte == 0xff)) {
        at += found;
        match coded.get(at + 1) {
            Some(0x00 | 0xd0..=0xd7) => at += 2,
            Some(0xff) => at += 1,
            Some(_) => return at,
            None => break,
        }
    }
    coded.len()
}

/// Whether the walk meets a scan and then EOI.
pub(crate) fn reaches_end(bytes: &[u8]) -> bool {
    let mut walk = walk(bytes);
    let scanned = walk.by_ref().filter(|segment| segment.marker == SOS).count() > 0;
    scanned && walk.ended
}
