//! Pixel arithmetic: compositing, stored color, linear light, color difference, masks. Each formula names its source.
//!
//! Knows no files and no rules.

pub mod difference;
pub mod light;
pub mod mask;
pub mod over;
pub mod stored;
