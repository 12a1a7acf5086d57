//! The side that does the work: reads jobs from its socket until that closes, and owns the buffers they share.

use super::frame;
use super::job::{Job, Limits, Reply};
use super::products;
use crate::codec;
use crate::pipeline;
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use rustix::time::{ClockId, clock_gettime};
use std::fs::File;
use std::io::{self, Read, Seek};
use std::os::fd::AsFd;
use std::os::unix::net::UnixStream;
use std::path::Path;

/// Serves the socket that is this process's standard input until the other side closes it.
///
/// # Errors
/// When standard input is no socket of a parent Burler, or breaks.
pub fn serve_standard_input() -> io::Result<()> {
    let mut socket = UnixStream::from(io::stdin().as_fd().try_clone_to_owned()?);
    let mut buffers = Buffers::default();
    while let Some((job, descriptor)) = frame::receive_with::<Job>(&mut socket)? {
        limit(job.limits);
        let reply = buffers.run(&job, File::from(descriptor));
        frame::send(&mut socket, &reply)?;
    }
    Ok(())
}

/// Memory that lives as long as the process: fresh pages for a whole tile cost more than decoding a flat one.
#[derive(Default)]
struct Buffers {
    file: Vec<u8>,
    samples: Vec<u8>,
}

impl Buffers {
    fn run(&mut self, job: &Job, mut original: File) -> Reply {
        let limits = codec::Limits::default();
        self.file.clear();
        // The place in the file is shared with whoever had the descriptor before, a worker that died reading for one.
        let read = original.rewind().and_then(|()| {
            // One byte over the limit is enough to know that it is passed.
            original.by_ref().take(limits.max_bytes.saturating_add(1)).read_to_end(&mut self.file)
        });
        match read {
            Ok(_) => {}
            // As any other memory that cannot be had: the parent tells the file as too hungry.
            Err(error) if error.kind() == io::ErrorKind::OutOfMemory => std::process::abort(),
            Err(error) => {
                return Reply::Failed { why: format!("cannot read {}: {error}; it is tried again", job.name) };
            }
        }
        let order = job.order(&limits);
        let outcome = pipeline::run(&self.file, &order, std::mem::take(&mut self.samples));
        self.samples = outcome.reuse;
        match products::keep(outcome.made, Path::new(&job.scratch)) {
            Ok(made) => Reply::Done { ticket: Box::new(outcome.ticket), made },
            Err(error) => Reply::Failed { why: error.to_string() },
        }
    }
}

/// Sets the limits for the job at hand. Only the soft ones, which may be raised again for the next job.
fn limit(limits: Limits) {
    let set = |resource, current: u64| {
        let maximum = getrlimit(resource).maximum;
        let current = maximum.map_or(current, |most| current.min(most));
        if let Err(error) = setrlimit(resource, Rlimit { current: Some(current), maximum }) {
            tracing::warn!(?resource, %error, "a limit could not be set");
        }
    };
    set(Resource::As, limits.memory);
    let used = clock_gettime(ClockId::ProcessCPUTime).tv_sec.max(0) as u64;
    set(Resource::Cpu, used + limits.time.as_secs().max(1));
}
