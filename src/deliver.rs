//! Delivering: publishes and withdraws a tile's outputs, so that one standing holds for each path.
//!
//! Takes an outcome with its parcels; changes the output folder and the ledger together, so that a kill anywhere leaves
//! whole files and a repeat finishes the work. Never over a file Burler did not write, never in the exports folder.
//! `DEVELOPERS.md` lists the cases of the one standing. Knows nothing of pixels or rules.

mod outcome;
mod layout;
mod error;
mod look;
mod folder;
mod plan;
mod names;
mod carry;
mod stay;
mod keep;
mod review;
mod expire;
mod loose;

pub use crate::ledger::Role;
pub use error::{DeliverError, Fate};
pub use expire::{Expired, expire};
pub use layout::{EARLIER, HELD, LET_PASS, LETTERS, MOCKUPS, READY, spot};
pub use loose::{Loose, Written, write_loose};
pub use outcome::{Delivered, Delivery, Outcome, Parcel, Place, Succession, role};
pub use review::{Lying, Reviewed, review};
pub use stay::{gone, tidy, unchanged};

use crate::disk::{self, Disk, Tree};
use crate::ledger::{Change, Ledger, Output, OutputState, Standing, StandingState, kept_path, ticket_of};
use carry::{Placed, carry_out, clear};
use folder::output_folder;
use look::{corrected, see, settled};
use names::Claimant;
use plan::{Aim, Plan, Wanted, plan};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Establishes what holds for a path.
///
/// `still_same` is asked once, after everything is written and before anything has its name: whether the original is
/// still the one that was judged. The same outcome delivered again changes nothing, wherever an earlier try stopped.
///
/// # Errors
/// When a file or the ledger cannot be written. [`DeliverError::fate`] says what happens next.
pub fn deliver(
    disk: &Disk,
    ledger: &mut Ledger,
    place: &Place<'_>,
    outcome: &Outcome,
    still_same: &mut dyn FnMut() -> bool,
    now: SystemTime,
) -> Result<Delivery, DeliverError> {
    let tree = output_folder(disk, ledger, place)?;
    let mut before = ledger.standing(place.folder, &outcome.path)?;
    let mut kept = Vec::new();
    if let Some(other) = before.take_if(|before| keep::is_another(before, outcome)) {
        match keep::keep(&tree, ledger, place, &other, now)? {
            Some(files) => kept = files,
            // Nothing lies there of the other one.
            None => before = Some(other),
        }
    }
    let renamed_from = renamed_from(ledger, place, outcome)?;
    let from = renamed_from.as_ref().map(|standing| standing.path.as_path());
    let claimant = Claimant { folder: place.folder, path: &outcome.path, from };

    let mut first = Vec::new();
    let mut old = Vec::new();
    let paths: Vec<&Path> = [Some(outcome.path.as_path()), from].into_iter().flatten().collect();
    let words = ledger.word_files(place.folder)?;
    for path in &paths {
        for (was, is) in settled(&tree, ledger.outputs(place.folder, path)?, now)? {
            // A held picture that lies in let-pass was moved there as a word, not taken away.
            let is = is.filter(|output| {
                !(output.role == Role::Held && output.state == OutputState::Removed && words.contains(&output.content))
            });
            first.extend(corrected(&was, is.as_ref()));
            old.extend(is.filter(|output| !matches!(output.state, OutputState::Withdrawn(_))));
        }
    }

    // A drawing that has its path again keeps the name it was given.
    let renewed = renamed_from.as_ref().filter(|standing| standing.shown() == outcome.path);
    let name = match renewed.or(before.as_ref()) {
        Some(standing) => standing.name.clone(),
        None => claimant.choose(ledger, &outcome.path)?,
    };
    let mut claims = vec![name.clone()];
    let mut png = layout::as_png(&name);
    if outcome.parcels.iter().any(|parcel| parcel.role == Role::ReadyAsPng) {
        png = claimant.choose(ledger, &png)?;
        claims.push(png.clone());
    }
    let day = day(now);
    let aim = Aim { path: &outcome.path, origin: outcome.content, name: &name, png: &png, day: &day };
    let wanted: Vec<Wanted> =
        outcome.parcels.iter().map(|parcel| Wanted { role: parcel.role, content: parcel.content }).collect();
    let plan = plan(&aim, &wanted, &old, &mut |file, content| Ok(see(&tree, file, content, None)?), &mut |name| {
        claimant.may(ledger, name)
    })?;
    claims.extend(plan.claims.iter().cloned());

    first.extend(from.map(|from| Change::Release(from.into())));
    first.extend(claims.into_iter().map(|name| Change::Claim { name, path: outcome.path.clone() }));
    let exchanges = !(plan.publish.is_empty() && plan.withdraw.is_empty() && plan.along.is_empty());
    let mut coming: Vec<Output> = Vec::new();
    if exchanges {
        coming = plan.publish.iter().map(|(number, file)| new_output(outcome, *number, file)).collect();
        first.extend(intents(&plan));
        first.extend(coming.iter().cloned().map(Change::Put));
        first.push(Change::Mark { path: outcome.path.clone(), state: StandingState::Unfinished, told: false });
        let ids = ledger.apply(place.folder, &std::mem::take(&mut first))?;
        for (output, id) in coming.iter_mut().zip(ids) {
            output.id = Some(id);
        }
    }

    let placed = match carry_out(&tree, &plan, &outcome.parcels, still_same) {
        Ok(Some(placed)) => placed,
        ended => {
            if exchanges {
                let restored = restore(&tree, ledger, place, &paths, before.as_ref(), now);
                // The first error is the one to tell; what could not be set right is seen at the next try.
                if ended.is_ok() {
                    restored?;
                }
            }
            return ended.map(|_| Delivery::Superseded);
        }
    };
    clear(&tree, &plan, &name);

    let told = renewed.is_some() || is_news(ledger, before.as_ref().or(renamed_from.as_ref()), outcome)?;
    let mut delivered = Delivered { told, kept, beside: plan.beside.clone(), ..Delivered::default() };
    let last = outputs_after(outcome, &plan, &coming, &placed, now, &mut delivered);
    first.extend(last.into_iter().map(Change::Put));
    first.extend(plan.forget.iter().filter_map(|output| output.id).map(Change::Drop));
    first.extend(from.map(|from| Change::Forget(from.into())));
    first.push(Change::Judge(outcome.key(), Box::new(outcome.ticket.clone())));
    let changed = renamed_from.as_ref().map_or(0, |standing| standing.changed);
    let standing = Box::new(new_standing(place, outcome, name, changed, now));
    first.push(Change::Stand { standing, told });
    ledger.apply(place.folder, &first)?;
    Ok(Delivery::Done(delivered))
}

