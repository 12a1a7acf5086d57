//! The ledger at a glance, for `status`.
//!
//! Yields counts and the few things a person may want to look at. Changes nothing.

use super::entry::{Letter, OutputState, Standing, StandingState, ticket_of};
use super::error::LedgerError;
use super::member::archive_of;
use super::members::LastSweep;
use super::rows::{self, STANDING, odd, verdict_of};
use super::store::Ledger;
use crate::finding::Verdict;
use crate::tile::Content;
use rusqlite::params;
use std::path::PathBuf;

/// What tells a watched folder from an archive, whose outputs have standings too.
const WATCHED: &str = "folder NOT GLOB 'archive/*'";

/// How many held tiles are named.
const NEWEST: usize = 10;

/// Everything at a glance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// Every folder the ledger knows, by name.
    pub folders: Vec<FolderSummary>,
    /// Every archive the ledger knows, by name.
    pub archives: Vec<ArchiveSummary>,
    /// The tiles of watched folders held last, newest first, at most ten.
    pub newest_held: Vec<Held>,
    /// The last letter.
    pub last_letter: Option<Letter>,
}

/// One folder at a glance.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FolderSummary {
    /// Its name in the configuration.
    pub folder: String,
    /// Tiles in `ready/` as they came.
    pub sound: i64,
    /// Tiles in `ready/` after mending.
    pub mended: i64,
    /// Tiles that could be mended and were not.
    pub mendable: i64,
    /// Tiles that need the artist.
    pub held: i64,
    /// Files that cannot be opened.
    pub unreadable: i64,
    /// Originals that have disappeared since.
    pub gone: i64,
    /// Drawings whose path another one has since, by that path, each with what was given back of it.
    pub kept: Vec<(PathBuf, Vec<PathBuf>)>,
    /// Tiles whose outputs are being exchanged.
    pub unfinished: i64,
    /// Outputs a person changed, relative to the output folder.
    pub edited: Vec<PathBuf>,
    /// Outputs a person took away.
    pub removed: Vec<PathBuf>,
    /// Tiles of which the artist let something pass, by path, each with what that is in sentences.
    pub let_pass: Vec<(PathBuf, Vec<String>)>,
    /// Files in let-pass that accept nothing, relative to that folder.
    pub strange: Vec<PathBuf>,
    /// Pictures in let-pass whose content no tile of the folder has, relative to that folder.
    pub idle: Vec<PathBuf>,
}

/// One archive at a glance.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ArchiveSummary {
    /// Its name in the configuration.
    pub archive: String,
    /// Tiles that are there.
    pub tiles: i64,
    /// Those of them that are damaged.
    pub damaged: i64,
    /// Those that need the artist.
    pub held: i64,
    /// Those that cannot be opened.
    pub unreadable: i64,
    /// When it was swept last.
    pub last: Option<LastSweep>,
}

/// One tile that needs the artist.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// What holds for it.
    pub standing: Standing,
    /// The gravest finding in a sentence, when its judgment was kept.
    pub says: Option<String>,
}

