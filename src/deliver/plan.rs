//! Planning: which files stay, which move, which are new, so that one standing holds for the path.
//!
//! Takes the files as they are and those that are wanted, and asks through two closures whether a name may be claimed and
//! what lies under it. Yields a plan. Changes nothing.

use super::error::DeliverError;
use super::layout::{EARLIER, READY, aside, spot};
use super::look::Seen;
use crate::disk::Stamp;
use crate::ledger::{Output, OutputState, Role};
use crate::tile::Content;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// How many other names are tried for a file whose own is taken.
const TURNS: u32 = 100;

/// One wanted file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// What it is for.
    pub role: Role,
    /// Its hash.
    pub content: Content,
}

/// What is wanted for which path.
#[derive(Clone, Copy, Debug)]
pub struct Aim<'a> {
    /// The original's path.
    pub path: &'a Path,
    /// The hash of the original.
    pub origin: Content,
    /// The path's claimed name.
    pub name: &'a Path,
    /// The claimed name for a mended tile of another format.
    pub png: &'a Path,
    /// The name of the day under `earlier/`.
    pub day: &'a str,
}

/// What to do. Paths are relative to the output folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// Rows that stay as they are, taken over by the path.
    pub keep: Vec<Output>,
    /// Files to move to `earlier/`.
    pub withdraw: Vec<(Output, PathBuf)>,
    /// Files to move along.
    pub along: Vec<(Output, PathBuf)>,
    /// Wanted files, by number, to publish under a name.
    pub publish: Vec<(usize, PathBuf)>,
    /// Wanted files, by number, that are in their place already without the ledger knowing.
    pub found: Vec<(usize, PathBuf, Stamp)>,
    /// Rows that no longer mean anything.
    pub forget: Vec<Output>,
    /// Names that were not free: wanted, given.
    pub beside: Vec<(PathBuf, PathBuf)>,
    /// Names in `ready/` to be claimed beyond the path's own.
    pub claims: Vec<PathBuf>,
}

impl Plan {
    /// Every file that is in its place when the plan is carried out.
    pub fn files(&self) -> impl Iterator<Item = &Path> {
        let keep = self.keep.iter().filter(|output| output.state != OutputState::Removed);
        keep.map(|output| output.file.as_path())
            .chain(self.along.iter().map(|(_, file)| file.as_path()))
            .chain(self.publish.iter().map(|(_, file)| file.as_path()))
            .chain(self.found.iter().map(|(_, file, _)| file.as_path()))
    }
}

/// Asks what lies under a name, whose content should be this.
pub type Ask<'a> = &'a mut dyn FnMut(&Path, Content) -> Result<Seen, DeliverError>;
/// Asks whether a name, relative to a role's folder, may be claimed by the path.
pub type MayClaim<'a> = &'a mut dyn FnMut(&Path) -> Result<bool, DeliverError>;

