//! The only place that opens for writing, syncs, renames, unlinks. Every operation is numbered, so that tests can
//! stop or fail at each one.

mod stamp;

pub use stamp::Stamp;
