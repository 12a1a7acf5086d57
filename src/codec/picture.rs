//! Writing pictures of our own: mock-ups, held pictures and the demo's tiles, as PNG or JPEG with their resolution.
//!
//! What a designer made goes through `png` rewriting instead, which keeps every chunk.

use crate::tile::Raster;
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
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, raster.width(), raster.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    if let Some(per_inch) = per_inch {
        let unit = per_meter(per_inch);
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: unit, yppu: unit, unit: png::Unit::Meter }));
    }
    let mut writer = encoder.write_header()?;
    writer.write_image_data(raster.samples())?;
    writer.finish()?;
    Ok(bytes)
}

/// An RGB JPEG without chroma subsampling; alpha is ignored. `quality` is 1 to 100.
///
/// # Errors
/// When a side is over 65535 pixels.
pub fn encode_jpeg(raster: &Raster, quality: u8, per_inch: Option<f64>) -> Result<Vec<u8>, PictureError> {
    let (Ok(width), Ok(height)) = (u16::try_from(raster.width()), u16::try_from(raster.height())) else {
        return Err(PictureError::TooWide(raster.width(), raster.height()));
    };
    let mut bytes = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut bytes, quality);
    encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::R_4_4_4);
    if let Some(per_inch) = per_inch {
        let density = per_inch.round().clamp(1.0, 65535.0) as u16;
        encoder.set_density(jpeg_encoder::PixelDensity {
            density: (density, density),
            unit: jpeg_encoder::PixelDensityUnit::Inches,
        });
    }
    encoder.encode(raster.samples(), width, height, jpeg_encoder::ColorType::Rgba)?;
    Ok(bytes)
}