impl Ledger {
    /// The ledger at a glance.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn summary(&self) -> Result<Summary, LedgerError> {
        let mut folders: Vec<FolderSummary> = Vec::new();
        let counts = self.all(
            &format!(
                "SELECT folder, state, verdict, count(*) FROM standings WHERE {WATCHED}
                 GROUP BY folder, state, verdict ORDER BY folder"
            ),
            [],
            |row| {
                let verdict: String = row.get(2)?;
                let known = verdict_of(&verdict).ok_or_else(|| odd(2, &verdict))?;
                Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?, known, row.get::<_, i64>(3)?))
            },
        )?;
        for (folder, state, verdict, count) in counts {
            if folders.last().is_none_or(|last| last.folder != folder) {
                folders.push(FolderSummary { folder, ..FolderSummary::default() });
            }
            let Some(summary) = folders.last_mut() else { continue };
            *match (state.as_str(), verdict) {
                ("gone", _) => &mut summary.gone,
                ("kept", _) => continue,
                ("unfinished", _) => &mut summary.unfinished,
                (_, Verdict::Sound) => &mut summary.sound,
                (_, Verdict::Mended) => &mut summary.mended,
                (_, Verdict::Mendable) => &mut summary.mendable,
                (_, Verdict::Held) => &mut summary.held,
                (_, Verdict::Unreadable) => &mut summary.unreadable,
            } += count;
        }
        for summary in &mut folders {
            let touched =
                self.outputs_in(&summary.folder, |state| matches!(state, OutputState::Edited | OutputState::Removed))?;
            for output in touched {
                let list = if output.state == OutputState::Edited { &mut summary.edited } else { &mut summary.removed };
                list.push(output.file);
            }
            for standing in self.standings(&summary.folder)?.iter().filter(|one| one.state == StandingState::Kept) {
                let mut outputs = self.outputs(&summary.folder, &standing.path)?;
                outputs.retain(|output| output.state == OutputState::Published);
                let files = outputs.into_iter().map(|output| output.file).collect();
                summary.kept.push((standing.shown().into(), files));
            }
            summary.let_pass = self.told_to_pass(&summary.folder)?;
            for picture in self.words(&summary.folder)? {
                match &picture.word {
                    None => summary.strange.push(picture.path),
                    Some(word) if self.is_idle(&summary.folder, word.content)? => {
                        summary.idle.push(picture.path);
                    }
                    Some(_) => {}
                }
            }
        }
        let (archives, newest_held, last_letter) = (self.archives()?, self.newest_held()?, self.last_letter()?);
        Ok(Summary { folders, archives, newest_held, last_letter })
    }

    /// Whether no tile of a folder has this content.
    fn is_idle(&self, folder: &str, content: Content) -> Result<bool, LedgerError> {
        Ok(self.standings_of(folder, content)?.iter().all(|standing| standing.state == StandingState::Kept))
    }

    fn archives(&self) -> Result<Vec<ArchiveSummary>, LedgerError> {
        let sql = "SELECT folder, count(*), sum(state = 'damaged'), sum(state = 'present' AND verdict IS 'held'),
                   sum(state = 'present' AND verdict IS 'unreadable')
                   FROM members WHERE state <> 'vanished' GROUP BY folder ORDER BY folder";
        let mut found = self.all(sql, [], |row| {
            let folder: String = row.get(0)?;
            Ok(ArchiveSummary {
                archive: archive_of(&folder).ok_or_else(|| odd(0, &folder))?.into(),
                tiles: row.get(1)?,
                damaged: row.get(2)?,
                held: row.get(3)?,
                unreadable: row.get(4)?,
                last: None,
            })
        })?;
        for archive in &mut found {
            archive.last = self.last_sweep(&archive.archive)?;
        }
        Ok(found)
    }

    fn told_to_pass(&self, folder: &str) -> Result<Vec<(PathBuf, Vec<String>)>, LedgerError> {
        let mut told = Vec::new();
        for standing in self.spoken_of(folder)?.into_iter().filter(|one| one.state == StandingState::Present) {
            let Some(judgment) = self.judgment(&standing.key)? else { continue };
            let ticket = ticket_of(judgment, &standing, &[]);
            let says = |at: &usize| ticket.findings.get(*at).map(|finding| finding.says.clone());
            let says: Vec<String> = ticket.let_pass.iter().filter_map(says).collect();
            if !says.is_empty() {
                told.push((standing.path, says));
            }
        }
        Ok(told)
    }

    fn newest_held(&self) -> Result<Vec<Held>, LedgerError> {
        let sql = format!(
            "SELECT {STANDING} FROM standings WHERE verdict IN (?1, ?2) AND state = 'present' AND {WATCHED}
             ORDER BY changed DESC LIMIT ?3"
        );
        let found =
            self.all(&sql, params![Verdict::Held.name(), Verdict::Unreadable.name(), NEWEST as i64], rows::standing)?;
        debug_assert!(found.iter().all(|standing| standing.state == StandingState::Present));
        found
            .into_iter()
            .map(|standing| {
                let ticket = self.judgment(&standing.key)?.map(|judgment| ticket_of(judgment, &standing, &[]));
                let gravest = ticket.and_then(|ticket| ticket.findings.into_iter().find(|finding| !finding.silenced));
                Ok(Held { standing, says: gravest.map(|finding| finding.says) })
            })
            .collect()
    }
}
