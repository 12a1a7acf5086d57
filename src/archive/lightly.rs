//! Low priority: the calling thread, and every thread and process it starts from then on, gives way to all others.

use std::process::{Command, Stdio};

/// The lowest priority there is (`nice(2)`).
const LAST: i32 = 19;

/// Makes the calling thread give way to all others on the processor and on the drive. Yields what could not be done, in
/// sentences; a sandbox may forbid either, and may have done it already.
///
/// The class of input and output has no safe call in the libraries used here, so it is set by `ionice` of util-linux: class 3,
/// idle, is served when nobody else wants the drive (`ioprio_set(2)`). Schedulers that know no classes ignore it.
#[must_use]
pub fn lightly() -> Vec<String> {
    let mut undone = Vec::new();
    let now = rustix::process::getpriority_process(None).unwrap_or(0);
    if now < LAST
        && let Err(error) = rustix::process::nice(LAST - now)
    {
        undone.push(format!("the sweep runs with the usual priority on the processor: {error}"));
    }
    let thread = std::fs::read_link("/proc/thread-self").ok();
    let thread = thread.and_then(|link| Some(link.file_name()?.to_str()?.to_string())).unwrap_or_default();
    let ionice = |words: &[&str]| {
        let output = Command::new("ionice").args(words).args(["-p", &thread]).stdin(Stdio::null()).output().ok();
        output.filter(|output| output.status.success())
    };
    let is_idle = || ionice(&[]).is_some_and(|output| output.stdout.starts_with(b"idle"));
    if ionice(&["-c", "3"]).is_none() && !is_idle() {
        undone.push(
            "the sweep reads with the usual priority: `ionice` is not there or not permitted; install util-linux, or let a \
             systemd timer run it (systemd/burler-sweep.timer)"
                .into(),
        );
    }
    undone
}
