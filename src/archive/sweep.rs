//! One sweep of one archive: list, read, judge, mend, tell.
//!
//! Takes an archive's settings and the ledger; yields what was found. What is found is written to the ledger in batches
//! as it is found, so that an interrupted sweep goes on where it stopped: what remains follows from the rows. Writes only
//! into the ledger, the scratch folder and the archive's output folder.

use super::book::{Book, lock};
use super::company::{Company, Progress};
use super::compare::{Reading, compare};
use super::drawings::{self, Drawing, Known};
use super::error::SweepError;
use super::lanes;
use super::listing::{self, Listing};
use super::mending;
use super::names::reused;
use super::plan::{Homeless, Plan, Task, plan};
use super::read::{self, Fatal, Judged, Seen};
use super::report::{Given, Line, Remark, Report, State};
use super::settings::{Settings, Tools};
use super::tile::{Roots, Tile, line, lying};
use super::{stray, suspects, tidying};
use crate::finding::{Finding, Verdict};
use crate::ledger::{Change, LastSweep, Ledger, Member, MemberState, News, Verdicted};
use crate::ticket::Ticket;
use std::path::Path;
use std::sync::Mutex;
use std::time::SystemTime;

/// What a sweep found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Swept {
    /// In short.
    pub report: Report,
    /// Every tile, by path; vanished ones too.
    pub tiles: Vec<Tile>,
    /// Everything that lies in the archive.
    pub listing: Listing,
}

/// Sweeps one archive.
///
/// # Errors
/// When the archive is not there or holds nothing any more, or ledger or disk cannot be used. What concerns single files
/// is told in the report.
pub fn sweep(
    settings: &Settings,
    tools: &Tools,
    ledger: &Mutex<Ledger>,
    company: &mut Company<'_>,
) -> Result<Swept, SweepError> {
    let (began, tick) = (tools.clock.wall(), tools.clock.tick());
    if !settings.folder.is_dir() {
        return Err(SweepError::Absent { folder: settings.folder.clone() });
    }
    let listing = listing::list(&settings.folder);
    let known = lock(ledger).members(&settings.name)?;
    let there = known.iter().filter(|member| member.state != MemberState::Vanished).count();
    if listing.tiles.is_empty() && there > 0 {
        return Err(SweepError::Empty { folder: settings.folder.clone(), known: there });
    }
    let Plan { tasks, still, missing, homeless } =
        plan(known, &listing, began, settings.rereading, |member| settings.sheets.is_current(member));
    let mut sweep = Sweep {
        settings,
        tools,
        book: Book::new(ledger, settings.key(), tools.clock, settings.dry_run),
        homeless,
        tiles: still.into_iter().map(Tile::still).collect(),
        report: Report { archive: settings.name.clone(), troubles: listing.troubles.clone(), ..Report::default() },
        wrote: false,
    };
    sweep.read(&tasks, ledger, company)?;
    // A file whose turn did not come may have the bytes of one that is missed.
    if sweep.report.left.files == 0 {
        sweep.miss(missing)?;
    }
    sweep.book.write()?;
    if settings.mend && !(company.stop)() {
        let mended = mending::mend(settings, tools, &sweep.book, &mut sweep.tiles, company)?;
        sweep.wrote |= mended.given != Given::default();
        sweep.report.given = mended.given;
        sweep.report.unmended = mended.left;
        sweep.report.troubles.extend(mended.troubles);
    }
    let news = sweep.wrote;
    let mut swept = sweep.told(company.roots)?;
    swept.report.took = tools.clock.tick().since(tick);
    swept.report.strays = strays(settings, &listing, &swept.tiles, began);
    swept.listing = listing;
    // A sweep by hand that found nothing writes nothing.
    if !settings.dry_run && (news || settings.nightly) {
        let ended = swept.report.is_whole().then(|| tools.clock.wall());
        lock(ledger).note_sweep(&settings.name, LastSweep { began, ended })?;
    }
    Ok(swept)
}

