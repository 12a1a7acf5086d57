//! Undoing: everything comes back exactly, whatever happened meanwhile; both are kept where something else lies now.

use crate::desk::run_python;
use crate::shed::{Shed, day, files};
use burler::archive::undo::undo;
use burler::disk::Disk;
use proptest::prelude::*;
use std::ffi::OsString;
use std::fs;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

#[test]
fn tidying_moves_and_undoing_brings_back_exactly() {
    let shed = Shed::full();
    let (before, bytes) = (shed.seen(), shed.bytes());
    let tidied = shed.tidy();
    assert_eq!(tidied.left, Vec::<String>::new());
    assert_eq!(tidied.away.len(), 6);
    assert_eq!(shed.seen().into_keys().collect::<Vec<_>>(), [Path::new("kelp.png")]);
    for path in ["kelp (1).png", "nets/dulse.png.part", "nets/deep/~$list", "nets/deep/empty.png", "nets/.DS_Store"] {
        assert_eq!(files(&shed.away("2026-11-27/1"))[Path::new(path)], before[Path::new(path)], "{path}");
    }
    let undone = shed.undo();
    assert_eq!((undone.back.len(), undone.already, undone.troubles), (6, 0, Vec::new()));
    assert_eq!(shed.seen(), before);
    assert!(!shed.away("2026-11-27/1").exists() && shed.away("2026-11-27/1.jsonl").is_file());
    let again = shed.undo();
    assert_eq!((again.back.len(), again.already, again.troubles), (0, 6, Vec::new()));
    assert_eq!(shed.seen(), before);
    assert_eq!(shed.bytes().len(), bytes.len() + 1, "the manifest is the only new file");
}

/// Outside check: Python's json and bytes.fromhex read the manifest, os.stat and the files themselves agree with it.
#[test]
fn the_manifest_tells_another_program_everything() {
    let shed = Shed::full();
    shed.put(PathBuf::from(OsString::from_vec(b"du\xfflse\n.tmp".to_vec())), b"x");
    shed.tidy();
    let said = run_python(
        "import json, os, sys\n\
         day = sys.argv[1]\n\
         head, *files = [json.loads(line) for line in open(day + '/1.jsonl', encoding='utf-8')]\n\
         assert head['archive'] == 'prints' and head['made'] == '2026-11-27T03:00:00Z', head\n\
         for f in files:\n\
         \x20   name = f['file']\n\
         \x20   raw = bytes.fromhex(name['path_hex']) if 'path_hex' in name else name['path'].encode()\n\
         \x20   s = os.stat(os.path.join(day.encode(), b'1', raw))\n\
         \x20   assert s.st_size == f['size'] and s.st_mtime_ns == f['mtime'][0] * 10**9 + f['mtime'][1], f\n\
         \x20   assert s.st_mode & 0o7777 == int(f['mode'], 8), f\n\
         \x20   assert len(bytes.fromhex(f['blake3'])) == 32\n\
         print(len(files), sum('path_hex' in f['file'] for f in files))\n",
        &[shed.away("2026-11-27").to_str().unwrap()],
    );
    assert_eq!(said.trim(), "7 1");
}

#[test]
fn where_something_else_lies_now_both_are_kept_and_it_is_said() {
    let shed = Shed::full();
    shed.tidy();
    shed.put("nets/notes.txt", b"new notes");
    fs::create_dir(shed.file("nets/dulse.png.part")).unwrap();
    let undone = shed.undo();
    assert_eq!((undone.back.len(), undone.troubles.len()), (4, 2));
    for (name, trouble) in ["nets/dulse.png.part", "nets/notes.txt"].iter().zip(&undone.troubles) {
        assert!(trouble.starts_with(name) && trouble.contains("both are kept"), "{trouble}");
        assert!(trouble.contains(&format!("2026-11-27/1/{name}; move it")), "{trouble}");
    }
    assert_eq!(fs::read(shed.file("nets/notes.txt")).unwrap(), b"new notes");
    assert_eq!(fs::read(shed.away("2026-11-27/1/nets/notes.txt")).unwrap(), b"ask the mill");
    fs::remove_file(shed.file("nets/notes.txt")).unwrap();
    let again = shed.undo();
    assert_eq!((again.back, again.already, again.troubles.len()), (vec!["nets/notes.txt".into()], 4, 1));
}

