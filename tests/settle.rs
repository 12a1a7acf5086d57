//! Settling, by timelines as data files and by random writers.

#[path = "settle/timeline.rs"]
mod timeline;
#[path = "settle/world.rs"]
mod world;

use burler::arrival::Look;
use burler::clock::Tick;
use burler::disk::Stamp;
use burler::settle::{Backlog, Noted, Settings, Structure, Table};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;
use world::{Said, World};

#[test]
fn every_timeline_ends_as_it_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/timelines");
    let mut failures = Vec::new();
    let mut count = 0;
    for entry in std::fs::read_dir(folder).expect("the folder of timelines is there") {
        let path = entry.expect("its entries can be read").path();
        let text = std::fs::read_to_string(&path).expect("a timeline is text");
        count += 1;
        if let Err(problem) = timeline::run(&text) {
            failures.push(format!("{}: {problem}", path.display()));
        }
    }
    assert!(count > 0, "no timelines found");
    assert!(failures.is_empty(), "{}", failures.join("\n\n"));
}

#[test]
fn a_timeline_that_is_wrong_is_refused() {
    let good = "0ms write a.png 40 complete\nexpect a.png complete 40 at 2s\n";
    assert_eq!(timeline::run(good), Ok(()));
    for (from, to) in
        [("at 2s", "at 3s"), ("complete 40 at", "truncated 40 at"), ("expect", "# "), ("write", "wrote"), ("0ms", "0")]
    {
        assert!(timeline::run(&good.replace(from, to)).is_err(), "{from} -> {to}");
    }
}

/// What a random writer does next.
#[derive(Clone, Debug)]
enum Deed {
    Write(u8, u64, Structure),
    Touch(u8),
    Rename(u8, u8),
    RenameTemporary(u8),
    Delete(u8),
    Look(Duration),
}

const NAMES: [&str; 4] = ["kelp.png", "net.png", "deep/kelp.png", "deep/down/rope.tif"];

fn deed() -> impl Strategy<Value = Deed> {
    let name = 0u8..4;
    let structure = prop_oneof![
        3 => Just(Structure::Complete),
        2 => Just(Structure::Truncated),
        1 => Just(Structure::Unknown),
    ];
    prop_oneof![
        6 => (name.clone(), 0u64..3, structure).prop_map(|(name, size, structure)| Deed::Write(name, size, structure)),
        1 => name.clone().prop_map(Deed::Touch),
        1 => (name.clone(), name.clone()).prop_map(|(from, to)| Deed::Rename(from, to)),
        1 => name.clone().prop_map(Deed::RenameTemporary),
        1 => name.prop_map(Deed::Delete),
        1 => (0u64..500).prop_map(|late| Deed::Look(Duration::from_millis(late))),
    ]
}

/// A wait before a deed: bursts, pauses shorter and longer than the quiet times, and long stalls.
fn wait() -> impl Strategy<Value = Duration> {
    prop_oneof![Just(0u64), 0u64..50, 1_500u64..2_500, Just(2_000), 25_000u64..35_000, 500_000u64..700_000]
        .prop_map(Duration::from_millis)
}

fn script() -> impl Strategy<Value = Vec<(Duration, Deed, bool)>> {
    proptest::collection::vec((wait(), deed(), prop::bool::weighted(0.7)), 1..40)
}

fn play(world: &mut World, script: &[(Duration, Deed, bool)]) {
    for (wait, deed, event) in script {
        world.pass_to(world.now.after(*wait));
        let path = |name: &u8| PathBuf::from(NAMES[usize::from(*name)]);
        let touched = match deed {
            Deed::Write(name, size, structure) => {
                world.write(&path(name), *size, *structure);
                vec![path(name)]
            }
            Deed::Touch(name) => {
                world.touch(&path(name));
                vec![path(name)]
            }
            Deed::Rename(from, to) => {
                world.rename(&path(from), &path(to));
                vec![path(from), path(to)]
            }
            Deed::RenameTemporary(name) => {
                let temporary = path(name).with_file_name(".upload-7f.part");
                world.write(&temporary, 2, Structure::Complete);
                world.tell(&temporary);
                world.rename(&temporary, &path(name));
                vec![temporary, path(name)]
            }
            Deed::Delete(name) => {
                world.delete(&path(name));
                vec![path(name)]
            }
            Deed::Look(late) => {
                world.look(Path::new(""), *late);
                Vec::new()
            }
        };
        if *event {
            touched.iter().for_each(|path| world.tell(path));
        }
    }
    // The periodic look is the floor under all lost events.
    world.pass_to(world.now.after(Duration::from_secs(1)));
    world.look(Path::new(""), Duration::ZERO);
    world.pass_all();
}