struct Sweep<'a> {
    settings: &'a Settings,
    tools: &'a Tools,
    book: Book<'a>,
    homeless: Homeless,
    tiles: Vec<Tile>,
    report: Report,
    /// Whether anything was found that is news to the ledger.
    wrote: bool,
}

impl Sweep<'_> {
    /// Reads and judges everything that must be.
    fn read(&mut self, tasks: &[Task], ledger: &Mutex<Ledger>, company: &mut Company<'_>) -> Result<(), SweepError> {
        let (settings, tools) = (self.settings, self.tools);
        let mut progress = Progress { reads: true, files: tasks.len() as u64, ..Progress::default() };
        progress.bytes = tasks.iter().map(|task| task.stamp.size).sum();
        (company.progress)(progress);
        let look = |lane: &mut lanes::Lane<'_>, task: &Task| read::look(lane, task, settings, tools, ledger);
        let mut done = vec![false; tasks.len()];
        lanes::run(&tools.program, settings.lanes, tasks, company.stop, look, |seen| -> Result<(), SweepError> {
            let Some((at, seen)) = seen else { return Ok(self.book.rest()?) };
            let task = &tasks[at];
            done[at] = true;
            progress.done += 1;
            progress.bytes_done += task.stamp.size;
            (company.progress)(progress);
            self.seen(task, seen)
        })?;
        for (task, _) in tasks.iter().zip(done).filter(|(_, done)| !done) {
            self.report.left.files += 1;
            self.report.left.bytes += task.stamp.size;
            self.leave(task);
        }
        Ok(())
    }

    /// Takes in what came of one file.
    fn seen(&mut self, task: &Task, seen: Seen) -> Result<(), SweepError> {
        match seen {
            Seen::Read(reading, judged) => self.compared(task, &reading, judged),
            // It went while the sweep was under way; the next listing concludes what that means.
            Seen::Gone => {
                if task.known.is_some() {
                    self.leave(task);
                }
                Ok(())
            }
            Seen::Moving => {
                self.report.lines.push(Line {
                    path: task.path.clone(),
                    state: State::Left,
                    verdict: None,
                    says: "it is being written, or was a moment ago".into(),
                    remedy: "nothing: the next sweep looks at it".into(),
                });
                self.leave(task);
                Ok(())
            }
            Seen::Failed(why) => {
                self.report.troubles.push(why);
                self.leave(task);
                Ok(())
            }
            Seen::Fatal(Fatal::Ledger(error)) => Err(error.into()),
            Seen::Fatal(Fatal::Worker(error)) => Err(error.into()),
        }
    }

    fn compared(&mut self, task: &Task, reading: &Reading, judged: Option<Judged>) -> Result<(), SweepError> {
        let settings = self.settings;
        let mut compared = compare(&settings.name, task, reading, &mut self.homeless);
        if reading.read {
            self.report.integrity.read += 1;
            self.report.integrity.read_bytes += reading.stamp.size;
        }
        let mut changes = Vec::new();
        let mut unkept = None;
        if let (State::Changed, Some(known)) = (&compared.state, &task.known) {
            let fresh = judged.as_ref().and_then(|one| Known::from(one.likeness.as_deref(), one.sketch.as_deref()));
            if drawings::alike(&self.book.ledger(), known.content, reading.content, fresh)? == Drawing::Another {
                compared.member.news = News::Reused { before: known.content };
            }
        }
        if let Some(Judged { ticket, kept, likeness, sketch }) = judged {
            changes.extend(likeness.map(|likeness| Change::Liken(reading.content, likeness)));
            changes.extend(sketch.map(|sketch| Change::Sketch(reading.content, sketch)));
            let sheet = settings.sheets.for_path(&task.path);
            let key = sheet.key(reading.content);
            let differs = self.differs(&compared.member, &ticket)?;
            let today = Verdicted {
                spec_digest: key.spec_digest.clone(),
                rules: key.rules,
                spec: sheet.spec.name.clone(),
                verdict: ticket.verdict,
            };
            // A verdict that has been mended already stays so while the outputs are still those of this judgment.
            compared.judge(today, differs);
            if !kept {
                self.report.verdicts.inspected += 1;
                if settings.dry_run {
                    unkept = Some(ticket);
                } else {
                    changes.push(Change::Judge(key, ticket));
                }
            }
        }
        let known = task.known.as_ref();
        if known != Some(&compared.member) {
            changes.extend(compared.strike.clone().map(Change::Strike));
            changes.push(Change::Enroll { member: Box::new(compared.member.clone()), told: compared.told });
            self.wrote = true;
        }
        self.tiles.push(Tile { member: compared.member, state: compared.state, told: compared.told, ticket: unkept });
        Ok(self.book.add(changes)?)
    }

    /// Whether verdict or findings are others than those that were known of the same bytes.
    fn differs(&self, member: &Member, ticket: &Ticket) -> Result<bool, SweepError> {
        let (Some(judged), Some(key)) = (&member.judged, member.key()) else { return Ok(false) };
        let unmended = |verdict| if verdict == Verdict::Mended { Verdict::Mendable } else { verdict };
        let Some(before) = self.book.ledger().judgment(&key)? else {
            return Ok(unmended(judged.verdict) != unmended(ticket.verdict));
        };
        Ok(before.verdict != unmended(ticket.verdict) || !same(&before.findings, &ticket.findings))
    }

    /// A file whose turn did not come, or that cannot be read: what is known of it stays.
    fn leave(&mut self, task: &Task) {
        match &task.known {
            Some(member) => self.tiles.push(Tile { state: State::Left, ..Tile::still(member.clone()) }),
            None => {
                let files = &mut self.report.integrity;
                files.files += 1;
                files.bytes += task.stamp.size;
                files.left += 1;
            }
        }
    }

    /// Notes the files that are no longer there and were not found elsewhere.
    fn miss(&mut self, missing: Vec<Member>) -> Result<(), SweepError> {
        for member in missing {
            if !self.homeless.holds(&member) {
                continue;
            }
            let member = Member { state: MemberState::Vanished, news: News::Vanished, ..member };
            self.book.add([Change::Enroll { member: Box::new(member.clone()), told: true }])?;
            self.wrote = true;
            self.tiles.push(Tile { member, state: State::Vanished, told: true, ticket: None });
        }
        Ok(())
    }

    /// Counts everything and puts the news into words.
    fn told(mut self, roots: &Roots) -> Result<Swept, SweepError> {
        self.tiles.sort_by(|one, other| one.member.path.cmp(&other.member.path));
        let Report { integrity, verdicts, lines, names, .. } = &mut self.report;
        let ledger = self.book.ledger();
        for tile in &self.tiles {
            tile.count(integrity, verdicts);
            if !tile.told {
                continue;
            }
            if let News::Reused { before } = tile.member.news {
                names.push(reused(&tile.member.path, &lying(&ledger, before, roots)?));
            }
            let copies =
                if tile.state == State::Damaged { lying(&ledger, tile.member.content, roots)? } else { Vec::new() };
            lines.extend(line(&tile.member, tile.judgment(Some(&ledger))?.as_ref(), &copies));
        }
        lines.sort_by(|one, other| one.path.cmp(&other.path));
        Ok(Swept { report: self.report, tiles: self.tiles, listing: Listing::default() })
    }
}

/// What does not belong in the archive. Files that were found as recorded are not read again.
fn strays(settings: &Settings, listing: &Listing, tiles: &[Tile], now: SystemTime) -> Vec<Remark> {
    let known = |path: &Path| {
        let at = tiles.binary_search_by(|tile| tile.member.path.as_path().cmp(path)).ok()?;
        let is_so = tiles[at].state != State::Left && tiles[at].member.state == MemberState::Present;
        is_so.then_some(tiles[at].member.content)
    };
    tidying::remarks(&stray::judge_older(&suspects::rows(&settings.folder, listing, now, &known), settings.untouched))
}

/// Whether two lists say the same of a tile; what is to be done may be worded otherwise once a part was mended.
fn same(before: &[Finding], today: &[Finding]) -> bool {
    let essence = |finding: &Finding| Finding { remedy: String::new(), ..finding.clone() };
    before.iter().map(essence).eq(today.iter().map(essence))
}
