//! The tag directories that TIFF and Exif share (TIFF 6.0, section 2; Exif: CIPA DC-008, 4.6).
//!
//! Takes bytes that start with a byte order, yields entries, resolution and orientation. Every offset is checked, since
//! all of them come from the file. Knows nothing of pixels.

use crate::tile::Resolution;

/// The most entries of one directory that are looked at; real ones have a few dozen.
const MOST_ENTRIES: u64 = 4096;

/// The most directories of one file that are followed.
pub(crate) const MOST_DIRECTORIES: u32 = 1000;

/// A file or block of tag directories.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tags<'a> {
    bytes: &'a [u8],
    big_endian: bool,
    /// The variant with 64-bit offsets.
    wide: bool,
}

/// One entry of a directory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry<'a> {
    pub(crate) tag: u16,
    kind: u16,
    /// Where the directory holds the values or their place.
    held_at: u64,
    /// The values; `None` when they lie outside the file.
    values: Option<&'a [u8]>,
}

/// One directory and where the next one is; 0 ends the chain.
#[derive(Clone, Debug)]
pub(crate) struct Directory<'a> {
    pub(crate) entries: Vec<Entry<'a>>,
    pub(crate) next: u64,
}

impl<'a> Tags<'a> {
    /// Reads the head; yields the tags and the place of the first directory.
    pub(crate) fn open(bytes: &'a [u8]) -> Option<(Self, u64)> {
        let (big_endian, wide) = match bytes.first_chunk::<4>()? {
            [b'I', b'I', 42, 0] => (false, false),
            [b'M', b'M', 0, 42] => (true, false),
            [b'I', b'I', 43, 0] => (false, true),
            [b'M', b'M', 0, 43] => (true, true),
            _ => return None,
        };
        let tags = Self { bytes, big_endian, wide };
        let first = if wide { tags.number(8, 8)? } else { tags.number(4, 4)? };
        Some((tags, first))
    }

    /// Whether the highest byte comes first.
    pub(crate) fn is_big_endian(&self) -> bool {
        self.big_endian
    }

    /// An unsigned number of `width` bytes (1 to 8) at a place of the file.
    fn number(&self, at: u64, width: u64) -> Option<u64> {
        self.slice(at, width).map(|bytes| self.fold(bytes))
    }

    fn fold(&self, bytes: &[u8]) -> u64 {
        let join = |value: u64, byte: &u8| value << 8 | u64::from(*byte);
        if self.big_endian { bytes.iter().fold(0, join) } else { bytes.iter().rev().fold(0, join) }
    }

    fn slice(&self, at: u64, length: u64) -> Option<&'a [u8]> {
        let end = usize::try_from(at.checked_add(length)?).ok()?;
        self.bytes.get(usize::try_from(at).ok()?..end)
    }

    /// The directory at a place of the file; `None` when it does not lie inside whole.
    pub(crate) fn directory(&self, at: u64) -> Option<Directory<'a>> {
        let (count_width, entry_width, inline) = if self.wide { (8, 20, 8) } else { (2, 12, 4) };
        let count = self.number(at, count_width)?;
        if count == 0 || count > MOST_ENTRIES {
            return None;
        }
        let start = at.checked_add(count_width)?;
        let mut entries = Vec::new();
        for index in 0..count {
            let place = start.checked_add(index * entry_width)?;
            let tag = self.number(place, 2)? as u16;
            let kind = self.number(place.checked_add(2)?, 2)? as u16;
            let count = self.number(place.checked_add(4)?, inline)?;
            let held = place.checked_add(4 + inline)?;
            let length = width_of(kind).checked_mul(count);
            let values = length.and_then(|length| {
                let from = if length <= inline { held } else { self.number(held, inline)? };
                self.slice(from, length)
            });
            entries.push(Entry { tag, kind, held_at: held, values });
        }
        let next = self.number(start.checked_add(count * entry_width)?, inline)?;
        Some(Directory { entries, next })
    }

    /// All whole-number values of an entry; empty for other kinds.
    pub(crate) fn numbers(&self, entry: &Entry<'a>) -> impl Iterator<Item = u64> + use<'a> {
        let width = match entry.kind {
            1 | 3 | 4 | 13 | 16 | 18 => width_of(entry.kind) as usize,
            _ => 0,
        };
        let values = if width == 0 { &[] } else { entry.values.unwrap_or_default() };
        let tags = *self;
        values.chunks_exact(width.max(1)).map(move |value| tags.fold(value))
    }

    /// The first value of an entry as a real number, when it is a positive rational or whole number.
    fn real(&self, entry: &Entry<'a>) -> Option<f64> {
        let value = if entry.kind == 5 {
            let (top, bottom) = entry.values?.get(..8)?.split_at(4);
            self.fold(top) as f64 / self.fold(bottom) as f64
        } else {
            self.numbers(entry).next()? as f64
        };
        (value.is_finite() && value > 0.0).then_some(value)
    }
}

