//! Progress of long work on standard error: a bar on a terminal, plain lines now and then elsewhere.

use crate::archive::Progress;
use crate::clock::{Clock, Tick};
use crate::pipeline::check::words::count;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::time::Duration;

/// Between two plain lines.
const LINES: Duration = Duration::from_secs(10);

/// Between two turns of what shows that something is still under way.
const TICK: Duration = Duration::from_millis(120);

/// How a sweep's progress is shown.
pub struct Bar {
    name: String,
    clock: Clock,
    bar: Option<ProgressBar>,
    reads: bool,
    began: Tick,
    last: Tick,
}

impl Bar {
    /// One for an archive of this name.
    #[must_use]
    pub fn new(name: &str, clock: Clock) -> Self {
        let now = clock.tick();
        Self { name: name.into(), clock, bar: None, reads: false, began: now, last: now }
    }

    /// Shows how far it is.
    pub fn show(&mut self, progress: Progress) {
        if progress.done == 0 {
            self.begin(progress);
        }
        if progress.compares {
            return;
        }
        let now = self.clock.tick();
        match &self.bar {
            Some(bar) => {
                bar.set_message(self.said(progress, now));
                bar.set_position(if progress.reads { progress.bytes_done } else { progress.done });
            }
            None if now.since(self.last) >= LINES => {
                self.last = now;
                tracing::info!("{}", self.line(progress, now));
            }
            None => {}
        }
    }

    fn begin(&mut self, progress: Progress) {
        self.end();
        self.reads = progress.reads;
        (self.began, self.last) = (self.clock.tick(), self.clock.tick());
        if !std::io::stderr().is_terminal() || (progress.files == 0 && !progress.compares) {
            return;
        }
        if progress.compares {
            let bar = ProgressBar::new_spinner()
                .with_prefix(self.name.clone())
                .with_message("looking for twins and families");
            // A template that is not understood is a mistake of ours; the plain one does as well.
            let style = ProgressStyle::with_template("{prefix} {spinner} {msg}, {elapsed}");
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_spinner()));
            bar.enable_steady_tick(TICK);
            self.bar = Some(bar);
            return;
        }
        let style = ProgressStyle::with_template("{prefix} {wide_bar} {msg}");
        let style = style.unwrap_or_else(|_| ProgressStyle::default_bar());
        let bar = ProgressBar::new(if progress.reads { progress.bytes } else { progress.files });
        self.bar =
            Some(bar.with_style(style).with_prefix(self.name.clone()).with_message(self.said(progress, self.began)));
    }

    /// Takes the bar away.
    pub fn end(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }

    /// A plain line: which archive, how much of how much, how fast, how long still.
    fn line(&self, progress: Progress, now: Tick) -> String {
        format!("{}: {}", self.name, self.said(progress, now))
    }

    /// How much of how much; how fast and how long still, once that can be told.
    fn said(&self, progress: Progress, now: Tick) -> String {
        let took = now.since(self.began).as_secs_f64().max(1e-3);
        let (done, all) = if progress.reads && progress.bytes > 0 {
            (progress.bytes_done as f64, progress.bytes as f64)
        } else {
            (progress.done as f64, progress.files as f64)
        };
        let (of, files) = (count(progress.done, ""), count(progress.files, "files"));
        let what = if progress.reads { "read" } else { "mended or pictured" };
        if progress.done == 0 {
            return format!("{of} of {files} {what}");
        }
        let bytes = progress.bytes_done as f64 / took / 1e6;
        let rate = if bytes >= 0.1 {
            format!("{bytes:.1} MB a second")
        } else {
            format!("{:.1} a second", progress.done as f64 / took)
        };
        format!("{of} of {files} {what}, {rate}, about {} left", spelled(took * (all - done) / done.max(1.0)))
    }
}

fn spelled(seconds: f64) -> String {
    match seconds.round() as u64 {
        seconds @ 0..90 => format!("{seconds} s"),
        seconds @ 90..5400 => format!("{} min", seconds.div_ceil(60)),
        seconds => format!("{:.1} h", seconds as f64 / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_how_much_how_fast_and_how_long() {
        let bar = Bar::new("prints", Clock::start());
        let progress = Progress {
            reads: true,
            done: 1200,
            files: 2400,
            bytes_done: 3_000_000_000,
            bytes: 9_000_000_000,
            ..Progress::default()
        };
        let now = bar.began.after(Duration::from_mins(1));
        assert_eq!(bar.line(progress, now), "prints: 1,200 of 2,400 files read, 50.0 MB a second, about 2 min left");
        let mends = Progress { done: 10, files: 100, ..Progress::default() };
        assert_eq!(bar.line(mends, now), "prints: 10 of 100 files mended or pictured, 0.2 a second, about 9 min left");
    }
}