/// Every file that is there in the end has been told once with its last stamp, and nothing was told twice.
fn each_told_once(world: &World) -> Result<(), TestCaseError> {
    let mut told: BTreeMap<(PathBuf, Stamp), u32> = BTreeMap::new();
    for (_, said) in &world.said {
        if let Said::Settled(settled, _) = said {
            *told.entry((settled.path.clone(), settled.stamp)).or_default() += 1;
        }
    }
    for (name, times) in &told {
        prop_assert_eq!(*times, 1, "{:?}", name);
    }
    for (path, bytes) in world.files.iter().filter(|(path, _)| path.extension().is_some_and(|end| end != "part")) {
        prop_assert!(told.contains_key(&(path.clone(), bytes.stamp)), "{:?} was never told", path);
    }
    prop_assert_eq!(world.table.backlog(), Backlog::default());
    prop_assert_eq!(world.table.next_wake(), None);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    /// Where every write moves the stamp, what is told has rested for as long as its structure demands.
    #[test]
    fn no_verdict_before_the_file_has_rested(script in script(), reading in 0u64..3_000) {
        let settings = Settings::default();
        let mut world = World::new(settings);
        world.reading = Duration::from_millis(reading);
        play(&mut world, &script);
        for (now, said) in &world.said {
            let Said::Settled(settled, bytes) = said else { continue };
            prop_assert_eq!(settled.stamp, bytes.stamp);
            prop_assert_eq!(settled.structure, bytes.structure);
            let demanded = match settled.structure {
                Structure::Complete => settings.quiet,
                Structure::Unknown => settings.quiet_incomplete,
                Structure::Truncated => settings.grace,
            };
            prop_assert!(now.since(bytes.changed) >= demanded, "{:?} at {:?}, changed {:?}", settled, now, bytes.changed);
        }
        each_told_once(&world)?;
    }

    /// On a file system whose times move in steps no coarser than the quiet time, bytes with a verdict never change
    /// under an unmoved stamp: the verdict is for the bytes that stay, or a new one follows.
    #[test]
    fn coarse_times_hide_no_write_after_a_verdict(script in script(), step in 1u64..=2_000) {
        let mut world = World::new(Settings::default());
        world.step = Duration::from_millis(step);
        play(&mut world, &script);
        for (_, said) in &world.said {
            let Said::Settled(settled, bytes) = said else { continue };
            if let Some(last) = world.files.get(&settled.path) && last.stamp == settled.stamp {
                prop_assert_eq!(last.version, bytes.version, "{:?}", settled);
            }
        }
    }
}

fn stamp(size: u64, time: i128) -> Stamp {
    Stamp { size, mtime_ns: time, ctime_ns: time, inode: 1 }
}

fn answer_all(table: &mut Table, now: Tick) {
    for ask in table.poll(now) {
        table.answer(&ask, Some(ask.stamp), Structure::Complete, now);
    }
}

#[test]
fn what_the_ledger_remembers_is_no_news() {
    let mut table = Table::new(Settings::default());
    table.remember(Path::new("kelp.png"), stamp(5, 1));
    assert_eq!(table.observe(Path::new("kelp.png"), Some(stamp(5, 1)), Tick::default()), Noted::Same);
    assert_eq!(table.next_wake(), None);
    assert_eq!(table.observe(Path::new("kelp.png"), Some(stamp(5, 2)), Tick::default()), Noted::Changed);
    assert_eq!(table.next_wake(), Some(Tick(Duration::from_secs(2))));
    assert_eq!(table.backlog(), Backlog { files: 1, bytes: 5 });
}

#[test]
fn the_newest_is_handed_out_first_and_what_changes_meanwhile_is_not() {
    let mut table = Table::new(Settings::default());
    for (name, time) in [("old.png", 1), ("new.png", 3), ("middle.png", 2)] {
        table.observe(Path::new(name), Some(stamp(1, time)), Tick::default());
    }
    let later = Tick(Duration::from_secs(2));
    answer_all(&mut table, later);
    table.observe(Path::new("middle.png"), Some(stamp(1, 9)), later);
    let taken: Vec<_> = std::iter::from_fn(|| table.take()).map(|settled| settled.path).collect();
    assert_eq!(taken, [Path::new("new.png"), Path::new("old.png")]);
    assert_eq!(table.backlog(), Backlog { files: 1, bytes: 1 });
}

