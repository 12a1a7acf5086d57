//! The worker: answers, limits, deaths of every kind, and the one lone retry.
//!
//! Deaths are played by small programs in the worker's place; what memory and time end is the worker itself.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/tiles.rs"]
mod tiles;

use burler::finding::{Kind, Verdict};
use burler::pipeline::{Product, Wants, mockup};
use burler::spec::Spec;
use burler::ticket::Ticket;
use burler::worker::client::{Death, Worker, WorkerError, inspect};
use burler::worker::job::{Job, Limits, Made, Reply, scratch_name};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::{self, File};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

const BURLER: &str = env!("CARGO_BIN_EXE_burler");

/// A scratch folder, and programs that stand in for the worker.
struct Bench {
    home: TempDir,
}

impl Bench {
    fn new() -> Self {
        let bench = Self { home: tempfile::tempdir().unwrap() };
        fs::create_dir(bench.scratch()).unwrap();
        bench
    }

    fn scratch(&self) -> PathBuf {
        self.home.path().join("scratch")
    }

    /// A program that notes each start, and then does what the lines say; `$1` is "worker" and standard input the socket.
    fn program(&self, lines: &str) -> PathBuf {
        let path = self.home.path().join("program");
        let starts = self.home.path().join("starts");
        fs::write(&path, format!("#!/bin/sh\necho started >> '{}'\n{lines}\n", starts.display())).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
        path
    }

    fn starts(&self) -> usize {
        fs::read_to_string(self.home.path().join("starts")).map_or(0, |text| text.lines().count())
    }

    /// The processor time of the process whose number stands in a file, in whole seconds; 0 before it started.
    fn seconds_used(&self, id: &Path) -> u64 {
        let Ok(id) = fs::read_to_string(id) else { return 0 };
        let Ok(stat) = fs::read_to_string(format!("/proc/{}/stat", id.trim())) else { return 0 };
        // The 14th and 15th field, in ticks of a hundredth on all common machines (proc(5)).
        let ticks = stat.rsplit(')').next().unwrap().split_whitespace().skip(11).take(2);
        ticks.map(|ticks| ticks.parse::<u64>().unwrap()).sum::<u64>() / 100
    }

    fn job(&self, name: &str) -> Job {
        Job {
            name: name.into(),
            spec: Spec::default(),
            wants: Wants { mend: true, mockups: true, held: true, ..Wants::default() },
            mockup: mockup::Settings::default(),
            scratch: self.scratch().to_str().unwrap().into(),
            limits: Limits::default(),
            let_pass: None,
        }
    }
}

fn open(name: &str) -> File {
    File::open(tiles::folder().join(name)).unwrap()
}

fn done(reply: Result<Reply, WorkerError>) -> (Ticket, Vec<Made>) {
    match reply {
        Ok(Reply::Done { ticket, made, .. }) => (*ticket, made),
        other => panic!("no answer: {other:?}"),
    }
}

fn death(answer: Result<Reply, WorkerError>) -> Death {
    match answer {
        Err(WorkerError::Died(death)) => death,
        other => panic!("it lives: {other:?}"),
    }
}

/// What a file that ends every worker comes to: its ticket, after so many starts and so many times alone.
fn given_up(bench: &Bench, worker: &mut Worker, job: &Job, name: &str) -> Ticket {
    let mut alone = 0;
    let (ticket, made) = done(inspect(worker, job, &open(name), || alone += 1));
    assert_eq!(alone, 1, "one lone retry");
    assert_eq!(ticket.verdict, Verdict::Unreadable);
    assert_eq!(ticket.tile, job.name);
    assert_eq!(ticket.blake3, blake3::hash(&tiles::bytes(name)).to_hex().to_string());
    assert_eq!(ticket.findings.len(), 1);
    assert_eq!(ticket.findings[0].kind, Kind::FileUnreadable);
    let [picture] = made.as_slice() else { panic!("{made:?}") };
    assert_eq!(picture.product, Product::Held);
    holds(bench, picture);
    ticket
}

/// The file in the scratch folder is the one that the answer speaks of.
fn holds(bench: &Bench, made: &Made) {
    let bytes = fs::read(bench.scratch().join(scratch_name(made.product))).unwrap();
    assert_eq!(made.blake3, blake3::hash(&bytes).to_hex().to_string(), "{:?}", made.product);
}

