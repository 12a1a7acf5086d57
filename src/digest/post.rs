//! The post: hands one letter over, to a mail server or into a folder, and says for each address what came of it.
//!
//! Takes the bytes of a mail and addresses; yields an [`Answer`] for each. Everything that can go wrong is a [`Fault`] that
//! a designer can act on. Knows no ledger, no schedule and no clock.

mod fault;
mod carrier;
mod secret;
mod reply;
mod smtp;
mod folders;

pub use carrier::{Answer, Carrier, Parcel};
pub use fault::{Fault, FaultKind};
pub use folders::{IntoFolder, IntoMaildir};
pub use secret::{PasswordAt, Secret};
pub use smtp::{Login, Security, Smtp, SmtpSettings, Waits};
