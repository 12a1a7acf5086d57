//! The tile: one decoded image that is meant to repeat, and what its container says about it.
//!
//! Plain data that every stage speaks. Knows nothing of files, time, or what makes a tile good.

use std::fmt;

/// Straight (not premultiplied) RGBA samples, 8 bits each, rows from the top, no padding.
///
/// Every picture is judged on this view, whatever its own layout and depth:
/// gray is spread over three channels, a palette is looked up, 16-bit color is rounded to 8.
/// Alpha keeps its class: 255 if and only if the file's own alpha is full, 0 if and only if it is none,
/// so a 16-bit alpha of 65534 reads 254 and 1 reads 1.
#[derive(Clone, PartialEq, Eq)]
pub struct Raster {
    width: u32,
    height: u32,
    rgba: Vec<u8>,
}

/// Straight RGBA samples in the file's own 16 bits, same order as [`Raster`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deep(pub Vec<u16>);

impl Raster {
    /// Wraps `rgba`, which holds `width * height * 4` samples.
    ///
    /// Returns `None` when a side is zero or the length does not fit.
    #[must_use]
    pub fn new(width: u32, height: u32, rgba: Vec<u8>) -> Option<Self> {
        let need = u64::from(width) * u64::from(height) * 4;
        (need > 0 && need == rgba.len() as u64).then_some(Self { width, height, rgba })
    }

    /// Width in pixels, never zero.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Height in pixels, never zero.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.height
    }

    /// All samples, `[r, g, b, a]` per pixel.
    #[must_use]
    pub fn samples(&self) -> &[u8] {
        &self.rgba
    }

    /// All samples, to be changed in place.
    #[must_use]
    pub fn samples_mut(&mut self) -> &mut [u8] {
        &mut self.rgba
    }

    /// The samples of row `y`, counted from the top; `y` must be below the height.
    #[must_use]
    #[inline]
    pub fn row(&self, y: u32) -> &[u8] {
        let stride = self.width as usize * 4;
        &self.rgba[y as usize * stride..][..stride]
    }

    /// The pixel at column `x`, row `y`; both must be inside.
    #[must_use]
    #[inline]
    pub fn pixel(&self, x: u32, y: u32) -> [u8; 4] {
        let at = (y as usize * self.width as usize + x as usize) * 4;
        [self.rgba[at], self.rgba[at + 1], self.rgba[at + 2], self.rgba[at + 3]]
    }

    /// The pixel of the endless block repeat at any coordinates.
    #[must_use]
    #[inline]
    pub fn wrapped(&self, x: i64, y: i64) -> [u8; 4] {
        self.pixel(x.rem_euclid(i64::from(self.width)) as u32, y.rem_euclid(i64::from(self.height)) as u32)
    }

    /// Gives the samples back, so that their memory can be used again.
    #[must_use]
    pub fn into_samples(self) -> Vec<u8> {
        self.rgba
    }
}

impl fmt::Debug for Raster {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Raster({} x {})", self.width, self.height)
    }
}

/// The hash of a file's bytes (BLAKE3, 256 bits): what "the same content" means everywhere.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Content(pub [u8; 32]);

impl Content {
    /// Hashes bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }

    /// Reads 64 hexadecimal digits back.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Self> {
        blake3::Hash::from_hex(text).ok().map(|hash| Self(*hash.as_bytes()))
    }
}

impl fmt::Display for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&blake3::Hash::from_bytes(self.0).to_hex())
    }
}

impl fmt::Debug for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The containers we read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Portable Network Graphics, third edition.
    Png,
    /// JPEG in JFIF or Exif dress.
    Jpeg,
    /// TIFF 6.0.
    Tiff,
    /// WebP.
    Webp,
}

impl Format {
    /// The name in tickets.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Png => "png",
            Self::Jpeg => "jpeg",
            Self::Tiff => "tiff",
            Self::Webp => "webp",
        }
    }
}

/// How the file stores a pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Channels {
    /// One gray sample.
    Gray,
    /// Gray and alpha (or gray with one clear value).
    GrayAlpha,
    /// Red, green, blue.
    Rgb,
    /// Red, green, blue and alpha (or RGB with one clear value).
    Rgba,
    /// Indices into opaque colors.
    Palette,
    /// Indices into colors of which some are see-through.
    PaletteAlpha,
    /// Printing inks.
    Cmyk,
}

impl Channels {
    /// The name in tickets.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Gray => "gray",
            Self::GrayAlpha => "gray+alpha",
            Self::Rgb => "rgb",
            Self::Rgba => "rgba",
            Self::Palette => "palette",
            Self::PaletteAlpha => "palette+alpha",
            Self::Cmyk => "cmyk",
        }
    }
}

/// Pixels per inch as the container states them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resolution {
    /// Horizontal, per inch.
    pub x: f64,
    /// Vertical, per inch.
    pub y: f64,
    /// The tolerance of one storage unit, per inch: PNG 0.03 (one pixel per meter is 0.0254), JFIF per cm 1.27.
    pub quantum: f64,
}

/// What the container says about color.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Profile {
    /// Nothing: sRGB is assumed.
    Untagged,
    /// Marked as sRGB without an embedded profile.
    Srgb,
    /// An embedded ICC profile, by its own description.
    Icc(String),
    /// Marked by gamma, chromaticities or code points.
    Other(String),
}

impl Profile {
    /// The name in tickets.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Untagged => "none",
            Self::Srgb => "sRGB",
            Self::Icc(name) | Self::Other(name) => name,
        }
    }
}

/// What the file says about itself, and how it stores pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Meta {
    /// The container.
    pub format: Format,
    /// The size of the file in bytes.
    pub bytes: u64,
    /// The stored layout.
    pub channels: Channels,
    /// Bits per stored sample: 1, 2, 4, 8, 16 or 32.
    pub bit_depth: u8,
    /// Pixels per inch, when the file gives them.
    pub resolution: Option<Resolution>,
    /// The color tag.
    pub profile: Profile,
    /// Stored in passes.
    pub interlaced: bool,
    /// Frames of an animation; 1 for a still picture.
    pub frames: u32,
    /// Pages or subimages; 1 for a single picture.
    pub pages: u32,
    /// Whether the pixels went through a lossy coder in this very file.
    pub lossy: bool,
}

/// One decoded image.
#[derive(Clone, Debug)]
pub struct Tile {
    /// The 8-bit view that all checks use.
    pub raster: Raster,
    /// The samples in 16 bits, when the file has them.
    pub deep: Option<Deep>,
    /// What the container says.
    pub meta: Meta,
    /// The hash of the file.
    pub content: Content,
}
