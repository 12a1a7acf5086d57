//! What is wrong in a configuration file: file, line, column, the nearest known word and what to do.

use std::path::{Path, PathBuf};
use thiserror::Error;
use toml::Spanned;

/// One thing wrong in the configuration.
#[derive(Debug, Error)]
#[error("{}{}: {what}{}{remedy}", .file.display(), place(.line, .column), if .remedy.is_empty() { "" } else { "; " })]
pub struct Complaint {
    /// The file.
    pub file: PathBuf,
    /// Line from 1; 0 when it concerns the whole file.
    pub line: usize,
    /// Column from 1, in characters.
    pub column: usize,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

fn place(line: &usize, column: &usize) -> String {
    if *line == 0 { String::new() } else { format!(":{line}:{column}") }
}

/// The text being read, to point into.
pub struct Source<'a> {
    /// Its text.
    pub text: &'a str,
    /// Its file.
    pub file: &'a Path,
}

impl Source<'_> {
    /// A complaint about a value.
    #[must_use]
    pub fn at<T>(&self, value: &Spanned<T>, what: String, remedy: &str) -> Complaint {
        self.at_byte(Some(value.span().start), what, remedy)
    }

    /// A complaint about a value, or about the whole file when there is none.
    #[must_use]
    pub fn at_optional<T>(&self, value: Option<&Spanned<T>>, what: String, remedy: &str) -> Complaint {
        self.at_byte(value.map(|value| value.span().start), what, remedy)
    }

    /// The complaint behind a TOML error; an unknown key is answered with the nearest known one.
    #[must_use]
    pub fn of_toml(&self, error: &toml::de::Error) -> Complaint {
        let start = error.span().map(|span| span.start);
        let message = error.message();
        // serde's wording: unknown field `a`, expected one of `b`, `c`
        let mut quoted = message.split('`').skip(1).step_by(2);
        if message.starts_with("unknown field")
            && let Some(unknown) = quoted.next()
        {
            let known: Vec<&str> = quoted.collect();
            return self.at_byte(start, format!("unknown key `{unknown}`"), &nearest(unknown, &known));
        }
        if message.starts_with("missing field")
            && let Some(missing) = quoted.next()
        {
            return self.at_byte(
                start,
                format!("the key `{missing}` is missing"),
                &format!("add a line {missing} = …"),
            );
        }
        self.at_byte(start, message.replace('\n', " "), "see `burler config init` for a commented file")
    }

    fn at_byte(&self, byte: Option<usize>, what: String, remedy: &str) -> Complaint {
        let (line, column) = match byte.and_then(|byte| self.text.get(..byte)) {
            Some(before) => {
                let line_start = before.rfind('\n').map_or(0, |at| at + 1);
                (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
            }
            None => (0, 0),
        };
        Complaint { file: self.file.to_path_buf(), line, column, what, remedy: remedy.into() }
    }
}

/// The value that a word stands for, or a complaint that names the nearest known word.
///
/// # Errors
/// When the word is none of the choices.
pub fn choice<T: Copy>(source: &Source<'_>, word: &Spanned<String>, choices: &[(&str, T)]) -> Result<T, Complaint> {
    let known: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
    choices.iter().find(|(name, _)| name == word.get_ref()).map(|(_, value)| *value).ok_or_else(|| {
        source.at(word, format!("{:?} is not known here", word.get_ref()), &nearest(word.get_ref(), &known))
    })
}

/// A remedy that names the nearest known word, or all of them when none is near.
#[must_use]
pub fn nearest(word: &str, known: &[&str]) -> String {
    let near = known
        .iter()
        .map(|name| (strsim::damerau_levenshtein(word, name), name))
        .filter(|(distance, name)| *distance <= 1 + name.chars().count() / 4)
        .min();
    match near {
        Some((_, name)) => format!("did you mean `{name}`?"),
        None if known.is_empty() => "remove it".into(),
        None => format!("known here: {}", known.join(", ")),
    }
}
