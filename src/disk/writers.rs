//! Which files programs hold open for writing right now.
//!
//! Asks the system's list of processes (proc(5)); of processes of other accounts, and of other machines on a shared drive,
//! nothing is seen. So it is a courtesy and no lock: whoever moves a file looks at its stamp as well.

use std::collections::BTreeSet;
use std::fs::{self, DirEntry, File};
use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// Plain files that are open for writing, by device and number.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Writers(BTreeSet<(u64, u64)>);

impl Writers {
    /// Those of this moment. Where the system has no such list, none are known.
    #[must_use]
    pub fn now() -> Self {
        let processes = entries(Path::new("/proc"));
        let processes = processes.filter(|entry| entry.file_name().as_encoded_bytes().iter().all(u8::is_ascii_digit));
        Self(processes.flat_map(|process| of_one(&process.path())).collect())
    }

    /// Whether an open file is among them.
    #[must_use]
    pub fn hold(&self, file: &File) -> bool {
        file.metadata().is_ok_and(|metadata| self.0.contains(&(metadata.dev(), metadata.ino())))
    }
}

fn of_one(process: &Path) -> impl Iterator<Item = (u64, u64)> + use<> {
    let descriptors = process.join("fd");
    entries(&process.join("fdinfo")).filter(|entry| writes(&entry.path())).filter_map(move |entry| {
        // Follows the descriptor to the file itself, whatever name it has by now.
        let metadata = fs::metadata(descriptors.join(entry.file_name())).ok()?;
        metadata.is_file().then(|| (metadata.dev(), metadata.ino()))
    })
}

/// Whether a descriptor may write: the lowest two of its flags, which are octal (open(2): O_WRONLY is 1, O_RDWR is 2).
fn writes(info: &Path) -> bool {
    let Ok(text) = fs::read_to_string(info) else { return false };
    let flags = text.lines().find_map(|line| line.strip_prefix("flags:"));
    let access = flags.and_then(|flags| u32::from_str_radix(flags.trim(), 8).ok()).map(|flags| flags & 0o3);
    matches!(access, Some(1 | 2))
}

fn entries(folder: &Path) -> impl Iterator<Item = DirEntry> + use<> {
    fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok)
}
