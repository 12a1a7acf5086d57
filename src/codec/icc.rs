//! The name a color profile gives itself (ICC.1:2022, 7.3 and 9.2.41).
//!
//! Takes the bytes of a profile, yields its description. Reads that one tag alone, so that a profile with a broken curve
//! still has a name; transforms nothing.

/// Bytes of the header, before the tag table.
const HEADER: usize = 128;

/// The most tags looked at; real profiles have about twenty.
const MOST_TAGS: usize = 256;

/// The most characters of a description that are kept.
const MOST_CHARACTERS: usize = 120;

/// The profile's description, without control characters; `None` when it has none that can be read.
#[must_use]
pub fn description(profile: &[u8]) -> Option<String> {
    // Bytes 36 to 39 of every profile (ICC.1:2022, 7.2.11).
    if profile.get(36..40)? != b"acsp" {
        return None;
    }
    let count = long(profile, HEADER)?.min(MOST_TAGS);
    let table = profile.get(HEADER + 4..)?;
    let entry = table.chunks_exact(12).take(count).find(|entry| entry.starts_with(b"desc"))?;
    let (offset, size) = (long(entry, 4)?, long(entry, 8)?);
    let tag = profile.get(offset..offset.checked_add(size)?)?;
    let text = match tag.get(..4)? {
        b"mluc" => unicode(tag)?,
        // Version 2 profiles: a counted ASCII string (ICC.1:2001-04, 6.5.17).
        b"desc" => {
            let length = long(tag, 8)?;
            latin(tag.get(12..12usize.checked_add(length)?)?)
        }
        b"text" => latin(tag.get(8..)?),
        _ => return None,
    };
    let text: String = text.chars().filter(|character| !character.is_control()).take(MOST_CHARACTERS).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_string())
}

/// The English record of a multi-localized text, else its first one (ICC.1:2022, 10.15).
fn unicode(tag: &[u8]) -> Option<String> {
    let (count, size) = (long(tag, 8)?, long(tag, 12)?);
    let records = tag.get(16..)?;
    if size < 12 {
        return None;
    }
    let mut records = records.chunks_exact(size).take(count.min(MOST_TAGS));
    let first = records.clone().next()?;
    let record = records.find(|record| record.starts_with(b"en")).unwrap_or(first);
    let (length, offset) = (long(record, 4)?, long(record, 8)?);
    let text = tag.get(offset..offset.checked_add(length)?)?;
    let units = text.chunks_exact(2).map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
    Some(char::decode_utf16(units).map(|unit| unit.unwrap_or(char::REPLACEMENT_CHARACTER)).collect())
}

/// Latin-1 up to the first zero.
pub(crate) fn latin(bytes: &[u8]) -> String {
    bytes.iter().take_while(|byte| **byte != 0).map(|byte| char::from(*byte)).collect()
}

fn long(bytes: &[u8], at: usize) -> Option<usize> {
    let four = bytes.get(at..)?.first_chunk::<4>()?;
    usize::try_from(u32::from_be_bytes(*four)).ok()
}