/// The standing whose set this outcome takes over: of an earlier drawing of this path that it renews, or whose original was
/// renamed to this path: the same bytes, and no longer where they were.
fn renamed_from(ledger: &Ledger, place: &Place<'_>, outcome: &Outcome) -> Result<Option<Standing>, DeliverError> {
    if let Succession::Another { renews: Some(renewed) } = outcome.succession
        && let Some(kept) = ledger.standing(place.folder, &kept_path(&outcome.path, renewed))?
    {
        return Ok(Some(kept));
    }
    // Without the folder nothing can be told about what is in it.
    if !place.exports.is_dir() {
        return Ok(None);
    }
    let mut found = ledger.standings_of(place.folder, outcome.content)?;
    found.retain(|standing| {
        let is_gone = |path: &Path| matches!(disk::stamp(&place.exports.join(path)), Ok(None));
        standing.path != outcome.path && (standing.state == StandingState::Kept || is_gone(&standing.path))
    });
    // By path from the ledger, so that the last of equal times is always the same one.
    Ok(found.into_iter().max_by_key(|standing| (standing.shown() == outcome.path, standing.at)))
}

/// The day under `earlier/`, in coordinated universal time.
fn day(now: SystemTime) -> String {
    match jiff::Timestamp::try_from(now) {
        Ok(time) => time.strftime("%Y-%m-%d").to_string(),
        Err(_) => "undated".into(),
    }
}

/// The rows of files that are about to move.
fn intents(plan: &Plan) -> impl Iterator<Item = Change> {
    let moving = |(output, to): &(Output, PathBuf), withdrawn| {
        let state = OutputState::Moving { to: to.clone(), withdrawn };
        Change::Put(Output { state, ..output.clone() })
    };
    let withdraw = plan.withdraw.iter().map(move |pair| moving(pair, true));
    withdraw.chain(plan.along.iter().map(move |pair| moving(pair, false)))
}

