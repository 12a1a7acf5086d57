//! Mending: inside the mask only, and proven before anyone sees it.
//!
//! Takes a tile and its survey, yields what changes, never a changed tile: the original stays at hand for the proof.
//! Knows nothing of files and of how pictures are written.

pub mod around;
pub mod color;
pub mod fill;
pub mod mended;
pub mod tag;
pub mod proof;

pub use mended::{Mended, Undo, mend};
