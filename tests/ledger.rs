//! The ledger: what it keeps, what it tells since when, and which databases it never writes.

#[path = "desk/studio.rs"]
mod studio;

use burler::deliver::gone;
use burler::disk::{Disk, Trip};
use burler::finding::Verdict::{Held, Mendable, Mended, Sound, Unreadable};
use burler::ledger::{Change, Key, Ledger, LedgerError, Letter};
use burler::ticket::RULES;
use burler::tile::Content;
use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;
use studio::{FOLDER, Studio, noon, ticket};

fn key(bytes: &[u8]) -> Key {
    Key { content: Content::of(bytes), spec_digest: "0123456789abcdef".into(), rules: RULES }
}

#[test]
fn a_judgment_is_kept_under_its_key_alone() {
    let mut studio = Studio::new();
    let kept = ticket(Path::new("kelp.png"), Content::of(b"kelp"), Held);
    studio.ledger.apply(FOLDER, &[Change::Judge(key(b"kelp"), Box::new(kept.clone()))]).unwrap();
    let found = studio.ledger.judgment(&key(b"kelp")).unwrap().unwrap();
    assert_eq!(found.findings, kept.findings);
    assert_eq!((found.tile.as_str(), found.spec.as_str()), ("", ""), "names depend on more than the key");
    let mended = burler::ticket::Ticket { verdict: Mended, ..kept };
    studio.ledger.apply(FOLDER, &[Change::Judge(key(b"kelp"), Box::new(mended))]).unwrap();
    let found = studio.ledger.judgment(&key(b"kelp")).unwrap().unwrap();
    assert_eq!(found.verdict, Mendable, "mending is a standing's business");
    assert!(studio.ledger.judgment(&key(b"dulse")).unwrap().is_none());
    let other_rules = Key { rules: RULES + 1, ..key(b"kelp") };
    assert!(studio.ledger.judgment(&other_rules).unwrap().is_none());
    let other_spec = Key { spec_digest: "f".into(), ..key(b"kelp") };
    assert!(studio.ledger.judgment(&other_spec).unwrap().is_none());
}

#[test]
fn what_changed_since_is_told_once_and_in_order() {
    let mut studio = Studio::new();
    for (path, verdict) in [("a.png", Sound), ("b.png", Held), ("c.png", Mended)] {
        studio.export(path, path);
        studio.deliver(path, verdict);
    }
    let paths = |studio: &Studio, since| -> Vec<PathBuf> {
        studio.ledger.entries_since(since).unwrap().into_iter().map(|entry| entry.standing.path).collect()
    };
    assert_eq!(paths(&studio, 0), [PathBuf::from("a.png"), "b.png".into(), "c.png".into()]);
    let seen = studio.ledger.last_change().unwrap();
    assert_eq!(paths(&studio, seen), Vec::<PathBuf>::new());

    // Touched, gone, come back: no news. A new verdict on the same bytes is.
    studio.deliver("a.png", Sound);
    gone(&mut studio.ledger, FOLDER, Path::new("c.png")).unwrap();
    studio.deliver("c.png", Mended);
    assert_eq!(paths(&studio, seen), Vec::<PathBuf>::new());
    studio.deliver("a.png", Held);
    studio.export("b.png", "b, drawn anew");
    studio.deliver("b.png", Held);
    assert_eq!(paths(&studio, seen), [PathBuf::from("a.png"), "b.png".into()]);

    let entry = studio.ledger.entries_since(seen).unwrap().remove(0);
    let told = entry.ticket.unwrap();
    assert_eq!((told.tile.as_str(), told.verdict, told.spec.as_str()), ("a.png", Held, "cloth"));
    assert_eq!(told.outputs, ["held/a.png.held.png"]);
    let mended = studio.ledger.entries_since(0).unwrap().into_iter().find(|entry| entry.standing.verdict == Mended);
    assert_eq!(mended.unwrap().ticket.unwrap().verdict, Mended, "a standing's ticket says what was done");
}

