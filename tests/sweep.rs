//! Sweeps of archives: what is told apart, what is found again, what an interruption costs, and that nothing is written where
//! nothing may be.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/house.rs"]
mod house;
#[path = "desk/tiles.rs"]
mod tiles;
#[path = "desk/vault.rs"]
mod vault;
#[path = "desk/watched.rs"]
mod watched;

#[path = "sweep/command.rs"]
mod command;
#[path = "sweep/integrity.rs"]
mod integrity;
#[path = "sweep/mending.rs"]
mod mending;
#[path = "sweep/nightly.rs"]
mod nightly;
#[path = "sweep/nights.rs"]
mod nights;
#[path = "sweep/stops.rs"]
mod stops;
