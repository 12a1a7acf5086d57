//! The service units: the service manager's own checker finds nothing wrong, and the system one stands little open.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod desk;

use std::fs;
use std::path::Path;
use std::process::Command;

/// A unit with the program that was just built, since the checker wants it to exist.
fn unit(name: &str, folder: &Path) -> std::path::PathBuf {
    let text = fs::read_to_string(desk::root().join("systemd").join(name)).unwrap();
    let built = env!("CARGO_BIN_EXE_burler");
    let text = text.replace("%h/.cargo/bin/burler", built).replace("/usr/local/bin/burler", built);
    let file = folder.join(name.replace('@', "@root"));
    fs::write(&file, text).unwrap();
    file
}

fn analyze(words: &[&str], unit: &Path) -> (bool, String) {
    let output = Command::new("systemd-analyze").args(words).arg(unit).output();
    let output = output.expect("systemd-analyze runs; tests/run installs it with Debian's package systemd");
    let told = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8_lossy(&told).into_owned())
}

#[test]
fn the_units_are_right() {
    let home = tempfile::tempdir().unwrap();
    for name in ["burler.service", "burler@.service"] {
        let file = unit(name, home.path());
        let (fine, told) = analyze(&["verify", "--man=no", "--recursive-errors=no"], &file);
        assert!(fine && !told.contains(&*file.file_name().unwrap().to_string_lossy()), "{name}: {told}");
    }
}

#[test]
fn a_word_the_manager_does_not_know_is_noticed() {
    let home = tempfile::tempdir().unwrap();
    let file = unit("burler.service", home.path());
    let wrong = fs::read_to_string(&file).unwrap().replace("WatchdogSec=", "WatchdogSecs=");
    fs::write(&file, wrong).unwrap();
    let (_, told) = analyze(&["verify", "--man=no", "--recursive-errors=no"], &file);
    assert!(told.contains("WatchdogSecs"), "{told}");
}

#[test]
fn the_system_service_stands_little_open() {
    let home = tempfile::tempdir().unwrap();
    let file = unit("burler@.service", home.path());
    let (fine, told) = analyze(&["security", "--offline=true", "--threshold=15", "--no-pager"], &file);
    assert!(fine, "exposure is above 1.5 of 10: {told}");
}

#[test]
fn the_units_check_the_configuration_before_they_start() {
    for name in ["burler.service", "burler@.service"] {
        let text = fs::read_to_string(desk::root().join("systemd").join(name)).unwrap();
        assert!(text.contains("burler config check\n") && text.contains("burler watch\n"), "{name}");
    }
}
