//! How the tiles of an archive are named: a pattern of words, and whether a name follows it. Pure.
//!
//! Takes the pattern as written, `{collection}_{design}_{colorway}` or with folders, `{collection}/{design}_{colorway}`; yields
//! the words of a name, or what is wrong with it and a name that would fit. The ending is no part of a name.

use icu_normalizer::DecomposingNormalizerBorrowed;
use std::collections::BTreeMap;
use std::path::{Component, Path};

/// The letters that may stand in a word when nothing else is said: those that every system, shop and mill takes
/// (common practice).
pub const LETTERS: &str = "a-z 0-9 -";
/// The most letters of a name when nothing else is said.
pub const LONGEST: usize = 60;

/// A pattern.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    text: String,
    parts: Vec<Part>,
    letters: Vec<(char, char)>,
    longest: usize,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Part {
    Fixed(String),
    Word(String),
}

/// What is wrong with a pattern, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

/// The words of a name.
pub type Words = BTreeMap<String, String>;

/// A name that does not follow the pattern.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misfit {
    /// What is wrong, in words.
    pub wrong: Vec<String>,
    /// A name that would fit, without the ending.
    pub proposed: Option<String>,
}

/// Reads allowed letters: ranges such as `a-z`, and single ones; blanks between them mean nothing.
///
/// # Errors
/// When there are none, or a range runs backwards.
pub fn letters(text: &str) -> Result<Vec<(char, char)>, Wrong> {
    let mut out = Vec::new();
    for token in text.split_whitespace() {
        let mut rest: Vec<char> = token.chars().collect();
        while let Some(first) = rest.first().copied() {
            let is_range = rest.len() >= 3 && rest[1] == '-';
            let last = if is_range { rest[2] } else { first };
            if last < first {
                let what = format!("the letters {first}-{last} run backwards");
                return Err(Wrong { what, remedy: format!("write {last}-{first}") });
            }
            out.push((first, last));
            rest.drain(..if is_range { 3 } else { 1 });
        }
    }
    if out.is_empty() {
        return Err(Wrong { what: "no letters are allowed".into(), remedy: format!("write for example {LETTERS:?}") });
    }
    Ok(out)
}

impl Pattern {
    /// Reads a pattern. `allowed` are the letters of a word, `longest` the most letters of a name with its folders.
    ///
    /// # Errors
    /// When it has no word, or it would not be clear where a word ends.
    pub fn parse(text: &str, allowed: &str, longest: usize) -> Result<Self, Wrong> {
        let wrong = |what: String, remedy: &str| Err(Wrong { what, remedy: remedy.into() });
        let mut parts: Vec<Part> = Vec::new();
        let mut rest = text;
        while !rest.is_empty() {
            if let Some(inner) = rest.strip_prefix('{') {
                let Some((word, behind)) = inner.split_once('}') else {
                    return wrong(format!("a {{ is not closed in {text:?}"), "write words as {design}");
                };
                if word.is_empty() || !word.chars().all(|c| c.is_alphanumeric() || c == '-') {
                    return wrong(format!("{{{word}}} is no word"), "write letters between { and }, as in {design}");
                }
                if parts.iter().any(|part| matches!(part, Part::Word(one) if one == word)) {
                    return wrong(format!("{{{word}}} stands there twice"), "give each word another name");
                }
                if matches!(parts.last(), Some(Part::Word(_))) {
                    let what = format!("nothing stands before {{{word}}}, so it is not clear where it begins");
                    return wrong(what, "put a sign such as _ between two words");
                }
                parts.push(Part::Word(word.into()));
                rest = behind;
            } else {
                let (fixed, behind) = rest.split_at(rest.find('{').unwrap_or(rest.len()));
                if fixed.contains('}') {
                    return wrong(format!("a }} is not opened in {text:?}"), "write words as {design}");
                }
                parts.push(Part::Fixed(fixed.into()));
                rest = behind;
            }
        }
        if !parts.iter().any(|part| matches!(part, Part::Word(_))) {
            return wrong(format!("{text:?} has no word"), "write for example \"{collection}_{design}_{colorway}\"");
        }
        let pattern = Self { text: text.into(), parts, letters: letters(allowed)?, longest };
        for pair in pattern.parts.windows(2) {
            if let [Part::Word(word), Part::Fixed(fixed)] = pair
                && let Some(sign) = fixed.chars().next().filter(|sign| pattern.allows(*sign))
            {
                let what =
                    format!("{sign:?} behind {{{word}}} is also an allowed letter, so it is not clear where that ends");
                return wrong(what, "separate words by _, or leave that sign out of letters");
            }
        }
        Ok(pattern)
    }

    /// As written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The part of a path that the pattern speaks of: as many folders as it has, and the name without its ending.
    #[must_use]
    pub fn subject(&self, path: &Path) -> Option<String> {
        let folders = self.text.matches('/').count();
        let bare = path.with_extension("");
        let parts: Option<Vec<&str>> = bare
            .components()
            .map(|part| match part {
                Component::Normal(name) => name.to_str(),
                _ => None,
            })
            .collect();
        let parts = parts?;
        Some(parts.get(parts.len().checked_sub(folders + 1)?..)?.join("/"))
    }

