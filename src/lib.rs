//! Burler inspects repeat tiles, mends what can be proven, and gives the checked files back.
//!
//! ```text
//! exports/ -> arrival -> settle -> pipeline (decode, check, mend, mockup) -> deliver -> checked/
//!                                  run by worker                   ledger <-+-> digest
//! ```
//!
//! Data flows one way. Ground modules know no stage; a stage imports the ground and the stages before it; top wires.
//! `tests/architecture.rs` holds the same order and says why.

// Top: wires and decides.
pub mod cli;
pub mod config;
pub mod daemon;
pub mod demo;

// Flow, in the order of the data.
pub mod arrival;
pub mod settle;
pub mod pipeline;
pub mod worker;
pub mod ledger;
pub mod deliver;
pub mod archive;
pub mod digest;

// Ground: knows no stage.
pub mod spec;
pub mod finding;
pub mod ticket;
pub mod tile;
pub mod codec;
pub mod pixel;
pub mod clock;
pub mod disk;
