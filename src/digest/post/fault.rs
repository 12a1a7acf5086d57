//! What can go wrong on the way of a letter, in words a designer can act on.
//!
//! Plain data and its wording. What a server said is freed of controls and cut short, for it ends up on pages.

use crate::digest::words;
use std::fmt;

/// The most characters shown of what a server said.
const LONGEST: usize = 200;

/// What went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FaultKind {
    /// No address belongs to the host.
    HostNotFound,
    /// A host that is not this machine, though nothing is encrypted.
    NotThisMachine,
    /// Nothing answers at that port.
    Refused,
    /// No way leads there.
    Unreachable,
    /// No word came in time.
    Silent,
    /// The connection was cut.
    Cut,
    /// Whatever answers is no mail server.
    Garbled,
    /// The server does not encrypt where it should from the first byte.
    NotEncrypted,
    /// The server does not offer to encrypt.
    NoStartTls,
    /// Nobody trusted has signed the certificate.
    NotTrusted,
    /// The certificate is past its time.
    Expired,
    /// The certificate's time has not come.
    NotYetValid,
    /// The certificate is another host's.
    WrongName,
    /// Something else about the encryption.
    Encryption,
    /// The root certificate of the configuration cannot be used.
    RootCertificate,
    /// The password cannot be read, or not safely.
    Password,
    /// User and password are not accepted.
    WrongLogin,
    /// No way to log in that is known here.
    NoLogin,
    /// The server wants a log-in.
    LoginWanted,
    /// The sender is not accepted.
    Sender,
    /// The address is not accepted.
    Recipient,
    /// Not an address, or not one this server can take.
    Address,
    /// The mailbox is full.
    Full,
    /// The letter is too large.
    TooLarge,
    /// The server asks for another time.
    Later,
    /// The server will not have the letter.
    Rejected,
    /// Everything was handed over and no answer came.
    Doubt,
    /// A folder cannot be written.
    Folder,
    /// The stored letter is not there any more.
    Lost,
    /// The ledger could not be written, so nothing was handed over.
    Ledger,
}

/// Something that went wrong: what, with whom, and what was said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What.
    pub kind: FaultKind,
    /// The server, address, or folder it is about.
    pub with: String,
    /// What the other side or the system said; may be empty.
    pub said: String,
}

impl Fault {
    /// A fault.
    #[must_use]
    pub fn new(kind: FaultKind, with: &str, said: &str) -> Self {
        Self { kind, with: words::named(with), said: short(said) }
    }
}

/// Safe to print, on one line, not longer than it helps.
fn short(said: &str) -> String {
    let one_line: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let plain = words::plain(&one_line);
    if plain.chars().count() <= LONGEST {
        return plain;
    }
    plain.chars().take(LONGEST - 1).chain(['…']).collect()
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { kind, with, said } = self;
        let (what, remedy) = kind.words();
        if matches!(kind, FaultKind::Password | FaultKind::Folder | FaultKind::Ledger | FaultKind::RootCertificate) {
            // These come as whole sentences that name their file.
            return write!(out, "{said}");
        }
        write!(out, "{}", what.replace("{}", with))?;
        if !said.is_empty() {
            write!(out, " (\"{said}\")")?;
        }
        if remedy.is_empty() { Ok(()) } else { write!(out, "; {remedy}") }
    }
}

impl FaultKind {
    /// What happened, with a gap for whom, and what to do.
    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::HostNotFound => (
                "no mail server named {} can be found",
                "check host under [digest.smtp], and that this machine is connected to the network",
            ),
            Self::NotThisMachine => (
                "{} is not this machine, and tls = \"none\" would send the letter where others can read it",
                "write tls = \"implicit\" or \"starttls\" under [digest.smtp]",
            ),
            Self::Refused => (
                "nothing answers at {}",
                "check host and port under [digest.smtp]: 465 goes with tls = \"implicit\", 587 with \"starttls\"",
            ),
            Self::Unreachable => ("{} cannot be reached", "check that this machine is connected to the network"),
            Self::Silent => (
                "{} answered the call and then said nothing for too long",
                "it may be busy; if it never answers, tls and port under [digest.smtp] do not fit: 465 goes with \
                 \"implicit\", 587 with \"starttls\"",
            ),
            Self::Cut => ("{} hung up in the middle", "it may be busy; if it always does, ask who runs it"),
            Self::Garbled => ("what answers at {} is no mail server", "check host and port under [digest.smtp]"),
            Self::NotEncrypted => (
                "{} does not encrypt from the first byte, so neither password nor letter was given to it",
                "write tls = \"starttls\" under [digest.smtp], which usually goes with port 587",
            ),
            Self::NoStartTls => (
                "{} offers no encryption, so neither password nor letter was given to it",
                "write tls = \"implicit\" under [digest.smtp], which usually goes with port 465; if that fails too, do not \
                 use this server",
            ),
            Self::NotTrusted => (
                "nobody this machine trusts has signed the certificate of {}, so neither password nor letter was given to it",
                "if your house signs its own, name its root certificate with ca under [digest.smtp]; otherwise somebody \
                 may be listening, and you should ask who runs the server",
            ),
            Self::Expired => (
                "the certificate of {} has expired, so neither password nor letter was given to it",
                "check this machine's date; if it is right, ask who runs the server to renew the certificate",
            ),
            Self::NotYetValid => (
                "the certificate of {} is not valid yet, so neither password nor letter was given to it",
                "check this machine's date; if it is right, ask who runs the server",
            ),
            Self::WrongName => (
                "the certificate of {} is another server's, so neither password nor letter was given to it",
                "write host under [digest.smtp] exactly as your mail provider tells it",
            ),
            Self::Encryption => (
                "{} and Burler found no common encryption, so neither password nor letter was given to it",
                "ask who runs the server",
            ),
            Self::WrongLogin => (
                "{} does not accept the user name and password",
                "check user under [digest.smtp] and the password file; many mail providers want a password made for one \
                 program (an app password) in place of your own",
            ),
            Self::NoLogin => (
                "{} offers no way to log in that Burler knows (PLAIN or LOGIN)",
                "ask your mail provider for SMTP with a password, or leave user out if the server wants no log-in",
            ),
            Self::LoginWanted => {
                ("{} wants a log-in before it takes a letter", "name user and password_file under [digest.smtp]")
            }
            Self::Sender => (
                "{} does not take letters from this sender",
                "write from under [digest.smtp] as the address that belongs to user",
            ),
            Self::Recipient => ("the server takes no letters for {}", "check that address under [digest] to"),
            Self::Address => (
                "{} is no address this server can take",
                "correct it under [digest] to; plain letters, digits and dots are safe everywhere",
            ),
            Self::Full => ("the mailbox of {} is full", "delete or move old mail there"),
            Self::TooLarge => ("the letter is too large for {}", "its page in checked/letters says the same"),
            Self::Later => ("{} asks to be tried later", ""),
            Self::Rejected => ("{} will not have the letter", "its page in checked/letters says the same"),
            Self::Doubt => {
                ("{} got the whole letter and then did not say whether it keeps it, so it may have arrived or not", "")
            }
            Self::Lost => ("the stored letter {} is not there any more", "its page in checked/letters says the same"),
            Self::Password | Self::Folder | Self::Ledger | Self::RootCertificate => ("", ""),
        }
    }
}
