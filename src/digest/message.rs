//! The letter as a mail: text and HTML as alternatives, the HTML with its pictures.
//!
//! Takes addresses, Message-ID and date from the caller, yields the bytes of an `.eml` file: the same ones for the same
//! input. Sends nothing. MIME is the library's work; nothing from a tile reaches a header.

use super::letter::Letter;
use crate::tile::Content;
use lettre::Message;
use lettre::message::header::{ContentType, Header, HeaderName, HeaderValue, MessageId};
use lettre::message::{Attachment, Mailbox, MultiPart, SinglePart};
use std::error::Error;
use std::time::SystemTime;
use thiserror::Error as ThisError;

/// Why a letter could not become a mail.
#[derive(Debug, ThisError)]
pub enum MessageError {
    /// Not a mail address.
    #[error("\"{0}\" is not a mail address: write name@host or Name <name@host>")]
    Address(String),
    /// No one to send it to.
    #[error("the letter has no recipient: name one under [digest] to")]
    NoRecipient,
    /// Not a Message-ID.
    #[error("\"{0}\" is not a message ID: it has the form <left@right>")]
    MessageId(String),
    /// The library refused.
    #[error("cannot put the letter together: {0}")]
    Library(String),
}

/// `Auto-Submitted: auto-generated`, which tells responders to stay silent (RFC 3834, 5).
#[derive(Clone)]
struct AutoSubmitted;

/// `List-Id`, by which mail readers sort (RFC 2919).
#[derive(Clone)]
struct ListId(String);

impl Header for AutoSubmitted {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("Auto-Submitted")
    }

    fn parse(_: &str) -> Result<Self, Box<dyn Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "auto-generated".into())
    }
}

impl Header for ListId {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("List-Id")
    }

    fn parse(text: &str) -> Result<Self, Box<dyn Error + Send + Sync>> {
        Ok(Self(text.into()))
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), self.0.clone())
    }
}

/// The bytes of the mail. `from` and `to` are addresses, with or without a name; `message_id` has the form
/// `<left@right>`.
///
/// # Errors
/// When an address or the Message-ID has not its form, or there is no recipient.
pub fn message(
    letter: &Letter,
    from: &str,
    to: &[String],
    message_id: &str,
    date: SystemTime,
) -> Result<Vec<u8>, MessageError> {
    message_after(letter, from, to, message_id, date, None)
}

/// The same for a letter that follows another one, which mail readers then show together (RFC 5322, 3.6.4).
///
/// # Errors
/// As [`message`].
pub fn message_after(
    letter: &Letter,
    from: &str,
    to: &[String],
    message_id: &str,
    date: SystemTime,
    previous: Option<&str>,
) -> Result<Vec<u8>, MessageError> {
    let from = address(from)?;
    if to.is_empty() {
        return Err(MessageError::NoRecipient);
    }
    if let Some(wrong) = [message_id].into_iter().chain(previous).find(|id| !is_message_id(id)) {
        return Err(MessageError::MessageId(wrong.into()));
    }
    let list = format!("Burler letters <letters.burler.{}>", from.email.domain());
    let mut builder = Message::builder().date(date).from(from);
    for to in to {
        builder = builder.to(address(to)?);
    }
    if let Some(previous) = previous {
        builder = builder.in_reply_to(previous.into()).references(previous.into());
    }
    let mail = builder
        .subject(letter.subject.as_str())
        .header(MessageId::from(message_id.to_string()))
        .header(AutoSubmitted)
        .header(ListId(list))
        .multipart(body(letter, message_id)?)
        .map_err(|error| MessageError::Library(error.to_string()))?;
    Ok(mail.formatted())
}

fn body(letter: &Letter, message_id: &str) -> Result<MultiPart, MessageError> {
    // The alternatives go from plain to rich (RFC 2046, 5.1.4).
    let html = SinglePart::html(letter.html.clone());
    let alternative =
        container("multipart/alternative", message_id, "a")?.singlepart(SinglePart::plain(letter.text.clone()));
    if letter.pictures.is_empty() {
        return Ok(alternative.singlepart(html));
    }
    // The root's media type is required (RFC 2387, 3.1).
    let mut related = container("multipart/related; type=\"text/html\"", message_id, "r")?.singlepart(html);
    for picture in &letter.pictures {
        let part = Attachment::new_inline_with_name(picture.cid.clone(), picture.name.clone());
        related = related.singlepart(part.body(picture.bytes.clone(), media_type(picture.mime)?));
    }
    Ok(alternative.multipart(related))
}

/// A multipart whose boundary follows from the Message-ID. `=_` cannot stand in quoted-printable or base64 (RFC 2045, 6.7),
/// so no part can hold it.
fn container(kind: &str, message_id: &str, mark: &str) -> Result<MultiPart, MessageError> {
    let digest = Content::of(message_id.as_bytes()).to_string();
    let boundary = format!("=_{mark}_{}", &digest[..32]);
    Ok(MultiPart::builder().header(media_type(&format!("{kind}; boundary=\"{boundary}\""))?).build())
}

fn media_type(text: &str) -> Result<ContentType, MessageError> {
    ContentType::parse(text).map_err(|error| MessageError::Library(error.to_string()))
}

fn address(text: &str) -> Result<Mailbox, MessageError> {
    text.trim().parse().map_err(|_| MessageError::Address(super::words::named(text)))
}

/// Whether a text is an address, with or without a name.
#[must_use]
pub fn is_address(text: &str) -> bool {
    address(text).is_ok()
}

/// The part of an address behind the @, for the right half of a Message-ID (RFC 5322, 3.6.4); `None` when the text is no
/// address or that part is not plain ASCII.
#[must_use]
pub fn domain(text: &str) -> Option<String> {
    address(text).ok().map(|mailbox| mailbox.email.domain().to_owned()).filter(|domain| domain.is_ascii())
}

/// `<left@right>` in printable ASCII without spaces or further brackets (RFC 5322, 3.6.4).
fn is_message_id(text: &str) -> bool {
    let Some(inner) = text.strip_prefix('<').and_then(|text| text.strip_suffix('>')) else { return false };
    let clean = inner.bytes().all(|byte| byte.is_ascii_graphic() && !matches!(byte, b'<' | b'>'));
    let halves: Vec<&str> = inner.split('@').collect();
    clean && inner.len() < 250 && halves.len() == 2 && halves.iter().all(|half| !half.is_empty())
}
