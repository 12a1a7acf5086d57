//! What commands write: the same layout without a ledger, and never over anything.

#![allow(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

#[path = "desk/studio.rs"]
mod studio;

use burler::deliver::{DeliverError, Loose, Parcel, Role, Written, write_loose};
use burler::disk::{Cause, Disk, DiskError, Source, Trip};
use burler::tile::Content;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use studio::all_files;
use tempfile::TempDir;

fn parcels(text: &str) -> Vec<Parcel> {
    [(Role::Ready, "mended"), (Role::Repeat, "repeat")]
        .map(|(role, what)| {
            let text = format!("{what} {text}");
            Parcel { role, content: Content::of(text.as_bytes()), source: Source::Bytes(text.into_bytes()) }
        })
        .into()
}

fn home() -> (TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let root = home.path().join("some/where/checked");
    (home, root)
}

fn wish<'a>(root: &'a Path) -> Loose<'a> {
    Loose { root, name: Path::new("kelp.png"), input: None, exports: &[], force: false, dry_run: false }
}

#[test]
fn a_command_writes_the_daemons_layout_and_the_same_again_is_no_work() {
    let (_home, root) = home();
    let written = write_loose(&Disk::new(), &wish(&root), &parcels("kelp")).unwrap();
    let ready = root.join("ready/kelp.png");
    let repeat = root.join("mockups/kelp.png/repeat.jpg");
    assert_eq!(written, [Written::New(ready.clone()), Written::New(repeat.clone())]);
    let disk = Disk::new();
    let again = write_loose(&disk, &wish(&root), &parcels("kelp")).unwrap();
    assert_eq!(again, [Written::Same(ready.clone()), Written::Same(repeat)]);
    assert_eq!(disk.operations(), 0);
    assert_eq!(fs::read_to_string(ready).unwrap(), "mended kelp");
}

#[test]
fn a_dry_run_says_what_it_would_do_and_does_nothing() {
    let (home, root) = home();
    let written = write_loose(&Disk::new(), &Loose { dry_run: true, ..wish(&root) }, &parcels("kelp")).unwrap();
    assert_eq!(written.len(), 2);
    assert!(written.iter().all(|written| matches!(written, Written::New(_)) && written.path().starts_with(&root)));
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn another_file_is_replaced_only_by_force_and_nothing_is_written_before_all_is_looked_at() {
    let (_home, root) = home();
    fs::create_dir_all(root.join("mockups/kelp.png")).unwrap();
    fs::write(root.join("mockups/kelp.png/repeat.jpg"), "a stranger's").unwrap();
    let error = write_loose(&Disk::new(), &wish(&root), &parcels("kelp")).unwrap_err();
    assert!(matches!(error, DeliverError::WouldReplace { .. }));
    assert!(error.to_string().contains("repeat.jpg") && error.to_string().contains("--force"), "{error}");
    assert_eq!(all_files(&root).len(), 1);
    let written = write_loose(&Disk::new(), &Loose { force: true, ..wish(&root) }, &parcels("kelp")).unwrap();
    assert!(matches!(&written[1], Written::Replaced(_)));
    assert_eq!(all_files(&root)["mockups/kelp.png/repeat.jpg"], "repeat kelp");
}

#[test]
fn not_even_force_replaces_the_input_a_link_or_a_folder() {
    let (home, root) = home();
    fs::create_dir_all(root.join("ready")).unwrap();
    let ready = root.join("ready/kelp.png");
    let dotted = root.join("ready/../ready/kelp.png");
    let link = home.path().join("link.png");
    let force = |input| Loose { force: true, input, ..wish(&root) };

    fs::write(&ready, "the input").unwrap();
    for input in [&ready, &dotted] {
        let error = write_loose(&Disk::new(), &force(Some(input)), &parcels("kelp")).unwrap_err();
        assert!(matches!(error, DeliverError::IsInput { .. }), "{error}");
    }
    // The input by another name: a link to it.
    symlink(&ready, &link).unwrap();
    write_loose(&Disk::new(), &force(Some(&link)), &parcels("kelp")).unwrap_err();
    assert_eq!(fs::read_to_string(&ready).unwrap(), "the input");

    fs::rename(&ready, home.path().join("target.png")).unwrap();
    symlink(home.path().join("target.png"), &ready).unwrap();
    let error = write_loose(&Disk::new(), &force(None), &parcels("kelp")).unwrap_err();
    assert!(matches!(error, DeliverError::Disk(DiskError { cause: Cause::Taken, .. })), "{error}");
    assert_eq!(fs::read_to_string(home.path().join("target.png")).unwrap(), "the input");

    fs::remove_file(&ready).unwrap();
    fs::create_dir(&ready).unwrap();
    let error = write_loose(&Disk::new(), &force(None), &parcels("kelp")).unwrap_err();
    assert!(error.to_string().contains("a folder of that name is in the way"), "{error}");
}

#[test]
fn nothing_is_written_into_an_exports_folder_by_whatever_name() {
    let home = tempfile::tempdir().unwrap();
    let exports = vec![home.path().join("exports")];
    fs::create_dir(&exports[0]).unwrap();
    symlink(&exports[0], home.path().join("link")).unwrap();
    for root in ["exports", "exports/checked", "link/sub/checked", "none/../exports/checked", "exports/../exports"] {
        let root = home.path().join(root);
        let error = write_loose(&Disk::new(), &Loose { exports: &exports, ..wish(&root) }, &parcels("kelp"));
        assert!(matches!(error, Err(DeliverError::InExports { .. })), "{}", root.display());
    }
    assert_eq!(fs::read_dir(&exports[0]).unwrap().count(), 0);
    let root = home.path().join("exports-checked");
    write_loose(&Disk::new(), &Loose { exports: &exports, ..wish(&root) }, &parcels("kelp")).unwrap();
}

#[test]
fn a_full_disk_leaves_no_part_and_a_repeat_finishes() {
    let operations = {
        let (_home, root) = home();
        let disk = Disk::new();
        write_loose(&disk, &wish(&root), &parcels("kelp")).unwrap();
        disk.operations()
    };
    for at in 1..=operations {
        let (home, root) = home();
        let full = Disk::tripping(at, Trip::Fail(rustix::io::Errno::NOSPC.raw_os_error()));
        let error = write_loose(&full, &wish(&root), &parcels("kelp")).unwrap_err();
        assert!(error.to_string().contains("the disk is full"), "{at}: {error}");
        assert!(all_files(home.path()).keys().all(|name| !name.ends_with(".part")), "{at}");
        write_loose(&Disk::new(), &wish(&root), &parcels("kelp")).unwrap();
        assert_eq!(all_files(&root).len(), 2, "{at}");
    }
}
