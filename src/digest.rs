//! The digest: what needs the artist and what was mended since the last letter, as one letter.
//!
//! Takes entries in a window, yields a [`Letter`]: as HTML and as text ([`letter`]), as a mail ([`message`]), as a page that
//! stands alone ([`page`]); and tells when the next one is due ([`due`], [`next`]). Pure: knows no ledger, no files, no
//! clock and no network.

mod words;
mod preview;
mod entry;
mod sheet;
mod letter;
mod message;
mod page;
mod schedule;

pub use entry::{Entry, Remark, Settings, Window};
pub use letter::{Inline, Letter, letter};
pub use message::{MessageError, message};
pub use page::page;
pub use preview::{Preview, preview};
pub use schedule::{due, next};
