//! One tile: bytes in, outcome out. Pure and synchronous.
//!
//! Knows nothing of files, time, processes or mail.

pub mod check;
pub mod mend;
pub mod mockup;
