//! The names of an archive, with what the ledger knows of each tile.

use crate::archive::names::{self, Facts, Row};
use crate::archive::naming::Pattern;
use crate::archive::{Remark, State, Swept};
use crate::finding::Verdict;
use crate::ledger::{Ledger, LedgerError};
use crate::ticket::Ticket;
use std::sync::{Mutex, PoisonError};

/// Remarks about the names of every tile that is there and not empty.
///
/// # Errors
/// When the ledger cannot be read.
pub fn remarks(pattern: &Pattern, ledger: &Mutex<Ledger>, swept: &Swept) -> Result<Vec<Remark>, LedgerError> {
    let ledger = ledger.lock().unwrap_or_else(PoisonError::into_inner);
    let mut rows = Vec::with_capacity(swept.tiles.len());
    for tile in swept.tiles.iter().filter(|tile| tile.state != State::Vanished && tile.member.size() > 0) {
        let facts = tile.judgment(Some(&ledger))?.as_ref().map_or_else(Facts::default, facts);
        rows.push(Row { path: tile.member.path.clone(), facts });
    }
    Ok(names::remarks(pattern, &rows))
}

/// What a judgment tells.
fn facts(ticket: &Ticket) -> Facts {
    if ticket.verdict == Verdict::Unreadable || ticket.width == 0 {
        return Facts::default();
    }
    Facts {
        size: Some((ticket.width, ticket.height)),
        layouts: Some(ticket.repeat.joins_as.clone()),
        colors: ticket.flat_colors,
    }
}
