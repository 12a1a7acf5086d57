//! The outbox: letters are stored before they are tried, tried until they have arrived, in order, and none twice; whatever
//! is killed or fails on the way.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "outbox/house.rs"]
mod house;
#[path = "outbox/outage.rs"]
mod outage;
#[path = "outbox/kills.rs"]
mod kills;
#[path = "desk/server.rs"]
mod server;

use burler::digest::outbox::{GIVE_UP, IN_DOUBT, LONGEST, MOST_DOUBTS, Urgency, at_a_glance, pass, remarks};
use burler::digest::post::{Answer, Carrier, Fault, FaultKind, Parcel};
use burler::disk::Disk;
use burler::ledger::{PostState, Reached};
use house::{Desk, fault, start};
use std::time::{Duration, SystemTime};

/// A carrier that answers as it is told, one answer for each address and try; accepted beyond that.
#[derive(Default)]
struct Told {
    answers: Vec<Vec<Answer>>,
    tries: Vec<(String, Vec<String>)>,
}

impl Carrier for Told {
    fn carry(&mut self, parcel: &Parcel<'_>, handing: &mut dyn FnMut() -> Result<(), String>) -> Vec<Answer> {
        handing().unwrap();
        self.tries.push((parcel.message_id.into(), parcel.to.to_vec()));
        if self.answers.is_empty() { vec![Answer::Accepted; parcel.to.len()] } else { self.answers.remove(0) }
    }

    fn repeats_safely(&self) -> bool {
        false
    }
}

fn later() -> Answer {
    Answer::Later(fault(FaultKind::Later))
}

fn doubt() -> Answer {
    Answer::InDoubt(fault(FaultKind::Doubt))
}

fn never() -> Answer {
    Answer::Never(fault(FaultKind::Recipient))
}

fn clock(time: SystemTime) -> String {
    format!("{} s", time.duration_since(start()).unwrap_or_default().as_secs())
}

#[test]
fn a_letter_goes_from_new_to_sent_and_is_sent_once() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    assert_eq!(desk.files(), ["new/letter-1.eml"]);
    let mut carrier = Told::default();
    let passed = desk.pass(&mut carrier, start());
    assert_eq!((passed.tried.len(), passed.next), (1, None));
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
    assert_eq!(desk.ledger.last_letter().unwrap().unwrap().file, desk.spool().join("sent/letter-1.eml"));
    desk.pass(&mut carrier, start() + GIVE_UP);
    assert_eq!(carrier.tries.len(), 1);
    // Old mails go, pages stay.
    desk.pass(&mut carrier, start() + Duration::from_hours(24 * 31));
    assert!(desk.files().is_empty());
    assert!(desk.page(1).is_file());
}

#[test]
fn without_a_way_to_send_letters_are_kept_and_with_one_taken_away_they_wait() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&[], start());
    assert_eq!(desk.files(), ["letter-1.eml"]);
    desk.write(&["a@x.example"], start());
    let passed = desk.pass_without(start());
    assert_eq!((passed.tried.len(), passed.next), (0, None));
    assert_eq!(desk.files(), ["letter-1.eml", "new/letter-2.eml"]);
}

#[test]
fn tries_wait_longer_and_longer_and_a_letter_is_given_up_after_five_days() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    let mut carrier = Told { answers: vec![vec![later()]; 1000], ..Told::default() };
    let (mut now, mut waits) = (start(), Vec::new());
    while let Some(next) = desk.pass(&mut carrier, now).next {
        waits.push(next.duration_since(now).unwrap());
        now = next;
    }
    assert!(waits[0] >= Duration::from_mins(1) && waits[0] < Duration::from_secs(75), "{:?}", waits[0]);
    assert!(waits.windows(2).take(6).all(|pair| pair[0] < pair[1]), "{waits:?}");
    assert!(waits.iter().skip(6).all(|wait| *wait >= Duration::from_mins(48) && *wait <= LONGEST));
    // RFC 5321, 4.5.4.1: given up after 4 to 5 days at the earliest.
    let age = now.duration_since(start()).unwrap();
    assert!(age >= GIVE_UP && age < GIVE_UP + LONGEST, "{age:?}");
    assert!((120..160).contains(&carrier.tries.len()), "{} tries", carrier.tries.len());
    assert_eq!(desk.files(), ["dead/letter-1.eml"]);
    let told = desk.ledger.posts_told_since(0).unwrap();
    assert_eq!((told.len(), told[0].state), (1, PostState::Dead));
    let remark = remarks(&told, clock).remove(0);
    assert_eq!(remark.name, "the letter of 0 s");
    assert_eq!(
        remark.says,
        "it did not reach a@x.example: a server asks to be tried later; its page is letters/letter-1.html"
    );
}

