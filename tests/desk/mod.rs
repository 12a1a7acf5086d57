//! The harness the tests share.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

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