/// The row of a file that is about to get its name.
fn new_output(outcome: &Outcome, number: usize, file: &Path) -> Output {
    let parcel = &outcome.parcels[number];
    Output {
        id: None,
        path: outcome.path.clone(),
        file: file.into(),
        role: parcel.role,
        content: parcel.content,
        origin: outcome.content,
        stamp: None,
        state: OutputState::Publishing,
        found: false,
    }
}

/// The rows after the plan was carried out, and what there is to say about them.
fn outputs_after(
    outcome: &Outcome,
    plan: &Plan,
    coming: &[Output],
    placed: &Placed,
    now: SystemTime,
    delivered: &mut Delivered,
) -> Vec<Output> {
    let mut rows = plan.keep.clone();
    for ((output, to), stamp) in plan.withdraw.iter().zip(&placed.withdrawn) {
        delivered.withdrawn.push((output.file.clone(), to.clone()));
        let state = OutputState::Withdrawn(now);
        rows.push(Output { file: to.clone(), stamp: Some(*stamp), state, ..output.clone() });
    }
    for ((output, to), stamp) in plan.along.iter().zip(&placed.along) {
        delivered.moved.push((output.file.clone(), to.clone()));
        rows.push(Output { path: outcome.path.clone(), file: to.clone(), stamp: Some(*stamp), ..output.clone() });
    }
    for (output, stamp) in coming.iter().zip(&placed.published) {
        delivered.published.push(output.file.clone());
        rows.push(Output { stamp: Some(*stamp), state: OutputState::Published, ..output.clone() });
    }
    for (number, file, stamp) in &plan.found {
        let new = new_output(outcome, *number, file);
        rows.push(Output { stamp: Some(*stamp), state: OutputState::Published, found: true, ..new });
    }
    delivered.list(&rows);
    rows
}

/// Whether the outcome says something that was not known of this path.
fn is_news(ledger: &Ledger, before: Option<&Standing>, outcome: &Outcome) -> Result<bool, DeliverError> {
    let Some(before) = before else { return Ok(true) };
    if before.key.content != outcome.content || before.verdict != outcome.verdict {
        return Ok(true);
    }
    let Some(judgment) = ledger.judgment(&before.key)? else { return Ok(true) };
    let told = ticket_of(judgment, before, &[]);
    Ok((&told.findings, &told.let_pass) != (&outcome.ticket.findings, &outcome.ticket.let_pass))
}

fn new_standing(place: &Place<'_>, outcome: &Outcome, name: PathBuf, changed: i64, now: SystemTime) -> Standing {
    Standing {
        folder: place.folder.into(),
        path: outcome.path.clone(),
        stamp: outcome.stamp,
        key: outcome.key(),
        spec: outcome.ticket.spec.clone(),
        verdict: outcome.verdict,
        pictures: outcome.pictures.clone(),
        name,
        state: StandingState::Present,
        changed,
        at: now,
        let_pass: outcome.let_pass.clone(),
    }
}

/// After a delivery that did not happen: the ledger says again what the disk says. Only when no file has moved does the
/// earlier standing hold again.
fn restore(
    tree: &Tree,
    ledger: &mut Ledger,
    place: &Place<'_>,
    paths: &[&Path],
    before: Option<&Standing>,
    now: SystemTime,
) -> Result<(), DeliverError> {
    let mut changes = Vec::new();
    let mut moved = false;
    for path in paths {
        for (was, is) in settled(tree, ledger.outputs(place.folder, path)?, now)? {
            moved |= match (&was.state, &is) {
                (OutputState::Publishing, is) => is.is_some(),
                (OutputState::Moving { .. }, is) => is.as_ref().is_none_or(|is| is.file != was.file),
                _ => false,
            };
            changes.extend(corrected(&was, is.as_ref()));
        }
    }
    changes.extend(before.filter(|_| !moved).map(|standing| Change::Mark {
        path: standing.path.clone(),
        state: standing.state,
        told: false,
    }));
    ledger.apply(place.folder, &changes)?;
    Ok(())
}
