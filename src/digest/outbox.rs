//! The outbox: a letter is stored and its changes count as told in one step; from then on it is tried until it has arrived
//! or is given up.
//!
//! Takes a rendered letter ([`hand_over`]) and a carrier ([`pass`]); yields what was sent and when to look again. The ledger
//! knows how far each letter is, the spool folder holds its files. Never reads the clock.

mod policy;
mod spool;
mod told;
mod sending;

pub use policy::{GIVE_UP, IN_DOUBT, LEAST_TRIES, LONGEST, MOST_DOUBTS, after, due, interrupted, wait};
pub use sending::{Passed, Urgency, pass};
pub use spool::{OutboxError, Outgoing, Settled, file_of, hand_over, settle};
pub use told::{at_a_glance, remarks};
