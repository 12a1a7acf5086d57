//! The subject and the sentences at the head of a letter: counts, and the time it covers.
//!
//! Takes numbers, yields words. Names no tile, so that a subject tells nothing to who reads over a shoulder.

use super::entry::Window;
use super::words::{need_you, number, plain, tiles};

/// What is counted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    /// Tiles that need the artist, those that wait for the next letters too.
    pub needs: usize,
    /// Ready and mended tiles.
    pub ready: usize,
    /// Tiles told before that still need the artist.
    pub still: usize,
    /// Whether a sweep found something.
    pub swept: bool,
}

/// What an inventory says of itself.
pub const STOCK: &str = "Many tiles were here before Burler had told of any, so this letter takes stock: the worst in full, \
                         the others by name or number.";

/// The subject.
pub fn subject(counts: Counts) -> String {
    match counts {
        Counts { needs: 0, ready: 0, still: 0, swept: true } => "A word about the archive".into(),
        Counts { needs: 0, ready: 0, still: 0, .. } => "A word about let-pass".into(),
        Counts { needs: 0, ready: 0, still, .. } => still_need(still),
        Counts { needs: 0, ready, still: 0, .. } => format!("{} ready", number(ready)),
        Counts { needs: 0, ready, still, .. } => format!("{} ready, {}", number(ready), still_need(still)),
        Counts { needs, ready: 0, .. } => need_you(needs),
        Counts { needs, ready, .. } => format!("{}, {} ready", need_you(needs), number(ready)),
    }
}

fn still_need(n: usize) -> String {
    format!("{} still {}", number(n), if n == 1 { "needs you" } else { "need you" })
}

/// The counts as a sentence.
pub fn headline(counts: Counts) -> String {
    let needs = |n: usize| format!("{} {}", tiles(n), if n == 1 { "needs you" } else { "need you" });
    let are = |n: usize| if n == 1 { "is" } else { "are" };
    match counts {
        Counts { needs: 0, ready: 0, still: 0, swept: true } => "A word about the archive".into(),
        Counts { needs: 0, ready: 0, still: 0, .. } => {
            "No tile is new, but a file in the folder let-pass is not understood".into()
        }
        Counts { needs: 0, ready: 0, still, .. } => {
            format!("{} still {}", tiles(still), if still == 1 { "needs you" } else { "need you" })
        }
        Counts { needs: 0, ready, .. } => format!("{} {} ready", tiles(ready), are(ready)),
        Counts { needs: some, ready: 0, .. } => needs(some),
        Counts { needs: some, ready, .. } => format!("{}, {} {} ready", needs(some), number(ready), are(ready)),
    }
}

/// The time a letter covers.
pub fn covered(window: &Window) -> String {
    match &window.since {
        Some(since) => format!("From {} to {}.", plain(since), plain(&window.until)),
        None => format!("The first letter, up to {}.", plain(&window.until)),
    }
}

/// What waits for the next letters; `None` when nothing does.
pub fn kept(n: usize, is: &str, are: &str) -> Option<String> {
    match n {
        0 => None,
        1 => Some(format!("1 more {is}; it comes with the next letter.")),
        n => Some(format!("{} more {are}; they come with the next letters.", number(n))),
    }
}
