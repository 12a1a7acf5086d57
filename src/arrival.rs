//! Arrivals: what lies in an exports folder, from events and scans. The scan is the truth, events only make it early.
//!
//! Takes a root folder, yields [`Happening`]s, most of them "look again at this folder", and reads folders into
//! [`Look`]s: relative raw paths with stamps. Opens no file and judges nothing.

pub mod names;
mod look;

pub use look::Look;
