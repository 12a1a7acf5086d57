//! Low priority: the calling thread, and every thread and process it starts from then on, gives way to all others.

use std::process::{Command, Stdio};

/// The lowest priority there is (`nice(2)`).
const LAST: i32 = 19;

/// Makes the calling thread give way to all others on the processor and on the drive. Yields what could not be done, in
/// sentences; a sandbox may forbid either.
///
/// The class of input and output has no safe call in the libraries used here, so it is set by `ionice` of util-linux: class 3,
/// idle, is served when nobody else wants the drive (`ioprio_set(2)`). Schedulers that know no classes ignore it.
#[must_use]
pub fn lightly() -> Vec<String> {
    let mut undone = Vec::new();
    if let Err(error) = rustix::process::nice(LAST) {
        undone.push(format!("the sweep runs with the usual priority on the processor: {error}"));
    }
    let idle = std::fs::read_link("/proc/thread-self").ok().and_then(|link| {
        let thread = link.file_name()?.to_str()?.to_string();
        let mut ionice = Command::new("ionice");
        ionice.args(["-c", "3", "-p", &thread]).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        ionice.status().ok()
    });
    if !idle.is_some_and(|status| status.success()) {
        undone.push(
            "the sweep reads with the usual priority: `ionice` is not there or not permitted; install util-linux, or let a \
             systemd timer run it (systemd/burler-sweep.timer)"
                .into(),
        );
    }
    undone
}
