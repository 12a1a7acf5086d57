//! `burler sweep` from outside: what it says to the character, what machines read of it, and how it ends.

use super::house::{House, Said};
use super::{desk, tiles};
use burler::archive::lightly;
use burler::disk::Disk;
use std::fs::{self, File, FileTimes};
use std::process::Command;
use std::time::{Duration, SystemTime};

const CONFIG: &str = "\
[archive.prints]
folder = \"archive\"

[state]
folder = \"state\"
";

/// A house with an archive: two sound tiles, one to mend, one to hold, one that cannot be opened.
fn house() -> House {
    let house = House::new();
    house.put("burler.toml", CONFIG);
    for (name, path) in [
        ("kelp.png", "archive/kelp.png"),
        ("pebbles-1.png", "archive/harbor/pebbles, \"first\".png"),
        ("dulse.png", "archive/dulse.png"),
        ("limpet.png", "archive/harbor/limpet.png"),
        ("bad/half.jpg", "archive/half.jpg"),
    ] {
        house.bring(name, path);
        // Written long ago, so that none is taken for one on its way.
        let time = FileTimes::new().set_modified(SystemTime::now() - Duration::from_hours(99));
        File::options().write(true).open(house.path(path)).unwrap().set_times(time).unwrap();
    }
    house
}

fn sweep(house: &House, words: &[&str]) -> Said {
    let words = [&["--config", "burler.toml", "sweep"], words].concat();
    let said = house.run(&words);
    // Times and rates are the machine's.
    let line = |line: &str| match line.rsplit_once("; ") {
        Some((rest, time)) if line.starts_with("  work") && time.ends_with(" s") => format!("{rest}; TIME\n"),
        _ => format!("{line}\n"),
    };
    Said { out: said.out.lines().map(line).collect(), ..said }
}

#[test]
fn the_table_says_in_words_what_is_there_and_what_is_new() {
    let house = house();
    let said = sweep(&house, &[]);
    let bytes: u64 =
        house.files("archive").keys().map(|name| fs::metadata(house.path("archive").join(name)).unwrap().len()).sum();
    let size = format!("{:.1} kB", bytes as f64 / 1e3);
    let wanted = format!(
        "|prints: 5 tiles, {size} (~/archive)
         |  files   5 new
         |  tiles   2 ready, 1 ready, mended, 1 needs you, 1 cannot be opened
         |  work    5 read in full, {size}; 5 inspected; TIME
         |  given   1 mended, 2 pictured, in ~/archive-checked
         |  cannot be opened: half.jpg: the file ends before the picture does; to do: export it again, or wait until the sync client has brought all of it
         |"
    );
    let (head, _) = said.out.split_once("  cannot be opened: ").unwrap();
    let (wanted, _) = wanted.split_once("|  cannot be opened: ").unwrap();
    assert_eq!((said.status, head.to_string(), said.err.as_str()), (1, desk::margin(wanted), ""));
    let news: Vec<_> =
        said.out.lines().skip(5).map(|line| line.split(": ").take(2).collect::<Vec<_>>().join(": ")).collect();
    assert_eq!(news, ["  cannot be opened: half.jpg", "  needs you: harbor/limpet.png", "  ready, mended: dulse.png"]);
    let again = sweep(&house, &[]);
    assert_eq!(
        again.out,
        desk::margin(&format!(
            "|prints: 5 tiles, {size} (~/archive)
             |  files   5 as recorded
             |  tiles   2 ready, 1 ready, mended, 1 needs you, 1 cannot be opened
             |  work    0 read in full, 0.0 kB; 0 inspected; TIME"
        ))
    );
}

