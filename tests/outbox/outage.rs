//! The server is away for 72 hours with flapping, then refuses, stalls, drops, and answers 421, 451 and 552: once in simulated time,
//! and a part of it against a real server.

use super::house::{Desk, fault, start};
use super::server::{Server, Talk};
use burler::digest::post::{Answer, Carrier, FaultKind, Parcel, Security, Smtp, SmtpSettings, Waits};
use burler::disk::Disk;
use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use std::time::{Duration, SystemTime};

/// What a simulated server does with a letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Weather {
    Away(FaultKind),
    Busy(FaultKind),
    /// Takes it and cuts the connection before it says so.
    KeptUnsaid,
    /// Cuts the connection after the final dot and has nothing.
    LostUnsaid,
    Well,
}

/// A server in simulated time.
struct Sea {
    now: Rc<Cell<SystemTime>>,
    weather: Box<dyn Fn(Duration, usize) -> Weather>,
    tries: Vec<(Duration, String, Vec<u8>)>,
    /// Message-IDs in the order they were accepted, each as often as it was.
    accepted: Vec<String>,
}

impl Carrier for Sea {
    fn carry(&mut self, parcel: &Parcel<'_>, handing: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        let age = self.now.get().duration_since(start()).unwrap();
        let weather = (self.weather)(age, self.tries.len());
        self.tries.push((age, parcel.message_id.into(), parcel.bytes.to_vec()));
        // A try takes time: a refusal none, a silence minutes.
        let spent = if weather == Weather::Away(FaultKind::Silent) { 300 } else { 2 };
        self.now.set(self.now.get() + Duration::from_secs(spent));
        let answer = match weather {
            Weather::Away(kind) => return vec![Answer::Later(fault(kind)); parcel.to.len()],
            Weather::Busy(kind) => Answer::Later(fault(kind)),
            Weather::KeptUnsaid | Weather::LostUnsaid => Answer::InDoubt(fault(FaultKind::Doubt)),
            Weather::Well => Answer::Accepted,
        };
        handing().unwrap();
        if matches!(weather, Weather::KeptUnsaid | Weather::Well) {
            self.accepted.push(parcel.message_id.into());
        }
        vec![answer; parcel.to.len()]
    }

    fn repeats_safely(&self) -> bool {
        false
    }
}

/// 72 hours of outage in every manner, with short spells in which the server takes the connection only to fail, then a day of
/// trouble of all kinds, then fair weather. `seed` varies what comes when.
fn weather(seed: usize) -> impl Fn(Duration, usize) -> Weather {
    const AWAY: [FaultKind; 5] =
        [FaultKind::Refused, FaultKind::Silent, FaultKind::HostNotFound, FaultKind::Cut, FaultKind::Unreachable];
    const TROUBLE: [Weather; 7] = [
        Weather::Busy(FaultKind::Later),
        Weather::LostUnsaid,
        Weather::Away(FaultKind::Silent),
        Weather::KeptUnsaid,
        Weather::Busy(FaultKind::Full),
        Weather::Away(FaultKind::Refused),
        Weather::Well,
    ];
    move |age, tries| {
        let hours = age.as_secs() / 3600;
        let dice = (tries * 7 + seed * 13 + (hours as usize) * 3) % 97;
        match hours {
            // A spell of half an hour in each twelve hours, in which it answers and hangs up.
            0..72 if age.as_secs() % 43_200 < 1800 => Weather::Busy(FaultKind::Later),
            0..72 => Weather::Away(AWAY[dice % 5]),
            72..96 => TROUBLE[dice % 7],
            _ => Weather::Well,
        }
    }
}

