//! The demo: draws the tiles of Oddfathom, a studio of our own invention that prints sea plants and harbour things.
//!
//! [`tiles`] lists every piece with what is promised of it, [`SPECS`] holds the studio's order sheets for the
//! configuration. Top: may use every stage. Nothing is read, fetched or left to chance: each draw yields the same bytes.

pub mod dice;
pub mod brush;
pub mod torus;
pub mod flaws;
pub mod rope;
// One drawing each.
pub mod anchors;
pub mod buoys;
pub mod dulse;
pub mod flags;
pub mod floats;
pub mod fog;
pub mod kelp;
pub mod knots;
pub mod lace;
pub mod limpets;
pub mod planks;
pub mod pots;
pub mod terrazzo;
pub mod tides;
pub mod urchins;
pub mod weave;
pub mod piece;
pub mod pieces;
pub mod run;

pub use piece::{Art, DrawError, Piece, Saved, Sketch};
pub use pieces::tiles;

/// The studio's order sheets, as the `[spec.NAME]` tables of a configuration.
pub const SPECS: &str = include_str!("demo/specs.toml");