#[test]
fn an_answer_names_the_files_it_made_by_their_bytes() {
    let bench = Bench::new();
    let mut worker = Worker::of(Path::new(BURLER));
    let cases: [(&str, Verdict, &[Product]); 4] = [
        ("kelp.png", Verdict::Sound, &[Product::Repeat, Product::StrikeOff]),
        ("dulse.tif", Verdict::Mended, &[Product::Mended, Product::BeforeAfter, Product::Repeat, Product::StrikeOff]),
        ("limpet.png", Verdict::Held, &[Product::Held]),
        ("bad/empty.png", Verdict::Unreadable, &[Product::Held]),
    ];
    for (name, verdict, products) in cases {
        let (ticket, made) = done(worker.run(&bench.job(name), &open(name)));
        assert_eq!(ticket.verdict, verdict, "{name}");
        assert_eq!(ticket.blake3, blake3::hash(&tiles::bytes(name)).to_hex().to_string(), "{name}");
        assert_eq!(made.iter().map(|made| made.product).collect::<Vec<_>>(), products, "{name}");
        made.iter().for_each(|made| holds(&bench, made));
    }
}

#[test]
fn one_process_serves_many_files_good_and_bad() {
    const SECONDS: u64 = 10;
    let bench = Bench::new();
    let id = bench.home.path().join("id");
    let program = bench.program(&format!("echo $$ > '{}'\nexec '{BURLER}' \"$@\"", id.display()));
    let mut worker = Worker::of(&program);
    let names = [
        ("kelp.png", Verdict::Sound),
        ("bad/cut--12.png", Verdict::Unreadable),
        ("dulse.png", Verdict::Mended),
        ("bad/wide.png", Verdict::Unreadable),
        ("kelp.jpg", Verdict::Sound),
        ("bad/bomb-of-text.png", Verdict::Sound),
        ("limpet.png", Verdict::Held),
        ("bad/no-deflate.png", Verdict::Unreadable),
        ("sand.png", Verdict::Sound),
        ("moving.webp", Verdict::Held),
    ];
    let (mut used, mut turn) = (0, 0);
    // 200 files, and more where a machine is so fast that they leave no trace.
    while turn < 20 || used < 2 {
        for (name, verdict) in names {
            used = bench.seconds_used(&id);
            let mut job = bench.job(name);
            job.limits.time = Duration::from_secs(SECONDS);
            job.wants.mockups = turn % 2 == 0;
            let (ticket, _) = done(worker.run(&job, &open(name)));
            assert_eq!(ticket.verdict, verdict, "{name}, turn {turn}");
        }
        turn += 1;
    }
    assert_eq!(bench.starts(), 1);
    // What earlier files have used is added to what the last one may use (proc(5): the soft limit stands first).
    let limits = fs::read_to_string(format!("/proc/{}/limits", fs::read_to_string(id).unwrap().trim())).unwrap();
    let line = limits.lines().find_map(|line| line.strip_prefix("Max cpu time")).unwrap();
    let limit: u64 = line.split_whitespace().next().unwrap().parse().unwrap();
    assert!(limit >= SECONDS + used, "{limit} s after {used} s");
}

#[test]
fn every_death_is_retried_once_in_a_fresh_process() {
    let crashes = [
        ("exit 3", "dies before it reads"),
        ("head -c 64 > /dev/null; exit 1", "dies while it reads"),
        ("kill -SEGV $$", "is killed"),
        ("head -c 64 > /dev/null; exec printf '\\377\\377\\377\\377 nonsense' >&0", "answers with a length of 4 GB"),
        ("exec printf '\\005\\000\\000\\000kelp!' >&0", "answers with what is no JSON"),
        ("exec printf '\\002\\000\\000\\000{}' >&0", "answers with JSON of another kind"),
        ("exec printf '\\100\\000\\000\\000{\"Done\"' >&0", "ends within its answer"),
        ("exec printf '\\100\\000' >&0", "ends within the length of its answer"),
    ];
    for (lines, what) in crashes {
        let bench = Bench::new();
        let mut worker = Worker::of(&bench.program(lines));
        let ticket = given_up(&bench, &mut worker, &bench.job("kelp.png"), "kelp.png");
        assert_eq!(bench.starts(), 2, "{what}");
        assert_eq!(ticket.findings[0].says, "looking at it failed twice; the file may be damaged", "{what}");
        assert_eq!(ticket.findings[0].remedy, "open the file in your drawing program and export it again", "{what}");
    }
}

