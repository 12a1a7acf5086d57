//! The only place that opens for writing, syncs, renames, unlinks and makes folders.
//!
//! Takes a [`Disk`], whose operations are numbered in order, so that tests can stop or fail at each one, and a [`Tree`],
//! a folder below which everything is reached without following a link. Yields published files that are either absent
//! or whole. Knows nothing of tiles, verdicts or the ledger.

mod stamp;
mod error;
mod count;
mod read;
mod tree;
mod rename;
mod extras;
mod writers;
mod publish;
mod moving;
mod carry;
mod leftovers;
mod scratch;
mod lock;

pub use count::{Disk, Trip};
pub use error::{Cause, Deed, DiskError, spelled};
pub use lock::Lock;
pub use publish::{Onto, Source, Staged};
pub use read::{hash, hash_file, hash_with, open, open_folder, stamp, stamp_open};
pub use scratch::{hash_named, open_named, read_bytes, read_text};
pub use stamp::{Dress, Stamp};
pub use tree::{Look, Tree};
pub use writers::Writers;