#[test]
fn machines_read_the_same_counts_in_json_and_in_csv() {
    let house = house();
    sweep(&house, &[]);
    house.put("json", sweep(&house, &["--json", "--full"]).out);
    house.put("csv", sweep(&house, &["--csv"]).out);
    // Python's own readers of RFC 8259 and RFC 4180, and its own listing of the folder.
    let read = desk::run_python(
        r#"
import csv, hashlib, json, os, sys, collections
home = sys.argv[1]
lines = [json.loads(line) for line in open(home + "/json")]
tiles = [line for line in lines if line["line"] == "tile"]
summary = lines[-1]
assert [line["line"] for line in lines] == ["tile"] * len(tiles) + ["summary"], lines
rows = list(csv.DictReader(open(home + "/csv", newline="")))
there = {}
for folder, _, names in os.walk(home + "/archive"):
    for name in names:
        path = os.path.join(folder, name)
        there[os.path.relpath(path, home + "/archive")] = os.path.getsize(path)
assert {t["tile"]: t["bytes"] for t in tiles} == there
assert {r["tile"]: int(r["bytes"]) for r in rows} == there
assert [r["blake3"] for r in rows] == [t["blake3"] for t in tiles]
assert [r["verdict"] for r in rows] == [t["verdict"] for t in tiles]
assert [r["findings"].split() for r in rows] == [t["findings"] for t in tiles]
assert [r["says"] or None for r in rows] == [t.get("says") for t in tiles]
count = collections.Counter(t["verdict"] for t in tiles)
assert all(summary[v] == n for v, n in count.items()), (summary, count)
assert summary["files"] == summary["unchanged"] == summary["read"] == len(there)
assert summary["bytes"] == sum(there.values()) == summary["read_bytes"]
assert all(line["schema"] == 1 and line["archive"] == "prints" for line in lines)
print(*sorted(t["tile"] + "=" + t["verdict"] for t in tiles), sep="\n")
"#,
        &[house.path(".").to_str().unwrap()],
    );
    let wanted = [
        "dulse.png=mended",
        "half.jpg=unreadable",
        "harbor/limpet.png=held",
        "harbor/pebbles, \"first\".png=sound",
        "kelp.png=sound",
    ];
    assert_eq!(read.lines().collect::<Vec<_>>(), wanted);
}

#[test]
fn a_dry_run_says_the_same_and_writes_nothing() {
    let house = house();
    let before = house.files(".");
    let dry = sweep(&house, &["--dry-run"]);
    assert_eq!(house.files("."), before, "{}", dry.out);
    assert!(!house.has("state") && !house.has("archive-checked"));
    assert_eq!(dry.status, 1);
    assert!(dry.out.contains("5 inspected"), "{}", dry.out);
    let last = dry.out.lines().last().unwrap();
    assert_eq!(last, "  nothing was written: this was a dry run; 3 tiles would be mended or pictured");
    let wet = sweep(&house, &[]);
    let news = |said: &Said| -> Vec<String> {
        let told = |line: &&str| line.contains("needs you: ") || line.contains("cannot be opened: ");
        said.out.lines().filter(told).map(str::to_string).collect()
    };
    assert_eq!(news(&dry), news(&wet));
    assert_eq!(news(&dry).len(), 2);
    // And with a ledger there.
    house.bring("pebbles-3.png", "archive/new.png");
    let before = house.files(".");
    let dry = sweep(&house, &["--dry-run", "--full"]);
    assert!(dry.out.contains("5 as recorded, 1 new"), "{}", dry.out);
    let after = house.files(".");
    let changed: Vec<_> =
        after.iter().filter(|(name, hash)| before.get(*name) != Some(hash)).map(|(name, _)| name).collect();
    // The database's index of readers, which every process that reads it maps, and a journal without entries.
    let empty = |name: &str| name.ends_with("-shm") || fs::metadata(house.path(name)).unwrap().len() == 0;
    assert!(changed.iter().all(|name| name.to_str().is_some_and(empty)), "{changed:?}");
}

#[test]
fn a_second_sweep_at_once_says_so_and_leaves() {
    let house = house();
    fs::create_dir(house.path("state")).unwrap();
    let lock = Disk::new().lock(&house.path("state/sweep.lock")).unwrap();
    assert!(lock.is_some());
    let said = sweep(&house, &[]);
    assert_eq!(said.status, 75);
    assert_eq!(
        said.err,
        "burler: another sweep works with the state folder ~/state; it goes on by itself, so wait for its end or stop it\n"
    );
    assert!(!house.has("state/ledger.sqlite"));
    drop(lock);
    assert_eq!(sweep(&house, &[]).status, 1);
}

#[test]
fn a_folder_without_configuration_is_swept_into_the_output_named() {
    let house = house();
    let folder = ["sweep", "archive", "--output", "out", "--repeat", "none"];
    let said = house.run(&folder);
    assert_eq!(said.status, 1, "{said:?}");
    // What is no repeat has no edges to be judged.
    assert!(said.out.contains("3 ready, 1 ready, mended, 1 cannot be opened"), "{}", said.out);
    assert_eq!(house.names("out/ready"), ["dulse.png"]);
    assert!(house.has(".local/state/burler/ledger.sqlite"));
    assert!(house.run(&folder).out.contains("5 as recorded"));
    // Under whatever name it is reached.
    std::os::unix::fs::symlink(house.path("archive"), house.path("link")).unwrap();
    assert!(house.run(&["sweep", "link", "--output", "out", "--repeat", "none"]).out.contains("5 as recorded"));
}

