//! The whole way on a real folder: `sweep --tidy` and `sweep --undo DATE`, every byte, time, right and note compared.

use rustix::fs::{XattrFlags, getxattr, setxattr};
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs::{self, File, Permissions};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};

const NOTE: &str = "user.burler.test";

/// Bytes, time of writing, rights, the note on it, owner and group.
type Seen = (Vec<u8>, (i64, i64), u32, Option<Vec<u8>>, [u32; 2]);

fn seen(root: &Path) -> BTreeMap<PathBuf, Seen> {
    let entries = walkdir::WalkDir::new(root).into_iter().filter_map(Result::ok);
    let one = |entry: walkdir::DirEntry| {
        let metadata = entry.metadata().unwrap();
        let is_file = metadata.is_file();
        let mut note = [0; 64];
        let note = getxattr(entry.path(), NOTE, &mut note[..]).ok().map(|length| note[..length].to_vec());
        // The time of a folder is that of its last entry.
        let time = if is_file { (metadata.mtime(), metadata.mtime_nsec()) } else { (0, 0) };
        let bytes = if is_file { fs::read(entry.path()).unwrap() } else { Vec::new() };
        (
            entry.path().strip_prefix(root).unwrap().to_path_buf(),
            (bytes, time, metadata.mode(), note, [metadata.uid(), metadata.gid()]),
        )
    };
    entries.map(one).collect()
}

struct Said {
    status: i32,
    out: String,
    err: String,
}

fn burler(home: &Path, words: &[&str]) -> Said {
    let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
    let ended = command.arg("--config").arg(home.join("burler.toml")).arg("sweep").args(words).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    Said { status: ended.status.code().unwrap(), out: text(&ended.stdout), err: text(&ended.stderr) }
}

/// An archive of Oddfathom with tiles that stay and strays of every kind, with odd names, times and rights.
fn archive(root: &Path) {
    let tile = burler::tile::Raster::new(24, 24, [20, 90, 120, 255].repeat(24 * 24)).unwrap();
    let png = burler::codec::picture::encode_png(&tile, Some(300.0)).unwrap();
    let mut files: Vec<(&[u8], Vec<u8>, u32)> = vec![
        (b"kelp.png", png.clone(), 0o644),
        (b"kelp (1).png", png.clone(), 0o600),
        (b"harbor/knots.png", png.clone(), 0o444),
        (b"harbor/knots copy.png", png.iter().copied().chain([0]).collect(), 0o644),
        (b"harbor/deep/empty.png", Vec::new(), 0o640),
        (b"harbor/deep/dulse.png.part", png[..40].to_vec(), 0o664),
        (b"harbor/.DS_Store", b"how it looks".to_vec(), 0o755),
        (b"notes\nof two lines.txt", b"ask the mill".to_vec(), 0o604),
        (b"caf\xe9.tmp", b"half".to_vec(), 0o644),
    ];
    files.sort();
    for (at, (name, bytes, mode)) in (0_u64..).zip(files) {
        let path = root.join(OsStr::from_bytes(name));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        let time = SystemTime::UNIX_EPOCH
            + Duration::from_secs(1_500_000_000 + at * 86_399)
            + Duration::from_nanos(at * 7 + 1);
        File::options().write(true).open(&path).unwrap().set_modified(time).unwrap();
        // Where the drive takes notes at all.
        let _ = setxattr(&path, NOTE, format!("note {at}").as_bytes(), XattrFlags::empty());
        // Where this account may give files away.
        let _ = chown(&path, Some(4000 + at as u32), Some(5000 + at as u32));
        fs::set_permissions(&path, Permissions::from_mode(mode)).unwrap();
    }
    fs::set_permissions(root.join("harbor/deep"), Permissions::from_mode(0o700)).unwrap();
}

fn there_and_back(home: &Path, checked: &Path) {
    let root = home.join("archive");
    archive(&root);
    let config = format!(
        "[archive.prints]\nfolder = \"archive\"\nchecked = {checked:?}\nmend = false\ntidy_after = \"1 s\"\n\
         [digest]\nzone = \"UTC\"\n[state]\nfolder = \"state\"\n"
    );
    fs::write(home.join("burler.toml"), config).unwrap();
    let before = seen(&root);
    // Nothing can make an entry older than it is; so wait until the youngest is a second old.
    let deadline = SystemTime::now() + Duration::from_secs(20);
    let dry = loop {
        let dry = burler(home, &["--tidy=all", "--dry-run"]);
        if dry.out.matches("would be put away").count() == 5 && dry.out.contains("harbor/knots copy.png") {
            break dry;
        }
        assert!(SystemTime::now() < deadline, "{}{}", dry.out, dry.err);
        std::thread::sleep(Duration::from_millis(100));
    };
    assert_eq!(seen(&root), before, "{}", dry.out);
    // A program still writes one of them.
    let writer = File::options().append(true).open(root.join("harbor/deep/dulse.png.part")).unwrap();
    let said = burler(home, &["--tidy=all"]);
    assert!(
        said.out
            .contains("dulse.png.part is left where it is: a program has harbor/deep/dulse.png.part open for writing"),
        "{}{}",
        said.out,
        said.err
    );
    drop(writer);
    let day = fs::read_dir(checked.join("quarantine")).unwrap().next().unwrap().unwrap().file_name();
    let away = seen(&checked.join("quarantine").join(&day).join("1"));
    let moved: Vec<&PathBuf> =
        away.iter().filter(|(_, one)| one.2 & 0o170_000 == 0o100_000).map(|(path, _)| path).collect();
    let wanted: Vec<PathBuf> = [
        &b"caf\xe9.tmp"[..],
        b"harbor/.DS_Store",
        b"harbor/deep/empty.png",
        b"kelp (1).png",
        b"notes\nof two lines.txt",
    ]
    .iter()
    .map(|name| OsStr::from_bytes(name).into())
    .collect();
    assert_eq!(moved, wanted.iter().collect::<Vec<_>>(), "{}", said.out);
    for path in &moved {
        assert_eq!(away[*path], before[*path], "{path:?}");
    }
    let left = seen(&root);
    assert_eq!(left.len() + moved.len(), before.len());
    assert!(left.iter().all(|(path, one)| before[path] == *one));
    let back = burler(home, &["--undo", day.to_str().unwrap()]);
    assert!(back.status == 0 && back.out.starts_with("prints: 5 files are back\n"), "{}{}", back.out, back.err);
    assert_eq!(seen(&root), before);
    assert!(
        seen(&checked.join("quarantine")).values().all(|one| !one.0.windows(12).any(|part| part == b"ask the mill"))
    );
}

#[test]
fn every_byte_time_and_right_comes_back_within_a_drive() {
    let home = tempfile::tempdir().unwrap();
    there_and_back(home.path(), &home.path().join("checked"));
}

#[test]
fn and_from_another_drive() {
    let home = tempfile::tempdir().unwrap();
    let memory = Path::new("/dev/shm");
    let device = |path: &Path| fs::metadata(path).map(|metadata| metadata.dev()).ok();
    if device(memory).is_none_or(|other| Some(other) == device(home.path())) {
        println!("skipped: there is no other drive here");
        return;
    }
    let checked = tempfile::tempdir_in(memory).unwrap();
    there_and_back(home.path(), &checked.path().join("checked"));
}
