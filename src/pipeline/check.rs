//! Checks: each a pure rule over a tile and its spec that yields findings. Cannot fail, knows nothing of files or mending.

pub mod words;
pub mod size;
pub mod container;
pub mod alpha;
pub mod joint;
