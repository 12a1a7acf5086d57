//! Twins: tiles that are one repeat under several names, and families of one drawing in several colors.
//!
//! Search and groups are pure: likenesses in, questions and families out. `hunt` asks the ledger and the workers.

pub mod index;
pub mod groups;
mod told;
mod hunt;

pub use hunt::hunt;