#[test]
fn a_letter_is_noted_once() {
    let mut studio = Studio::new();
    assert_eq!(studio.ledger.last_letter().unwrap(), None);
    let letter = |upto, id: &str| Letter {
        upto,
        window_end: noon() + Duration::from_secs(upto.unsigned_abs()),
        message_id: id.into(),
        file: "letters/1.eml".into(),
    };
    for _ in 0..2 {
        studio.ledger.note_letter(&letter(3, "one@oddfathom.example"), &[]).unwrap();
    }
    studio.ledger.note_letter(&letter(5, "two@oddfathom.example"), &[]).unwrap();
    studio.ledger.note_letter(&letter(9, "one@oddfathom.example"), &[]).unwrap();
    assert_eq!(studio.ledger.last_letter().unwrap(), Some(letter(5, "two@oddfathom.example")));
    assert_eq!(studio.ledger.summary().unwrap().last_letter.unwrap().upto, 5);
}

#[test]
fn the_summary_counts_and_names_the_newest_held() {
    let mut studio = Studio::new();
    assert!(studio.ledger.summary().unwrap().folders.is_empty());
    for i in 0..12 {
        let path = format!("held-{i:02}.png");
        studio.export(&path, &path);
        studio.deliver(&path, Held);
    }
    for (path, verdict) in [("a.png", Sound), ("b.png", Mended), ("c.png", Unreadable), ("d.png", Sound)] {
        studio.export(path, path);
        studio.deliver(path, verdict);
    }
    gone(&mut studio.ledger, FOLDER, Path::new("d.png")).unwrap();
    let summary = Ledger::open_to_read(&studio.ledger_path()).unwrap().summary().unwrap();
    let folder = &summary.folders[0];
    assert_eq!((folder.folder.as_str(), folder.sound, folder.mended, folder.held), (FOLDER, 1, 1, 12));
    assert_eq!((folder.unreadable, folder.gone, folder.mendable, folder.unfinished), (1, 1, 0, 0));
    let newest: Vec<_> = summary.newest_held.iter().map(|held| held.standing.path.to_str().unwrap()).collect();
    assert_eq!((newest.len(), newest[0], newest[1], newest[9]), (10, "c.png", "held-11.png", "held-03.png"));
    assert_eq!(summary.newest_held[1].says.as_deref(), Some("the left edge does not meet the right one"));
}

#[test]
fn a_newer_ledger_is_read_and_never_written() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp");
    studio.deliver("kelp.png", Held);
    let path = studio.ledger_path();
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 1000).unwrap();
    let error = Ledger::open(&Disk::new(), &path).unwrap_err();
    assert!(matches!(error, LedgerError::Newer { found: 1000, .. }), "{error}");
    assert!(error.to_string().contains("newer Burler") && !error.is_temporary(), "{error}");
    let mut read = Ledger::open_to_read(&path).unwrap();
    assert_eq!(read.summary().unwrap().folders[0].held, 1);
    assert!(matches!(read.apply(FOLDER, &[]), Err(LedgerError::ReadOnly { .. })));
    let version: i64 = Connection::open(&path).unwrap().query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
    assert_eq!(version, 1000);
}

