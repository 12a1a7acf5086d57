//! Tidying an archive: what is put away and what is not, and that nothing is ever lost: whatever goes wrong at whichever
//! operation, every file's bytes lie under the old or the new path, and undoing brings everything back exactly.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;

#[path = "tidy/harm.rs"]
mod harm;
#[path = "tidy/putting_back.rs"]
mod putting_back;
#[path = "tidy/rule.rs"]
mod rule;
#[path = "tidy/shed.rs"]
mod shed;
#[path = "tidy/commands.rs"]
mod commands;
#[path = "tidy/whole.rs"]
mod whole;
