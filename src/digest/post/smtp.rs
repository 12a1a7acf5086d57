//! To a mail server: encrypted or not at all, step by step, so that it is known whom the server refuses and whether a
//! connection broke before or after the letter was whole.
//!
//! The protocol and its encryption are the library's; the steps are taken one by one and each code is compared, which also
//! ends a talk in which somebody slipped in words before the encryption began (the replies are then off by one).

use super::carrier::{Answer, Carrier, Parcel};
use super::fault::{Fault, FaultKind};
use super::reply::{self, Gravity, Stage};
use super::secret::{PasswordAt, Secret};
use crate::disk;
use lettre::Address;
use lettre::message::header::ContentTransferEncoding;
use lettre::message::{Body, Mailbox};
use lettre::transport::smtp::authentication::{Credentials, Mechanism};
use lettre::transport::smtp::client::{Certificate, SmtpConnection, TlsParameters};
use lettre::transport::smtp::commands::{Data, Mail, Rcpt};
use lettre::transport::smtp::extension::{ClientId, Extension, MailBodyParameter, MailParameter};
use lettre::transport::smtp::response::Response;
use std::net::{SocketAddr, ToSocketAddrs};
use std::path::PathBuf;
use std::time::Duration;

/// Bytes of a letter written in one go.
const CHUNK: usize = 16 * 1024;

/// How long the last word may take; by then the letter's fate is known.
const GOODBYE: Duration = Duration::from_secs(5);

/// How the talk is kept from others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// Encrypted from the first byte (RFC 8314).
    Implicit,
    /// Encrypted before anything that matters (RFC 3207); a server that does not offer it gets nothing.
    StartTls,
    /// Not at all: only to this machine itself.
    None,
}

/// User and password.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Login {
    /// The user name.
    pub user: String,
    /// Where the password lies.
    pub password: PasswordAt,
}

/// The server and how to talk to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmtpSettings {
    /// Its name, which its certificate must bear.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the talk is kept from others.
    pub security: Security,
    /// User and password; `None` where the server wants none.
    pub login: Option<Login>,
    /// A file with a root certificate to trust beside the system's.
    pub ca: Option<PathBuf>,
    /// The sender, with or without a name.
    pub from: String,
}

/// How long a server may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waits {
    /// For its first words and each short reply.
    pub reply: Duration,
    /// For the word that the letter may come.
    pub data: Duration,
    /// For the answer to the whole letter.
    pub end: Duration,
}

impl Default for Waits {
    /// Those of RFC 5321, 4.5.3.2: 5, 2 and 10 minutes.
    fn default() -> Self {
        Self { reply: Duration::from_mins(5), data: Duration::from_mins(2), end: Duration::from_mins(10) }
    }
}

impl Waits {
    /// For somebody who sits there and waits.
    #[must_use]
    pub fn short() -> Self {
        let wait = Duration::from_secs(20);
        Self { reply: wait, data: wait, end: wait * 3 }
    }
}

/// A mail server.
#[derive(Debug)]
pub struct Smtp {
    settings: SmtpSettings,
    waits: Waits,
}

/// A talk that has begun, and what must not be repeated of it.
struct Talk {
    connection: SmtpConnection,
    secrets: Vec<String>,
}

type Failure = (Fault, Gravity);

impl Smtp {
    /// A mail server.
    #[must_use]
    pub fn new(settings: SmtpSettings, waits: Waits) -> Self {
        Self { settings, waits }
    }

    /// How the server is named in messages.
    fn server(&self) -> String {
        format!("{}:{}", self.settings.host, self.settings.port)
    }

    fn fault(&self, kind: FaultKind, said: &str) -> Failure {
        (Fault::new(kind, &self.server(), said), Gravity::Later)
    }

    /// Calls, encrypts and logs in. The password is read first and leaves only once the server has proven its name.
    fn call(&self) -> Result<Talk, Failure> {
        let login = self.settings.login.as_ref();
        let password = login.map(|login| login.password.read()).transpose().map_err(|fault| (fault, Gravity::Later))?;
        let places = self.places()?;
        let tls = self.encryption()?;
        let hello = ClientId::default();
        let implicit = tls.as_ref().filter(|_| self.settings.security == Security::Implicit);
        let called = SmtpConnection::connect(&places[..], Some(self.waits.reply), &hello, implicit, None);
        let mut connection = called.map_err(|error| reply::read(&error, Stage::Call, &self.server(), ""))?;
        if self.settings.security == Security::StartTls {
            if !connection.can_starttls() {
                connection.abort();
                return Err(self.fault(FaultKind::NoStartTls, ""));
            }
            if let Some(tls) = &tls {
                connection
                    .starttls(tls, &hello)
                    .map_err(|error| reply::read(&error, Stage::Encryption, &self.server(), ""))?;
            }
        }
        // Whatever the settings say: nothing leaves in the clear but to this machine.
        if !connection.is_encrypted() && self.settings.security != Security::None {
            connection.abort();
            return Err(self.fault(FaultKind::NotEncrypted, ""));
        }
        let mut talk = Talk { connection, secrets: Vec::new() };
        if let (Some(login), Some(password)) = (login, password) {
            talk.secrets = echoes(&login.user, &password);
            let credentials = Credentials::new(login.user.clone(), password.reveal().into());
            let answered = talk.connection.auth(&[Mechanism::Plain, Mechanism::Login], &credentials);
            self.expect(&talk, answered, 235, Stage::LogIn, "")?;
        }
        Ok(talk)
    }