#[test]
fn a_look_forgets_only_where_it_looked() {
    let names = [
        "a.png",
        "deep/b.png",
        "deep/down/c.png",
        "deep-er/d.png",
        "deep.png",
        "kept/e.png",
        "kept/on/f.png",
        "kepu.png",
    ];
    let fill = || {
        let mut table = Table::new(Settings::default());
        names.iter().for_each(|name| table.remember(Path::new(name), stamp(1, 1)));
        table
    };
    let look = |folder: &str, files: &[&str], kept: &[&str]| Look {
        folder: folder.into(),
        files: files.iter().map(|name| (PathBuf::from(name), stamp(1, 1))).collect(),
        kept: kept.iter().map(PathBuf::from).collect(),
    };
    let gone = |look: &Look| -> Vec<String> {
        let gone = fill().note(look, Tick::default());
        gone.iter().map(|path| path.display().to_string()).collect()
    };
    assert_eq!(gone(&look("", &names, &[])), Vec::<String>::new());
    assert_eq!(gone(&look("deep", &[], &[])), ["deep/b.png", "deep/down/c.png"]);
    assert_eq!(gone(&look("deep", &["deep/b.png"], &["deep/down"])), Vec::<String>::new());
    assert_eq!(gone(&look("", &["a.png"], &["deep", "kept"])), ["deep-er/d.png", "deep.png", "kepu.png"]);
    assert_eq!(gone(&look("kept", &[], &["kept/on"])), ["kept/e.png"]);
    assert_eq!(gone(&look("", &[], &[""])), Vec::<String>::new(), "a root that could not be read says nothing");
}

#[test]
fn an_answer_that_comes_too_late_changes_nothing() {
    let mut table = Table::new(Settings::default());
    let path = Path::new("kelp.png");
    table.observe(path, Some(stamp(1, 1)), Tick::default());
    let due = Tick(Duration::from_secs(2));
    let asks = table.poll(due);
    table.observe(path, Some(stamp(2, 2)), due);
    table.answer(&asks[0], Some(stamp(1, 1)), Structure::Complete, due);
    assert_eq!(table.take(), None);
    let later = Tick(Duration::from_secs(4));
    assert_eq!(table.next_wake(), Some(later));
    assert_eq!(table.poll(later).len(), 1);
    table.answer(&asks[0], Some(stamp(1, 1)), Structure::Complete, later);
    assert_eq!(table.take(), None, "the second question is still out");
    table.observe(path, None, later);
    table.answer(&asks[0], Some(stamp(1, 1)), Structure::Complete, later);
    assert_eq!((table.take(), table.next_wake(), table.is_empty()), (None, None, true));
}

#[test]
fn a_file_at_rest_but_unfinished_is_read_a_handful_of_times() {
    let mut table = Table::new(Settings::default());
    table.observe(Path::new("kelp.png"), Some(stamp(1, 1)), Tick::default());
    let mut asked = Vec::new();
    while let Some(now) = table.next_wake() {
        for ask in table.poll(now) {
            asked.push(now.0.as_secs());
            table.answer(&ask, Some(ask.stamp), Structure::Truncated, now);
        }
    }
    assert_eq!(asked, [2, 30, 60, 120, 240, 480, 600]);
}

#[test]
fn settings_at_zero_still_come_to_an_end() {
    let nothing = Settings { quiet: Duration::ZERO, quiet_incomplete: Duration::ZERO, grace: Duration::ZERO };
    let mut table = Table::new(nothing);
    for structure in [Structure::Complete, Structure::Truncated, Structure::Unknown] {
        table.observe(Path::new("kelp.png"), Some(stamp(1, 1)), Tick::default());
        for ask in table.poll(Tick::default()) {
            table.answer(&ask, Some(ask.stamp), structure, Tick::default());
        }
        assert_eq!(table.take().map(|settled| settled.structure), Some(structure));
        table.observe(Path::new("kelp.png"), None, Tick::default());
    }
}