#[test]
fn an_older_ledger_is_read_as_it_is_and_brought_up_to_date_when_it_is_written() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp");
    studio.deliver("kelp.png", Held);
    let path = studio.ledger_path();
    // A letter told of the first tile, and not of the second.
    let upto = studio.ledger.last_change().unwrap();
    let letter = Letter { upto, window_end: noon(), message_id: "one@oddfathom.example".into(), file: "1.eml".into() };
    studio.ledger.note_letter(&letter, &[]).unwrap();
    studio.export("dulse.png", "dulse");
    studio.deliver("dulse.png", Held);
    let says = studio.says();
    // The shape of the first version, before the artist's word and before it was noted what letters told.
    let old = Connection::open(&path).unwrap();
    old.execute_batch(
        "DROP TABLE posts; DROP TABLE addressees; DROP TABLE pages; DROP TABLE told; DROP TABLE news; DROP TABLE words;
         DROP TABLE members; DROP TABLE sweeps; DROP TABLE likenesses;
         DROP TABLE relations; DROP TABLE contacts; DROP TABLE sketches; DROP TABLE remarks; ALTER TABLE standings DROP COLUMN let_pass; PRAGMA user_version = 1;",
    )
    .unwrap();
    let version = || -> i64 { old.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap() };
    let mut read = Ledger::open_to_read(&path).unwrap();
    assert_eq!(read.summary().unwrap().folders[0].held, 2);
    let news = |ledger: &Ledger| -> Vec<(PathBuf, bool)> {
        ledger.news().unwrap().into_iter().map(|new| (new.standing.path, new.since.is_some())).collect()
    };
    assert_eq!(news(&read), [(PathBuf::from("dulse.png"), false)]);
    assert_eq!(read.told_of(FOLDER, Path::new("kelp.png")).unwrap().unwrap().says, "");
    assert!(read.words(FOLDER).unwrap().is_empty() && read.strangers_since(0).unwrap().is_empty());
    assert_eq!(read.entries_since(0).unwrap().len(), 2);
    assert!(matches!(read.apply(FOLDER, &[]), Err(LedgerError::ReadOnly { .. })));
    assert!(read.posts_waiting().unwrap().is_empty() && read.pages_waiting().unwrap().is_empty());
    assert!(
        read.sketch(Content::of(b"kelp")).unwrap().is_none() && read.remarks_since("prints", 0).unwrap().is_empty()
    );
    assert!(read.kept_of(FOLDER, Path::new("kelp.png")).unwrap().is_empty());
    assert!(read.posts_told_since(0).unwrap().is_empty() && read.post_named("letter").unwrap().is_none());
    assert_eq!(version(), 1, "reading wrote it");
    // Killed on the way, it is still the old one.
    drop(Ledger::open(&Disk::tripping(1, Trip::Stop), &path).unwrap_err());
    assert_eq!(version(), 1);
    studio.restart_on(Disk::new());
    assert!(version() > 1);
    assert_eq!(studio.says(), says);
    assert_eq!(news(&studio.ledger), [(PathBuf::from("dulse.png"), false)]);
    let told = studio.ledger.told_of(FOLDER, Path::new("kelp.png")).unwrap().unwrap();
    assert_eq!((told.at, told.verdict, told.says.as_str()), (noon(), Held, ""));
    studio.carry("held/kelp.png.held.png", "let-pass/kelp.png.held.png");
    assert_eq!(studio.review().unwrap().strange.len(), 1);
}

#[test]
fn a_database_of_something_else_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let foreign = folder.path().join("contacts.sqlite");
    Connection::open(&foreign).unwrap().execute_batch("CREATE TABLE people (name TEXT)").unwrap();
    let text = folder.path().join("notes.txt");
    fs::write(&text, "buy more ink and paper, the big sheets\n".repeat(40)).unwrap();
    for path in [&foreign, &text] {
        let before = fs::read(path).unwrap();
        for error in [Ledger::open(&Disk::new(), path).unwrap_err(), Ledger::open_to_read(path).unwrap_err()] {
            assert!(matches!(error, LedgerError::NotOurs { .. }), "{error}");
        }
        assert_eq!(fs::read(path).unwrap(), before);
    }
    let none = Ledger::open_to_read(&folder.path().join("none.sqlite")).unwrap_err();
    assert!(matches!(none, LedgerError::Absent { .. }), "{none}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn a_kill_before_the_commit_applies_nothing() {
    let mut studio = Studio::new();
    studio.restart_on(Disk::tripping(1, Trip::Stop));
    let kept = ticket(Path::new("kelp.png"), Content::of(b"kelp"), Held);
    studio.ledger.apply(FOLDER, &[Change::Judge(key(b"kelp"), Box::new(kept))]).unwrap_err();
    studio.restart_on(Disk::new());
    assert!(studio.ledger.judgment(&key(b"kelp")).unwrap().is_none());
}

