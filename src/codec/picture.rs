//! Writing pictures of our own: mock-ups, held pictures and the demo's tiles, as PNG or JPEG with their resolution.
//!
//! What a designer made goes through `png` rewriting instead, which keeps every chunk.

pub mod laid;

use crate::tile::Raster;
pub use laid::Laid;
use thiserror::Error;

/// Why a picture could not be written.
#[derive(Debug, Error)]
pub enum PictureError {
    /// The PNG encoder refused.
    #[error("cannot write the picture as PNG: {0}")]
    Png(#[from] png::EncodingError),
    /// The JPEG encoder refused.
    #[error("cannot write the picture as JPEG: {0}")]
    Jpeg(#[from] jpeg_encoder::EncodingError),
    /// A side is beyond what JPEG can say (ITU-T T.81: 65535).
    #[error("a JPEG picture cannot be {0} x {1} pixels: the most is 65535 a side")]
    TooWide(u32, u32),
}

/// Pixels per meter for pixels per inch, rounded to the nearest (PNG third edition, 11.3.4.3; 1 inch = 0.0254 m).
#[must_use]
pub fn per_meter(per_inch: f64) -> u32 {
    (per_inch / 0.0254).round() as u32
}

/// An 8-bit RGBA PNG, tagged with a resolution in pixels per inch when one is given.
///
/// # Errors
/// When the encoder refuses, which valid rasters do not provoke.
pub fn encode_png(raster: &Raster, per_inch: Option<f64>) -> Result<Vec<u8>, PictureError> {
    write_png(raster, per_inch, png::ColorType::Rgba, raster.samples())
}

/// An 8-bit RGB PNG, tagged likewise; alpha is ignored.
///
/// # Errors
/// When the encoder refuses, which valid rasters do not provoke.
pub fn encode_opaque_png(raster: &Raster, per_inch: Option<f64>) -> Result<Vec<u8>, PictureError> {
    let rgb: Vec<u8> = raster.samples().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
    write_png(raster, per_inch, png::ColorType::Rgb, &rgb)
}

fn write_png(
    raster: &Raster,
    per_inch: Option<f64>,
    color: png::ColorType,
    samples: &[u8],
) -> Result<Vec<u8>, PictureError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, raster.width(), raster.height());
    encoder.set_color(color);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    if let Some(per_inch) = per_inch {
        let unit = per_meter(per_inch);
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: unit, yppu: unit, unit: png::Unit::Meter }));
    }
    let mut writer = encoder.write_header()?;
    writer.write_image_data(samples)?;
    writer.finish()?;
    Ok(bytes)
}

/// An RGB JPEG without chroma subsampling; alpha is ignored. `quality` is 1 to 100.
///
/// # Errors
/// When a side is over 65535 pixels.
pub fn encode_jpeg(raster: &Raster, quality: u8, per_inch: Option<f64>) -> Result<Vec<u8>, PictureError> {
    encode_stretched_jpeg(raster, quality, per_inch.map(|per_inch| [per_inch; 2]))
}

/// The same with a resolution of its own across and down.
///
/// # Errors
/// When a side is over 65535 pixels.
pub fn encode_stretched_jpeg(
    raster: &Raster,
    quality: u8,
    per_inch: Option<[f64; 2]>,
) -> Result<Vec<u8>, PictureError> {
    write_jpeg(raster, quality, per_inch, None)
}

/// An RGB JPEG of copies of `unit`, tagged with a resolution across and down.
///
/// The unit is encoded once and its segments are repeated, so that the copies are equal bit for bit once decoded.
/// `None` when copies do not fall on whole blocks of 8 x 8 pixels: then the whole picture must be encoded.
///
/// # Errors
/// When a side of the unit is over 65535 pixels.
pub fn encode_laid_jpeg(
    unit: &Raster,
    laid: Laid,
    quality: u8,
    per_inch: Option<[f64; 2]>,
) -> Result<Option<Vec<u8>>, PictureError> {
    let Some(interval) = laid.interval(unit.width(), unit.height()) else { return Ok(None) };
    let once = write_jpeg(unit, quality, per_inch, Some(interval))?;
    Ok(laid.repeat(&once, unit.width(), unit.height()))
}

/// The share by which the resolution tag of a JPEG of ours is off: JFIF (ITU-T T.871) says whole numbers per inch or per
/// centimeter, and the nearer of the two is written.
#[must_use]
pub fn density_error(per_inch: [f64; 2]) -> f64 {
    density(per_inch).1
}

fn density(per_inch: [f64; 2]) -> (jpeg_encoder::PixelDensity, f64) {
    let said = |unit, inches: f64| {
        let [x, y] = per_inch.map(|per_inch| (per_inch * inches).round().clamp(1.0, 65535.0));
        let error = (x / (per_inch[0] * inches) - 1.0).abs().max((y / (per_inch[1] * inches) - 1.0).abs());
        (jpeg_encoder::PixelDensity { density: (x as u16, y as u16), unit }, error)
    };
    let inch = said(jpeg_encoder::PixelDensityUnit::Inches, 1.0);
    let centimeter = said(jpeg_encoder::PixelDensityUnit::Centimeters, 1.0 / 2.54);
    if centimeter.1 < inch.1 { centimeter } else { inch }
}

fn write_jpeg(
    raster: &Raster,
    quality: u8,
    per_inch: Option<[f64; 2]>,
    restart: Option<u16>,
) -> Result<Vec<u8>, PictureError> {
    let (Ok(width), Ok(height)) = (u16::try_from(raster.width()), u16::try_from(raster.height())) else {
        return Err(PictureError::TooWide(raster.width(), raster.height()));
    };
    let mut bytes = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut bytes, quality.clamp(1, 100));
    encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::R_4_4_4);
    if let Some(per_inch) = per_inch {
        encoder.set_density(density(per_inch).0);
    }
    if let Some(blocks) = restart {
        encoder.set_restart_interval(blocks);
    }
    encoder.encode(raster.samples(), width, height, jpeg_encoder::ColorType::Rgba)?;
    Ok(bytes)
}
