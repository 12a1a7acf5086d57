//! What the ledger knows of a tile, put into the words and pictures of a letter.
//!
//! Takes rows, yields the letter's plain data. Decodes only pictures that still have the bytes Burler wrote.

use super::news::{New, Reminder, needs_you};
use super::shop::STRANGE;
use crate::archive::drawings::{self, Drawing};
use crate::codec;
use crate::config::Folder;
use crate::deliver::LET_PASS;
use crate::digest::{self, Preview, Remark, Still, copy_of};
use crate::disk;
use crate::finding::Verdict;
use crate::ledger::{self, Ledger, LedgerError, LetPass, OutputState, Role, Standing};
use crate::pipeline::mockup::look::Look;
use crate::ticket::Ticket;
use crate::tile::Content;
use std::path::Path;

/// That the name of a tile that needed the artist is another drawing's now.
const ANOTHER: &str = "another drawing has this name now; the one that needed you is no longer saved under it";

/// What a letter says of a tile, without its picture.
///
/// # Errors
/// When the ledger cannot be read.
pub fn entry(new: &New<'_>, ledger: &Ledger) -> Result<digest::Entry, LedgerError> {
    let (folder, row) = (new.folder, &new.row);
    let standing = &row.standing;
    let main: &[Role] = if needs_you(standing.verdict) { &[Role::Held] } else { &[Role::Ready, Role::ReadyAsPng] };
    let also = new
        .told
        .iter()
        .skip(1)
        .map(|twin| format!("the very same file is also {}", below(&folder.exports, &twin.path)));
    let tile = standing.path.to_string_lossy().into_owned();
    let mut kept = ledger.kept_of(&folder.name, &standing.path)?;
    kept.retain(|one| new.before.as_ref().is_none_or(|before| one.at > before.at));
    let kept = kept.last().map(|one| kept_beside(one, row, folder, ledger)).transpose()?;
    // What another drawing of this name came to says nothing about this one: it did not mend the old one.
    let before = match &new.before {
        Some(told) if kept.is_none() => {
            let shows = drawings::alike(ledger, told.content, standing.key.content, None)?;
            (shows != Drawing::Another).then_some(told.verdict)
        }
        _ => None,
    };
    let gone = new.before.as_ref().filter(|told| kept.is_none() && before.is_none() && needs_you(told.verdict));
    Ok(digest::Entry {
        copy_of: copied(&tile, folder, ledger)?,
        folder: folder.name.clone(),
        tile,
        verdict: standing.verdict,
        findings: row.ticket.as_ref().map(|ticket| ticket.findings.clone()).unwrap_or_default(),
        original: below(&folder.exports, &standing.path),
        outputs: main
            .iter()
            .filter_map(|role| published(row, *role))
            .map(|output| below(&folder.checked, &output.file))
            .collect(),
        picture: None,
        before,
        notes: let_pass(row)
            .chain(edited(row))
            .chain(published(row, Role::PartlyMended).map(go_on))
            .chain(published(row, Role::Filled).map(filled))
            .chain(refused(row))
            .chain(kept)
            .chain(gone.map(|_| ANOTHER.into()))
            .chain(also)
            .collect(),
    })
}

/// The picture of a tile in a letter: of what is wrong, or of a mended place before and after.
pub fn picture(new: &New<'_>) -> Option<Preview> {
    let role = match new.row.standing.verdict {
        Verdict::Held => Role::Held,
        Verdict::Mended => Role::BeforeAfter,
        // The picture of a file that cannot be opened holds nothing but the words that the letter has too.
        Verdict::Sound | Verdict::Mendable | Verdict::Unreadable => return None,
    };
    let output = published(&new.row, role)?;
    small(&new.folder.checked.join(&output.file), output.content)
}

/// A tile called to mind. `told` is when it was told, in words.
pub fn still(reminder: &Reminder<'_>, told: String) -> Still {
    let ticket = reminder.row.ticket.as_ref();
    let gravest = ticket.and_then(|ticket| ticket.findings.iter().find(|finding| !finding.silenced));
    Still {
        folder: reminder.folder.name.clone(),
        tile: reminder.row.standing.path.to_string_lossy().into_owned(),
        says: gravest.map_or_else(|| reminder.told.verdict.plain().into(), |finding| finding.says.clone()),
        told,
    }
}