#[test]
fn what_was_moved_by_hand_is_said_and_the_rest_comes_back() {
    let shed = Shed::full();
    let before = shed.seen();
    shed.tidy();
    fs::rename(shed.away("2026-11-27/1/nets/notes.txt"), shed.home().join("mine.txt")).unwrap();
    fs::rename(shed.away("2026-11-27/1/kelp (1).png"), shed.file("kelp (1).png")).unwrap();
    fs::write(shed.away("2026-11-27/1/nets/dulse.png.part"), "written on").unwrap();
    fs::set_permissions(shed.away("2026-11-27/1/nets/.DS_Store"), fs::Permissions::from_mode(0o600)).unwrap();
    let undone = shed.undo();
    assert_eq!((undone.back.len(), undone.already), (4, 1));
    assert!(undone.troubles[0].contains("changed while it was put away"), "{:?}", undone.troubles);
    assert!(undone.troubles[1].starts_with("nets/notes.txt: it is neither there nor in "), "{:?}", undone.troubles);
    let after = shed.seen();
    for path in ["kelp (1).png", "nets/.DS_Store", "nets/deep/empty.png"] {
        assert_eq!(after[Path::new(path)], before[Path::new(path)], "{path}");
    }
    assert_eq!(after[Path::new("nets/dulse.png.part")].0, b"written on");
}

#[test]
fn each_tidying_of_a_date_has_its_number_and_all_come_back() {
    let shed = Shed::full();
    shed.tidy();
    shed.put("nets/dulse.png.part", b"another half");
    shed.put("late.tmp", b"late");
    let (before, tidied) = (shed.seen(), shed.tidy());
    assert_eq!(tidied.folder.unwrap(), shed.away("2026-11-27/2"));
    let undone = shed.undo();
    assert_eq!(undone.back.len(), 2 + 5);
    // The later one has the path; the earlier one stays where it is.
    assert_eq!(undone.troubles.len(), 1);
    assert_eq!(fs::read(shed.away("2026-11-27/1/nets/dulse.png.part")).unwrap(), b"half");
    for (path, seen) in before {
        assert_eq!(shed.seen()[&path], seen, "{}", path.display());
    }
}

#[test]
fn tidying_with_nothing_to_do_and_dry_runs_write_nothing() {
    let shed = Shed::new();
    shed.put("kelp.png", b"\x89PNG\r\n\x1a\nkelp");
    assert_eq!(shed.tidy().folder, None);
    assert!(!shed.home().join("checked").exists());
    let shed = Shed::full();
    shed.tidy();
    let (before, disk) = (files(shed.home()), Disk::new());
    let undone = undo(&disk, shed.site(), day(), true).unwrap();
    assert_eq!((undone.back.len(), disk.operations()), (6, 0));
    assert_eq!(files(shed.home()), before);
}

#[test]
fn a_copy_stays_when_its_base_changed_after_it_was_looked_at() {
    let shed = Shed::full();
    let strays = shed.strays();
    shed.put("kelp.png", b"\x89PNG\r\n\x1a\nnew");
    let made = "2026-11-27T03:00:00Z".parse().unwrap();
    let tidied =
        burler::archive::quarantine::tidy(&Disk::new(), shed.site(), day(), made, (&strays, false), &mut |_| Ok(()));
    assert!(shed.file("kelp (1).png").is_file());
    assert!(tidied.unwrap().left[0].starts_with("kelp (1).png is left where it is"));
}

#[test]
fn a_spoiled_manifest_is_told_and_nothing_is_concluded() {
    let shed = Shed::full();
    shed.tidy();
    let manifest = shed.away("2026-11-27/1.jsonl");
    let text = fs::read_to_string(&manifest).unwrap();
    for (spoiled, line) in [(text[..text.len() - 20].to_string(), 7), ("{}\n".into(), 1), (String::new(), 1)] {
        fs::write(&manifest, &spoiled).unwrap();
        let undone = shed.undo();
        assert_eq!(undone.back.len(), 0);
        assert!(undone.troubles[0].contains(&format!("1.jsonl, line {line}: not as it was written")), "{undone:?}");
    }
    // One that leads out of the archive leads nowhere.
    fs::write(&manifest, text.replace("nets/notes.txt", "../../notes.txt")).unwrap();
    let undone = shed.undo();
    assert_eq!((undone.back.len(), undone.troubles.len()), (5, 1));
    assert!(!shed.home().join("notes.txt").exists());
}

