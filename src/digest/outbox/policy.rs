//! When a letter is tried again, and when it is given up. Pure: takes `now`, never reads it.
//!
//! Nobody can know whether a letter was taken when the connection breaks after its final dot (RFC 1047). The sender keeps
//! the responsibility until it hears otherwise (RFC 5321, 4.2.5 and 6.1), and of the two evils a letter that comes twice
//! under one Message-ID, which mail programs recognize, is smaller than one that never comes. So it is tried again, but
//! after a long wait and not often, and it is said so.

use crate::digest::post::{Answer, Fault};
use crate::ledger::{Post, PostState, Reached};
use crate::tile::Content;
use std::time::{Duration, SystemTime};

/// The wait after the first try; it doubles from there.
const FIRST: Duration = Duration::from_mins(1);

/// The longest wait between two tries.
pub const LONGEST: Duration = Duration::from_hours(1);

/// The longest wait before a part of a quarter is added, so that the sum stays within [`LONGEST`].
const LONGEST_BARE: Duration = Duration::from_mins(48);

/// The wait after the first try that ended in doubt: more than the half hour of RFC 5321, 4.5.4.1, and long enough for a
/// server that was slow to have ended what it was about. It doubles from there, …
pub const IN_DOUBT: Duration = Duration::from_hours(1);

/// … up to this.
const LONGEST_IN_DOUBT: Duration = Duration::from_hours(12);

/// So many tries may end in doubt; each can mean one more copy. With their waits they outlast a server that cuts every
/// letter off for a whole day.
pub const MOST_DOUBTS: u32 = 6;

/// A letter is given up so long after it was written (RFC 5321, 4.5.4.1: at least 4 to 5 days) …
pub const GIVE_UP: Duration = Duration::from_hours(5 * 24);

/// … and not before so many tries: a machine that slept for a week has not tried yet.
pub const LEAST_TRIES: u32 = 12;

/// The wait after try number `tries`, counted from 1: from a minute, doubling, to an hour. A part of up to a quarter is
/// added, so that many letters do not come at once; it follows from the letter and the try, so that a test can tell it.
#[must_use]
pub fn wait(message_id: &str, tries: u32) -> Duration {
    let doubled = FIRST.saturating_mul(1 << tries.saturating_sub(1).min(16)).min(LONGEST_BARE);
    let dice = Content::of(format!("{message_id} {tries}").as_bytes()).0;
    doubled + doubled.mul_f64(f64::from(dice[0]) / 1024.0)
}

/// The wait after doubt number `doubts`, counted from 1.
fn in_doubt_for(doubts: u32) -> Duration {
    IN_DOUBT.saturating_mul(1 << doubts.saturating_sub(1).min(16)).min(LONGEST_IN_DOUBT)
}

/// Whether a letter is to be tried now. A next try that lies further off than any wait was reckoned while the machine's
/// clock was wrong.
#[must_use]
pub fn due(post: &Post, now: SystemTime) -> bool {
    post.next <= now || post.next.duration_since(now).is_ok_and(|ahead| ahead > LONGEST_IN_DOUBT)
}

/// Notes what came of a try; says whether it is worth telling. `answers` are those of [`Post::open`]'s addresses in
/// `asked`, in their order.
pub fn after(post: &mut Post, asked: &[String], answers: &[Answer], now: SystemTime) -> bool {
    post.tries += 1;
    post.handing = false;
    let mut news = false;
    let mut in_doubt = false;
    post.answer.clear();
    for (address, answer) in asked.iter().zip(answers) {
        let Some(one) = post.addressees.iter_mut().find(|one| one.address == *address) else { continue };
        let (reached, fault): (Reached, Option<&Fault>) = match answer {
            Answer::Accepted => (Reached::Accepted, None),
            // Whoever was in doubt stays so until an answer comes.
            Answer::Later(fault) if one.reached == Reached::Doubt => (Reached::Doubt, Some(fault)),
            Answer::Later(fault) => (Reached::Waiting, Some(fault)),
            Answer::Never(fault) => (Reached::Refused, Some(fault)),
            Answer::InDoubt(fault) => (Reached::Doubt, Some(fault)),
        };
        in_doubt |= matches!(answer, Answer::InDoubt(_));
        news |= matches!(answer, Answer::Never(_) | Answer::InDoubt(_));
        one.reached = reached;
        one.answer = fault.map(ToString::to_string).unwrap_or_default();
        if fault.is_some() {
            post.answer.clone_from(&one.answer);
        }
    }
    post.doubts += u32::from(in_doubt);
    close(post, now, in_doubt) || news
}

/// Notes that the program ended while the letter was being handed over: nobody knows how far that came.
pub fn interrupted(post: &mut Post, now: SystemTime) {
    let why = "Burler was ended while it handed the letter over, so it may have arrived or not";
    post.handing = false;
    post.doubts += 1;
    post.answer = why.into();
    for one in post.addressees.iter_mut().filter(|one| one.reached == Reached::Waiting) {
        one.reached = Reached::Doubt;
        one.answer = why.into();
    }
    close(post, now, true);
}

/// Sets the next try, or ends the letter; says whether that is worth telling.
fn close(post: &mut Post, now: SystemTime, in_doubt: bool) -> bool {
    let age = now.duration_since(post.queued).unwrap_or_default();
    let given_up = post.doubts >= MOST_DOUBTS || (age >= GIVE_UP && post.tries >= LEAST_TRIES);
    if post.open().next().is_some() && !given_up {
        post.next = now + if in_doubt { in_doubt_for(post.doubts) } else { wait(&post.message_id, post.tries) };
        return false;
    }
    // Those in doubt stay so: it may have arrived.
    for one in post.addressees.iter_mut().filter(|one| one.reached == Reached::Waiting) {
        one.reached = Reached::Refused;
    }
    let accepted = post.addressees.iter().any(|one| one.reached == Reached::Accepted);
    post.state = if accepted { PostState::Sent } else { PostState::Dead };
    given_up || !accepted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_go_from_a_minute_to_an_hour_with_a_part_that_differs_by_letter() {
        for id in ["<a@x>", "<b@x>", "<c@x>"] {
            for (tries, bare) in [(1, 60), (2, 120), (3, 240), (4, 480), (5, 960), (6, 1920), (7, 2880), (400, 2880)] {
                let wait = wait(id, tries);
                let bare = Duration::from_secs(bare);
                assert!(wait >= bare && wait < bare.mul_f64(1.25) && wait <= LONGEST, "{id} {tries}: {wait:?}");
            }
        }
        assert_ne!(wait("<a@x>", 5), wait("<b@x>", 5));
        assert_eq!(wait("<a@x>", 5), wait("<a@x>", 5));
    }
}