#[test]
fn what_cannot_be_swept_is_told_with_its_remedy() {
    let house = house();
    house.put("watched.toml", "[folder.studio]\nexports = \"exports\"\n[state]\nfolder = \"state\"\n");
    let says = |words: &[&str], status: i32, err: &str| house.expect(words, status, "", &format!("|burler: {err}"));
    says(
        &["sweep", "archive", "--output", "archive/out"],
        2,
        "the folder to sweep (~/archive) and the output folder (~/archive/out) overlap, and nothing is ever written among originals; \
         choose another --output, or sweep another folder",
    );
    says(
        &["--config", "watched.toml", "sweep", "exports"],
        2,
        "exports of [folder.studio] (~/exports) and the folder to sweep (~/exports) overlap, and nothing is ever written among \
         originals; choose another --output, or sweep another folder",
    );
    says(
        &["--config", "burler.toml", "sweep", "print"],
        2,
        "print is neither a folder nor an archive; did you mean `prints`?",
    );
    says(
        &["--config", "watched.toml", "sweep"],
        78,
        "watched.toml: no archive to sweep; add [archive.prints] with folder = \"…\", or name a folder: burler sweep FOLDER",
    );
    fs::rename(house.path("archive"), house.path("away")).unwrap();
    says(
        &["--config", "burler.toml", "sweep", "prints"],
        74,
        "the archive ~/archive is not there; connect the drive it is on, or correct its folder in the configuration; what is \
         known of it stays as it is",
    );
}

#[test]
fn a_scheduled_sweep_keeps_its_hours_and_is_no_failure_when_tiles_need_the_artist() {
    let house = house();
    // A window that is closed now, whatever the hour: it lies twelve hours away.
    let hour = (jiff::Timestamp::now().in_tz("UTC").unwrap().hour() + 12) % 24;
    let closed = format!("{CONFIG}[digest]\nzone = \"UTC\"\n").replace(
        "folder = \"archive\"",
        &format!("folder = \"archive\"\nat = \"{hour:02}:00\"\nuntil = \"{hour:02}:30\""),
    );
    house.put("closed.toml", &closed);
    let said = house.run(&["--config", "closed.toml", "sweep", "--scheduled"]);
    assert_eq!((said.status, said.out.as_str()), (0, ""));
    assert!(said.err.contains("prints: outside its hours, so nothing is swept"), "{}", said.err);
    // By hand it is swept at any hour.
    assert_eq!(house.run(&["--config", "closed.toml", "sweep", "--dry-run"]).status, 1);
    let said = sweep(&house, &["--scheduled"]);
    assert_eq!(said.status, 0, "{said:?}");
    assert!(said.out.contains("1 needs you"), "{}", said.out);
}

#[test]
fn low_priority_is_what_the_system_says_it_is() {
    // On a thread of its own, since it cannot be taken back.
    let said = std::thread::spawn(|| {
        let undone = lightly();
        let link = fs::read_link("/proc/thread-self").unwrap();
        let thread = link.file_name().unwrap().to_str().unwrap().to_string();
        let class = Command::new("ionice").args(["-p", &thread]).output().unwrap();
        let stat = fs::read_to_string(format!("/proc/self/task/{thread}/stat")).unwrap();
        // proc(5): the 19th field is the nice value; the second may hold spaces and ends with a parenthesis.
        let nice = stat.rsplit_once(')').unwrap().1.split_whitespace().nth(16).unwrap().to_string();
        // What it starts from then on is as patient.
        let child = Command::new("sh").args(["-c", "nice; ionice -p $$"]).output().unwrap();
        (undone, String::from_utf8(class.stdout).unwrap(), nice, String::from_utf8(child.stdout).unwrap())
    });
    let (undone, class, nice, child) = said.join().unwrap();
    assert_eq!(undone, Vec::<String>::new());
    assert_eq!((class.trim(), nice.as_str(), child.as_str()), ("idle", "19", "19\nidle\n"));
}

#[test]
fn names_of_any_bytes_are_swept_and_written_as_one_line() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let house = House::new();
    house.put("burler.toml", CONFIG);
    house.put(std::path::Path::new("archive").join(OsStr::from_bytes(b"ke\xfflp\n.png")), tiles::bytes("kelp.png"));
    let said = sweep(&house, &["--json"]);
    assert_eq!((said.status, said.out.lines().count()), (0, 2), "{said:?}");
    assert!(said.out.contains("\"tile_hex\":\"6b65ff6c700a2e706e67\""), "{}", said.out);
    assert_eq!(sweep(&house, &["--csv"]).out.lines().count(), 3, "quoted, a name keeps its line end");
}