#[test]
fn a_machine_that_slept_for_a_week_tries_again_before_it_gives_up() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    let mut carrier = Told { answers: vec![vec![later()]; 4], ..Told::default() };
    desk.pass(&mut carrier, start());
    let mut now = start() + GIVE_UP + GIVE_UP;
    while let Some(next) = desk.pass(&mut carrier, now).next {
        now = next;
    }
    assert_eq!((carrier.tries.len(), desk.files()), (5, vec!["sent/letter-1.eml".to_string()]));
}

#[test]
fn a_clock_that_was_wrong_does_not_hold_a_letter_back() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    let mut carrier = Told { answers: vec![vec![later()]], ..Told::default() };
    desk.pass(&mut carrier, start() + Duration::from_hours(24 * 4000));
    desk.pass(&mut carrier, start() + Duration::from_mins(2));
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
}

#[test]
fn an_address_that_is_refused_stops_and_the_others_go_on() {
    let mut desk = Desk::new(Disk::new());
    let all = ["a@x.example", "b@x.example", "c@x.example"];
    desk.write(&all, start());
    let mut carrier = Told { answers: vec![vec![Answer::Accepted, never(), later()]], ..Told::default() };
    let next = desk.pass(&mut carrier, start()).next.unwrap();
    desk.pass(&mut carrier, next);
    let asked: Vec<&[String]> = carrier.tries.iter().map(|(_, to)| &to[..]).collect();
    assert_eq!(asked, [&all.map(String::from)[..], &["c@x.example".to_string()][..]]);
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
    let told = remarks(&desk.ledger.posts_told_since(0).unwrap(), clock);
    assert_eq!(told.len(), 1);
    assert!(told[0].says.starts_with("it did not reach b@x.example: the server takes no letters for "), "{told:?}");
}

#[test]
fn an_address_that_cannot_be_reached_holds_back_its_own_letters_only() {
    let mut desk = Desk::new(Disk::new());
    let both = ["full@x.example", "well@x.example"];
    let ids = [desk.write(&both, start()), desk.write(&both, start() + Duration::from_secs(1))];
    let mut carrier = Told { answers: vec![vec![later(), Answer::Accepted]], ..Told::default() };
    let next = desk.pass(&mut carrier, start() + Duration::from_secs(1)).next.unwrap();
    desk.pass(&mut carrier, next);
    let well = "well@x.example".to_string();
    let full = "full@x.example".to_string();
    assert_eq!(
        carrier.tries,
        [
            (ids[0].clone(), vec![full.clone(), well.clone()]),
            (ids[1].clone(), vec![well]),
            (ids[0].clone(), vec![full.clone()]),
            (ids[1].clone(), vec![full]),
        ]
    );
    assert_eq!(desk.files(), ["sent/letter-1.eml", "sent/letter-2.eml"]);
}

