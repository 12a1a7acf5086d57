//! Arrivals: what lies in an exports folder, from events and scans. The scan is the truth, events only make it early.
//!
//! Takes a root folder, yields [`Happening`]s, most of them "look again at this folder", and reads folders into
//! [`Look`]s: relative raw paths with stamps. Follows no links, opens no file and judges nothing.

pub mod names;
mod look;
mod trouble;
mod telling;
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
pub use telling::{Happening, Settings};
pub use trouble::Trouble;
pub use watcher::{Inbox, Signal, Watcher};
