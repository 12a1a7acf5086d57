//! Mending an archive: what can be mended is mended into the output folder, and what needs the artist is pictured there.
//!
//! As for a watched folder, with two differences: a sound tile is not copied, since the archive has it, and companions are not
//! made. Never in place: the archive is only read.

use super::lanes::Lane;
use super::settings::{Settings, Tools};
use crate::arrival::names;
use crate::deliver::{self, Parcel};
use crate::disk::{self, Source, Stamp, spelled};
use crate::finding::Verdict;
use crate::ledger::{Member, MemberState, Standing, StandingState};
use crate::pipeline::{Product, Wants};
use crate::ticket::Ticket;
use crate::ticket::word::Mark;
use crate::tile::Content;
use crate::worker::client::WorkerError;
use crate::worker::job::{Job, Made, Reply, scratch_name};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use walkdir::{DirEntry, WalkDir};

/// How the names of a sweep's scratch folders begin.
pub(super) const SCRATCH: &str = ".burler-sweep-";

/// A tile whose outputs are not those of its judgment.
pub(super) struct Due {
    /// The tile.
    pub member: Member,
    /// Its place in the sweep's list.
    pub at: usize,
    /// What the artist lets pass of its content.
    pub let_pass: BTreeSet<Mark>,
}

/// Whether a tile's outputs are not those of its judgment: there are none for one with faults, or others for any.
pub(super) fn is_due(member: &Member, standing: Option<&Standing>, let_pass: &BTreeSet<Mark>, pictures: &str) -> bool {
    let Some(judged) = member.judged.as_ref().filter(|_| member.state == MemberState::Present) else { return false };
    match standing {
        None => judged.verdict != Verdict::Sound,
        Some(standing) => {
            standing.state != StandingState::Present
                || member.key().as_ref() != Some(&standing.key)
                || standing.pictures != pictures
                || standing.let_pass != *let_pass
        }
    }
}

/// What was made of one tile.
pub(super) enum Worked {
    /// Ready to be delivered. The folder holds what was made.
    Done { outcome: Box<deliver::Outcome>, _scratch: TempDir },
    /// The file is not the judged one any more; the next sweep sees to it.
    Superseded,
    /// It cannot be worked through.
    Failed(String),
    /// Nothing can go on.
    Fatal(WorkerError),
}

/// Works through one tile in a lane.
pub(super) fn work(lane: &mut Lane<'_>, due: &Due, settings: &Settings, tools: &Tools) -> Worked {
    match try_work(lane, due, settings, tools) {
        Ok(worked) => worked,
        Err(why) => Worked::Failed(why),
    }
}

fn try_work(lane: &mut Lane<'_>, due: &Due, settings: &Settings, tools: &Tools) -> Result<Worked, String> {
    let member = &due.member;
    let path = settings.folder.join(&member.path);
    let file = match disk::open(&path) {
        Err(error) if error.is_absent() => return Ok(Worked::Superseded),
        opened => opened.map_err(|error| error.to_string())?,
    };
    let stamp = disk::stamp_open(&file, &path).map_err(|error| error.to_string())?;
    if stamp != member.stamp {
        return Ok(Worked::Superseded);
    }
    let scratch = tempfile::Builder::new()
        .prefix(SCRATCH)
        .tempdir_in(&tools.scratch)
        .map_err(|error| format!("cannot make a folder in {}: {error}; free some space", spelled(&tools.scratch)))?;
    let job = Job {
        name: member.path.to_string_lossy().into_owned(),
        spec: settings.sheets.for_path(&member.path).spec.clone(),
        wants: Wants { mend: true, mockups: true, held: true, ..Wants::default() },
        mockup: settings.mockup.clone(),
        scratch: scratch.path().to_string_lossy().into_owned(),
        limits: settings.limits,
        let_pass: Some(due.let_pass.clone()),
    };
    let (ticket, made) = match lane.inspect(&job, &file) {
        Ok(Reply::Done { ticket, made, .. }) => (ticket, made),
        Ok(Reply::Failed { why }) | Err(WorkerError::Failed(why)) => return Err(why),
        Err(error @ WorkerError::Start { .. }) => return Ok(Worked::Fatal(error)),
        Err(error @ WorkerError::Died(_)) => return Err(format!("{}: {error}", spelled(&member.path))),
    };
    if ticket.blake3 != member.content.to_string() {
        return Ok(Worked::Superseded);
    }
    let outcome = deliver::Outcome {
        path: member.path.clone(),
        stamp,
        content: member.content,
        verdict: ticket.verdict,
        pictures: settings.pictures(),
        let_pass: due.let_pass.clone(),
        // Whoever has the ledger says otherwise.
        succession: deliver::Succession::Replaces,
        parcels: parcels(&ticket, &made, scratch.path())?,
        ticket: *ticket,
    };
    Ok(Worked::Done { outcome: Box::new(outcome), _scratch: scratch })
}

/// The files that a ticket calls for: of a sound tile none.
fn parcels(ticket: &Ticket, made: &[Made], scratch: &Path) -> Result<Vec<Parcel>, String> {
    let wanted = |product: Product| match ticket.verdict {
        Verdict::Sound | Verdict::Mendable => false,
        Verdict::Mended => true,
        Verdict::Held | Verdict::Unreadable => {
            matches!(product, Product::Held | Product::PartlyMended | Product::Filled)
        }
    };
    let parcel = |made: &Made| {
        let content =
            Content::from_hex(&made.blake3).ok_or("the inspecting process gave no hash; it is tried again")?;
        let source = Source::Path(scratch.join(scratch_name(made.product)));
        Ok(Parcel { role: deliver::role(made.product, &ticket.format), source, content })
    };
    made.iter().filter(|made| wanted(made.product)).map(parcel).collect()
}

/// Everything that lies in the archive's let-pass, as reviewing wants it; `None` when that cannot be told, so that nothing
/// counts as taken out. Hidden names and links are passed over.
pub(super) fn lying(let_pass: &Path) -> Option<Vec<(PathBuf, Option<Stamp>)>> {
    let is_seen = |entry: &DirEntry| entry.depth() == 0 || !names::is_hidden(entry.file_name());
    let mut found = Vec::new();
    for entry in WalkDir::new(let_pass).min_depth(1).into_iter().filter_entry(is_seen) {
        let entry = entry.ok()?;
        if entry.file_type().is_file() {
            let stamp = entry.metadata().ok().map(|metadata| Stamp::of(&metadata));
            found.push((entry.path().strip_prefix(let_pass).ok()?.to_path_buf(), stamp));
        }
    }
    Some(found)
}