/// Plans. `old` are the rows of the path itself and of the path its original was renamed from.
///
/// # Errors
/// When asking fails, or no name is left for a file.
pub fn plan(
    aim: &Aim<'_>,
    wanted: &[Wanted],
    old: &[Output],
    seen: Ask<'_>,
    may_claim: MayClaim<'_>,
) -> Result<Plan, DeliverError> {
    let mut plan = Plan::default();
    let mut rest: Vec<Option<&Output>> = old.iter().map(Some).collect();
    let mut to_place = Vec::new();
    for (number, want) in wanted.iter().enumerate() {
        match fate(aim, want, &mut rest) {
            Matched::Keep(output) => plan.keep.push(Output { origin: aim.origin, ..output }),
            Matched::Place(along) => to_place.push((number, along)),
            Matched::Leave => {}
        }
    }
    let is_held = wanted.iter().any(|want| want.role == Role::Held);
    for output in rest.into_iter().flatten() {
        match output.state {
            OutputState::Published => plan.withdraw.push((output.clone(), PathBuf::new())),
            // A tile that is not held has no held picture to be taken away; should it be held again, it gets one.
            OutputState::Removed if output.origin != aim.origin || (output.role == Role::Held && !is_held) => {
                plan.forget.push(output.clone());
            }
            OutputState::Removed | OutputState::Edited => {
                plan.keep.push(Output { path: aim.path.into(), ..output.clone() });
            }
            OutputState::Publishing | OutputState::Moving { .. } | OutputState::Withdrawn(_) => {}
        }
    }

    let leaving: BTreeSet<PathBuf> = plan
        .withdraw
        .iter()
        .map(|(output, _)| output)
        .chain(to_place.iter().filter_map(|(_, along)| along.as_ref()))
        .map(|output| output.file.clone())
        .collect();
    let mut taken: BTreeSet<PathBuf> = plan.keep.iter().map(|output| output.file.clone()).collect();
    for (number, along) in to_place {
        let want = &wanted[number];
        let own = spot(want.role, aim.name, aim.png);
        let mut given = None;
        for turn in 0..=TURNS {
            let file = if turn == 0 { own.clone() } else { aside(&own, aim.path, turn - 1) };
            if taken.contains(&file) {
                continue;
            }
            // The path's own name is claimed already; another form, and a companion's name, is not.
            let unclaimed = turn > 0 || matches!(want.role, Role::Companion(_));
            let claim = file.strip_prefix(READY).ok().filter(|_| unclaimed);
            if let Some(name) = claim
                && !may_claim(name)?
            {
                continue;
            }
            let lies = if leaving.contains(&file) { Seen::Absent } else { seen(&file, want.content)? };
            if lies != Seen::Other {
                plan.claims.extend(claim.map(Path::to_path_buf));
                given = Some((file, lies));
                break;
            }
        }
        let (file, lies) = given.ok_or_else(|| DeliverError::NoName { path: own.clone() })?;
        if file != own {
            plan.beside.push((own, file.clone()));
        }
        taken.insert(file.clone());
        match (lies, along) {
            (Seen::Intact(stamp), None) => plan.found.push((number, file, stamp)),
            (Seen::Intact(stamp), Some(output)) => {
                // The same bytes lie there already: what would have moved onto them is withdrawn instead.
                plan.found.push((number, file, stamp));
                plan.withdraw.push((output, PathBuf::new()));
            }
            (_, Some(output)) if output.file == file => plan.keep.push(Output { path: aim.path.into(), ..output }),
            (_, Some(output)) => plan.along.push((output, file)),
            (_, None) => plan.publish.push((number, file)),
        }
    }
    for (output, goal) in &mut plan.withdraw {
        *goal = earlier(aim.day, output, seen, &mut taken)?;
    }
    Ok(plan)
}

/// What becomes of one wanted file.
enum Matched {
    /// It is in its place.
    Keep(Output),
    /// It needs a name; its bytes may lie under the name of the renamed original.
    Place(Option<Output>),
    /// A person took it away or made it theirs, and the original has not changed since.
    Leave,
}

fn fate(aim: &Aim<'_>, want: &Wanted, rest: &mut [Option<&Output>]) -> Matched {
    let mut find = |fits: &dyn Fn(&Output) -> bool| {
        let at = rest.iter().position(|slot| slot.is_some_and(|output| output.role == want.role && fits(output)))?;
        let output = rest[at]?;
        if output.state == OutputState::Published {
            rest[at] = None;
        }
        Some(output.clone())
    };
    let is_own = |output: &Output| output.path == aim.path;
    let same = |output: &Output| output.state == OutputState::Published && output.content == want.content;
    if let Some(output) = find(&|output| is_own(output) && same(output)) {
        return Matched::Keep(output);
    }
    let by_person = |output: &Output| {
        output.origin == aim.origin
            && (output.state == OutputState::Removed || (output.state == OutputState::Edited && is_own(output)))
    };
    if find(&by_person).is_some() {
        return Matched::Leave;
    }
    Matched::Place(find(&|output| !is_own(output) && same(output)))
}

/// A free name in `earlier/`: the day, then the name it had; the hash of its bytes beside it when that is taken.
fn earlier(day: &str, output: &Output, seen: Ask<'_>, taken: &mut BTreeSet<PathBuf>) -> Result<PathBuf, DeliverError> {
    let own = Path::new(EARLIER).join(day).join(&output.file);
    let seed = output.content.to_string();
    for turn in 0..=TURNS {
        let file = if turn == 0 { own.clone() } else { aside(&own, Path::new(&seed), turn - 1) };
        if !taken.contains(&file) && seen(&file, output.content)? == Seen::Absent {
            taken.insert(file.clone());
            return Ok(file);
        }
    }
    Err(DeliverError::NoName { path: own })
}
