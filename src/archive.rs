//! The archive: what is known of a designer's older tiles, and what a sweep finds out about them.
//!
//! A sweep compares every file with the ledger, judges anew what changed, and looks for tiles that are one repeat under
//! several names.