    /// Where the server is; only on this machine when nothing is encrypted.
    fn places(&self) -> Result<Vec<SocketAddr>, Failure> {
        let SmtpSettings { host, port, security, .. } = &self.settings;
        let found = (host.as_str(), *port).to_socket_addrs();
        let mut places: Vec<SocketAddr> =
            found.map_err(|_| (Fault::new(FaultKind::HostNotFound, host, ""), Gravity::Later))?.collect();
        if *security == Security::None {
            places.retain(|place| place.ip().is_loopback());
            if places.is_empty() {
                return Err((Fault::new(FaultKind::NotThisMachine, host, ""), Gravity::Later));
            }
        }
        Ok(places)
    }

    fn encryption(&self) -> Result<Option<TlsParameters>, Failure> {
        if self.settings.security == Security::None {
            return Ok(None);
        }
        let mut tls = TlsParameters::builder(self.settings.host.clone());
        if let Some(file) = &self.settings.ca {
            let unusable = |why: &dyn std::fmt::Display| {
                let said = format!("the root certificate under ca in [digest.smtp] cannot be used: {why}");
                (Fault { kind: FaultKind::RootCertificate, with: disk::spelled(file), said }, Gravity::Later)
            };
            let pem = disk::read_bytes(file).map_err(|error| unusable(&error))?;
            let none = format!("{} holds no certificate in PEM form", disk::spelled(file));
            if !pem.windows(27).any(|window| window == b"-----BEGIN CERTIFICATE-----") {
                return Err(unusable(&none));
            }
            tls = tls.add_root_certificate(Certificate::from_pem(&pem).map_err(|_| unusable(&none))?);
        }
        tls.build().map(Some).map_err(|error| self.fault(FaultKind::Encryption, &error.to_string()))
    }

    /// The reply, if it has the code that belongs there.
    fn expect(
        &self,
        talk: &Talk,
        answered: Result<Response, lettre::transport::smtp::Error>,
        code: u16,
        stage: Stage,
        address: &str,
    ) -> Result<(), Failure> {
        match answered {
            Ok(response) if response.has_code(code) => Ok(()),
            Ok(_) if stage == Stage::End => Err((Fault::new(FaultKind::Doubt, &self.server(), ""), Gravity::InDoubt)),
            Ok(_) => Err(self.fault(FaultKind::Garbled, "")),
            Err(error) => {
                let (mut fault, gravity) = reply::read(&error, stage, &self.server(), address);
                if talk.secrets.iter().any(|secret| fault.said.contains(secret.as_str())) {
                    fault.said.clear();
                }
                Err((fault, gravity))
            }
        }
    }

    /// Names the sender and the addresses, and hands the letter to those the server takes.
    fn tell(
        &self,
        talk: &mut Talk,
        parcel: &Parcel<'_>,
        handing: &mut dyn FnMut() -> Result<(), String>,
        answers: &mut [Option<Answer>],
    ) -> Result<(), Failure> {
        let sender: Mailbox = self
            .settings
            .from
            .parse()
            .map_err(|_| (Fault::new(FaultKind::Sender, &self.server(), &self.settings.from), Gravity::Later))?;
        let addresses = self.addresses(talk, parcel, answers);
        if addresses.is_empty() {
            return Ok(());
        }
        let mut options = Vec::new();
        if !addresses.iter().all(|(_, address)| is_plain(address)) || !is_plain(&sender.email) {
            options.push(MailParameter::SmtpUtfEight);
        }
        if !parcel.bytes.is_ascii() {
            options.push(MailParameter::Body(MailBodyParameter::EightBitMime));
        }
        let answered = talk.connection.command(Mail::new(Some(sender.email), options));
        self.expect(talk, answered, 250, Stage::Sender, "")?;

        let mut taken = Vec::new();
        for (place, address) in addresses {
            let answered = talk.connection.command(Rcpt::new(address.clone(), Vec::new()));
            // 251 takes the letter on to where the person is now (RFC 5321, 3.4).
            let answered = match answered {
                Ok(response) if response.has_code(251) || response.has_code(252) => Ok(()),
                answered => self.expect(talk, answered, 250, Stage::Recipient, address.as_ref()),
            };
            match answered {
                Ok(()) => taken.push(place),
                Err((fault, gravity)) if matches!(fault.kind, FaultKind::Cut | FaultKind::Silent) => {
                    return Err((fault, gravity));
                }
                Err(failure) => answers[place] = Some(answer(failure)),
            }
        }
        if taken.is_empty() {
            return Ok(());
        }
        talk.connection.set_timeout(Some(self.waits.data)).ok();
        let answered = talk.connection.command(Data);
        self.expect(talk, answered, 354, Stage::Letter, "")?;
        // The server waits for a letter that must not come then: it is hung up on, without a word that it would take for one.
        handing().map_err(|why| (Fault { kind: FaultKind::Ledger, with: String::new(), said: why }, Gravity::Later))?;
        let ended = self.hand_over(talk, parcel.bytes);
        for place in taken {
            answers[place] = Some(ended.clone().map_or_else(answer, |()| Answer::Accepted));
        }
        Ok(())
    }

