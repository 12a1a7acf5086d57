//! The unit files, read by systemd's own checker. It belongs to the Debian package `systemd`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// The person the template is tried for.
const SYSTEM: &str = "burler@oddfathom.service";
const USER: &str = "burler.service";
/// The same for the nightly sweep, and what starts it.
const SWEEP_SYSTEM: &str = "burler-sweep@oddfathom.service";
const SWEEP_USER: &str = "burler-sweep.service";
const TIMER_SYSTEM: &str = "burler-sweep@oddfathom.timer";
const TIMER_USER: &str = "burler-sweep.timer";

/// A unit file with the program it names replaced by one that is there.
struct Unit {
    folder: TempDir,
    name: &'static str,
}

impl Unit {
    fn text(name: &str) -> String {
        let file = name.replace("oddfathom", "");
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("systemd").join(file);
        fs::read_to_string(path).expect("the unit file is there")
    }

    fn with(name: &'static str, change: impl Fn(String) -> String) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder can be made");
        let place = |name: &str, change: &dyn Fn(String) -> String| {
            let program = if name.contains('@') { "/usr/local/bin/burler" } else { "%h/.cargo/bin/burler" };
            let text = Self::text(name);
            let starts = if name.ends_with(".timer") {
                0
            } else if name.contains("sweep") {
                1
            } else {
                2
            };
            assert_eq!(text.matches(&format!("={program} ")).count(), starts, "{name} starts {program} so often");
            let text = change(text.replace(program, env!("CARGO_BIN_EXE_burler")));
            fs::write(folder.path().join(name), text).expect("a file can be written");
        };
        place(name, &change);
        if let Some(timed) = name.strip_suffix(".timer") {
            // A timer is checked with the unit it starts, which is asked for under the template's own name too.
            place(&format!("{timed}.service"), &|text| text);
        }
        Self { folder, name }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join(self.name)
    }

    /// Runs systemd-analyze on it; yields whether it was content, and everything it said.
    fn analyze(&self, words: &[&str]) -> (bool, String) {
        let mut command = Command::new("systemd-analyze");
        // A user's manager wants a folder of its own, and there may be none where tests run.
        command.env("XDG_RUNTIME_DIR", self.folder.path()).env("LC_ALL", "C");
        command.arg(if self.name.contains('@') { "--system" } else { "--user" }).args(words).arg(self.path());
        let output = command.output().expect("systemd-analyze runs; apt-get install systemd brings it");
        let text = [output.stdout, output.stderr].concat();
        (output.status.success(), String::from_utf8_lossy(&text).into_owned())
    }

    /// What the checker complains of in this unit itself, not in others that happen to be on this machine.
    fn complaints(&self) -> Option<String> {
        let (content, text) = self.analyze(&["verify", "--man=no", "--recursive-errors=no"]);
        (!content || text.contains("burler")).then_some(text)
    }

    /// The overall exposure, from 0 (closed off) to 10.
    fn exposure(&self) -> f64 {
        let (_, text) = self.analyze(&["security", "--offline=true", "--no-pager"]);
        let line = text.lines().find(|line| line.contains("Overall exposure level"));
        let figure = line.and_then(|line| line.rsplit(": ").next()).and_then(|rest| rest.split(' ').next());
        let figure = figure.and_then(|figure| figure.parse().ok());
        assert!(figure.is_some(), "no figure in {text}");
        figure.unwrap_or(f64::INFINITY)
    }
}

#[test]
fn every_unit_is_accepted() {
    for name in [SYSTEM, USER, SWEEP_SYSTEM, SWEEP_USER, TIMER_SYSTEM, TIMER_USER] {
        assert_eq!(Unit::with(name, |text| text).complaints(), None, "{name}");
    }
}

#[test]
fn a_wrong_unit_is_not() {
    for name in [SYSTEM, USER] {
        for (from, to) in [
            ("RestartSec=10", "RestartSec=soon"),
            ("NoNewPrivileges=yes", "NewPrivileges=no"),
            ("Type=notify", "Type=notifying"),
            (env!("CARGO_BIN_EXE_burler"), "/nowhere/burler"),
        ] {
            let unit = Unit::with(name, |text| {
                assert!(text.contains(from), "{name} has {from}");
                text.replace(from, to)
            });
            assert!(unit.complaints().is_some(), "{name}: {from} -> {to} goes unnoticed");
        }
    }
}

#[test]
fn the_system_unit_is_closed_off_and_the_user_unit_as_far_as_it_can_be() {
    for (name, most) in [(SYSTEM, 0.3), (USER, 6.1), (SWEEP_SYSTEM, 0.3), (SWEEP_USER, 6.1)] {
        let exposure = Unit::with(name, |text| text).exposure();
        assert!(exposure <= most, "{name} is exposed at {exposure}, allowed are {most}");
    }
    let open = Unit::with(SYSTEM, |text| text.replace("CapabilityBoundingSet=\n", ""));
    assert!(open.exposure() > 0.3, "a unit that keeps its capabilities is told from one that does not");
}

#[test]
fn both_units_check_the_configuration_first_and_do_not_retry_what_cannot_get_better() {
    for name in [SYSTEM, USER] {
        let text = Unit::text(name);
        let line = |key: &str| -> Vec<&str> { text.lines().filter(|line| line.starts_with(key)).collect() };
        assert!(line("ExecStartPre=")[0].ends_with("/burler config check"), "{name}");
        assert!(line("ExecStart=")[0].ends_with("/burler watch"), "{name}");
        // Exit status 2 is wrong usage, 78 a wrong configuration (EX_CONFIG of sysexits.h).
        assert_eq!(line("RestartPreventExitStatus="), ["RestartPreventExitStatus=2 78"], "{name}");
        // The kernel may end a worker; the daemon retries it.
        assert_eq!(line("OOMPolicy="), ["OOMPolicy=continue"], "{name}");
        // No way out to a network; SMTP would need another unit.
        assert_eq!(line("RestrictAddressFamilies="), ["RestrictAddressFamilies=AF_UNIX"], "{name}");
    }
}

#[test]
fn the_sweep_gives_way_to_everything_and_is_due_at_the_hour_of_the_configuration() {
    for name in [SWEEP_SYSTEM, SWEEP_USER] {
        let text = Unit::text(name);
        for line in ["Type=oneshot", "Nice=19", "IOSchedulingClass=idle", "SuccessExitStatus=75"] {
            assert!(text.lines().any(|found| found == line), "{name} lacks {line}");
        }
        let start = text.lines().find(|line| line.starts_with("ExecStart=")).unwrap_or_default();
        assert!(start.ends_with("/burler sweep --scheduled"), "{name}: {start}");
    }
    let default =
        burler::config::archives::Archive::of("prints", Path::new("/archive")).at.strftime("%H:%M").to_string();
    for name in [TIMER_SYSTEM, TIMER_USER] {
        let text = Unit::text(name);
        assert!(text.contains(&format!("\nOnCalendar=*-*-* {default}\n")), "{name}");
        let broken = Unit::with(name, |text| text.replace("OnCalendar=*-*-*", "OnCalendar=nightly at"));
        assert!(broken.complaints().is_some(), "{name}: a wrong calendar goes unnoticed");
    }
}
