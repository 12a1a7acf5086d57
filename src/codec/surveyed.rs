//! What a JPEG or a WebP says before any pixel is unpacked: plain data.

use crate::tile::Meta;

/// What the file says.
#[derive(Clone, Debug)]
pub(crate) struct Survey {
    /// Stored pixels across.
    pub(crate) width: u32,
    /// Stored pixels down.
    pub(crate) height: u32,
    pub(crate) meta: Meta,
    /// 1 to 8.
    pub(crate) orientation: u8,
}