#[test]
fn another_archive_with_the_same_output_folder_is_not_mixed_in() {
    let shed = Shed::full();
    shed.tidy();
    let site = burler::archive::quarantine::Site { archive: "other", ..shed.site() };
    assert_eq!(undo(&Disk::new(), site, day(), false).unwrap(), Default::default());
    assert_eq!(shed.quarantined().len(), 6);
}

/// On two drives files are copied, and still come back with the time and rights they had.
#[test]
fn between_two_drives_files_are_copied_read_back_and_removed() {
    let mut shed = Shed::full();
    let elsewhere = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    if fs::metadata(elsewhere.path()).unwrap().dev() == fs::metadata(shed.home()).unwrap().dev() {
        println!("skipped: there is only one drive here");
        return;
    }
    shed.check_into(&elsewhere.path().join("checked"));
    let before = shed.seen();
    assert_eq!(shed.tidy().away.len(), 6);
    assert_eq!(shed.seen().len(), 1);
    let away = files(&shed.away("2026-11-27/1"));
    assert!(away.iter().all(|(path, seen)| before[path] == *seen), "{away:?}");
    assert_eq!(shed.undo().back.len(), 6);
    assert_eq!(shed.seen(), before);
    assert_eq!(shed.quarantined(), Vec::<PathBuf>::new());
}

/// A name of any bytes that a disk takes, hostile ones among them.
fn name() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![Just(b'\n'), Just(0xff), Just(b' '), Just(b'\\'), Just(b'"'), 1..=255_u8];
    let ending = prop::sample::select(vec![".tmp", "~", ".png", ".part", "", " (1).png", ".txt"]);
    let long = prop::bool::weighted(0.2);
    (prop::collection::vec(byte, 1..20), ending, long).prop_map(|(front, ending, long)| {
        let mut front: Vec<u8> = front.into_iter().filter(|byte| *byte != b'/').collect();
        front.push(b'a');
        if long {
            front.resize(255 - ending.len(), 0xfe);
        }
        front.extend(ending.bytes());
        front
    })
}

fn path() -> impl Strategy<Value = PathBuf> {
    (prop::collection::vec(name(), 0..2), name()).prop_map(|(folders, name)| {
        // Folders and files never have one name.
        let folders = folders.into_iter().map(|mut name| {
            name[0] = b'F';
            OsString::from_vec(name)
        });
        let mut last = name;
        last[0] = b'k';
        folders.chain([OsString::from_vec(last)]).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn undoing_a_tidying_is_the_identity(
        drawn in prop::collection::btree_map(
            path(), (prop::collection::vec(any::<u8>(), 0..4), -4_000_000_000_i64..1_700_000_000, 0_u32..1_000_000_000, 0_u32..0o400), 1..12
        )
    ) {
        let shed = Shed::new();
        for (path, (bytes, seconds, nanos, mode)) in &drawn {
            let full = shed.file(path);
            fs::create_dir_all(full.parent().unwrap()).unwrap();
            fs::write(&full, bytes).unwrap();
            let epoch = SystemTime::UNIX_EPOCH;
            let whole = Duration::from_secs(seconds.unsigned_abs());
            let time = if *seconds < 0 { epoch - whole } else { epoch + whole } + Duration::from_nanos((*nanos).into());
            fs::File::options().write(true).open(&full).unwrap().set_modified(time).unwrap();
            fs::set_permissions(&full, fs::Permissions::from_mode(0o400 | mode)).unwrap();
        }
        let before = shed.seen();
        let tidied = shed.tidy();
        prop_assert!(tidied.left.is_empty(), "{:?}", tidied.left);
        prop_assert_eq!(shed.seen().len() + tidied.away.len(), before.len());
        let undone = shed.undo();
        prop_assert!(undone.troubles.is_empty(), "{:?}", undone.troubles);
        prop_assert_eq!(undone.back.len(), tidied.away.len());
        prop_assert_eq!(shed.seen(), before);
        prop_assert!(shed.quarantined().is_empty());
    }
}
