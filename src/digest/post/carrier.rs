//! The trait of whatever hands a letter over, and what it is given and answers.

use super::fault::Fault;
use std::time::SystemTime;

/// What is handed over.
#[derive(Clone, Copy, Debug)]
pub struct Parcel<'a> {
    /// Its Message-ID.
    pub message_id: &'a str,
    /// When it was written.
    pub written: SystemTime,
    /// To whom.
    pub to: &'a [String],
    /// The mail, with CRLF at the end of each line.
    pub bytes: &'a [u8],
}

/// What came of it for one address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The other side has taken it.
    Accepted,
    /// Not now.
    Later(Fault),
    /// Never.
    Never(Fault),
    /// Handed over whole, and no answer: it may have been taken or not.
    InDoubt(Fault),
}

/// Whatever hands letters over.
pub trait Carrier {
    /// Hands a letter over; one answer for each address, in their order. `handing` is called right before the letter
    /// itself leaves and must be obeyed: when it fails, the letter does not leave. A carrier that repeats safely need not
    /// call it.
    fn carry(&mut self, parcel: &Parcel<'_>, handing: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer>;

    /// Whether the same letter handed over twice arrives once for certain.
    fn repeats_safely(&self) -> bool;
}
