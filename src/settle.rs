//! Settling: when is a file finished? A pure timeline machine over what was seen and when.
//!
//! Takes looks and single stamps with the tick they were seen at, asks for the structure of a file once it has been
//! still long enough, yields finished files, newest first, and the tick of its next wake-up. Reads no clock and no file.

mod file;
mod table;

pub use file::{Ask, Backlog, Noted, Settings, Settled, Structure};
pub use table::Table;
