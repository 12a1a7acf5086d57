//! Bytes to pixels and back, under limits read from the header before anything is allocated.
//!
//! The only user of the image crates. Knows no files and judges nothing.

pub mod picture;
pub mod deep;
