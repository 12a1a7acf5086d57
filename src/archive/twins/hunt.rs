//! The hunt for twins at the end of a sweep: what is missing is looked at, what lies near is compared, families are told and
//! pictured.
//!
//! Takes the tiles of a sweep; adds to its report. Writes into the ledger, the scratch folder and `families/` of the archive's
//! output folder. What was compared once is kept by content, so that an unchanged archive costs one search.

use super::groups::{Grouping, Member, Question};
use super::told::{self, Known, Planned};
use crate::archive::book::lock;
use crate::archive::company::Company;
use crate::archive::error::SweepError;
use crate::archive::lanes::{self, Lane};
use crate::archive::report::{Report, State};
use crate::archive::settings::{Settings, Tools};
use crate::archive::tile::Tile;
use crate::disk::{self, Onto, Source};
use crate::finding::Verdict;
use crate::ledger::{Contact, Ledger};
use crate::pipeline::Wants;
use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::relation::Relation;
use crate::pipeline::mockup::DRAWING;
use crate::spec::Repeat;
use crate::tile::Content;
use crate::worker::client::{Worker, WorkerError};
use crate::worker::job::{self, Answer, Comparison, Errand, Job, Looked, Reply};
use std::collections::{HashMap, HashSet};
use std::fs::File;
use std::os::fd::AsFd;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Where contact sheets lie in the output folder.
const FAMILIES: &str = "families";

/// How a scratch folder of contact sheets is named.
const SCRATCH: &str = "families-";

/// Likenesses and relations written in one step.
const BATCH: usize = 50;

/// Finds twins and families among the tiles of a sweep.
///
/// # Errors
/// When ledger or scratch folder cannot be used, or no worker can be started. A tile that cannot be compared is left out.
pub fn hunt(
    report: &mut Report,
    tiles: &[Tile],
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    company: &Company<'_>,
) -> Result<(), SweepError> {
    let there = |tile: &&Tile| {
        let judged = tile.member.judged.as_ref();
        !matches!(tile.state, State::Vanished | State::Damaged | State::Left)
            && judged.is_some_and(|judged| judged.verdict != Verdict::Unreadable)
    };
    let tiles: Vec<&Tile> = tiles.iter().filter(there).collect();
    let mut likenesses = lock(ledger).likenesses()?;
    missing(&tiles, &mut likenesses, settings, tools, ledger, company)?;
    let members = tiles
        .iter()
        .map(|tile| Member { content: tile.member.content, likeness: likenesses.get(&tile.member.content) });
    let mut grouping = Grouping::new(members.collect());
    let mut compare =
        Compare { tiles: &tiles, settings, ledger, worker: Worker::of(&tools.program), fresh: Vec::new() };
    while let Some(question) = grouping.question() {
        if (company.stop)() {
            break;
        }
        let answer = compare.ask(&question, &likenesses)?;
        grouping.answer(answer);
    }
    compare.keep()?;
    let mut worker = compare.worker;
    let families = grouping.families();
    let related: HashSet<usize> =
        families.iter().flat_map(|family| family.colorways.iter().flatten().copied()).collect();
    let known = known(&tiles, &related, &likenesses, ledger)?;
    report.twins = families.iter().flat_map(|family| told::remarks(family, &known)).collect();
    if settings.mend && !settings.dry_run && !(company.stop)() {
        let planned: Vec<Planned> = families.iter().flat_map(|family| told::sheets(family, &known)).collect();
        if let Err(why) = picture(&planned, &known, settings, tools, ledger, &mut worker) {
            report.troubles.push(why);
        }
    }
    Ok(())
}

/// Looks at the tiles whose likeness is not kept.
fn missing(
    tiles: &[&Tile],
    likenesses: &mut HashMap<Content, Likeness>,
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    company: &Company<'_>,
) -> Result<(), SweepError> {
    let mut seen = HashSet::new();
    let tasks: Vec<&Tile> = tiles
        .iter()
        .copied()
        .filter(|tile| !likenesses.contains_key(&tile.member.content) && seen.insert(tile.member.content))
        .collect();
    let mut fresh: Vec<(Content, Likeness)> = Vec::new();
    let write = |fresh: &mut Vec<(Content, Likeness)>, least: usize| {
        if fresh.len() < least || settings.dry_run {
            return Ok(());
        }
        lock(ledger).keep_likenesses(&std::mem::take(fresh))
    };
    let look = |lane: &mut Lane<'_>, tile: &&Tile| look(lane, tile, settings);
    lanes::run(&tools.program, settings.lanes, &tasks, company.stop, look, |done| -> Result<(), SweepError> {
        let Some((at, likeness)) = done else { return Ok(write(&mut fresh, 1)?) };
        if let Some(likeness) = likeness? {
            let content = tasks[at].member.content;
            likenesses.insert(content, likeness.clone());
            fresh.push((content, likeness));
        }
        Ok(write(&mut fresh, BATCH)?)
    })?;
    Ok(write(&mut fresh, 1)?)
}

