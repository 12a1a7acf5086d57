//! Arrivals: real folders, real events, and a watcher that is not told the truth.

#[path = "arrival/watch.rs"]
mod watch;

use burler::arrival::{Entry, Inbox, LookAt, Lookout, Settings, Signal, Trouble, Watcher, scan};
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use watch::{EVENTS, Fake, NEVER, Watch, exports, put};

fn scanned(root: &Path) -> (BTreeSet<PathBuf>, Vec<String>) {
    let (mut tiles, mut troubles) = (BTreeSet::new(), Vec::new());
    scan(root, &mut |entry| match entry {
        Entry::Tile { path, .. } => {
            assert!(tiles.insert(path), "seen twice");
        }
        Entry::Trouble(trouble) => troubles.push(trouble.to_string()),
    });
    (tiles, troubles)
}

#[test]
fn a_scan_yields_raw_names_and_follows_no_link() {
    let (outside, root) = exports();
    let odd = OsStr::from_bytes(b"du\xfflse\nnet.png");
    for path in
        ["kelp.png", "cloth-16in/rope.TIF", "a/b/c/d.webp", ".hidden/x.png", "a/.x.png", "notes.txt", "x.png.part"]
    {
        put(&root.join(path));
    }
    put(&root.join(odd));
    fs::create_dir(root.join("folder.png")).expect("a folder can be made");
    put(&outside.path().join("elsewhere/far.png"));
    std::os::unix::fs::symlink(outside.path().join("elsewhere"), root.join("linked")).expect("links can be made");
    std::os::unix::fs::symlink(outside.path().join("elsewhere/far.png"), root.join("far.png"))
        .expect("links can be made");
    let (tiles, troubles) = scanned(&root);
    let expected = ["kelp.png", "cloth-16in/rope.TIF", "a/b/c/d.webp"].map(PathBuf::from);
    assert_eq!(tiles, expected.into_iter().chain([PathBuf::from(odd)]).collect());
    assert_eq!(troubles, Vec::<String>::new());

    let link = outside.path().join("way");
    std::os::unix::fs::symlink(&root, &link).expect("links can be made");
    assert_eq!(scanned(&link).0, tiles, "the root itself may be a link");
}

#[test]
fn what_cannot_be_read_is_told_and_the_rest_is_found() {
    let (_folder, root) = exports();
    put(&root.join("kelp.png"));
    let too_deep = make_too_deep(&root);
    put(&root.join("zostera/net.png"));
    let (tiles, troubles) = scanned(&root);
    assert_eq!(tiles, ["kelp.png", "zostera/net.png"].map(PathBuf::from).into());
    assert_eq!(troubles.len(), 1, "{troubles:?}");
    assert!(troubles[0].starts_with("cannot read ") && troubles[0].contains(&too_deep), "{troubles:?}");
    assert!(troubles[0].contains("allow this user to read and enter it"), "{troubles:?}");
}

