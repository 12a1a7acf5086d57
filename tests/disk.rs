//! The disk's promises: whole or absent, never over what is there, never through a link.

#![allow(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

use burler::disk::{Cause, Disk, DiskError, Look, Onto, Source, Stamp, Trip, hash_file, open, stamp as stamp_of};
use burler::tile::Content;
use rustix::io::Errno;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

const NAME: &str = "ready/sub/kelp.png";

fn bytes() -> Vec<u8> {
    (0..700_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect()
}

fn put(disk: &Disk, root: &Path, name: &Path, bytes: &[u8]) -> Result<Stamp, DiskError> {
    disk.tree(root)?.publish(name, &Source::Bytes(bytes.to_vec()), Content::of(bytes), Onto::Nothing)
}

fn files(root: &Path) -> Vec<PathBuf> {
    let mut found: Vec<_> = walkdir::WalkDir::new(root)
        .into_iter()
        .map(|entry| entry.unwrap())
        .filter(|entry| !entry.file_type().is_dir())
        .map(|entry| entry.path().strip_prefix(root).unwrap().to_path_buf())
        .collect();
    found.sort();
    found
}

#[test]
fn a_published_file_is_whole_and_its_stamp_is_the_one_on_disk() {
    let root = tempfile::tempdir().unwrap();
    let stamp = put(&Disk::new(), root.path(), Path::new(NAME), &bytes()).unwrap();
    assert_eq!(fs::read(root.path().join(NAME)).unwrap(), bytes());
    assert_eq!(stamp_of(&root.path().join(NAME)).unwrap(), Some(stamp));
    assert_eq!(files(root.path()), [PathBuf::from(NAME)]);
}

#[test]
fn stopped_anywhere_a_file_is_absent_or_whole_and_the_sweep_leaves_nothing_else() {
    let whole = {
        let root = tempfile::tempdir().unwrap();
        let disk = Disk::new();
        put(&disk, root.path(), Path::new(NAME), &bytes()).unwrap();
        disk.operations()
    };
    // Two folders made and synced, a part made, three chunks written, synced, renamed, three folders synced.
    assert_eq!(whole, 13);
    for at in 1..=whole {
        let root = tempfile::tempdir().unwrap();
        let disk = Disk::tripping(at, Trip::Stop);
        let error = put(&disk, root.path(), Path::new(NAME), &bytes()).unwrap_err();
        assert!(matches!(error.cause, Cause::Stopped), "{at}: {error}");
        Disk::new().tree(root.path()).unwrap().sweep_parts(Path::new("")).unwrap();
        let left = files(root.path());
        if at <= 10 {
            assert_eq!(left, Vec::<PathBuf>::new(), "stopped at {at}");
        } else {
            assert_eq!(fs::read(root.path().join(NAME)).unwrap(), bytes(), "stopped at {at}");
        }
    }
}

#[test]
fn a_failing_disk_leaves_no_part_and_names_the_file() {
    for errno in [Errno::NOSPC, Errno::IO] {
        for at in 1..=10 {
            let root = tempfile::tempdir().unwrap();
            let disk = Disk::tripping(at, Trip::Fail(errno.raw_os_error()));
            let error = put(&disk, root.path(), Path::new(NAME), &bytes()).unwrap_err();
            assert!(error.to_string().contains("ready"), "{at}: {error}");
            assert_eq!(files(root.path()), Vec::<PathBuf>::new(), "failed at {at}");
        }
    }
}

#[test]
fn interrupted_and_short_operations_are_carried_on() {
    for at in 1..=13 {
        for trip in [Trip::Short, Trip::Fail(Errno::INTR.raw_os_error())] {
            let root = tempfile::tempdir().unwrap();
            put(&Disk::tripping(at, trip), root.path(), Path::new(NAME), &bytes()).unwrap();
            assert_eq!(fs::read(root.path().join(NAME)).unwrap(), bytes(), "{trip:?} at {at}");
        }
    }
}

#[test]
fn bytes_that_are_not_the_promised_ones_are_not_published() {
    let root = tempfile::tempdir().unwrap();
    let tree = Disk::new().tree(root.path()).unwrap();
    let cut = Source::Bytes(bytes()[..600_000].to_vec());
    let error = tree.publish(Path::new(NAME), &cut, Content::of(&bytes()), Onto::Nothing).unwrap_err();
    assert!(matches!(error.cause, Cause::Differs));
    assert_eq!(files(root.path()), Vec::<PathBuf>::new());
}

#[test]
fn what_is_there_stays() {
    let root = tempfile::tempdir().unwrap();
    fs::create_dir_all(root.path().join(NAME).parent().unwrap()).unwrap();
    fs::write(root.path().join(NAME), "a stranger's").unwrap();
    // With and without a file system that refuses in the same step: operation 6 is the renaming.
    for disk in [Disk::new(), Disk::tripping(6, Trip::Fail(Errno::INVAL.raw_os_error()))] {
        let error = put(&disk, root.path(), Path::new(NAME), &bytes()).unwrap_err();
        assert!(matches!(error.cause, Cause::Taken), "{error}");
    }
    assert_eq!(files(root.path()), [PathBuf::from(NAME)]);
    assert_eq!(fs::read(root.path().join(NAME)).unwrap(), b"a stranger's");

    let folder = put(&Disk::new(), root.path(), Path::new("ready/sub"), &bytes()).unwrap_err();
    assert!(matches!(folder.cause, Cause::FolderInTheWay), "{folder}");
}

#[test]
fn a_file_system_without_exclusive_renaming_publishes_too() {
    let root = tempfile::tempdir().unwrap();
    fs::create_dir_all(root.path().join(NAME).parent().unwrap()).unwrap();
    let disk = Disk::tripping(6, Trip::Fail(Errno::INVAL.raw_os_error()));
    put(&disk, root.path(), Path::new(NAME), &bytes()).unwrap();
    assert_eq!(files(root.path()), [PathBuf::from(NAME)]);
    assert_eq!(fs::read(root.path().join(NAME)).unwrap(), bytes());
}

#[test]
fn a_link_leads_nothing_out_of_the_folder() {
    let root = tempfile::tempdir().unwrap();
    let elsewhere = tempfile::tempdir().unwrap();
    fs::create_dir(root.path().join("ready")).unwrap();
    symlink(elsewhere.path(), root.path().join("ready/sub")).unwrap();
    let error = put(&Disk::new(), root.path(), Path::new(NAME), &bytes()).unwrap_err();
    assert!(matches!(error.cause, Cause::NoPlainFile), "{error}");
    assert_eq!(files(elsewhere.path()), Vec::<PathBuf>::new());
    let tree = Disk::new().tree(root.path()).unwrap();
    assert!(matches!(tree.look(Path::new(NAME)), Err(DiskError { cause: Cause::NoPlainFile, .. })));
    assert_eq!(tree.look(Path::new("ready/sub")).unwrap(), Look::Other);
    for outside in ["../kelp.png", "/tmp/kelp.png", "ready/../../kelp.png", "", ".."] {
        assert!(matches!(
            tree.publish(Path::new(outside), &Source::Bytes(vec![1]), Content::of(&[1]), Onto::Anything),
            Err(DiskError { cause: Cause::Outside, .. })
        ));
    }
}

#[test]
fn names_are_bytes() {
    let root = tempfile::tempdir().unwrap();
    for name in [&b"line\nend.png"[..], b"latin\xe9.png", b"-rf *.png"] {
        let path = Path::new("ready").join(OsStr::from_bytes(name));
        put(&Disk::new(), root.path(), &path, &bytes()).unwrap();
        assert_eq!(fs::read(root.path().join(&path)).unwrap(), bytes());
    }
}

#[test]
fn the_sweep_takes_only_abandoned_parts() {
    let root = tempfile::tempdir().unwrap();
    let tree = Disk::new().tree(root.path()).unwrap();
    let source = Source::Bytes(bytes());
    let living = tree.stage(Path::new(NAME), &source, Content::of(&bytes())).unwrap();
    let sub = root.path().join("ready/sub");
    fs::write(sub.join(".burler-00ff.part"), "half").unwrap();
    for kept in [".burler-notes.part", "burler-00.part", ".burler-00ff.part.png"] {
        fs::write(sub.join(kept), "someone's").unwrap();
    }
    let elsewhere = tempfile::tempdir().unwrap();
    fs::write(elsewhere.path().join(".burler-00ff.part"), "not ours").unwrap();
    symlink(elsewhere.path(), root.path().join("ready/link")).unwrap();

    assert_eq!(tree.sweep_parts(Path::new("ready")).unwrap(), 1);
    assert_eq!(tree.sweep_parts(Path::new("absent")).unwrap(), 0);
    assert!(elsewhere.path().join(".burler-00ff.part").exists());
    living.publish(Onto::Nothing).unwrap();
    assert_eq!(files(&sub).len(), 4);
}

#[test]
fn moving_never_lands_on_a_file_and_copies_to_another_drive() {
    let root = tempfile::tempdir().unwrap();
    let (from, to) = (Path::new(NAME), Path::new("earlier/day/kelp.png"));
    for trip in [Disk::new(), Disk::tripping(5, Trip::Fail(Errno::XDEV.raw_os_error()))] {
        put(&Disk::new(), root.path(), from, &bytes()).unwrap();
        let tree = trip.tree(root.path()).unwrap();
        tree.sync_folder(Path::new("ready")).unwrap();
        if !root.path().join("earlier").exists() {
            trip.make_folder(&root.path().join("earlier")).unwrap();
        } else {
            tree.sync_folder(Path::new("")).unwrap();
            tree.sync_folder(Path::new("")).unwrap();
        }
        if root.path().join("earlier/day").exists() {
            tree.sync_folder(Path::new("")).unwrap();
        }
        let stamp = tree.rename(from, to, Content::of(&bytes())).unwrap();
        assert_eq!(stamp_of(&root.path().join(to)).unwrap(), Some(stamp));
        assert_eq!(files(root.path()), [to.to_path_buf()]);
        fs::remove_file(root.path().join(to)).unwrap();
    }
    put(&Disk::new(), root.path(), from, &bytes()).unwrap();
    fs::write(root.path().join(to), "a stranger's").unwrap();
    let tree = Disk::new().tree(root.path()).unwrap();
    assert!(matches!(tree.rename(from, to, Content::of(&bytes())), Err(DiskError { cause: Cause::Taken, .. })));
    assert_eq!(fs::read(root.path().join(to)).unwrap(), b"a stranger's");
    assert_eq!(fs::read(root.path().join(from)).unwrap(), bytes());
}

#[test]
fn replacing_on_demand_replaces_a_file_and_nothing_else() {
    let root = tempfile::tempdir().unwrap();
    let tree = Disk::new().tree(root.path()).unwrap();
    let promised = Content::of(&bytes());
    fs::write(root.path().join("a.png"), "old").unwrap();
    fs::write(root.path().join("target.png"), "old").unwrap();
    symlink("target.png", root.path().join("link.png")).unwrap();
    tree.publish(Path::new("a.png"), &Source::Bytes(bytes()), promised, Onto::Anything).unwrap();
    assert_eq!(fs::read(root.path().join("a.png")).unwrap(), bytes());
    tree.publish(Path::new("link.png"), &Source::Bytes(bytes()), promised, Onto::Anything).unwrap_err();
    assert_eq!(fs::read(root.path().join("target.png")).unwrap(), b"old");
}

#[test]
fn empty_folders_go_and_full_ones_stay() {
    let root = tempfile::tempdir().unwrap();
    let tree = Disk::new().tree(root.path()).unwrap();
    fs::create_dir_all(root.path().join("mockups/kelp.png")).unwrap();
    assert!(tree.remove_empty(Path::new("mockups/kelp.png")).unwrap());
    assert!(tree.remove_empty(Path::new("mockups/kelp.png")).unwrap());
    fs::write(root.path().join("mockups/notes.txt"), "mine").unwrap();
    assert!(!tree.remove_empty(Path::new("mockups")).unwrap());
    assert_eq!(files(root.path()), [PathBuf::from("mockups/notes.txt")]);
}

#[test]
fn reading_refuses_what_is_no_plain_file() {
    let root = tempfile::tempdir().unwrap();
    fs::write(root.path().join("a"), "abc").unwrap();
    symlink("a", root.path().join("link")).unwrap();
    rustix::fs::mknodat(
        rustix::fs::CWD,
        root.path().join("pipe"),
        rustix::fs::FileType::Fifo,
        rustix::fs::Mode::from_raw_mode(0o600),
        0,
    )
    .unwrap();
    assert!(matches!(open(root.path()), Err(DiskError { cause: Cause::FolderInTheWay, .. })));
    assert!(matches!(open(&root.path().join("link")), Err(DiskError { cause: Cause::NoPlainFile, .. })));
    assert!(matches!(open(&root.path().join("pipe")), Err(DiskError { cause: Cause::NoPlainFile, .. })));
    assert!(open(&root.path().join("none")).unwrap_err().is_absent());
    assert_eq!(stamp_of(&root.path().join("none")).unwrap(), None);
    // The BLAKE3 hash of "abc", from the test vectors its authors publish with the reference implementation.
    assert_eq!(
        hash_file(&root.path().join("a")).unwrap().to_string(),
        "6437b3ac38465133ffb63b75273a8db548c558465d79db03fd359c6cd5bd9d85"
    );
}
