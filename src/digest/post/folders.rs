//! Into a folder, for those without a mail server: a Maildir that a mail reader opens, or plain `.eml` files.
//!
//! The name follows from the letter, so one that is handed over twice lies there once.

use super::carrier::{Answer, Carrier, Parcel};
use super::fault::{Fault, FaultKind};
use crate::disk::{Disk, DiskError, Look, Onto, Source, Tree, spelled};
use crate::tile::Content;
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// The folders of a Maildir: being written, new, seen (common practice).
const TMP: &str = "tmp";
const NEW: &str = "new";
const CUR: &str = "cur";

/// A Maildir. Readers look into `new`; what they have shown they move to `cur` and put flags behind the name.
#[derive(Debug)]
pub struct IntoMaildir {
    disk: Disk,
    folder: PathBuf,
}

/// A folder of `.eml` files.
#[derive(Debug)]
pub struct IntoFolder {
    disk: Disk,
    folder: PathBuf,
}

impl IntoMaildir {
    /// The Maildir `folder`, which is made when missing.
    #[must_use]
    pub fn new(disk: Disk, folder: PathBuf) -> Self {
        Self { disk, folder }
    }

    fn put(&self, parcel: &Parcel<'_>) -> Result<(), DiskError> {
        self.disk.make_private_folder(&self.folder)?;
        for part in [TMP, NEW, CUR] {
            self.disk.make_private_folder(&self.folder.join(part))?;
        }
        let tree = self.disk.tree(&self.folder)?;
        let name = format!("{}.burler", stem(parcel));
        if is_there(&tree, &self.folder, &name)? {
            return Ok(());
        }
        // Lines in a Maildir end as lines do on this system (common practice).
        let bytes: Vec<u8> = parcel.bytes.iter().copied().filter(|byte| *byte != b'\r').collect();
        let content = Content::of(&bytes);
        let (tmp, new) = (Path::new(TMP).join(&name), Path::new(NEW).join(&name));
        tree.publish(&tmp, &Source::Bytes(bytes), content, Onto::Anything)?;
        tree.rename(&tmp, &new, content)?;
        tree.sync_up(Path::new(NEW))
    }
}

/// Whether the letter is there already, seen or not.
fn is_there(tree: &Tree, folder: &Path, name: &str) -> Result<bool, DiskError> {
    if tree.look(&Path::new(NEW).join(name))? != Look::Absent {
        return Ok(true);
    }
    let is_it = |seen: &OsStr| {
        let rest = seen.as_bytes().strip_prefix(name.as_bytes());
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(b":"))
    };
    let seen = std::fs::read_dir(folder.join(CUR)).into_iter().flatten().filter_map(Result::ok);
    Ok(seen.into_iter().any(|entry| is_it(&entry.file_name())))
}

impl IntoFolder {
    /// The folder `folder`, which is made when missing.
    #[must_use]
    pub fn new(disk: Disk, folder: PathBuf) -> Self {
        Self { disk, folder }
    }

    fn put(&self, parcel: &Parcel<'_>) -> Result<(), DiskError> {
        self.disk.make_private_folder(&self.folder)?;
        let name = format!("burler-{}.eml", stem(parcel));
        let content = Content::of(parcel.bytes);
        let tree = self.disk.tree(&self.folder)?;
        tree.publish(Path::new(&name), &Source::Bytes(parcel.bytes.to_vec()), content, Onto::Anything).map(drop)
    }
}

impl Carrier for IntoMaildir {
    fn carry(&mut self, parcel: &Parcel<'_>, _: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        vec![answer(&self.folder, self.put(parcel)); parcel.to.len()]
    }

    fn repeats_safely(&self) -> bool {
        true
    }
}

impl Carrier for IntoFolder {
    fn carry(&mut self, parcel: &Parcel<'_>, _: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        vec![answer(&self.folder, self.put(parcel)); parcel.to.len()]
    }

    fn repeats_safely(&self) -> bool {
        true
    }
}

/// Seconds, a point, and what is the letter's own: unique, and the same for the same letter.
fn stem(parcel: &Parcel<'_>) -> String {
    let seconds = parcel.written.duration_since(UNIX_EPOCH).unwrap_or_default().as_secs();
    let id = Content::of(parcel.message_id.as_bytes()).to_string();
    format!("{seconds}.{}", &id[..24])
}

fn answer(folder: &Path, put: Result<(), DiskError>) -> Answer {
    match put {
        Ok(()) => Answer::Accepted,
        Err(error) => Answer::Later(Fault { kind: FaultKind::Folder, with: spelled(folder), said: error.to_string() }),
    }
}
