//! How it is with the letters, in words: for `status`, for the service's state, and for the next letter.
//!
//! Takes what the ledger knows, yields sentences. Pure.

use crate::digest::entry::Remark;
use crate::digest::words;
use crate::ledger::{Post, PostState, Reached};

/// Letters on their way in one line; `None` when there are none. `time` spells a time in the reader's zone.
#[must_use]
pub fn at_a_glance(waiting: &[Post], time: impl Fn(std::time::SystemTime) -> String) -> Option<String> {
    let first = waiting.first()?;
    let count = waiting.len();
    let mut out =
        format!("{} {} to be sent", words::number(count), if count == 1 { "letter waits" } else { "letters wait" });
    if first.next > first.queued {
        let next = waiting.iter().map(|post| post.next).min().unwrap_or(first.next);
        out.push_str(&format!(", next try {}", time(next)));
    }
    if !first.answer.is_empty() {
        let doubt = if first.open().any(|one| one.reached == Reached::Doubt) { "in doubt: " } else { "" };
        out.push_str(&format!(": {doubt}{}", first.answer));
    }
    Some(out)
}

/// What the next letter tells of earlier ones: who was not reached, and what is in doubt.
#[must_use]
pub fn remarks(posts: &[Post], time: impl Fn(std::time::SystemTime) -> String) -> Vec<Remark> {
    posts.iter().flat_map(|post| remark(post, &time(post.queued))).collect()
}

fn remark(post: &Post, when: &str) -> Vec<Remark> {
    let where_it_is = format!("its page is letters/{}.html", post.name);
    let of = |reached: Reached| post.addressees.iter().filter(move |one| one.reached == reached);
    let mut says: Vec<String> = of(Reached::Refused)
        .map(|one| format!("it did not reach {}: {}; {where_it_is}", words::named(&one.address), one.answer))
        .collect();
    let doubt: Vec<String> = of(Reached::Doubt).map(|one| words::named(&one.address)).collect();
    if !doubt.is_empty() {
        let end = if post.state == PostState::Waiting {
            "it is sent once more under the same number, so you may get it twice"
        } else {
            "it is not sent again"
        };
        let who = doubt.join(", ");
        says.push(format!("whether it has reached {who} is in doubt: {}; {end}; {where_it_is}", post.answer));
    }
    let name = format!("the letter of {when}");
    says.into_iter().map(|says| Remark { name: name.clone(), says }).collect()
}
