//! The harness the tests share.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, Instant};

/// The repository.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The Python environment that `tests/run` builds.
pub fn python() -> PathBuf {
    let python = root().join("target/python/bin/python");
    assert!(python.exists(), "{} is missing: run tests/run, which builds it", python.display());
    python
}

/// Runs a Python program text with arguments and returns its standard output; fails the test when it fails.
pub fn run_python(program: &str, arguments: &[&str]) -> String {
    let Output { status, stdout, stderr } =
        Command::new(python()).arg("-c").arg(program).args(arguments).output().expect("python starts");
    assert!(status.success(), "python failed:\n{}", String::from_utf8_lossy(&stderr));
    String::from_utf8(stdout).expect("python prints UTF-8")
}

/// The longest a test waits for anything. Nothing here takes seconds on an idle machine; a failing test ends after this.
const PATIENCE: Duration = Duration::from_secs(90);

/// Looks until there is something to see; fails the test when there is nothing in time. `what` is what was waited for,
/// and the whole situation is asked for only then.
pub fn wait_for<T>(what: &str, situation: impl Fn() -> String, mut look: impl FnMut() -> Option<T>) -> T {
    let start = Instant::now();
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(start.elapsed() < PATIENCE, "waited in vain for {what}\n{}", situation());
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// A text with a margin: what stands behind the first bar of each line, so that a test can show an answer as it looks.
pub fn margin(text: &str) -> String {
    text.lines().filter_map(|line| line.split_once('|')).map(|(_, rest)| format!("{rest}\n")).collect()
}