#[test]
fn after_72_hours_of_outage_every_letter_is_accepted_once_in_order_under_its_own_number() {
    for seed in 0..40 {
        let mut desk = Desk::new(Disk::new());
        let now = Rc::new(Cell::new(start()));
        let mut sea =
            Sea { now: Rc::clone(&now), weather: Box::new(weather(seed)), tries: Vec::new(), accepted: Vec::new() };
        let mut written = Vec::new();
        // A letter every five hours while the outage lasts, and a few after.
        for number in 0..20 {
            let due = start() + Duration::from_hours(5 * number);
            while let Some(next) = desk.pass(&mut sea, now.get()).next.filter(|next| *next < due) {
                now.set(now.get().max(next));
            }
            now.set(now.get().max(due));
            written.push(desk.write(&["studio@oddfathom.example", "second@oddfathom.example"], now.get()));
        }
        while let Some(next) = desk.pass(&mut sea, now.get()).next {
            now.set(now.get().max(next));
        }
        // Each was accepted, in the order written. Twice only where the reply to the first was lost, which nobody can know:
        // a reader that knows Message-IDs has each once.
        let mut known = BTreeSet::new();
        let once: Vec<&String> = sea.accepted.iter().filter(|id| known.insert((*id).clone())).collect();
        assert_eq!(once, written.iter().collect::<Vec<_>>(), "seed {seed}");
        let unsaid = |tries: usize, age| (sea.weather)(age, tries) == Weather::KeptUnsaid;
        let doubts = sea.tries.iter().enumerate().filter(|(at, (age, ..))| unsaid(*at, *age)).count();
        assert!(sea.accepted.len() <= written.len() + doubts, "seed {seed}: {} accepted", sea.accepted.len());
        assert!(sea.accepted.windows(2).all(|pair| position(&written, &pair[0]) <= position(&written, &pair[1])));
        // The same Message-ID and the same bytes on every try.
        let mut bytes: BTreeMap<&str, &[u8]> = BTreeMap::new();
        for (_, id, sent) in &sea.tries {
            assert!(written.contains(id));
            assert_eq!(bytes.entry(id).or_insert(sent), sent, "seed {seed}: {id} was changed");
        }
        // No hammering: within the outage at most two tries in any minute, and about one an hour once it lasts.
        let outage: Vec<u64> = sea.tries.iter().map(|(age, ..)| age.as_secs()).filter(|age| *age < 72 * 3600).collect();
        assert!(outage.windows(3).all(|three| three[2] - three[0] >= 60), "seed {seed}");
        assert!((70..120).contains(&outage.len()), "seed {seed}: {} tries in 72 hours", outage.len());
        assert_eq!(desk.files().len(), 20);
        assert!(desk.files().iter().all(|file| file.starts_with("sent/")), "seed {seed}: {:?}", desk.files());
    }
}

#[test]
fn a_server_that_cuts_every_letter_off_for_a_day_gets_it_once_the_day_is_over() {
    let mut desk = Desk::new(Disk::new());
    let now = Rc::new(Cell::new(start()));
    let day = |age: Duration, _| if age < Duration::from_hours(24) { Weather::LostUnsaid } else { Weather::Well };
    let mut sea = Sea { now: Rc::clone(&now), weather: Box::new(day), tries: Vec::new(), accepted: Vec::new() };
    let id = desk.write(&["studio@oddfathom.example"], now.get());
    while let Some(next) = desk.pass(&mut sea, now.get()).next {
        now.set(now.get().max(next));
    }
    assert_eq!((sea.accepted, sea.tries.len()), (vec![id], 6));
}

fn position(all: &[String], one: &str) -> Option<usize> {
    all.iter().position(|id| id == one)
}

#[test]
fn a_real_server_that_refuses_drops_and_answers_421_451_and_552_gets_each_letter_once() {
    let script = [
        "greet 421 4.3.2 closing",
        "drop greet",
        "drop mail",
        "mail 451 4.3.0 later",
        "rcpt 450 4.2.1 busy",
        "drop data",
        "data 421 4.3.2 closing",
        "end 452 4.3.1 no room",
        "end 552 5.2.2 full",
        "ok",
        "drop end-lost",
        "ok",
        "drop end-kept",
        "end 451 4.3.0 later",
        "ok",
        "ok",
    ];
    let server = Server::start(&Talk { script: &script, ..Talk::default() });
    let settings = SmtpSettings {
        host: "localhost".into(),
        port: server.port,
        security: Security::None,
        login: None,
        ca: None,
        from: "burler@oddfathom.example".into(),
    };
    let wait = Duration::from_secs(20);
    let mut carrier = Smtp::new(settings, Waits { reply: wait, data: wait, end: wait });
    let mut desk = Desk::new(Disk::new());
    let mut now = start();
    for _ in 0..4 {
        desk.write(&["studio@oddfathom.example"], now);
    }
    let mut rounds = 0;
    while let Some(next) = desk.pass(&mut carrier, now).next {
        now = next;
        rounds += 1;
    }
    assert!((10..20).contains(&rounds), "{rounds} rounds");
    let got: Vec<String> = server.accepted().into_iter().map(|mail| String::from_utf8(mail).unwrap()).collect();
    let letter = |number: u32| {
        format!(
            "Message-ID: <letter-{number}@burler.oddfathom.example>\r\nSubject: {number} ready\r\n\r\nLetter {number}.\r\n"
        )
    };
    // The third was kept without a word, so it came once more, under its own number.
    assert_eq!(got, [letter(1), letter(2), letter(3), letter(3), letter(4)]);
    assert_eq!(desk.files(), ["sent/letter-1.eml", "sent/letter-2.eml", "sent/letter-3.eml", "sent/letter-4.eml"]);
}
