//! How letters are sent: to a mail server, or into a folder. The password itself is never part of the configuration.
//!
//! Takes `[digest]` as written; yields one way, or a complaint with place and remedy.

use super::complaint::{Complaint, Source, choice};
use super::places::{self, Home};
use super::shape::{Digest, Smtp as Shape, Text};
use crate::digest;
use std::net::IpAddr;
use std::path::{Path, PathBuf};

/// How letters are sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// To a mail server.
    Smtp(Smtp),
    /// Into a Maildir. Absolute.
    Maildir(PathBuf),
    /// Into a folder of `.eml` files. Absolute.
    File(PathBuf),
}

/// A mail server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Smtp {
    /// Its name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the talk is kept from others.
    pub tls: Tls,
    /// User name and where its password lies.
    pub login: Option<(String, Password)>,
    /// A root certificate to trust beside the system's. Absolute.
    pub ca: Option<PathBuf>,
    /// The sender.
    pub from: String,
}

/// How the talk with the server is kept from others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tls {
    /// Encrypted from the first byte.
    Implicit,
    /// Encrypted before anything that matters.
    StartTls,
    /// Not at all: to this machine itself only.
    None,
}

/// Where the password lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Password {
    /// In a file. Absolute.
    File(PathBuf),
    /// In a credential of the service manager, by its name.
    Credential(String),
}

impl Tls {
    /// The port that goes with it (RFC 8314, 3.3; RFC 6409, 3.1; RFC 5321, 4.5.4.2).
    fn port(self) -> u16 {
        match self {
            Self::Implicit => 465,
            Self::StartTls => 587,
            Self::None => 25,
        }
    }
}

/// Whether a text is a mail address, with or without a name.
#[must_use]
pub fn is_address(text: &str) -> bool {
    digest::is_address(text)
}

/// The way that is configured, if any.
///
/// # Errors
/// When there are several, or one is not whole.
pub fn way(source: &Source<'_>, shape: &Digest, base: &Path, home: &Home) -> Result<Option<Way>, Complaint> {
    let folder = |text: &Text| places::resolve(text.get_ref(), base, home);
    match (&shape.smtp, &shape.maildir, &shape.file) {
        (None, None, None) => Ok(None),
        (None, Some(maildir), None) => Ok(Some(Way::Maildir(folder(maildir)))),
        (None, None, Some(file)) => Ok(Some(Way::File(folder(file)))),
        (Some(smtp), None, None) => {
            if shape.to.as_ref().is_none_or(Vec::is_empty) {
                return Err(source.at(
                    smtp,
                    "letters are to be sent, but nobody is named to get them".into(),
                    "add to = [\"you@oddfathom.example\"] under [digest]",
                ));
            }
            smtp_of(source, smtp.get_ref(), base, home).map(|smtp| Some(Way::Smtp(smtp)))
        }
        (smtp, maildir, file) => {
            let second = if smtp.is_some() { maildir.as_ref().or(file.as_ref()) } else { file.as_ref() };
            Err(source.at_optional(
                second,
                "letters can go one way only".into(),
                "keep one of [digest.smtp], maildir and file",
            ))
        }
    }
}

fn smtp_of(source: &Source<'_>, shape: &Shape, base: &Path, home: &Home) -> Result<Smtp, Complaint> {
    let host = shape.host.get_ref();
    if host.is_empty() || host.contains(|c: char| c.is_whitespace() || c.is_control() || c == '/' || c == '@') {
        return Err(source.at(
            &shape.host,
            format!("{host:?} is not the name of a server"),
            "write it as your mail provider tells it, for example \"mail.oddfathom.example\"",
        ));
    }
    let tls = match &shape.tls {
        None => Tls::Implicit,
        Some(word) => {
            choice(source, word, &[("implicit", Tls::Implicit), ("starttls", Tls::StartTls), ("none", Tls::None)])?
        }
    };
    if tls == Tls::None && !is_this_machine(host) {
        return Err(source.at_optional(
            shape.tls.as_ref(),
            format!("without encryption letters go to this machine itself only, and {host:?} is another"),
            "write tls = \"implicit\" or \"starttls\", or host = \"localhost\"",
        ));
    }
    let port = match &shape.port {
        None => tls.port(),
        Some(port) if *port.get_ref() > 0 => *port.get_ref(),
        Some(port) => return Err(source.at(port, "0 is no port".into(), &format!("write for example {}", tls.port()))),
    };
    Ok(Smtp {
        host: host.clone(),
        port,
        tls,
        login: login(source, shape, base, home)?,
        ca: shape.ca.as_ref().map(|ca| places::resolve(ca.get_ref(), base, home)),
        from: from(source, shape)?,
    })
}

/// Whether a host is this machine by its very name; what the name leads to is looked at again before each letter.
fn is_this_machine(host: &str) -> bool {
    host.eq_ignore_ascii_case("localhost") || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn login(
    source: &Source<'_>,
    shape: &Shape,
    base: &Path,
    home: &Home,
) -> Result<Option<(String, Password)>, Complaint> {
    if let Some(password) = &shape.password {
        return Err(source.at(
            password,
            "a password does not belong into the configuration, which is copied and shown".into(),
            "put it into a file that only you can read (chmod 600) and name that with password_file",
        ));
    }
    let password = match (&shape.password_file, &shape.credential) {
        (Some(_), Some(credential)) => {
            return Err(source.at(
                credential,
                "the password can lie in one place only".into(),
                "keep one of password_file and credential",
            ));
        }
        (Some(file), None) => Some((file, Password::File(places::resolve(file.get_ref(), base, home)))),
        (None, Some(name)) => {
            let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
            if name.get_ref().is_empty() || !name.get_ref().chars().all(plain) || name.get_ref().starts_with('.') {
                return Err(source.at(
                    name,
                    format!("{:?} is not the name of a credential", name.get_ref()),
                    "write the name from LoadCredential= in the unit, for example \"mail-password\"",
                ));
            }
            Some((name, Password::Credential(name.get_ref().clone())))
        }
        (None, None) => None,
    };
    match (&shape.user, password) {
        (None, None) => Ok(None),
        (Some(user), Some((_, password))) => Ok(Some((user.get_ref().clone(), password))),
        (Some(user), None) => Err(source.at(
            user,
            "a user is named, but not where the password lies".into(),
            "add password_file = \"~/.config/burler/mail-password\", a file that only you can read (chmod 600)",
        )),
        (None, Some((at, _))) => {
            Err(source.at(at, "a password is named, but no user".into(), "add user = \"…\", or remove it"))
        }
    }
}

fn from(source: &Source<'_>, shape: &Shape) -> Result<String, Complaint> {
    match (&shape.from, &shape.user) {
        (Some(from), _) if is_address(from.get_ref()) => Ok(from.get_ref().clone()),
        (Some(from), _) => Err(source.at(
            from,
            format!("{:?} is not a mail address", from.get_ref()),
            "write for example \"Burler <burler@oddfathom.example>\"",
        )),
        (None, Some(user)) if is_address(user.get_ref()) => Ok(format!("Burler <{}>", user.get_ref())),
        (None, _) => Err(source.at(
            &shape.host,
            "it is not said from which address letters come".into(),
            "add from = \"Burler <burler@oddfathom.example>\" under [digest.smtp]",
        )),
    }
}