/// Folders so deep that the path of the last is longer than the system takes, for every user. Yields a name on the way.
fn make_too_deep(root: &Path) -> String {
    use rustix::fs::{Mode, OFlags, mkdirat, openat};
    let name = "deep".repeat(60);
    let mut folder = rustix::fs::open(root, OFlags::DIRECTORY, Mode::empty()).expect("the root opens");
    for _ in 0..20 {
        mkdirat(&folder, name.as_str(), Mode::RWXU).expect("folders can be made one in the other");
        folder = openat(&folder, name.as_str(), OFlags::DIRECTORY, Mode::empty()).expect("it opens");
    }
    name
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn files_in_fresh_nested_folders_are_all_found() {
    let (_folder, root) = exports();
    put(&root.join("there/before.png"));
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("what lies there is found", |watch| watch.has("there/before.png")).await;
    let paths: Vec<PathBuf> = (0..300).map(|n| format!("{}/{n}/inner/tile.png", n % 7).into()).collect();
    let writer = std::thread::spawn({
        let (root, paths) = (root.clone(), paths.clone());
        move || paths.iter().for_each(|path| put(&root.join(path)))
    });
    watch.until("every nested file is found", |watch| paths.iter().all(|path| watch.has(path))).await;
    writer.join().expect("the writer ends well");
    // And each of those folders is watched by now.
    for path in &paths {
        watch.put(path.with_file_name("second.png"));
    }
    let second = |watch: &Watch| paths.iter().all(|path| watch.has(path.with_file_name("second.png")));
    watch.until("every second file is found", second).await;
    assert_eq!((watch.troubles, watch.gone), (Vec::new(), BTreeSet::new()));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn renames_deletions_and_moved_folders_are_seen() {
    let (outside, root) = exports();
    let mut watch = Watch::start(&root, EVENTS);
    watch.put(".upload.x7");
    watch.put("kelp.png");
    watch.until("a file is found", |watch| watch.has("kelp.png")).await;
    assert!(!watch.has(".upload.x7"));
    fs::rename(root.join(".upload.x7"), root.join("net.png")).expect("files can be renamed");
    watch.until("a file renamed into place is found", |watch| watch.has("net.png")).await;

    put(&outside.path().join("batch/deep/rope.png"));
    fs::rename(outside.path().join("batch"), root.join("batch")).expect("folders can be renamed");
    watch.until("a folder moved in is read", |watch| watch.has("batch/deep/rope.png")).await;
    fs::rename(root.join("batch"), root.join("later")).expect("folders can be renamed");
    watch.until("it is read under its new name", |watch| watch.has("later/deep/rope.png")).await;
    watch.until("and gone under the old", |watch| watch.gone.contains(Path::new("batch/deep/rope.png"))).await;
    watch.put("later/deep/second.png");
    watch.until("it is watched under its new name", |watch| watch.has("later/deep/second.png")).await;

    let first = watch.table.stamp(Path::new("kelp.png"));
    fs::write(root.join("kelp.png"), "another tile").expect("files can be written");
    watch.until("a change is seen", |watch| watch.table.stamp(Path::new("kelp.png")) != first).await;
    fs::remove_file(root.join("net.png")).expect("files can be removed");
    watch.until("a deletion is seen", |watch| watch.gone.contains(Path::new("net.png"))).await;
    fs::remove_dir_all(root.join("later")).expect("folders can be removed");
    watch.until("a deleted folder is seen", |watch| watch.gone.contains(Path::new("later/deep/rope.png"))).await;
    watch.put("later/deep/third.png");
    watch.until("a folder made again is watched again", |watch| watch.has("later/deep/third.png")).await;
    assert!(watch.has("kelp.png"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn reading_causes_no_looks() {
    let (_folder, root) = exports();
    put(&root.join("deep/kelp.png"));
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("it is found", |watch| watch.has("deep/kelp.png")).await;
    for _ in 0..50 {
        fs::read(root.join("deep/kelp.png")).expect("it can be read");
        fs::read_dir(root.join("deep")).expect("it can be listed").for_each(drop);
    }
    // Events come in order, so whatever reading caused would come before what this causes.
    watch.put("last.png");
    watch.until("the last file is found", |watch| watch.has("last.png")).await;
    assert!(watch.looks.iter().all(|at| at.folder != Path::new("deep")), "{:?}", watch.looks);
    assert!(watch.looks.len() <= 4, "{:?}", watch.looks);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_root_removed_and_made_again_is_watched_again_and_nothing_is_forgotten() {
    let (folder, root) = exports();
    put(&root.join("deep/kelp.png"));
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("it is found", |watch| watch.has("deep/kelp.png")).await;
    for round in 1..=5 {
        let away = folder.path().join(format!("away-{round}"));
        fs::rename(&root, &away).expect("the root can be moved away");
        watch.until("the loss is told", |watch| watch.lost == round).await;
        assert!(watch.has("deep/kelp.png"), "nothing is forgotten while the root is away");
        fs::rename(&away, &root).expect("the root can be moved back");
        watch.until("the return is told", |watch| watch.back == round).await;
        watch.put(format!("deep/{round}.png"));
        watch.until("it is watched again", |watch| watch.has(format!("deep/{round}.png"))).await;
        assert_eq!(watch.gone, BTreeSet::new());
    }
    // Too fast for anyone to see it missing.
    for round in 0..10 {
        fs::remove_dir_all(&root).expect("the root can be removed");
        watch.put(format!("new/{round}.png"));
        watch.until("the new root is read", |watch| watch.has(format!("new/{round}.png"))).await;
        watch.put(format!("new/{round}-again.png"));
        watch.until("and watched", |watch| watch.has(format!("new/{round}-again.png"))).await;
    }
    watch.until("what the old roots held is gone", |watch| watch.gone.contains(Path::new("deep/kelp.png"))).await;
    assert_eq!(watch.troubles, Vec::<String>::new());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_root_that_is_not_there_yet_is_told_and_waited_for() {
    let (_folder, root) = exports();
    fs::remove_dir(&root).expect("the root can be removed");
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("the loss is told", |watch| watch.lost == 1).await;
    watch.put("kelp.png");
    watch.until("it is found", |watch| watch.back == 1 && watch.has("kelp.png")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn polling_finds_everything_without_events() {
    let (_folder, root) = exports();
    let settings = Settings { polling: true, poll_every: Duration::from_millis(20), scan_every: NEVER };
    let never: fn(Inbox) -> Result<Box<dyn Watcher>, Trouble> = |_| unreachable!("polling wants no events");
    let mut watch = Watch::with(&root, |clock, sender| {
        Lookout::start_with(&root, settings, clock, sender, |happening| happening, Box::new(never))
    });
    watch.put("a/b/kelp.png");
    watch.until("it is found", |watch| watch.has("a/b/kelp.png")).await;
    fs::remove_dir_all(root.join("a")).expect("folders can be removed");
    watch.until("it is gone", |watch| watch.gone.contains(Path::new("a/b/kelp.png"))).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn after_an_overflow_everything_is_looked_at() {
    let (_folder, root) = exports();
    let fake = Fake::default();
    let mut watch = fake.lookout(&root, EVENTS);
    watch.until("the first look is taken", |watch| watch.looks == [LookAt::everything()]).await;
    for round in 0..5 {
        watch.put(format!("{round}/kelp.png"));
        fake.signal(Signal::Doubt);
        watch.until("it is found", |watch| watch.has(format!("{round}/kelp.png"))).await;
    }
    let armed = fake.armed.lock().expect("no test panics here").clone();
    assert!(armed.contains(&root) && armed.contains(&root.join("4")), "{armed:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn only_what_is_marked_is_read_and_only_what_is_there_is_watched() {
    let (_folder, root) = exports();
    for path in ["a/first.png", "b/first.png", ".cache/first.png"] {
        put(&root.join(path));
    }
    let fake = Fake::default();
    let armed = |fake: &Fake| -> BTreeSet<PathBuf> {
        let armed = fake.armed.lock().expect("no test panics here");
        armed.iter().map(|folder| folder.strip_prefix(&root).expect("below the root").to_owned()).collect()
    };
    let mut watch = fake.lookout(&root, EVENTS);
    watch.until("the first look is taken", |watch| watch.has("b/first.png")).await;
    assert_eq!(armed(&fake), ["", "a", "b"].map(PathBuf::from).into());
    watch.put("a/second.png");
    watch.put("kelp.png");
    fake.signal(Signal::Changed(root.join("kelp.png")));
    watch.until("what is marked is found", |watch| watch.has("kelp.png")).await;
    assert!(!watch.has("a/second.png"), "a watched folder without a mark is not read");
    fake.signal(Signal::Changed(root.join("a/second.png")));
    watch.until("what is marked is found", |watch| watch.has("a/second.png")).await;
    fs::remove_dir_all(root.join("b")).expect("folders can be removed");
    fake.signal(Signal::Moved(root.join("kelp.png")));
    watch.until("a folder that is gone is noticed", |watch| watch.gone.contains(Path::new("b/first.png"))).await;
    assert_eq!(armed(&fake), ["", "a"].map(PathBuf::from).into());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_root_that_goes_away_during_a_look_takes_nothing_along() {
    let (folder, root) = exports();
    for path in ["a/kelp.png", "b/kelp.png"] {
        put(&root.join(path));
    }
    let moves_root = Some((root.join("new"), folder.path().join("away")));
    let fake = Fake { root: root.clone(), moves_root, ..Fake::default() };
    let mut watch = fake.lookout(&root, EVENTS);
    watch.until("both are found", |watch| watch.has("a/kelp.png") && watch.has("b/kelp.png")).await;
    fs::create_dir(root.join("new")).expect("a folder can be made");
    fake.signal(Signal::Doubt);
    watch.until("the loss is told", |watch| watch.lost == 1).await;
    assert!(watch.looks.len() >= 2, "the look was taken: {:?}", watch.looks);
    assert!(watch.gone.is_empty() && watch.has("a/kelp.png") && watch.has("b/kelp.png"), "{:?}", watch.gone);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn another_root_gets_another_watcher() {
    let (_folder, root) = exports();
    let fake = Fake::default();
    let mut watch = fake.lookout(&root, EVENTS);
    watch.until("the first look is taken", |watch| !watch.looks.is_empty()).await;
    assert_eq!(*fake.made.lock().expect("no test panics here"), 1);
    // It was moved and moved back: old watches may or may not live on.
    fake.signal(Signal::Moved(root));
    watch.until("everything is looked at again", |watch| watch.looks.len() == 2).await;
    assert_eq!(*fake.made.lock().expect("no test panics here"), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_watcher_that_could_not_be_made_is_made_later() {
    let (_folder, root) = exports();
    let fake = Fake::default();
    let refusals = Arc::new(Mutex::new(2));
    let (maker, limit) = (fake.clone(), root.clone());
    let make = move |inbox: Inbox| -> Result<Box<dyn Watcher>, Trouble> {
        let mut refusals = refusals.lock().expect("no test panics here");
        if *refusals > 0 {
            *refusals -= 1;
            return Err(Trouble::InstanceLimit(limit.clone()));
        }
        *maker.inbox.lock().expect("no test panics here") = Some(inbox);
        Ok(Box::new(maker.clone()))
    };
    let settings = Settings { polling: false, poll_every: Duration::from_millis(20), scan_every: NEVER };
    let mut watch = Watch::with(&root, |clock, sender| {
        Lookout::start_with(&root, settings, clock, sender, |happening| happening, Box::new(make))
    });
    let armed = |_: &Watch| !fake.armed.lock().expect("no test panics here").is_empty();
    watch.until("the folder is watched after all", armed).await;
    assert_eq!(watch.troubles, [Trouble::InstanceLimit(root).to_string()]);
}

/// The system's events, held back until its queue overflows; only the overflow itself is passed on.
struct Held(notify::RecommendedWatcher);

impl Watcher for Held {
    fn arm(&mut self, folder: &Path) -> Result<bool, Trouble> {
        notify::Watcher::watch(&mut self.0, folder, notify::RecursiveMode::NonRecursive).expect("it can be watched");
        Ok(true)
    }

    fn disarm(&mut self, folder: &Path) {
        notify::Watcher::unwatch(&mut self.0, folder).expect("it was watched");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_real_overflow_of_the_systems_queue_loses_nothing() {
    let (_folder, root) = exports();
    let most = fs::read_to_string("/proc/sys/fs/inotify/max_queued_events").expect("the system tells its limit");
    let most: usize = most.trim().parse().expect("it is a number");
    let gate = Arc::new(Mutex::new(()));
    let held = Arc::clone(&gate);
    let make = move |inbox: Inbox| -> Result<Box<dyn Watcher>, Trouble> {
        let held = Arc::clone(&held);
        let handler = move |event: notify::Result<notify::Event>| {
            drop(held.lock().expect("no test panics here"));
            if event.expect("the queue can be read").need_rescan() {
                inbox(Signal::Doubt);
            }
        };
        Ok(Box::new(Held(notify::recommended_watcher(handler).expect("a watcher can be made"))))
    };
    let mut watch = Watch::with(&root, |clock, sender| {
        Lookout::start_with(&root, EVENTS, clock, sender, |happening| happening, Box::new(make))
    });
    watch.until("the first look is taken", |watch| !watch.looks.is_empty()).await;
    let closed = gate.lock().expect("no test panics here");
    put(&root.join(".a"));
    // Four events each time, none of them like the one before, which would be merged; some were taken out already.
    for _ in 0..most / 2 {
        fs::rename(root.join(".a"), root.join(".b")).expect("files can be renamed");
        fs::rename(root.join(".b"), root.join(".a")).expect("files can be renamed");
    }
    watch.put("deep/kelp.png");
    drop(closed);
    watch.until("it is found", |watch| watch.has("deep/kelp.png")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_any_event_the_regular_scan_is_the_floor() {
    let (_folder, root) = exports();
    let settings =
        Settings { polling: false, poll_every: Duration::from_millis(20), scan_every: Duration::from_millis(50) };
    let mut watch = Fake::default().lookout(&root, settings);
    watch.until("the first look is taken", |watch| !watch.looks.is_empty()).await;
    watch.put("a/kelp.png");
    watch.until("it is found", |watch| watch.has("a/kelp.png")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn where_the_system_watches_no_more_folders_they_are_polled_and_it_is_told_once() {
    let (_folder, root) = exports();
    for folder in ["a", "b", "c"] {
        put(&root.join(folder).join("first.png"));
    }
    let fake = Fake { most: Some(2), root: root.clone(), ..Fake::default() };
    let settings = Settings { polling: false, poll_every: Duration::from_millis(20), scan_every: NEVER };
    let mut watch = fake.lookout(&root, settings);
    watch
        .until("all are found", |watch| ["a", "b", "c"].iter().all(|folder| watch.has(format!("{folder}/first.png"))))
        .await;
    for folder in ["a", "b", "c"] {
        watch.put(format!("{folder}/second.png"));
    }
    let second = |watch: &Watch| ["a", "b", "c"].iter().all(|folder| watch.has(format!("{folder}/second.png")));
    watch.until("all are polled", second).await;
    let looks = watch.looks.len();
    watch.until("some more looks are taken", |watch| watch.looks.len() > looks + 3).await;
    assert_eq!(watch.troubles, [Trouble::WatchLimit(root).to_string()]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unreadable_folder_is_kept_in_mind() {
    let (_folder, root) = exports();
    let name = make_too_deep(&root);
    put(&root.join("kelp.png"));
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("it is found and the trouble told", |watch| watch.has("kelp.png") && !watch.troubles.is_empty()).await;
    assert!(watch.troubles.iter().all(|trouble| trouble.contains(&name)), "{:?}", watch.troubles);
    let look = watch.eye.look(&LookAt::everything());
    assert!(!look.kept.is_empty() && look.kept.iter().all(|kept| kept.starts_with(&name)), "{:?}", look.kept);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_slow_receiver_loses_nothing() {
    let (_folder, root) = exports();
    let mut watch = Watch::start(&root, EVENTS);
    watch.until("the first look is taken", |watch| !watch.looks.is_empty()).await;
    // Nobody receives while many more folders change than marks are told apart.
    let paths: Vec<PathBuf> = (0..600).map(|n| format!("{n}/tile.png").into()).collect();
    paths.iter().for_each(|path| watch.put(path));
    watch.until("every file is found", |watch| paths.iter().all(|path| watch.has(path))).await;
    paths.iter().for_each(|path| watch.put(path.with_file_name("second.png")));
    let second = |watch: &Watch| paths.iter().all(|path| watch.has(path.with_file_name("second.png")));
    watch.until("every second file is found", second).await;
}
