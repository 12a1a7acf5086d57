//! From what the library tells to a fault: which stage, which reply, which trouble of the network or a certificate.
//!
//! Reply classes are those of RFC 5321, 4.2.1 (4yz again later, 5yz not again), details those of RFC 3463 (enhanced codes)
//! and RFC 4954, 6 (log-in). Takes the library's error, yields kind and gravity.

use super::fault::{Fault, FaultKind};
use lettre::transport::smtp;
use rustls::CertificateError;
use std::error::Error;
use std::io::{self, ErrorKind};

/// How far the talk had come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Calling and the first words.
    Call,
    /// Encrypting.
    Encryption,
    /// User and password.
    LogIn,
    /// Naming the sender.
    Sender,
    /// Naming an address.
    Recipient,
    /// Asking to send the letter, and sending it up to the final dot.
    Letter,
    /// After the final dot.
    End,
}

/// What a fault means for the letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gravity {
    /// Try again.
    Later,
    /// Do not try again.
    Never,
    /// Nobody knows whether it was taken.
    InDoubt,
}

/// The fault behind an error, and what it means. `server` and `address` are who it can be about.
pub fn read(error: &smtp::Error, stage: Stage, server: &str, address: &str) -> (Fault, Gravity) {
    let said = error.source().map(ToString::to_string).unwrap_or_default();
    if let Some(code) = error.status() {
        let (kind, gravity) = of_reply(u16::from(code), &said, stage);
        let with = if matches!(kind, FaultKind::Recipient | FaultKind::Full) { address } else { server };
        return (Fault::new(kind, with, &format!("{code} {said}")), gravity);
    }
    let (kind, said) = of_trouble(error, stage, said);
    if stage == Stage::End {
        return (Fault::new(FaultKind::Doubt, server, &said), Gravity::InDoubt);
    }
    (Fault::new(kind, server, &said), Gravity::Later)
}

/// The kind of a negative reply. What concerns the account or the server in general never ends a letter: a person mends it,
/// and the letter is still there.
fn of_reply(code: u16, said: &str, stage: Stage) -> (FaultKind, Gravity) {
    use FaultKind as Kind;
    let detail = enhanced(said);
    let permanent = (500..600).contains(&code);
    match (code, stage) {
        (530, _) => (Kind::LoginWanted, Gravity::Later),
        (534 | 535 | 538, _) => (Kind::WrongLogin, Gravity::Later),
        (_, Stage::LogIn) if permanent => (Kind::WrongLogin, Gravity::Later),
        (_, Stage::Call | Stage::Encryption | Stage::LogIn) => (Kind::Later, Gravity::Later),
        _ if matches!(detail, Some((5, 3, 4) | (5, 2, 3))) => (Kind::TooLarge, Gravity::Never),
        // A full mailbox is emptied some day (RFC 3463, 3.3: "may be useful both as permanent and persistent transient"), and
        // at an address 552 stands for 452, too many of them (RFC 5321, 4.5.3.1.10).
        _ if matches!(detail, Some((_, 2, 2))) => (Kind::Full, Gravity::Later),
        (552, Stage::Recipient) => (Kind::Later, Gravity::Later),
        (452 | 552, _) => (Kind::Full, Gravity::Later),
        _ if !permanent => (Kind::Later, Gravity::Later),
        (_, Stage::Sender) => (Kind::Sender, Gravity::Never),
        (_, Stage::Recipient) => (Kind::Recipient, Gravity::Never),
        _ => (Kind::Rejected, Gravity::Never),
    }
}

/// The enhanced code a reply begins with (RFC 2034, 4: class, subject, detail).
fn enhanced(said: &str) -> Option<(u16, u16, u16)> {
    let mut parts = said.split_whitespace().next()?.splitn(3, '.').map(|part| part.parse().ok());
    Some((parts.next()??, parts.next()??, parts.next()??))
}

