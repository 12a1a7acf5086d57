//! Arrivals: what lies in an exports folder, from events and scans. The scan is the truth, events only make it early.
//!
//! Takes a root folder, yields [`Happening`]s, most of them "look again at this folder", and reads folders into
//! [`Look`]s: relative raw paths with stamps. Follows no links, opens no file and judges nothing.

pub mod names;
mod look;
mod trouble;
mod identity;
mod marks;
mod scan;
mod watcher;
mod state;
mod lookout;

pub use identity::Identity;
pub use look::{Look, LookAt};
pub use lookout::{Eye, Lookout};
pub use marks::Marks;
pub use scan::{Entry, scan};
pub use trouble::Trouble;
pub use watcher::{Inbox, Signal, Watcher};

use std::time::Duration;

/// How a root is watched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Look at everything every `poll_every` instead of waiting for events: for mounts that send none.
    pub polling: bool,
    /// The wait between two full looks when polling, and when the system refuses to watch some folder.
    pub poll_every: Duration,
    /// The wait between two full looks otherwise: the floor under events that never came.
    pub scan_every: Duration,
}

impl Default for Settings {
    fn default() -> Self {
        Self { polling: false, poll_every: Duration::from_secs(5), scan_every: Duration::from_secs(5 * 60) }
    }
}

/// What a [`Lookout`] tells.
#[derive(Debug)]
pub enum Happening {
    /// Look again at this folder, with [`Eye::look`].
    LookAt(LookAt),
    /// The root is not there any more, or was not there at the start. Nothing is forgotten; it is waited for.
    RootLost,
    /// The root is there again; a look at all of it follows.
    RootBack,
    /// Something that people should know, told once; watching goes on.
    Trouble(Trouble),
}
