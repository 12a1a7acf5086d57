//! Looking: what has become of the files that were written for a tile.
//!
//! Takes outputs as the ledger has them; yields them as the disk has them, so that whatever a person did and whatever a
//! killed delivery left undone is known before anything is planned. Changes nothing.

use super::error::DeliverError;
use crate::disk::{Cause, DiskError, Look, Stamp, Tree};
use crate::ledger::{Change, Output, OutputState};
use crate::tile::Content;
use rustix::io::Errno;
use std::path::Path;
use std::time::SystemTime;

/// What lies where an output was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// The file as it was written.
    Intact(Stamp),
    /// Something else.
    Other,
    /// Nothing.
    Absent,
}

/// Looks at one file. A stamp that has not changed since the hash was right saves reading it.
///
/// # Errors
/// When the disk cannot tell, or a folder of the path is a link or a file. A file that may not be read is not ours to
/// judge and counts as something else.
pub fn see(tree: &Tree, file: &Path, content: Content, known: Option<Stamp>) -> Result<Seen, DiskError> {
    let stamp = match tree.look(file)? {
        Look::Absent => return Ok(Seen::Absent),
        Look::Other => return Ok(Seen::Other),
        Look::File(stamp) => stamp,
    };
    if known == Some(stamp) {
        return Ok(Seen::Intact(stamp));
    }
    match tree.content(file) {
        Ok(found) if found == content => Ok(Seen::Intact(stamp)),
        Ok(_) => Ok(Seen::Other),
        Err(error) if error.is_absent() => Ok(Seen::Absent),
        Err(error) if is_any(&error, &[Errno::ACCESS, Errno::PERM]) => Ok(Seen::Other),
        Err(error) if error.errno().is_none() => Ok(Seen::Other),
        Err(error) => Err(error),
    }
}

/// A folder of ours that has become a link or a file leads to nothing of ours.
fn own(seen: Result<Seen, DiskError>) -> Result<Seen, DiskError> {
    match seen {
        Err(DiskError { cause: Cause::NoPlainFile, .. }) => Ok(Seen::Other),
        seen => seen,
    }
}

/// Whether the system's answer is one of these.
pub fn is_any(error: &DiskError, answers: &[Errno]) -> bool {
    error.errno().is_some_and(|errno| answers.iter().any(|answer| answer.raw_os_error() == errno))
}

/// The outputs as the disk has them; `None` in place of one that no longer means anything.
///
/// A delivery that was stopped is not undone or finished here: each file simply is where it is found.
///
/// # Errors
/// When the disk cannot tell.
pub fn settled(
    tree: &Tree,
    outputs: Vec<Output>,
    now: SystemTime,
) -> Result<Vec<(Output, Option<Output>)>, DeliverError> {
    let mut out = Vec::with_capacity(outputs.len());
    for output in outputs {
        let here = own(see(tree, &output.file, output.content, output.stamp))?;
        let there = match &output.state {
            OutputState::Moving { to, .. } => own(see(tree, to, output.content, None))?,
            _ => Seen::Absent,
        };
        let now_is = resolved(&output, here, there, now);
        out.push((output, now_is));
    }
    Ok(out)
}

/// The change that makes the ledger say what was seen; `None` when it does already.
#[must_use]
pub fn corrected(was: &Output, is: Option<&Output>) -> Option<Change> {
    match (is, was.id) {
        (Some(is), _) => (is != was).then(|| Change::Put(is.clone())),
        (None, id) => id.map(Change::Drop),
    }
}

/// What an output is, given what lies at its name and, if it was being moved, at the name it was to get.
#[must_use]
pub fn resolved(output: &Output, here: Seen, there: Seen, now: SystemTime) -> Option<Output> {
    let is = |state, stamp| Some(Output { state, stamp, ..output.clone() });
    match (&output.state, here, there) {
        (OutputState::Withdrawn(_), ..) => Some(output.clone()),
        // Whatever else was planned for it, it is in its place.
        (_, Seen::Intact(stamp), _) => is(OutputState::Published, Some(stamp)),
        (OutputState::Moving { to, withdrawn }, _, Seen::Intact(stamp)) => Some(Output {
            file: to.clone(),
            stamp: Some(stamp),
            state: if *withdrawn { OutputState::Withdrawn(now) } else { OutputState::Published },
            ..output.clone()
        }),
        // It never got its name, or was taken away on its way: nothing of it is left.
        (OutputState::Publishing | OutputState::Moving { .. }, ..) => None,
        (_, Seen::Other, _) => is(OutputState::Edited, None),
        (_, Seen::Absent, _) => is(OutputState::Removed, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::Role;
    use std::time::UNIX_EPOCH;

    #[test]
    fn each_file_is_where_it_is_found() {
        let stamp = Stamp { size: 1, mtime_ns: 2, ctime_ns: 3, inode: 4 };
        let goal = OutputState::Moving { to: "earlier/d/ready/a.png".into(), withdrawn: true };
        let along = OutputState::Moving { to: "ready/b.png".into(), withdrawn: false };
        let gone = OutputState::Withdrawn(UNIX_EPOCH);
        let intact = Seen::Intact(stamp);
        let cases = [
            (OutputState::Published, intact, Seen::Absent, Some(OutputState::Published)),
            (OutputState::Published, Seen::Absent, Seen::Absent, Some(OutputState::Removed)),
            (OutputState::Published, Seen::Other, Seen::Absent, Some(OutputState::Edited)),
            (OutputState::Removed, intact, Seen::Absent, Some(OutputState::Published)),
            (OutputState::Removed, Seen::Absent, Seen::Absent, Some(OutputState::Removed)),
            (OutputState::Edited, intact, Seen::Absent, Some(OutputState::Published)),
            (OutputState::Edited, Seen::Absent, Seen::Absent, Some(OutputState::Removed)),
            (OutputState::Publishing, intact, Seen::Absent, Some(OutputState::Published)),
            (OutputState::Publishing, Seen::Absent, Seen::Absent, None),
            (OutputState::Publishing, Seen::Other, Seen::Absent, None),
            (goal.clone(), intact, Seen::Absent, Some(OutputState::Published)),
            (goal.clone(), Seen::Absent, intact, Some(gone.clone())),
            // The new file has the name already, the old one is in `earlier/`.
            (goal.clone(), Seen::Other, intact, Some(gone)),
            (goal, Seen::Absent, Seen::Absent, None),
            (along.clone(), Seen::Absent, intact, Some(OutputState::Published)),
            (along, intact, Seen::Other, Some(OutputState::Published)),
        ];
        for (state, here, there, wanted) in cases {
            let output = Output {
                id: Some(1),
                path: "a.png".into(),
                file: "ready/a.png".into(),
                role: Role::Ready,
                content: Content::of(b"a"),
                origin: Content::of(b"a"),
                stamp: None,
                state,
                found: false,
            };
            let got = resolved(&output, here, there, UNIX_EPOCH);
            assert_eq!(got.map(|output| output.state), wanted, "{output:?} {here:?} {there:?}");
        }
    }
}