    /// Sends the letter itself. Before the last piece is written nobody can have taken it; after that, only an answer tells.
    fn hand_over(&self, talk: &mut Talk, bytes: &[u8]) -> Result<(), Failure> {
        talk.connection.set_timeout(Some(self.waits.end)).ok();
        let mut whole = false;
        // The library ends the letter with a line end of its own.
        let mut pieces = bytes.strip_suffix(b"\r\n").unwrap_or(bytes).chunks(CHUNK);
        let answered = talk.connection.message_iter(std::iter::from_fn(|| {
            let piece = pieces.next();
            whole |= piece.is_none();
            piece
        }));
        self.expect(talk, answered, 250, if whole { Stage::End } else { Stage::Letter }, "the addressee")
    }

    /// The addresses as the server must get them; those it cannot get are answered.
    fn addresses(&self, talk: &Talk, parcel: &Parcel<'_>, answers: &mut [Option<Answer>]) -> Vec<(usize, Address)> {
        let takes_all = talk.connection.server_info().supports_feature(Extension::SmtpUtfEight);
        let mut addresses = Vec::new();
        for (place, text) in parcel.to.iter().enumerate() {
            match text.parse::<Mailbox>() {
                Ok(mailbox) if takes_all || is_plain(&mailbox.email) => addresses.push((place, mailbox.email)),
                _ => answers[place] = Some(Answer::Never(Fault::new(FaultKind::Address, text, ""))),
            }
        }
        addresses
    }
}

impl Carrier for Smtp {
    fn carry(&mut self, parcel: &Parcel<'_>, handing: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        let mut answers: Vec<Option<Answer>> = vec![None; parcel.to.len()];
        let failed = match self.call() {
            Ok(mut talk) => {
                let told = self.tell(&mut talk, parcel, handing, &mut answers);
                // The letter's fate is known; a server that says nothing any more, or is slow to say goodbye, is not waited for.
                if told.is_ok() && !answers.iter().flatten().any(|one| matches!(one, Answer::InDoubt(_))) {
                    talk.connection.set_timeout(Some(GOODBYE)).ok();
                    talk.connection.quit().ok();
                }
                told.err()
            }
            Err(failure) => Some(failure),
        };
        // What was not answered for itself shares the fate of the whole try.
        let rest = failed.map_or_else(|| answer(self.fault(FaultKind::Cut, "")), answer);
        answers.into_iter().map(|one| one.unwrap_or_else(|| rest.clone())).collect()
    }

    fn repeats_safely(&self) -> bool {
        false
    }
}

fn answer((fault, gravity): Failure) -> Answer {
    match gravity {
        Gravity::Later => Answer::Later(fault),
        Gravity::Never => Answer::Never(fault),
        Gravity::InDoubt => Answer::InDoubt(fault),
    }
}

fn is_plain(address: &Address) -> bool {
    AsRef::<str>::as_ref(address).is_ascii()
}

/// Every form in which a server could repeat the password.
fn echoes(user: &str, password: &Secret) -> Vec<String> {
    let password = password.reveal();
    let coded = |text: String| {
        let coded = Body::new_with_encoding(text.into_bytes(), ContentTransferEncoding::Base64);
        let coded = coded.map(Body::into_vec).unwrap_or_default();
        coded.into_iter().filter(|byte| !byte.is_ascii_whitespace()).map(char::from).collect::<String>()
    };
    vec![password.into(), coded(password.into()), coded(format!("\0{user}\0{password}"))]
}
