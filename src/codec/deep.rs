//! Writing a picture of our own with 16 bits a sample.
//!
//! What a designer made goes through the rewriting of its own file instead. Knows no files.

use super::picture::{PictureError, per_meter};
use super::spread::shallow;

/// A 16-bit RGBA PNG of `width` x `height` x 4 straight samples, tagged with a resolution in pixels per inch.
///
/// # Errors
/// When the number of samples is not that of the sides, or a side is zero.
pub fn encode_png_deep(width: u32, height: u32, samples: &[u16], per_inch: f64) -> Result<Vec<u8>, PictureError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Sixteen);
    encoder.set_compression(png::Compression::Fast);
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    let unit = per_meter(per_inch);
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: unit, yppu: unit, unit: png::Unit::Meter }));
    // PNG stores samples of two bytes with the high one first (PNG third edition, 7.1).
    let stored: Vec<u8> = samples.iter().flat_map(|sample| sample.to_be_bytes()).collect();
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&stored)?;
    writer.finish()?;
    Ok(bytes)
}

/// The 8-bit view of straight RGBA samples of 16 bits, as [`crate::tile::Raster`] defines it.
#[must_use]
pub fn view_of(deep: &[u16]) -> Vec<u8> {
    let mut view = vec![0; deep.len()];
    shallow(deep, &mut view);
    view
}
