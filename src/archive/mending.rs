//! The second half of a sweep: outputs for every tile whose outputs are not those of its judgment.
//!
//! Takes the swept tiles; works them through in lanes and delivers them one after the other. Each delivery is whole by itself,
//! so that a sweep may end between any two.

use super::book::Book;
use super::company::{Company, Progress};
use super::drawings;
use super::error::SweepError;
use super::give::{self, Due, SCRATCH, Worked};
use super::lanes::{self, Lane};
use super::report::{Given, State};
use super::settings::{Settings, Tools};
use super::tile::Tile;
use crate::deliver::{self, DeliverError, Delivery, Fate, LET_PASS, Place};
use crate::disk;
use crate::finding::Verdict;
use crate::ledger::{Change, Member, Standing};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// What was put into the output folder.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Mended {
    /// Counted.
    pub given: Given,
    /// Tiles whose turn did not come.
    pub left: u64,
    /// What could not be worked through, in sentences.
    pub troubles: Vec<String>,
}

/// Mends what can be mended, and pictures what needs the artist. The verdicts of the tiles are brought up to what was
/// delivered.
pub(super) fn mend(
    settings: &Settings,
    tools: &Tools,
    book: &Book<'_>,
    tiles: &mut [Tile],
    company: &mut Company<'_>,
) -> Result<Mended, SweepError> {
    let key = settings.key();
    let mut work = Work { settings, tools, book, tiles, place: settings.place(&key), mended: Mended::default() };
    match work.all(company) {
        Ok(()) => {}
        // The output folder's trouble is no reason to keep what was found out about the archive.
        Err(SweepError::Deliver(error @ DeliverError::FolderGone { .. })) => {
            work.mended.troubles.push(error.to_string());
        }
        Err(error) => return Err(error),
    }
    Ok(work.mended)
}

struct Work<'a> {
    settings: &'a Settings,
    tools: &'a Tools,
    book: &'a Book<'a>,
    tiles: &'a mut [Tile],
    place: Place<'a>,
    mended: Mended,
}

impl Work<'_> {
    fn all(&mut self, company: &mut Company<'_>) -> Result<(), SweepError> {
        let (settings, tools, place) = (self.settings, self.tools, self.place);
        if !settings.dry_run && settings.checked.is_dir() {
            deliver::tidy(&tools.disk, &mut self.book.ledger(), &place, tools.clock.wall())?;
            if let Some(lying) = give::lying(&settings.checked.join(LET_PASS)) {
                deliver::review(&tools.disk, &mut self.book.ledger(), &place, &lying)?;
            }
        }
        let due = self.due()?;
        if settings.dry_run {
            self.mended.given.would = due.len() as u64;
            return Ok(());
        }
        if due.is_empty() {
            return Ok(());
        }
        if tools.scratch.to_str().is_none() {
            return Err(SweepError::Scratch { scratch: tools.scratch.clone() });
        }
        tools.disk.make_folders(&tools.scratch)?;
        tools.disk.clear_scratch(&tools.scratch, SCRATCH)?;
        let mut progress = Progress { files: due.len() as u64, ..Progress::default() };
        (company.progress)(progress);
        let work = |lane: &mut Lane<'_>, due: &Due| give::work(lane, due, settings, tools);
        let begun = lanes::run(&tools.program, settings.lanes, &due, company.stop, work, |worked| {
            let Some((at, worked)) = worked else { return Ok(()) };
            progress.done += 1;
            (company.progress)(progress);
            self.take(&due[at], worked)
        })?;
        self.mended.left = (due.len() - begun) as u64;
        Ok(())
    }

    /// The tiles whose outputs are not those of their judgments. Of those whose outputs are, the verdict is what was delivered:
    /// a sweep may have ended between the two.
    fn due(&mut self) -> Result<Vec<Due>, SweepError> {
        let (key, pictures) = (self.place.folder, self.settings.pictures());
        let standings: BTreeMap<PathBuf, Standing> =
            self.book.ledger().standings(key)?.into_iter().map(|standing| (standing.path.clone(), standing)).collect();
        let (mut due, mut delivered) = (Vec::new(), Vec::new());
        for (at, tile) in self.tiles.iter().enumerate().filter(|(_, tile)| tile.state != State::Left) {
            let let_pass = self.book.ledger().let_pass(key, tile.member.content)?;
            match standings.get(&tile.member.path) {
                standing if give::is_due(&tile.member, standing, &let_pass, &pictures) => {
                    due.push(Due { member: tile.member.clone(), at, let_pass });
                }
                Some(standing) => delivered.push((at, standing.verdict)),
                None => {}
            }
        }
        for (at, verdict) in delivered {
            self.deliver_verdict(at, verdict)?;
        }
        Ok(due)
    }

    fn take(&mut self, due: &Due, worked: Worked) -> Result<(), SweepError> {
        let (mut outcome, _scratch) = match worked {
            Worked::Done { outcome, _scratch } => (outcome, _scratch),
            Worked::Superseded => return Ok(()),
            Worked::Failed(why) => {
                self.mended.troubles.push(why);
                return Ok(());
            }
            Worked::Fatal(error) => return Err(error.into()),
        };
        let tools = self.tools;
        let path = self.settings.folder.join(&due.member.path);
        let stamp = outcome.stamp;
        let mut still_same = || disk::stamp(&path).is_ok_and(|found| found == Some(stamp));
        let (key, content) = (self.place.folder, outcome.content);
        outcome.succession = drawings::succession(&self.book.ledger(), key, &outcome.path, content, None)?;
        let delivery = deliver::deliver(
            &tools.disk,
            &mut self.book.ledger(),
            &self.place,
            &outcome,
            &mut still_same,
            tools.clock.wall(),
        );
        match delivery {
            Ok(Delivery::Done(_)) => {}
            Ok(Delivery::Superseded) => return Ok(()),
            Err(error) if error.fate() == Fate::Tile => {
                self.mended.troubles.push(error.to_string());
                return Ok(());
            }
            Err(error) => return Err(error.into()),
        }
        let Given { mended, pictured, .. } = &mut self.mended.given;
        match outcome.verdict {
            Verdict::Mended => *mended += 1,
            Verdict::Held | Verdict::Unreadable => *pictured += 1,
            Verdict::Sound | Verdict::Mendable => {}
        }
        self.deliver_verdict(due.at, outcome.verdict)
    }

    /// Brings a tile's row up to what was delivered.
    fn deliver_verdict(&mut self, at: usize, verdict: Verdict) -> Result<(), SweepError> {
        let member: &mut Member = &mut self.tiles[at].member;
        if let Some(judged) = member.judged.as_mut().filter(|judged| judged.verdict != verdict) {
            judged.verdict = verdict;
            if !self.settings.dry_run {
                let change = Change::Enroll { member: Box::new(member.clone()), told: false };
                self.book.ledger().apply(self.place.folder, &[change])?;
            }
        }
        Ok(())
    }
}
