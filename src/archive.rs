//! The archive: what is known of a designer's older tiles, and what a sweep finds out about them.
//!
//! A sweep compares every file with the ledger, judges anew what changed, and looks for tiles that are one repeat under
//! several names. It reads the archive's folder and writes nothing there; on demand, what does not belong is moved out.

pub mod error;
pub mod listing;
pub mod report;
pub mod sheets;
pub mod plan;
pub mod compare;
pub mod settings;
pub mod tile;
pub mod copies;
pub mod drawings;
pub mod naming;
pub mod names;
pub mod since;
mod company;
pub mod window;
pub mod stray;
mod suspects;
pub mod tidying;
pub mod kin;
mod once;
pub mod quarantine;
pub mod undo;
mod lightly;
mod lanes;
mod book;
mod read;
mod give;
mod mending;
mod sweep;
pub mod twins;

pub use crate::ledger::{Member, MemberState, News};
pub use company::{Company, Progress};
pub use error::SweepError;
pub use lightly::lightly;
pub use listing::{Listing, Other, OtherKind, list};
pub use once::{for_letters, told_once};
pub use plan::Rereading;
pub use report::{Given, Integrity, Left, Line, Remark, Report, State, Verdicts};
pub use settings::{Settings, Tools};
pub use sheets::Sheets;
pub use since::{Since, since};
pub use suspects::rows;
pub use sweep::{Swept, sweep};
pub use tile::{Roots, Tile};

use crate::disk::{Disk, Lock};
use crate::ledger::Ledger;
use std::path::Path;
use std::sync::Mutex;

/// Takes the duty of sweeping for this process alone, for as long as the lock is held.
///
/// # Errors
/// [`SweepError::Busy`] when another process sweeps; otherwise when the state folder cannot be used.
pub fn duty(disk: &Disk, state: &Path) -> Result<Lock, SweepError> {
    disk.make_folders(state)?;
    disk.lock(&state.join("sweep.lock"))?.ok_or_else(|| SweepError::Busy { state: state.into() })
}

/// Sweeps one archive and hunts for twins among what it found.
///
/// # Errors
/// As [`sweep()`].
pub fn look_through(
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    company: &mut Company<'_>,
) -> Result<Swept, SweepError> {
    let tick = tools.clock.tick();
    let mut swept = sweep(settings, tools, ledger, company)?;
    if !(company.stop)() {
        (company.progress)(Progress { compares: true, ..Progress::default() });
        let tiles = once::without_copies(&swept.tiles);
        twins::hunt(&mut swept.report, &tiles, settings, tools, ledger, company)?;
    }
    told_once(&mut swept.report);
    swept.report.took = tools.clock.tick().since(tick);
    Ok(swept)
}