/// A file in let-pass that is not understood.
pub fn remark(folder: &Folder, picture: &LetPass) -> Remark {
    Remark { name: below(&folder.checked, &Path::new(LET_PASS).join(&picture.path)), says: STRANGE.into() }
}

/// A file as a person finds it: from the folder they know on, whatever machine it is on.
fn below(root: &Path, file: &Path) -> String {
    Path::new(root.file_name().unwrap_or(root.as_os_str())).join(file).to_string_lossy().into_owned()
}

/// The tile a path is a conflicting copy of: one whose name says so, or one with a number beside a tile without it.
fn copied(tile: &str, folder: &Folder, ledger: &Ledger) -> Result<Option<String>, LedgerError> {
    let Some(copy) = copy_of(tile) else { return Ok(None) };
    let is_one = copy.sure || ledger.standing(&folder.name, Path::new(&copy.base))?.is_some();
    Ok(is_one.then_some(copy.base))
}

fn published(row: &ledger::Entry, role: Role) -> Option<&ledger::Output> {
    row.outputs.iter().find(|output| output.role == role && output.state == OutputState::Published)
}

/// That a tile is another drawing than the one that had its name, of which everything stays.
fn kept_beside(kept: &Standing, row: &ledger::Entry, folder: &Folder, ledger: &Ledger) -> Result<String, LedgerError> {
    const MAIN: [Role; 3] = [Role::Ready, Role::ReadyAsPng, Role::Held];
    let main = |outputs: &[ledger::Output]| {
        let find = |role| outputs.iter().find(|one| one.role == role && one.state == OutputState::Published);
        MAIN.into_iter().find_map(find).map(|output| below(&folder.checked, &output.file))
    };
    let old = main(&ledger.outputs(&folder.name, &kept.path)?);
    let is = |what: Option<String>| what.map(|file| format!(" as {file}")).unwrap_or_default();
    Ok(format!(
        "another drawing had this name before; what was given back of it stays{}, and this one is given back{}; a name of its \
         own for each keeps them apart",
        is(old),
        is(main(&row.outputs))
    ))
}

/// What the artist let pass of a tile.
fn let_pass(row: &ledger::Entry) -> impl Iterator<Item = String> {
    let meant = |ticket: &Ticket| -> Vec<String> {
        ticket.let_pass.iter().filter_map(|at| Some(ticket.findings.get(*at)?.says.clone())).collect()
    };
    let meant = row.ticket.as_ref().map(meant).unwrap_or_default();
    meant.into_iter().map(|says| format!("let pass by you: {says}"))
}

fn edited(row: &ledger::Entry) -> impl Iterator<Item = String> {
    let edited = row.outputs.iter().filter(|output| output.state == OutputState::Edited);
    edited.map(|output| format!("someone changed {}, so it was left alone", output.file.to_string_lossy()))
}

fn go_on(partly: &ledger::Output) -> String {
    let file = partly.file.to_string_lossy();
    format!("what can be mended is mended in {file}, which you can go on with; nothing else is changed there")
}

fn filled(copy: &ledger::Output) -> String {
    let file = copy.file.to_string_lossy();
    format!(
        "what is empty is filled in {file} with what the other units of the design show there; if it is right, save that as your tile"
    )
}

/// Companions that the order sheet wants and that could not be made.
fn refused(row: &ledger::Entry) -> impl Iterator<Item = String> {
    let companions = row.ticket.iter().flat_map(|ticket| &ticket.companions);
    companions.filter_map(|one| {
        Some(format!("not made of it, though its order sheet wants \"{}\": {}", one.wish, one.refused.as_ref()?))
    })
}

/// A published picture made small, if it still has the bytes Burler wrote: nothing else is decoded in this process.
fn small(file: &Path, content: Content) -> Option<Preview> {
    let bytes = disk::read_bytes(file).ok().filter(|bytes| Content::of(bytes) == content)?;
    let look = Look::of(&bytes);
    let tile = codec::decode(&bytes, &codec::Limits::default(), Vec::new()).ok()?;
    digest::preview(&tile.raster, look.as_ref()).ok()
}