/// The likeness of a tile; `None` where the file is another by now, or cannot be read: the next sweep tells that.
fn look(lane: &mut Lane<'_>, tile: &Tile, settings: &Settings) -> Result<Option<Likeness>, SweepError> {
    let path = &tile.member.path;
    let Some(file) = open(settings, tile) else { return Ok(None) };
    let job = Job {
        name: path.to_string_lossy().into_owned(),
        spec: settings.sheets.for_path(path).spec.clone(),
        wants: Wants { likeness: true, ..Wants::default() },
        mockup: settings.mockup.clone(),
        scratch: String::new(),
        limits: settings.limits,
        let_pass: None,
    };
    match lane.inspect(&job, &file) {
        Ok(Reply::Done { ticket, likeness, .. }) if ticket.blake3 == tile.member.content.to_string() => {
            Ok(likeness.map(|likeness| *likeness))
        }
        Err(error @ WorkerError::Start { .. }) => Err(error.into()),
        _ => Ok(None),
    }
}

/// The file of a tile, while it is still the one that was looked at.
fn open(settings: &Settings, tile: &Tile) -> Option<File> {
    let path = settings.folder.join(&tile.member.path);
    let file = disk::open(&path).ok()?;
    (disk::stamp_open(&file, &path).ok()? == tile.member.stamp).then_some(file)
}

/// Answers questions: from the ledger, else by comparing pixels in a worker.
struct Compare<'a> {
    tiles: &'a [&'a Tile],
    settings: &'a Settings,
    ledger: &'a Mutex<Ledger>,
    worker: Worker,
    fresh: Vec<(Content, Content, Option<Relation>)>,
}

impl Compare<'_> {
    fn ask(
        &mut self,
        question: &Question,
        likenesses: &HashMap<Content, Likeness>,
    ) -> Result<Option<Relation>, SweepError> {
        let pair = [question.one, question.other].map(|at| self.tiles[at]);
        let [one, other] = pair.map(|tile| tile.member.content);
        if let Some(known) = lock(self.ledger).relation(one, other)? {
            return Ok(known);
        }
        let look = |content: &Content, look: usize| {
            let look = likenesses.get(content)?.looks.get(look)?;
            Some(Looked { repeat: look.repeat, copies: look.copies })
        };
        let (Some(first), Some(second)) = (look(&one, question.looks[0]), look(&other, question.looks[1])) else {
            return Ok(None);
        };
        let [Some(a), Some(b)] = pair.map(|tile| open(self.settings, tile)) else { return Ok(None) };
        let errand =
            Errand::Compare(Comparison { looks: [first, second], plain: question.plain, limits: self.settings.limits });
        let relation = match self.worker.send(&errand, &[a.as_fd(), b.as_fd()]) {
            Ok(Answer::Compared(relation)) => relation,
            Err(error @ WorkerError::Start { .. }) => return Err(error.into()),
            Ok(_) => None,
            // A death may be that of the machine and not of the pair: it is not kept, and asked again another night.
            Err(why) => {
                tracing::warn!(%why, "two tiles could not be compared");
                return Ok(None);
            }
        };
        self.fresh.push((one, other, relation));
        if self.fresh.len() >= BATCH {
            self.keep()?;
        }
        Ok(relation)
    }

    fn keep(&mut self) -> Result<(), SweepError> {
        let fresh = std::mem::take(&mut self.fresh);
        if !fresh.is_empty() && !self.settings.dry_run {
            lock(self.ledger).keep_relations(&fresh)?;
        }
        Ok(())
    }
}

/// What is known of each tile for words and pictures; the judgments of those without relatives are not asked for.
fn known(
    tiles: &[&Tile],
    related: &HashSet<usize>,
    likenesses: &HashMap<Content, Likeness>,
    ledger: &Mutex<Ledger>,
) -> Result<Vec<Known>, SweepError> {
    let ledger = lock(ledger);
    tiles
        .iter()
        .enumerate()
        .map(|(at, tile)| {
            let ticket = if related.contains(&at) { tile.judgment(Some(&ledger))? } else { None };
            let likeness = likenesses.get(&tile.member.content);
            let look = likeness.and_then(|likeness| likeness.looks.first());
            let size = ticket.as_ref().map(|ticket| [ticket.width, ticket.height]);
            Ok(Known {
                path: tile.member.path.clone(),
                content: tile.member.content,
                repeat: look.map_or(Repeat::Block, |look| look.repeat),
                size: likeness.map(|likeness| likeness.size).or(size).unwrap_or([1; 2]),
                per_inch: ticket.and_then(|ticket| ticket.resolution_dpi),
            })
        })
        .collect()
}