#[test]
fn a_death_of_memory_or_time_is_told_as_such() {
    let hungry = "looking at it needs more than 2 GB of memory";
    // An allocation that fails aborts the process; the kernel ends one over its processor time (setrlimit(2)).
    let cases = [("kill -ABRT $$", hungry), ("kill -XCPU $$", "looking at it took longer than 120 s and was given up")];
    for (lines, says) in cases {
        let bench = Bench::new();
        let mut worker = Worker::of(&bench.program(lines));
        let ticket = given_up(&bench, &mut worker, &bench.job("kelp.png"), "kelp.png");
        assert_eq!(bench.starts(), 2);
        assert_eq!(ticket.findings[0].says, says);
        assert_eq!(
            ticket.findings[0].remedy,
            "export one repeat only, or at a lower resolution, or allow more under [worker] in the configuration"
        );
    }
}

#[test]
fn one_that_hangs_is_ended() {
    // Whether it hangs before or after reading, or in the middle of its answer.
    for lines in ["exec sleep 600", "head -c 64 > /dev/null; exec sleep 600", "printf '\\100\\000' >&0; exec sleep 600"]
    {
        let bench = Bench::new();
        let mut worker =
            Worker::of(&bench.program(&format!("echo $$ >> '{}'\n{lines}", bench.home.path().join("ids").display())));
        let mut job = bench.job("kelp.png");
        job.limits.time = Duration::from_millis(250);
        let ticket = given_up(&bench, &mut worker, &job, "kelp.png");
        assert_eq!(ticket.findings[0].says, "looking at it took longer than 0.5 s and was given up");
        for id in fs::read_to_string(bench.home.path().join("ids")).unwrap().lines() {
            assert!(!Path::new(&format!("/proc/{id}")).exists(), "process {id} lives on");
        }
    }
}

#[test]
fn a_retry_that_succeeds_counts() {
    let bench = Bench::new();
    let mark = bench.home.path().join("mark").display().to_string();
    let once = format!("if [ ! -e '{mark}' ]; then touch '{mark}'; exit 9; fi\nexec '{BURLER}' \"$@\"");
    let mut worker = Worker::of(&bench.program(&once));
    let mut alone = 0;
    let (ticket, _) = done(inspect(&mut worker, &bench.job("kelp.png"), &open("kelp.png"), || alone += 1));
    assert_eq!((ticket.verdict, alone, bench.starts()), (Verdict::Sound, 1, 2));
    // And the same process serves the next file.
    let (ticket, _) = done(inspect(&mut worker, &bench.job("dulse.png"), &open("dulse.png"), || alone += 1));
    assert_eq!((ticket.verdict, alone, bench.starts()), (Verdict::Mended, 1, 2));
}

/// Others are kept away exactly while the second try runs.
#[test]
fn what_keeps_others_away_is_held_during_the_retry_alone() {
    struct Guard<'a>(&'a Path);
    impl Drop for Guard<'_> {
        fn drop(&mut self) {
            fs::remove_file(self.0).unwrap();
        }
    }
    let bench = Bench::new();
    let alone = bench.home.path().join("alone");
    let seen = bench.home.path().join("seen");
    let lines =
        format!("if [ -e '{}' ]; then echo alone; else echo in company; fi >> '{}'", alone.display(), seen.display());
    let mut worker = Worker::of(&bench.program(&lines));
    let guard = || {
        fs::write(&alone, "").unwrap();
        Guard(&alone)
    };
    let (ticket, _) = done(inspect(&mut worker, &bench.job("kelp.png"), &open("kelp.png"), guard));
    assert_eq!(ticket.verdict, Verdict::Unreadable);
    assert_eq!(fs::read_to_string(seen).unwrap(), "in company\nalone\n");
    assert!(!alone.exists());
}

#[test]
fn the_next_file_works_after_a_death() {
    let bench = Bench::new();
    let mut worker = Worker::of(Path::new(BURLER));
    let (ticket, _) = done(worker.run(&bench.job("kelp.png"), &open("kelp.png")));
    assert_eq!(ticket.verdict, Verdict::Sound);
    // So little that nothing can be done in it: the process at work dies.
    let mut job = bench.job("big/flat.png");
    job.limits.memory = 10_000_000;
    assert_eq!(death(worker.run(&job, &open("big/flat.png"))), Death::Hungry(10_000_000));
    let (ticket, _) = done(worker.run(&bench.job("kelp.png"), &open("kelp.png")));
    assert_eq!(ticket.verdict, Verdict::Sound);
}

