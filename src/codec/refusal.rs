//! Why bytes are not taken for a tile, and the limits that refuse them before anything is allocated.
//!
//! Holds every sentence the codec says to a designer. Knows no format's inside.

use crate::finding::Kind;
use crate::tile::Format;
use std::fmt;

/// What a file may be at most. Everything is judged from the header, before memory for pixels is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Pixels along one side.
    pub max_side: u32,
    /// Pixels in all.
    pub max_pixels: u64,
    /// Bytes of the file.
    pub max_bytes: u64,
    /// Bytes of one unpacked piece of metadata, such as a color profile; larger ones are not looked into.
    pub max_metadata: usize,
}

impl Default for Limits {
    /// Room for cloth 2.5 m wide at 300 per inch; the usual tile of 3600 x 3600 (common practice) is a ninth of it.
    fn default() -> Self {
        Self { max_side: 30_000, max_pixels: 120_000_000, max_bytes: 1 << 30, max_metadata: 8 << 20 }
    }
}

impl Limits {
    /// Whether a file of this many bytes may be looked at.
    ///
    /// # Errors
    /// [`Refusal::TooLarge`].
    pub fn admit_bytes(&self, bytes: u64) -> Result<(), Refusal> {
        if bytes > self.max_bytes {
            return Err(Refusal::TooLarge(Excess::Bytes { bytes, limit: self.max_bytes }));
        }
        Ok(())
    }

    /// Whether a picture of these sides may be decoded.
    ///
    /// # Errors
    /// [`Refusal::TooLarge`].
    pub fn admit_sides(&self, width: u32, height: u32) -> Result<(), Refusal> {
        if width.max(height) > self.max_side {
            return Err(Refusal::TooLarge(Excess::Side { width, height, limit: self.max_side }));
        }
        if u64::from(width) * u64::from(height) > self.max_pixels {
            return Err(Refusal::TooLarge(Excess::Pixels { width, height, limit: self.max_pixels }));
        }
        Ok(())
    }
}

/// Which limit is passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Excess {
    /// A side.
    Side {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Pixels allowed.
        limit: u32,
    },
    /// The area.
    Pixels {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Pixels allowed in all.
        limit: u64,
    },
    /// The file.
    Bytes {
        /// Bytes of the file.
        bytes: u64,
        /// Bytes allowed.
        limit: u64,
    },
    /// The machine gave no memory for the pixels.
    Memory {
        /// Bytes asked for.
        bytes: u64,
    },
}

/// Why bytes are not taken for a tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// No bytes at all.
    Empty,
    /// Too few bytes to tell, or nothing but room that was never filled.
    Unfinished,
    /// The first bytes are those of no container we read.
    NotAnImage,
    /// A part of the file contradicts the container's rules.
    Damaged {
        /// The container.
        format: Format,
        /// The part, in words that follow "the".
        part: String,
    },
    /// The file ends before its pixels do.
    Truncated {
        /// The container.
        format: Format,
    },
    /// A kind of image we do not read.
    Unsupported {
        /// The container.
        format: Format,
        /// What it holds, in words that follow "it holds".
        what: String,
    },
    /// Over a limit.
    TooLarge(Excess),
}

impl Refusal {
    /// A refusal of a broken part.
    pub(crate) fn damaged(format: Format, part: impl Into<String>) -> Self {
        Self::Damaged { format, part: part.into() }
    }

    /// A refusal of a kind we do not read.
    pub(crate) fn unsupported(format: Format, what: impl Into<String>) -> Self {
        Self::Unsupported { format, what: what.into() }
    }

    /// The kind of the finding this becomes.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self {
            Self::Empty | Self::NotAnImage | Self::Damaged { .. } => Kind::FileUnreadable,
            Self::Unfinished | Self::Truncated { .. } => Kind::FileTruncated,
            Self::Unsupported { .. } => Kind::FileUnsupported,
            Self::TooLarge(_) => Kind::FileTooLarge,
        }
    }

    /// What is wrong: one sentence for the designer, lower case, no full stop.
    #[must_use]
    pub fn says(&self) -> String {
        self.words().0
    }

    /// What to do, in the same manner.
    #[must_use]
    pub fn remedy(&self) -> String {
        self.words().1.to_string()
    }

    /// All wording, in pairs of what is wrong and what to do.
    fn words(&self) -> (String, &'static str) {
        const AGAIN: &str = "export the tile again and wait until the copy is complete";
        const SMALLER: &str = "export one repeat only, or at a lower resolution";
        match self {
            Self::Empty => ("the file is empty".into(), AGAIN),
            Self::Unfinished => ("the file ends before the picture does".into(), AGAIN),
            Self::NotAnImage => (
                "the name says image, but the content is none we know".into(),
                "export the tile as PNG, TIFF, JPEG or WebP",
            ),
            Self::Damaged { format, part } => {
                (format!("the {} file is damaged: the {part} cannot be read", title(*format)), AGAIN)
            }
            Self::Truncated { format } => (format!("the {} file ends before the picture does", title(*format)), AGAIN),
            Self::Unsupported { format, what } => (
                format!("this kind of {} is not read: it holds {what}", title(*format)),
                "export the tile as an ordinary PNG with 8 or 16 bits per channel",
            ),
            Self::TooLarge(Excess::Side { width, height, limit }) => {
                (format!("the tile is {width} x {height} pixels, and a side may have {limit} at most"), SMALLER)
            }
            Self::TooLarge(Excess::Pixels { width, height, limit }) => {
                let pixels = u64::from(*width) * u64::from(*height) / 1_000_000;
                let most = limit / 1_000_000;
                (
                    format!("the tile is {width} x {height}, {pixels} million pixels, and may have {most} million"),
                    SMALLER,
                )
            }
            Self::TooLarge(Excess::Bytes { bytes, limit }) => {
                (format!("the file has {} MB, and may have {} MB at most", bytes >> 20, limit >> 20), SMALLER)
            }
            Self::TooLarge(Excess::Memory { bytes }) => {
                (format!("there is no room in memory for the picture's {} MB", bytes >> 20), SMALLER)
            }
        }
    }
}

fn title(format: Format) -> &'static str {
    match format {
        Format::Png => "PNG",
        Format::Jpeg => "JPEG",
        Format::Tiff => "TIFF",
        Format::Webp => "WebP",
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.says())
    }
}

impl std::error::Error for Refusal {}

/// `reuse` grown or cut to `samples` bytes; old content stays where it was, so every sample must be written.
///
/// # Errors
/// [`Refusal::TooLarge`] when the machine has no memory left.
pub(crate) fn sized(mut reuse: Vec<u8>, samples: usize) -> Result<Vec<u8>, Refusal> {
    if reuse.len() < samples {
        // A buffer that must move is not worth copying.
        if reuse.capacity() < samples {
            reuse = Vec::new();
        }
        reuse
            .try_reserve_exact(samples - reuse.len())
            .map_err(|_| Refusal::TooLarge(Excess::Memory { bytes: samples as u64 }))?;
        reuse.resize(samples, 0);
    }
    reuse.truncate(samples);
    Ok(reuse)
}

/// A fresh buffer for 16-bit samples.
///
/// # Errors
/// [`Refusal::TooLarge`] when the machine has no memory left.
pub(crate) fn sized_deep(samples: usize) -> Result<Vec<u16>, Refusal> {
    let mut deep = Vec::new();
    deep.try_reserve_exact(samples).map_err(|_| Refusal::TooLarge(Excess::Memory { bytes: samples as u64 * 2 }))?;
    deep.resize(samples, 0);
    Ok(deep)
}