/// Draws the sheets that are not there yet, and takes away those that no longer hold, while they are as they were drawn.
fn picture(
    planned: &[Planned],
    known: &[Known],
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    worker: &mut Worker,
) -> Result<(), String> {
    let failed = |error: &dyn std::fmt::Display| error.to_string();
    let key = settings.key();
    let mut old: HashMap<PathBuf, Contact> = lock(ledger)
        .contacts(&key)
        .map_err(|error| failed(&error))?
        .into_iter()
        .map(|contact| (contact.file.clone(), contact))
        .collect();
    if planned.is_empty() && old.is_empty() {
        return Ok(());
    }
    tools.disk.make_folders(&settings.checked).map_err(|error| failed(&error))?;
    let tree = tools.disk.tree(&settings.checked).map_err(|error| failed(&error))?;
    let scratch = scratch_folder(&tools.scratch, tools)?;
    let mut names = HashSet::new();
    for sheet in planned {
        let digest = digest(sheet, known);
        let mut file = Path::new(FAMILIES).join(format!("{}.png", sheet.name));
        if !names.insert(file.clone()) {
            file = Path::new(FAMILIES).join(format!("{}~{}.png", sheet.name, &digest[..6]));
            names.insert(file.clone());
        }
        let before = old.remove(&file);
        let there = tree.content(&file).ok();
        // As drawn: nothing to do. Changed by a person or not ours: theirs.
        match (&before, there) {
            (Some(before), Some(content)) if before.content == content && before.sheet == digest => continue,
            (Some(before), Some(content)) if before.content != content => continue,
            // A person took it away: it is not put back until it would show something else.
            (Some(before), None) if before.sheet == digest => continue,
            (None, Some(_)) => continue,
            _ => {}
        }
        let path = scratch.path().join("sheet.png");
        let Some(content) = draw(sheet, known, settings, &path, worker)? else { continue };
        tree.publish(&file, &Source::Path(path), content, Onto::Anything).map_err(|error| failed(&error))?;
        let contact = Contact { file, sheet: digest, content };
        lock(ledger).note_contact(&key, &contact).map_err(|error| failed(&error))?;
    }
    for (file, contact) in old {
        if tree.content(&file).is_ok_and(|content| content == contact.content) {
            tree.remove(&file).map_err(|error| failed(&error))?;
        }
        lock(ledger).forget_contact(&key, &file).map_err(|error| failed(&error))?;
    }
    Ok(())
}

fn scratch_folder(folder: &Path, tools: &Tools) -> Result<tempfile::TempDir, String> {
    tools.disk.make_folders(folder).map_err(|error| error.to_string())?;
    tools.disk.clear_scratch(folder, SCRATCH).map_err(|error| error.to_string())?;
    tempfile::Builder::new()
        .prefix(SCRATCH)
        .tempdir_in(folder)
        .map_err(|error| format!("cannot make a folder in {}: {error}; free some space", disk::spelled(folder)))
}

/// A digest of everything a sheet shows, 64 hexadecimal digits.
fn digest(sheet: &Planned, known: &[Known]) -> String {
    let mut text = format!("{DRAWING} {:?}", sheet.heading);
    for (at, entry, turn) in &sheet.tiles {
        text.push_str(&format!(" {} {entry:?} {turn:?}", known[*at].content));
    }
    Content::of(text.as_bytes()).to_string()
}

/// Has a sheet drawn; `None` where a tile is no longer the one that was looked at.
fn draw(
    sheet: &Planned,
    known: &[Known],
    settings: &Settings,
    path: &Path,
    worker: &mut Worker,
) -> Result<Option<Content>, String> {
    let picture = path.to_str().ok_or_else(|| format!("{} is not UTF-8", path.display()))?.to_string();
    let files: Option<Vec<File>> =
        sheet.tiles.iter().map(|(at, ..)| disk::open(&settings.folder.join(&known[*at].path)).ok()).collect();
    let Some(files) = files else { return Ok(None) };
    let entries = sheet.tiles.iter().map(|(_, entry, turn)| (entry.clone(), *turn)).collect();
    let errand =
        Errand::Contact(job::Contact { heading: sheet.heading.clone(), entries, picture, limits: settings.limits });
    let descriptors: Vec<_> = files.iter().map(AsFd::as_fd).collect();
    match worker.send(&errand, &descriptors) {
        Ok(Answer::Drawn(hash)) => Ok(Content::from_hex(&hash)),
        Ok(_) => Ok(None),
        Err(error) => Err(format!("{}: {error}", sheet.name)),
    }
}