/// 9000 x 9000 pixels of four samples are 324 MB.
#[test]
fn a_tile_that_needs_more_memory_than_allowed_is_told() {
    let bench = Bench::new();
    let mut worker = Worker::of(Path::new(BURLER));
    let mut job = bench.job("big/flat.png");
    job.limits.memory = 10_000_000;
    let ticket = given_up(&bench, &mut worker, &job, "big/flat.png");
    assert_eq!(ticket.findings[0].says, "looking at it needs more than 0.01 GB of memory");
    job.limits.memory = 2_000_000_000;
    job.wants = Wants::default();
    let (ticket, _) = done(inspect(&mut worker, &job, &open("big/flat.png"), || panic!("no death")));
    assert_eq!(ticket.verdict, Verdict::Sound);
}

#[test]
fn a_tile_that_takes_longer_than_allowed_is_told() {
    let bench = Bench::new();
    let mut worker = Worker::of(Path::new(BURLER));
    let mut job = bench.job("big/flat.png");
    job.limits.time = Duration::from_millis(20);
    let ticket = given_up(&bench, &mut worker, &job, "big/flat.png");
    assert_eq!(ticket.findings[0].says, "looking at it took longer than 0.04 s and was given up");
    let (ticket, _) = done(worker.run(&bench.job("kelp.png"), &open("kelp.png")));
    assert_eq!(ticket.verdict, Verdict::Sound);
}

#[test]
fn what_the_file_is_not_to_blame_for_is_no_verdict() {
    let bench = Bench::new();
    let mut worker = Worker::of(Path::new("/nowhere/burler"));
    let failed = |answer: Result<Reply, WorkerError>| answer.unwrap_err().to_string();
    assert_eq!(
        failed(inspect(&mut worker, &bench.job("kelp.png"), &open("kelp.png"), || panic!("no death"))),
        "cannot start the inspecting process /nowhere/burler: No such file or directory (os error 2); check that Burler is installed completely"
    );
    let mut worker = Worker::of(Path::new(BURLER));
    let mut job = bench.job("kelp.png");
    job.scratch = bench.home.path().join("gone").to_str().unwrap().into();
    let said = failed(inspect(&mut worker, &job, &open("kelp.png"), || panic!("no death")));
    assert_eq!(
        said,
        format!("cannot write {}/repeat.jpg: it is not there; put it back, or connect the drive it is on", job.scratch)
    );
    let (ticket, _) = done(worker.run(&bench.job("kelp.png"), &open("kelp.png")));
    assert_eq!(ticket.verdict, Verdict::Sound, "the process lives on");
}

/// The worker opens nothing of the designer's: it reads the descriptor it is given, whatever happens to the name.
#[test]
fn the_file_is_read_through_its_descriptor() {
    let bench = Bench::new();
    let path = bench.home.path().join("kelp.png");
    fs::write(&path, tiles::bytes("kelp.png")).unwrap();
    let original = File::open(&path).unwrap();
    fs::rename(&path, bench.home.path().join("moved.png")).unwrap();
    fs::write(&path, "another").unwrap();
    let mut worker = Worker::of(Path::new(BURLER));
    for _ in 0..2 {
        let (ticket, _) = done(worker.run(&bench.job("kelp.png"), &original));
        assert_eq!(ticket.blake3, blake3::hash(&tiles::bytes("kelp.png")).to_hex().to_string());
    }
}

/// A worker is a process of ours that speaks to a parent; on its own it ends at once.
#[test]
fn a_worker_without_a_parent_ends() {
    let output = std::process::Command::new(BURLER).arg("worker").stdin(std::process::Stdio::null()).output().unwrap();
    assert_eq!(output.status.code(), Some(74));
    assert_eq!(output.stdout, b"");
}

/// A stop, as of a machine that goes to sleep, interrupts the wait for the worker; it is no death of the worker.
#[test]
fn a_stop_of_the_program_harms_no_file() {
    let program = Path::new(BURLER);
    let mut child = std::process::Command::new(program)
        .args(["inspect", "--json"])
        .arg(tiles::folder().join("big/flat.png"))
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let id = Pid::from_child(&child);
    let ended = desk::wait_for("the end of a program that is stopped again and again", String::new, || {
        kill_process(id, Signal::STOP).unwrap();
        std::thread::sleep(Duration::from_millis(1));
        kill_process(id, Signal::CONT).unwrap();
        child.try_wait().unwrap()
    });
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    assert!(ended.success(), "{ended}: {}", String::from_utf8_lossy(&output.stdout));
}
