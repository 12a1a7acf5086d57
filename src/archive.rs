//! The archive: what is known of a designer's older tiles, and what a sweep finds out about them.
//!
//! A sweep compares every file with the ledger, judges anew what changed, and looks for tiles that are one repeat under
//! several names. It reads the archive's folder and writes nothing there.

pub mod listing;
pub mod report;

pub use crate::ledger::{Member, MemberState, News};
pub use listing::{Listing, Other, OtherKind, list};
pub use report::{Integrity, Left, Line, Remark, Report, State, Verdicts};
