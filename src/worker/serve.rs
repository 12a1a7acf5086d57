//! The side that does the work: reads jobs from its socket until that closes, and owns the buffers they share.

use super::frame;
use super::job::{Answer, Comparison, Contact, Errand, Job, Limits, Looked, Reply};
use super::products;
use crate::codec;
use crate::disk::Disk;
use crate::pipeline;
use crate::pipeline::likeness::relation::{Side, relation};
use crate::pipeline::mockup::family;
use crate::tile::{Content, Raster};
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
    while let Some((errand, descriptors)) = frame::receive_with::<Errand>(&mut socket)? {
        limit(errand.limits());
        let mut files = descriptors.into_iter().map(File::from);
        let answer = match (&errand, files.next()) {
            (Errand::Tile(job), Some(file)) => Answer::Tile(buffers.run(job, file)),
            (Errand::Compare(comparison), Some(one)) => match files.next() {
                Some(other) => buffers.compare(comparison, [one, other]),
                None => Answer::Failed { why: "two tiles were to be compared and one came".into() },
            },
            (Errand::Contact(contact), Some(first)) => buffers.contact(contact, std::iter::once(first).chain(files)),
            (_, None) => Answer::Failed { why: "an errand came without its file".into() },
        };
        frame::send(&mut socket, &answer)?;
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
    /// Reads a whole file from its start.
    fn read(&mut self, original: &mut File, limits: &codec::Limits) -> io::Result<()> {
        self.file.clear();
        // The place in the file is shared with whoever had the descriptor before, a worker that died reading for one.
        let read = original.rewind().and_then(|()| {
            // One byte over the limit is enough to know that it is passed.
            original.by_ref().take(limits.max_bytes.saturating_add(1)).read_to_end(&mut self.file)
        });
        match read {
            Ok(_) => Ok(()),
            // As any other memory that cannot be had: the parent tells the file as too hungry.
            Err(error) if error.kind() == io::ErrorKind::OutOfMemory => std::process::abort(),
            Err(error) => Err(error),
        }
    }

    fn run(&mut self, job: &Job, mut original: File) -> Reply {
        let limits = codec::Limits::default();
        if let Err(error) = self.read(&mut original, &limits) {
            return Reply::Failed { why: format!("cannot read {}: {error}; it is tried again", job.name) };
        }
        let order = job.order(&limits);
        let outcome = pipeline::run(&self.file, &order, std::mem::take(&mut self.samples));
        self.samples = outcome.reuse;
        let (likeness, sketch) = (outcome.likeness.map(Box::new), outcome.sketch.map(Box::new));
        match products::keep(outcome.made, Path::new(&job.scratch)) {
            Ok(made) => Reply::Done { ticket: Box::new(outcome.ticket), made, likeness, sketch },
            Err(error) => Reply::Failed { why: error.to_string() },
        }
    }

    /// The pixels of a file; `None` when it cannot be opened any more.
    fn pixels(&mut self, file: &mut File) -> io::Result<Option<Raster>> {
        let limits = codec::Limits::default();
        self.read(file, &limits)?;
        Ok(codec::decode(&self.file, &limits, std::mem::take(&mut self.samples)).ok().map(|tile| tile.raster))
    }

    fn compare(&mut self, comparison: &Comparison, files: [File; 2]) -> Answer {
        let [mut one, mut other] = files;
        let pixels = self.pixels(&mut one).and_then(|one| Ok((one, self.pixels(&mut other)?)));
        let rasters = match pixels {
            Ok((Some(one), Some(other))) => [one, other],
            // What cannot be opened any more is told by whoever reads it next; here it is nobody's twin.
            Ok(_) => return Answer::Compared(None),
            Err(error) => return Answer::Failed { why: format!("cannot read a tile to compare it: {error}") },
        };
        let side = |i: usize| {
            let Looked { repeat, copies } = comparison.looks[i];
            Side { raster: &rasters[i], repeat, copies }
        };
        let reply = Answer::Compared(relation(side(0), side(1), comparison.plain));
        let [one, _] = rasters;
        self.samples = one.into_samples();
        reply
    }

    fn contact(&mut self, contact: &Contact, files: impl Iterator<Item = File>) -> Answer {
        let entries: Vec<_> = contact.entries.iter().map(|(entry, _)| entry.clone()).collect();
        let mut sheet = family::Sheet::new(&entries, &contact.heading);
        for (mut file, (_, turn)) in files.zip(&contact.entries) {
            let raster = match self.pixels(&mut file) {
                Ok(raster) => raster.map(|raster| turn.raster(raster)),
                Err(error) => return Answer::Failed { why: format!("cannot read a tile to picture it: {error}") },
            };
            if let Err(error) = sheet.add(raster.as_ref()) {
                return Answer::Failed { why: error.to_string() };
            }
            self.samples = raster.map(Raster::into_samples).unwrap_or_default();
        }
        let picture = match sheet.finish() {
            Ok(picture) => picture,
            Err(error) => return Answer::Failed { why: error.to_string() },
        };
        match Disk::new().write_scratch(Path::new(&contact.picture), &picture) {
            Ok(()) => Answer::Drawn(Content::of(&picture).to_string()),
            Err(error) => Answer::Failed { why: error.to_string() },
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
