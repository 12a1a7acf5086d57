//! Bytes to pixels and back, under limits read from the header before anything is allocated.
//!
//! The only user of the image crates. Knows no files and judges nothing.

pub mod picture;
pub mod refusal;
pub mod chunks;
mod signature;
mod markers;
mod riff;
mod ifd;
mod icc;
mod completeness;
mod spread;
mod adam7;
mod inks;
mod orient;
mod embedded;
mod png_tags;
mod png_survey;
mod from_png;
mod surveyed;
mod from_jpeg;
mod tiff_survey;
mod from_tiff;
mod from_webp;
mod read;
mod carry;
mod retag;
mod overlay;
mod pack;
mod squeeze;
mod to_png;
mod kept;
mod note;

pub use completeness::{Completeness, completeness};
pub use kept::metadata_kept;
pub use note::{note, noted};
pub use overlay::Overlay;
pub use read::{Header, decode, each_row, header};
pub use refusal::{Excess, Limits, Refusal};
pub use retag::retag;
pub use signature::{format_of, looks_like_image_name};
pub use squeeze::SqueezeError;
pub use to_png::{EncodeError, MOST_METADATA, encode_derived, encode_laid, encode_mended};
pub mod deep;
