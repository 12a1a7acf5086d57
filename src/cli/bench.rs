//! The bench of a command: one worker and a scratch folder, through which every file named goes.

use super::status::Failure;
use crate::config::Config;
use crate::disk::{self, Cause, DiskError, spelled};
use crate::pipeline::{Product, Wants, mockup};
use crate::spec::Spec;
use crate::ticket::Ticket;
use crate::tile::Content;
use crate::worker::client::{self, Worker};
use crate::worker::job::{Job, Limits, Reply, scratch_name};
use std::fs::File;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

/// One worker and a scratch folder.
pub struct Bench {
    worker: Worker,
    scratch: tempfile::TempDir,
    mockup: mockup::Settings,
    limits: Limits,
}

/// What came of one file.
pub struct Seen {
    /// The record.
    pub ticket: Ticket,
    /// What was made: what it is, where it lies, and its hash.
    pub made: Vec<(Product, PathBuf, Content)>,
    /// The original, open.
    pub original: File,
}

impl Bench {
    /// A bench with the limits of the configuration.
    ///
    /// # Errors
    /// When there is no scratch folder or our own executable cannot be found.
    pub fn new(config: &Config) -> Result<Self, Failure> {
        let program = std::env::current_exe()
            .map_err(|error| Failure::io(format!("cannot find Burler's own executable: {error}")))?;
        Ok(Self {
            worker: Worker::of(&program),
            scratch: tempfile::tempdir()
                .map_err(|error| Failure::io(format!("cannot make a scratch folder: {error}; free some space")))?,
            mockup: mockup_settings(config),
            limits: Limits { memory: config.worker_memory, time: config.worker_time },
        })
    }

    /// Looks at one file.
    ///
    /// # Errors
    /// When it cannot be read at all; what is wrong with its content is in the ticket.
    pub fn look(&mut self, file: &Path, spec: Spec, wants: Wants) -> Result<Seen, Failure> {
        let original = disk::open_named(file).map_err(|error| unopened(&error))?;
        let job = Job {
            name: file.to_string_lossy().into_owned(),
            spec,
            wants,
            mockup: self.mockup.clone(),
            scratch: self.scratch.path().to_string_lossy().into_owned(),
            limits: self.limits,
            let_pass: None,
        };
        match client::inspect(&mut self.worker, &job, &original, || ()).map_err(Failure::io)? {
            Reply::Done { mut ticket, made, .. } => {
                if file.to_str().is_none() {
                    ticket.tile_hex =
                        Some(file.as_os_str().as_bytes().iter().map(|byte| format!("{byte:02x}")).collect());
                }
                let made = made.into_iter().filter_map(|made| {
                    let path = self.scratch.path().join(scratch_name(made.product));
                    Some((made.product, path, Content::from_hex(&made.blake3)?))
                });
                Ok(Seen { ticket: *ticket, made: made.collect(), original })
            }
            Reply::Failed { why } => Err(Failure::io(why)),
        }
    }
}

/// What a person reads who named something that is no file: on the command line nothing is in anyone's way.
fn unopened(error: &DiskError) -> Failure {
    let what = match error.cause {
        Cause::FolderInTheWay => "is a folder; name the tiles in it",
        Cause::NoPlainFile => "is a pipe or a device and no file; name the tile itself",
        _ => return Failure::io(error),
    };
    Failure::io(format!("{} {what}", spelled(&error.path)))
}

/// How the configuration wants mock-ups drawn.
#[must_use]
pub fn mockup_settings(config: &Config) -> mockup::Settings {
    mockup::Settings { max_side: config.mockup_side, quality: config.mockup_quality, ..mockup::Settings::default() }
}