    /// The words of a tile's name.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn fit(&self, path: &Path) -> Result<Words, Misfit> {
        let Some(name) = self.subject(path) else {
            let what = match path.to_str() {
                None => "the name is not UTF-8 text",
                Some(_) => "it lies in fewer folders than the pattern has",
            };
            return Err(Misfit { wrong: vec![what.into()], proposed: None });
        };
        let (words, wrong) = self.read(&name);
        if wrong.is_empty() { Ok(words) } else { Err(Misfit { wrong, proposed: self.propose(&name) }) }
    }

    fn allows(&self, letter: char) -> bool {
        self.letters.iter().any(|(first, last)| (*first..=*last).contains(&letter))
    }

    fn read(&self, name: &str) -> (Words, Vec<String>) {
        let (mut words, mut wrong) = (Words::new(), Vec::new());
        let mut rest = name;
        let mut parts = self.parts.iter().peekable();
        while let Some(part) = parts.next() {
            match part {
                Part::Fixed(fixed) => match rest.strip_prefix(fixed.as_str()) {
                    Some(behind) => rest = behind,
                    None => {
                        wrong.push(format!("{fixed:?} is missing"));
                        return (words, wrong);
                    }
                },
                Part::Word(word) => {
                    let end = match parts.peek() {
                        Some(Part::Fixed(fixed)) => rest.find(fixed.as_str()).unwrap_or(rest.len()),
                        _ => rest.len(),
                    };
                    let value = &rest[..end];
                    rest = &rest[end..];
                    if value.is_empty() {
                        wrong.push(format!("{{{word}}} is missing"));
                        continue;
                    }
                    let mut odd: Vec<char> = value.chars().filter(|letter| !self.allows(*letter)).collect();
                    odd.sort_unstable();
                    odd.dedup();
                    if !odd.is_empty() {
                        let odd: Vec<String> = odd.into_iter().map(shown).collect();
                        wrong.push(format!("{} may not stand in {{{word}}}", odd.join(", ")));
                    }
                    words.insert(word.clone(), value.into());
                }
            }
        }
        if !rest.is_empty() {
            wrong.push(format!("{rest:?} is too much"));
        }
        let long = name.chars().count();
        if long > self.longest {
            wrong.push(format!("it has {long} letters, and {} are the most", self.longest));
        }
        (words, wrong)
    }

    /// The nearest name that fits: accents taken off, case and signs changed, the longest word cut.
    fn propose(&self, name: &str) -> Option<String> {
        let slots = self.parts.iter().filter(|part| matches!(part, Part::Word(_))).count();
        let split = |signs: &[char]| -> Vec<String> {
            name.split(|c| signs.contains(&c)).map(|word| self.clean(word)).filter(|word| !word.is_empty()).collect()
        };
        // By the pattern's own signs first, then by whatever people put between words.
        let own: Vec<char> = self
            .parts
            .iter()
            .filter_map(|part| if let Part::Fixed(fixed) = part { fixed.chars().next() } else { None })
            .collect();
        let tries = [split(&own), split(&['_', ' ', '/', '.']), split(&['_', ' ', '/', '.', '-'])];
        let mut words = tries.into_iter().find(|words| words.len() == slots)?;
        loop {
            let mut values = words.iter();
            let mut built = String::new();
            for part in &self.parts {
                built.push_str(match part {
                    Part::Fixed(fixed) => fixed,
                    Part::Word(_) => values.next()?,
                });
            }
            if built.chars().count() <= self.longest {
                return self.read(&built).1.is_empty().then_some(built);
            }
            let longest = words.iter_mut().max_by_key(|word| word.chars().count())?;
            longest.pop();
            if longest.is_empty() {
                return None;
            }
        }
    }

    /// A word in allowed letters alone.
    fn clean(&self, word: &str) -> String {
        let apart = DecomposingNormalizerBorrowed::new_nfkd().normalize(word).replace('\u{df}', "ss");
        let mut out = String::new();
        for letter in apart.chars() {
            let lower = letter.to_lowercase().next().filter(|lower| self.allows(*lower));
            let upper = letter.to_uppercase().next().filter(|upper| self.allows(*upper));
            match Some(letter).filter(|letter| self.allows(*letter)).or(lower).or(upper) {
                Some(allowed) => out.push(allowed),
                // A combining mark goes without a trace (Unicode Standard Annex 15: NFKD sets them apart).
                None if is_accent(letter) => {}
                None if self.allows('-') && !out.ends_with('-') => out.push('-'),
                None => {}
            }
        }
        out.trim_matches('-').into()
    }
}

/// Whether a letter is an accent that belongs to the one before it (the block of combining diacritical marks).
fn is_accent(letter: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&letter)
}

/// A letter as a person is told of it.
fn shown(letter: char) -> String {
    if is_accent(letter) { "an accent of its own".into() } else { format!("{letter:?}") }
}