#[test]
fn a_letter_in_doubt_is_said_so_and_tried_again_late_and_not_often() {
    let mut desk = Desk::new(Disk::new());
    let id = desk.write(&["a@x.example"], start());
    let mut carrier = Told { answers: vec![vec![doubt()]; 10], ..Told::default() };
    let next = desk.pass(&mut carrier, start()).next.unwrap();
    assert_eq!(next, start() + IN_DOUBT);
    let waiting = desk.ledger.posts_waiting().unwrap();
    assert_eq!(waiting[0].addressees[0].reached, Reached::Doubt);
    assert_eq!(
        at_a_glance(&waiting, clock).unwrap(),
        "1 letter waits to be sent, next try 3600 s: in doubt: a server got the whole letter and then did not say whether \
         it keeps it, so it may have arrived or not"
    );
    // A person in a hurry cannot make it come twice.
    let hurried = |desk: &mut Desk, carrier: &mut Told| {
        let spool = desk.spool();
        pass(&desk.disk, &mut desk.ledger, &spool, Some(carrier), Urgency::Now, &|| start() + Duration::from_mins(1))
            .unwrap()
    };
    assert!(hurried(&mut desk, &mut carrier).tried.is_empty());
    let mut now = next;
    while let Some(next) = desk.pass(&mut carrier, now).next {
        now = next;
    }
    assert_eq!(now.duration_since(start()).unwrap(), Duration::from_hours(1 + 2 + 4 + 8 + 12));
    assert_eq!(carrier.tries.len() as u32, MOST_DOUBTS);
    assert!(carrier.tries.iter().all(|(tried, _)| *tried == id), "always under the same Message-ID");
    assert_eq!(desk.files(), ["dead/letter-1.eml"]);
    let told = remarks(&desk.ledger.posts_told_since(0).unwrap(), clock).remove(0).says;
    assert!(
        told.starts_with("whether it has reached a@x.example is in doubt: ") && told.contains("it is not sent again")
    );
}

#[test]
fn a_kill_while_a_letter_is_handed_over_is_a_doubt() {
    let mut desk = Desk::new(Disk::new());
    let id = desk.write(&["a@x.example"], start());
    desk.ledger.note_handing(&id).unwrap();
    let mut carrier = Told::default();
    let passed = desk.pass(&mut carrier, start());
    assert_eq!((carrier.tries.len(), passed.next), (0, Some(start() + IN_DOUBT)));
    assert_eq!(desk.ledger.posts_waiting().unwrap()[0].doubts, 1);
    assert_eq!(desk.ledger.posts_told_since(0).unwrap().len(), 1, "the next letter tells it");
    desk.pass(&mut carrier, start() + IN_DOUBT);
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
}

#[test]
fn a_person_who_asks_need_not_wait_for_the_next_try() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    let mut carrier = Told { answers: vec![vec![later()]], ..Told::default() };
    desk.pass(&mut carrier, start());
    assert!(desk.pass(&mut carrier, start() + Duration::from_secs(1)).tried.is_empty());
    let spool = desk.spool();
    pass(&desk.disk, &mut desk.ledger, &spool, Some(&mut carrier), Urgency::Now, &|| start()).unwrap();
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
}

#[test]
fn a_stored_letter_that_somebody_took_away_is_told() {
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    std::fs::remove_file(desk.spool().join("new/letter-1.eml")).unwrap();
    let mut carrier = Told::default();
    desk.pass(&mut carrier, start());
    assert!(carrier.tries.is_empty());
    let told = remarks(&desk.ledger.posts_told_since(0).unwrap(), clock).remove(0).says;
    assert!(
        told.contains("new/letter-1.eml is not there any more; its page in checked/letters says the same"),
        "{told}"
    );
}

#[test]
fn others_cannot_look_into_the_outbox() {
    use std::os::unix::fs::PermissionsExt;
    let mut desk = Desk::new(Disk::new());
    desk.write(&["a@x.example"], start());
    for folder in ["", "tmp", "new", "sent", "dead"] {
        let mode = std::fs::metadata(desk.spool().join(folder)).unwrap().permissions().mode();
        assert_eq!(mode & 0o077, 0, "{folder}: {mode:o}");
    }
}

#[test]
fn a_page_whose_folder_is_away_comes_once_it_is_back() {
    let mut desk = Desk::new(Disk::new());
    let (checked, away) = (desk.at("checked"), desk.at("away"));
    std::fs::rename(&checked, &away).unwrap();
    desk.write(&["a@x.example"], start());
    let mut carrier = Told::default();
    let passed = desk.pass(&mut carrier, start());
    assert_eq!(desk.files(), ["sent/letter-1.eml", "tmp/letter-1.html"], "the mail does not wait for the page");
    assert!(!passed.failed.is_empty() && !desk.page(1).exists());
    std::fs::rename(&away, &checked).unwrap();
    desk.pass(&mut carrier, start());
    assert!(desk.page(1).is_file());
    assert_eq!(desk.files(), ["sent/letter-1.eml"]);
}

#[test]
fn a_fault_is_worded_with_its_server() {
    assert_eq!(fault(FaultKind::Later), Fault::new(FaultKind::Later, "a server", ""));
}