#[test]
fn of_two_paths_one_gets_a_name() {
    let mut studio = Studio::new();
    let claim = |path: &str, name: &str| Change::Claim { name: name.into(), path: path.into() };
    studio.ledger.apply(FOLDER, &[claim("a.png", "a.png"), claim("a.png", "A.png")]).unwrap();
    let error = studio.ledger.apply(FOLDER, &[claim("b.png", "b.png"), claim("b.png", "A.PNG")]).unwrap_err();
    assert!(error.is_temporary(), "{error}");
    let free = |name: &str, owner: &str| studio.ledger.is_free(FOLDER, Path::new(name), &[Path::new(owner)]).unwrap();
    assert!(free("b.png", "c.png"), "of a refused change, nothing is applied");
    assert!(free("a.png", "a.png") && !free("a.png", "c.png"));
    assert!(!free("A.png/inner.png", "c.png"), "a folder cannot be where a file is");
    studio.ledger.apply(FOLDER, &[claim("d.png", "sub/d.png")]).unwrap();
    let free = |name: &str| studio.ledger.is_free(FOLDER, Path::new(name), &[Path::new("c.png")]).unwrap();
    assert!(!free("sub"), "a file cannot be where a folder is");
    assert!(free("su") && free("sub.png") && free("sub0") && free("sub/e.png"));
    studio.ledger.apply("another", &[claim("x.png", "a.png")]).unwrap();
}

#[test]
fn two_processes_write_one_ledger_in_turn() {
    let studio = Studio::new();
    let path = studio.ledger_path();
    let threads: Vec<_> = (0..4_u8)
        .map(|writer| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut ledger = Ledger::open(&Disk::new(), &path).unwrap();
                for turn in 0..25_u8 {
                    let kept = ticket(Path::new("kelp.png"), Content::of(&[writer, turn]), Sound);
                    ledger.apply(FOLDER, &[Change::Judge(key(&[writer, turn]), Box::new(kept))]).unwrap();
                }
            })
        })
        .collect();
    for thread in threads {
        thread.join().unwrap();
    }
    for writer in 0..4 {
        for turn in 0..25 {
            assert!(studio.ledger.judgment(&key(&[writer, turn])).unwrap().is_some());
        }
    }
}

#[test]
fn a_row_that_no_burler_writes_is_an_error_and_no_guess() {
    let mut studio = Studio::new();
    studio.export("kelp.png", "kelp");
    studio.deliver("kelp.png", Sound);
    let path = studio.ledger_path();
    let meddle = |sql: &str| assert!(Connection::open(&path).unwrap().execute(sql, []).unwrap() > 0);
    meddle("UPDATE standings SET verdict = 'splendid'");
    let error = studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap_err();
    assert!(matches!(&error, LedgerError::Odd { what, .. } if what.contains("splendid")), "{error}");
    studio.ledger.summary().unwrap_err();
    meddle("UPDATE standings SET verdict = 'sound', stamp = '1 2'");
    studio.ledger.standing(FOLDER, Path::new("kelp.png")).unwrap_err();
    meddle("UPDATE outputs SET state = 'moving'");
    studio.ledger.outputs(FOLDER, Path::new("kelp.png")).unwrap_err();
    // A judgment of an unknown shape only has to be made anew.
    meddle("UPDATE judgments SET ticket = '{}'");
    assert!(studio.ledger.judgment(&key(b"kelp")).unwrap().is_none());
}

#[test]
fn a_cut_ledger_is_an_error_or_a_ledger_but_never_a_crash() {
    let mut studio = Studio::new();
    for i in 0..20 {
        let path = format!("{i}.png");
        studio.export(&path, &path);
        studio.deliver(&path, Held);
    }
    let whole = studio.ledger_path();
    // Without its companion files, as a careless copy would be.
    drop(Connection::open(&whole).unwrap().query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())));
    let bytes = fs::read(&whole).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut read_whole = 0;
    for length in (0..=bytes.len()).step_by(397).chain([bytes.len()]) {
        let path = folder.path().join(format!("{length}.sqlite"));
        fs::write(&path, &bytes[..length]).unwrap();
        let all =
            Ledger::open(&Disk::new(), &path).and_then(|ledger| Ok((ledger.summary()?, ledger.standings(FOLDER)?)));
        match all {
            Ok((_, standings)) => read_whole += usize::from(standings.len() == 20),
            Err(error) => assert!(error.to_string().contains(".sqlite"), "{error}"),
        }
    }
    assert!(read_whole >= 1);
}
