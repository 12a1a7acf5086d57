//! What is read which night: pure arithmetic over what is known and the time.

use burler::archive::plan::{Plan, plan};
use burler::archive::{Listing, Member, MemberState, News, Rereading};
use burler::disk::Stamp;
use burler::tile::Content;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

const DAY: Duration = Duration::from_hours(24);

fn noon() -> SystemTime {
    UNIX_EPOCH + Duration::from_secs(1_777_636_800)
}

fn member(number: u64, size: u64, verified: SystemTime) -> Member {
    Member {
        archive: "prints".into(),
        path: format!("{number:04}.png").into(),
        stamp: Stamp { size, mtime_ns: 5, ctime_ns: 5, inode: number },
        content: Content([number as u8; 32]),
        state: MemberState::Present,
        verified,
        found: verified,
        judged: None,
        news: News::New,
        changed: 1,
    }
}

fn listing(members: &[Member]) -> Listing {
    Listing { tiles: members.iter().map(|one| (one.path.clone(), one.stamp)).collect(), ..Listing::default() }
}

fn night(members: &[Member], now: SystemTime, days: u32) -> Plan {
    let rereading = Rereading { within: DAY * days, all: false };
    plan(members.to_vec(), &listing(members), now, rereading, |_| true)
}

/// Brings what was read up to date.
fn read(members: &mut [Member], plan: &Plan, now: SystemTime, of: usize) {
    for task in plan.tasks.iter().take(of) {
        let at = members.iter().position(|member| member.path == task.path).unwrap();
        members[at].verified = now;
    }
}

#[test]
fn every_file_is_read_within_the_days_and_each_night_takes_its_share() {
    for (days, files) in [(30_u32, 600_u64), (7, 50), (1, 20), (30, 10)] {
        let mut members: Vec<Member> = (0..files).map(|n| member(n, 1 + n * 37 % 1000, noon())).collect();
        let total: u64 = members.iter().map(Member::size).sum();
        let mut oldest = Duration::ZERO;
        for number in 1..=3 * days {
            let now = noon() + DAY * number;
            let plan = night(&members, now, days);
            let bytes: u64 = plan.tasks.iter().map(|task| task.stamp.size).sum();
            assert!(bytes <= total.div_ceil(u64::from(days)) + 1000, "night {number} of {days}: {bytes} of {total}");
            let count = plan.tasks.len();
            read(&mut members, &plan, now, count);
            let ages = members.iter().map(|member| now.duration_since(member.verified).unwrap());
            oldest = oldest.max(ages.max().unwrap());
        }
        // Right after a sweep nothing is older than all the nights but the one that comes.
        assert!(oldest < DAY * days, "{days} days, {files} files: {} h", oldest.as_secs() / 3600);
    }
}

#[test]
fn the_longest_unread_come_first_and_a_second_sweep_in_a_night_goes_on() {
    let mut members: Vec<Member> =
        (0..300_u32).map(|n| member(n.into(), 100, noon() - DAY * (n % 29) - Duration::from_hours(20))).collect();
    let plan = night(&members, noon(), 30);
    assert_eq!(plan.tasks.len(), 10);
    let at = |path: &PathBuf| members.iter().find(|member| member.path == *path).unwrap().verified;
    let newest_read = plan.tasks.iter().map(|task| at(&task.path)).max().unwrap();
    assert!(plan.still.iter().all(|member| member.verified >= newest_read));
    // Stopped after four: six are left, and then none.
    read(&mut members, &plan, noon(), 4);
    let plan = night(&members, noon() + Duration::from_hours(2), 30);
    assert_eq!(plan.tasks.len(), 6);
    read(&mut members, &plan, noon() + Duration::from_hours(2), 6);
    assert!(night(&members, noon() + Duration::from_hours(3), 30).tasks.is_empty());
}

#[test]
fn after_nights_without_a_sweep_everything_that_is_late_is_read() {
    let members: Vec<Member> = (0..100).map(|n| member(n, 100, noon())).collect();
    assert_eq!(night(&members, noon() + DAY * 29, 30).tasks.len(), 4, "a share");
    assert_eq!(night(&members, noon() + DAY * 30, 30).tasks.len(), 100);
    // A clock that was wrong when they were read.
    assert_eq!(night(&members, noon() - DAY * 400, 30).tasks.len(), 100);
}

#[test]
fn nothing_is_concluded_of_folders_that_cannot_be_looked_into() {
    let members: Vec<Member> = (0..4).map(|n| member(n, 100, noon())).collect();
    let seen = Listing { unread: vec!["0002.png".into()], ..listing(&members[..2]) };
    let rereading = Rereading { within: DAY * 30, all: false };
    let plan = plan(members.clone(), &seen, noon(), rereading, |_| true);
    assert_eq!(plan.missing.iter().map(|one| one.path.clone()).collect::<Vec<_>>(), [PathBuf::from("0003.png")]);
}

#[test]
fn a_moved_file_finds_the_row_of_its_name_first() {
    let mut members: Vec<Member> = (0..3).map(|n| member(7, 100, noon() - DAY * n)).collect();
    for (member, path) in members.iter_mut().zip(["a/kelp.png", "b/dulse.png", "c/kelp.png"]) {
        member.path = path.into();
    }
    let rereading = Rereading { within: DAY * 30, all: false };
    let mut plan = plan(members.clone(), &Listing::default(), noon(), rereading, |_| true);
    let mut take = |path: &str| plan.homeless.take(members[0].content, path.as_ref()).map(|member| member.path);
    assert_eq!(take("x/dulse.png"), Some("b/dulse.png".into()));
    assert_eq!(take("x/other.png"), Some("a/kelp.png".into()));
    assert_eq!(take("x/kelp.png"), Some("c/kelp.png".into()));
    assert_eq!(take("x/kelp.png"), None);
    let tasks: BTreeMap<_, _> = plan.tasks.iter().map(|task| (&task.path, task.read)).collect();
    assert!(tasks.is_empty());
}
