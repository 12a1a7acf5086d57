//! Words that are safe to print anywhere: names and sentences freed of controls, counts with their nouns.
//!
//! Knows nothing of HTML or mail; escaping for those is their libraries' work.

use crate::pipeline::check::words::count;

/// The most characters of a name that are shown.
const LONGEST: usize = 200;

/// The text with everything replaced that could break a line or turn its direction: controls, line and paragraph
/// separators, and the bidirectional controls of Unicode (UAX #9, 2).
#[must_use]
pub fn plain(text: &str) -> String {
    let harmful = |c: char| {
        c.is_control()
            || matches!(c, '\u{61C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}')
    };
    text.chars().map(|c| if harmful(c) { '\u{FFFD}' } else { c }).collect()
}

/// A name or path, safe and not longer than a few lines: the middle of a long one gives way.
#[must_use]
pub fn named(name: &str) -> String {
    let name = plain(name);
    let length = name.chars().count();
    if length <= LONGEST {
        return name;
    }
    let head: String = name.chars().take(LONGEST / 3).collect();
    let tail: String = name.chars().skip(length - LONGEST * 2 / 3).collect();
    format!("{head}…{tail}")
}

/// A finding's words as a sentence: safe, with a capital and a full stop.
#[must_use]
pub fn sentence(words: &str) -> String {
    let words = plain(words);
    let words = words.trim();
    let mut rest = words.chars();
    let Some(first) = rest.next() else { return String::new() };
    let stop = if words.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{}{}{stop}", first.to_uppercase(), rest.as_str())
}

/// `1 tile` or `1,234 tiles`.
#[must_use]
pub fn tiles(n: usize) -> String {
    count(n as u64, if n == 1 { "tile" } else { "tiles" })
}

/// `1,234`.
#[must_use]
pub fn number(n: usize) -> String {
    count(n as u64, "")
}

/// `1 needs you` or `12 need you`.
#[must_use]
pub fn need_you(n: usize) -> String {
    count(n as u64, if n == 1 { "needs you" } else { "need you" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lose_what_could_break_a_line_or_turn_it() {
        assert_eq!(
            plain("a\r\nBcc: x\u{202E}gnp.\u{2028}b\u{0}\t"),
            "a\u{FFFD}\u{FFFD}Bcc: x\u{FFFD}gnp.\u{FFFD}b\u{FFFD}\u{FFFD}"
        );
        assert_eq!(plain("Größe 海藻.png"), "Größe 海藻.png");
    }

    #[test]
    fn a_long_name_keeps_its_beginning_and_its_end() {
        let name = format!("{}{}", "ü".repeat(900), "-end.png");
        let shown = named(&name);
        assert_eq!(shown.chars().count(), LONGEST / 3 + 1 + LONGEST * 2 / 3);
        assert!(shown.starts_with("üüü") && shown.contains('…') && shown.ends_with("-end.png"));
    }

    #[test]
    fn sentences_begin_and_end_as_sentences() {
        assert_eq!(sentence("the edge shows "), "The edge shows.");
        assert_eq!(sentence("élan?"), "Élan?");
        assert_eq!(sentence("  "), "");
        assert_eq!((tiles(1), tiles(1234), need_you(1), need_you(2)).0, "1 tile");
        assert_eq!(tiles(1234), "1,234 tiles");
        assert_eq!((need_you(1).as_str(), need_you(2).as_str()), ("1 needs you", "2 need you"));
    }
}
