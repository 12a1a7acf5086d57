//! Who started a sweep: when it should end, who hears how far it is, and where else files may lie. Plain data and questions.

use super::tile::Roots;

/// How far a sweep is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Whether it reads and judges; otherwise it mends, or compares.
    pub reads: bool,
    /// Whether it compares what it has read, to find twins; nobody knows how many comparisons that takes.
    pub compares: bool,
    /// Files done.
    pub done: u64,
    /// Files to do.
    pub files: u64,
    /// Bytes done.
    pub bytes_done: u64,
    /// Bytes to do.
    pub bytes: u64,
}

/// What a sweep asks of who started it.
pub struct Company<'a> {
    /// Whether it should end: its time is up.
    pub stop: &'a (dyn Fn() -> bool + Sync),
    /// Hears how far it is.
    pub progress: &'a mut dyn FnMut(Progress),
    /// Where good copies of damaged files may lie.
    pub roots: &'a Roots,
}
