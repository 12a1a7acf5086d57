//! The digest: what needs the artist and what was mended since the last letter, as one letter.
//!
//! Takes entries in a window, yields a [`Letter`]: as HTML and as text ([`letter`]), as a mail ([`message`]), as a page that
//! stands alone ([`page`]); picks what one letter tells ([`pick`]) and says when the next one is due ([`due`], [`next`]). All
//! that is pure. [`outbox`] keeps letters until they have arrived, [`post`] hands them over; these two know the ledger, a
//! folder, and the network. None reads a clock.

mod words;
mod copies;
mod preview;
mod entry;
mod pick;
mod group;
mod heads;
mod sheet;
mod letter;
mod message;
mod page;
mod trial;
mod schedule;
pub mod post;
pub mod outbox;

pub use copies::{Copy, copy_of};
pub use entry::{Count, Entry, Folded, Kept, MOST_FOLDED, MOST_SWEPT, Remark, Settings, Still, Swept, Window};
pub use letter::{Inline, Letter, letter};
pub use message::{MessageError, domain, is_address, message, message_after};
pub use page::{is_page, page};
pub use pick::{Picked, needs_you, pick};
pub use preview::{Preview, preview};
pub use schedule::{Waiting, When, due, has_come, next};
pub use trial::trial;