impl<'a> Entry<'a> {
    /// The bytes of the values.
    pub(crate) fn bytes(&self) -> Option<&'a [u8]> {
        self.values
    }

    /// Whether the values lie outside the file.
    pub(crate) fn is_cut(&self) -> bool {
        self.values.is_none()
    }

    /// Where the directory holds the values when they are short.
    pub(crate) fn held_at(&self) -> u64 {
        self.held_at
    }
}

impl<'a> Directory<'a> {
    /// The entry of a tag.
    pub(crate) fn find(&self, tag: u16) -> Option<&Entry<'a>> {
        self.entries.iter().find(|entry| entry.tag == tag)
    }

    /// The first whole-number value of a tag.
    pub(crate) fn first(&self, tags: &Tags<'a>, tag: u16) -> Option<u64> {
        self.find(tag).and_then(|entry| tags.numbers(entry).next())
    }

    /// Pixels per inch from tags 282, 283 and 296.
    ///
    /// Unit 1 says no size, 2 is inch and the default, 3 is centimeter (TIFF 6.0, section 8; CIPA DC-008, 4.6.4).
    pub(crate) fn resolution(&self, tags: &Tags<'a>) -> Option<Resolution> {
        let per = match self.first(tags, 296).unwrap_or(2) {
            2 => 1.0,
            3 => 2.54,
            _ => return None,
        };
        let x = self.find(282).and_then(|entry| tags.real(entry));
        let y = self.find(283).and_then(|entry| tags.real(entry)).or(x)?;
        let x = x.unwrap_or(y);
        // Whole numbers per centimeter cannot say 300 per inch, so they are allowed half a unit as in JFIF; otherwise as
        // much as PNG's unit, since many a file was converted from one.
        let whole = per > 1.0 && x.fract() == 0.0 && y.fract() == 0.0;
        let quantum = if whole { 1.27 } else { 0.03 };
        Some(Resolution { x: x * per, y: y * per, quantum })
    }

    /// Tag 274, 1 to 8 (TIFF 6.0, section 8); 1 when missing or of another value.
    pub(crate) fn orientation(&self, tags: &Tags<'a>) -> u8 {
        self.first(tags, 274)
            .and_then(|value| u8::try_from(value).ok())
            .filter(|value| (1..=8).contains(value))
            .unwrap_or(1)
    }
}

/// Bytes of one value of a field type (TIFF 6.0, section 2, and its 64-bit supplement); unknown types count as bytes.
fn width_of(kind: u16) -> u64 {
    match kind {
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 | 16 | 17 | 18 => 8,
        _ => 1,
    }
}

/// What an Exif block says of the picture it goes with.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Exif {
    pub(crate) resolution: Option<Resolution>,
    /// 1 to 8.
    pub(crate) orientation: u8,
}

/// Reads the first directory of an Exif block, with or without the six bytes that JPEG puts before it.
pub(crate) fn exif(block: &[u8]) -> Option<Exif> {
    let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    let (tags, first) = Tags::open(block)?;
    let directory = tags.directory(first)?;
    Some(Exif { resolution: directory.resolution(&tags), orientation: directory.orientation(&tags) })
}
