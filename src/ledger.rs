//! The ledger: judgments, standings, outputs, claimed names, the artist's words, archives, letters and what they told in SQLite.
//!
//! Takes changes and applies them in one short transaction; yields what is known of a path, of a folder and since a
//! moment. Any process may write beside another. Its stored rows are separate from the structs it hands out, and a
//! ledger of a newer Burler is read but never written. Knows nothing of files beyond their names.

mod entry;
mod member;
mod error;
mod fold;
mod rows;
mod member_rows;
mod likeness_rows;
mod schema;
mod store;
mod ask;
mod word;
mod told;
mod post;
mod members;
mod likenesses;
mod remarks;
mod summary;

pub use entry::{
    Entry, Key, LetPass, Letter, Output, OutputState, Role, Standing, StandingState, Told, kept_judgment, kept_path,
    says, ticket_of,
};
pub use error::LedgerError;
pub use fold::folded;
pub use likenesses::Contact;
pub use member::{Member, MemberState, News, Verdicted, archive_folder, archive_of};
pub use members::LastSweep;
pub use post::{Addressee, Post, PostState, Reached};
pub use remarks::Noted;
pub use store::{Change, Ledger};
pub use summary::{ArchiveSummary, FolderSummary, Held, Summary};
pub use told::Untold;
