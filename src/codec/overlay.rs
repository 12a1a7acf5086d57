//! Changes laid over single rows of a picture while it is written, so that no changed copy of the whole is needed.
//!
//! Takes rows, changes them. Knows nothing of what the changes are for.

/// Changes to the rows of a picture, the same ones every time they are asked for.
pub trait Overlay: Sync {
    /// Whether row `y` changes at all.
    fn touches(&self, y: u32) -> bool;

    /// Changes row `y`, straight RGBA of 8 bits.
    fn lay(&self, y: u32, row: &mut [u8]);

    /// Changes row `y`, straight RGBA of 16 bits.
    fn lay_deep(&self, y: u32, row: &mut [u16]);
}

/// Memory for rows on their way.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    pub(crate) packed: Vec<u8>,
    pub(crate) shallow: Vec<u8>,
    pub(crate) deep: Vec<u16>,
}
