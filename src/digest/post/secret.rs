//! The password: where it may lie, and that it is never printed.
//!
//! A file that only its owner can read, or a credential of the service manager; never the environment, the main
//! configuration or a command line, since those are read and copied by others. It is read anew for each try.

use super::fault::{Fault, FaultKind};
use crate::disk;
use std::fmt;
use std::io::Read;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// The rights of group and others.
const OTHERS: u32 = 0o077;

/// The most bytes of a password file; nobody's password is longer, and a wrong file is not read whole.
const LONGEST: u64 = 4096;

/// Where the password lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PasswordAt {
    /// In a file of this account that nobody else can read.
    File(PathBuf),
    /// In the service manager's folder of credentials; `None` when there is no such folder.
    Credential {
        /// The folder.
        folder: Option<PathBuf>,
        /// The credential's name.
        name: String,
    },
}

/// A password. It has no text form.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl fmt::Debug for Secret {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Secret(…)")
    }
}

impl Secret {
    /// A password.
    #[must_use]
    pub fn new(text: String) -> Self {
        Self(text)
    }

    /// For those that hand it to the server.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl PasswordAt {
    /// Reads the password: the first line of the file.
    ///
    /// # Errors
    /// A fault that names the file when it cannot be read, is empty, or others could read it; then it is not used.
    pub fn read(&self) -> Result<Secret, Fault> {
        match self {
            Self::File(file) => {
                let (text, owner, mode) = read(file)?;
                let ours = rustix::process::geteuid().as_raw();
                if owner != ours {
                    let why = format!(
                        "the password file {} belongs to another account; make it this account's own (chown)",
                        disk::spelled(file)
                    );
                    return Err(fault(file, &why));
                }
                if mode & OTHERS != 0 {
                    let why = format!(
                        "the password file {0} can be read or changed by others, so it is not used; run: chmod 600 {0}",
                        disk::spelled(file)
                    );
                    return Err(fault(file, &why));
                }
                first_line(file, &text)
            }
            Self::Credential { folder: Some(folder), name } => {
                // The service manager guards this folder itself; some of its versions own the file as root.
                let file = folder.join(name);
                let (text, ..) = read(&file)?;
                first_line(&file, &text)
            }
            Self::Credential { folder: None, name } => Err(fault(
                Path::new(name),
                &format!(
                    "the credential {name} was not handed over by the service manager; add LoadCredential={name}:… to the \
                     unit, or use password_file when Burler is run by hand"
                ),
            )),
        }
    }
}

fn read(file: &Path) -> Result<(String, u32, u32), Fault> {
    let failed = |error: &dyn fmt::Display| fault(file, &format!("the password is missing: {error}"));
    let open = disk::open_named(file).map_err(|error| failed(&error))?;
    let metadata = open.metadata().map_err(|error| failed(&error))?;
    let mut bytes = Vec::new();
    open.take(LONGEST).read_to_end(&mut bytes).map_err(|error| failed(&error))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| fault(file, &format!("the password in {} is not UTF-8 text", disk::spelled(file))))?;
    Ok((text, metadata.uid(), metadata.mode()))
}

fn first_line(file: &Path, text: &str) -> Result<Secret, Fault> {
    match text.lines().next() {
        Some(line) if !line.is_empty() => Ok(Secret(line.into())),
        _ => Err(fault(file, &format!("{} holds no password in its first line", disk::spelled(file)))),
    }
}

fn fault(file: &Path, why: &str) -> Fault {
    // Its words are ours and name a path, so they are not cut short.
    Fault { kind: FaultKind::Password, with: disk::spelled(file), said: why.into() }
}
