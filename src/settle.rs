//! Settling: when is a file finished? A pure timeline machine over (event, stamp, now).
//!
//! Reads no clock and no file.
