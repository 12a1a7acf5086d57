//! Transparency: the ground first, then hairline, fringe, gap, speck and soft art kept apart.
//!
//! Takes a tile and the demanded ground, yields a [`Survey`] of masks and its findings. Knows nothing of files or mending.

pub mod plane;
pub mod link;
pub mod strands;
pub mod classes;
pub mod fringe;
pub mod lines;
pub mod boxes;
pub mod lost;
pub mod survey;
pub mod tell;
pub mod readings;

pub use readings::readings;
pub use survey::{Survey, survey};
pub use tell::findings;