/// The kind of what is no reply: the network, the encryption, or words nobody understands.
fn of_trouble(error: &smtp::Error, stage: Stage, said: String) -> (FaultKind, String) {
    if let Some(wrong) = inner::<rustls::Error>(error) {
        return (of_encryption(wrong), wrong.to_string());
    }
    if let Some(system) = inner::<io::Error>(error) {
        let kind = match system.kind() {
            ErrorKind::ConnectionRefused => FaultKind::Refused,
            ErrorKind::TimedOut | ErrorKind::WouldBlock => FaultKind::Silent,
            ErrorKind::NetworkUnreachable | ErrorKind::HostUnreachable | ErrorKind::NetworkDown => {
                FaultKind::Unreachable
            }
            ErrorKind::InvalidData => FaultKind::Garbled,
            _ => FaultKind::Cut,
        };
        // A silence is in the words already; the system's own for it are about buffers.
        return (kind, if kind == FaultKind::Silent { String::new() } else { said });
    }
    if error.is_client() && stage == Stage::LogIn {
        return (FaultKind::NoLogin, String::new());
    }
    // The library's words for a connection that ends where a reply should come.
    if said == "incomplete response" {
        return (FaultKind::Cut, String::new());
    }
    (FaultKind::Garbled, String::new())
}

fn of_encryption(wrong: &rustls::Error) -> FaultKind {
    use CertificateError as Certificate;
    match wrong {
        rustls::Error::InvalidCertificate(certificate) => match certificate {
            Certificate::Expired | Certificate::ExpiredContext { .. } => FaultKind::Expired,
            Certificate::NotValidYet | Certificate::NotValidYetContext { .. } => FaultKind::NotYetValid,
            Certificate::NotValidForName | Certificate::NotValidForNameContext { .. } => FaultKind::WrongName,
            _ => FaultKind::NotTrusted,
        },
        rustls::Error::InvalidMessage(_) => FaultKind::NotEncrypted,
        _ => FaultKind::Encryption,
    }
}

/// The first error of a type in the chain, also inside an error of the system, which hides what it carries.
fn inner<'a, T: Error + 'static>(error: &'a (dyn Error + 'static)) -> Option<&'a T> {
    let mut at = Some(error);
    while let Some(here) = at {
        if let Some(found) = here.downcast_ref::<T>() {
            return Some(found);
        }
        let carried = here.downcast_ref::<io::Error>().and_then(io::Error::get_ref);
        if let Some(found) = carried.and_then(|carried| carried.downcast_ref::<T>()) {
            return Some(found);
        }
        at = here.source();
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replies_are_told_apart_by_class_stage_and_detail() {
        use FaultKind as Kind;
        for (code, said, stage, kind, gravity) in [
            (421, "4.3.2 shutting down", Stage::Call, Kind::Later, Gravity::Later),
            (554, "no service", Stage::Call, Kind::Later, Gravity::Later),
            (535, "5.7.8 bad", Stage::LogIn, Kind::WrongLogin, Gravity::Later),
            (454, "4.7.0 temporary", Stage::LogIn, Kind::Later, Gravity::Later),
            (530, "5.7.0 first log in", Stage::Sender, Kind::LoginWanted, Gravity::Later),
            (550, "5.7.1 not yours", Stage::Sender, Kind::Sender, Gravity::Never),
            (550, "5.1.1 unknown", Stage::Recipient, Kind::Recipient, Gravity::Never),
            (450, "4.2.1 not now", Stage::Recipient, Kind::Later, Gravity::Later),
            (452, "4.2.2 full", Stage::Recipient, Kind::Full, Gravity::Later),
            (552, "5.2.2 full", Stage::Recipient, Kind::Full, Gravity::Later),
            (552, "too many", Stage::Recipient, Kind::Later, Gravity::Later),
            (552, "exceeded storage", Stage::End, Kind::Full, Gravity::Later),
            (552, "5.3.4 too big", Stage::End, Kind::TooLarge, Gravity::Never),
            (451, "4.3.0 error", Stage::End, Kind::Later, Gravity::Later),
            (554, "5.6.0 spam", Stage::End, Kind::Rejected, Gravity::Never),
        ] {
            assert_eq!(of_reply(code, said, stage), (kind, gravity), "{code} {said} at {stage:?}");
        }
    }

    #[test]
    fn enhanced_codes_are_read_only_where_they_stand() {
        assert_eq!(enhanced("5.1.1 unknown"), Some((5, 1, 1)));
        assert_eq!(enhanced("unknown 5.1.1"), None);
        assert_eq!(enhanced("5.1 unknown"), None);
        assert_eq!(enhanced(""), None);
    }
}
