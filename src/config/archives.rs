//! Archives: folders of older tiles, swept by night.
//!
//! Takes the TOML shape of an entry, yields its settings, or a complaint with place and remedy. Knows nothing of what a
//! sweep does with them.

use super::complaint::{self, Complaint, Source};
use super::places::Place;
use super::shape::{self, Text};
use super::words;
use crate::archive::naming::{self, Pattern};
use crate::archive::stray;
use crate::spec::Spec;
use jiff::civil::Time;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// One archive.
#[derive(Clone, Debug, PartialEq)]
pub struct Archive {
    /// Its name in the configuration.
    pub name: String,
    /// The designer's folder of older tiles, only read. Absolute.
    pub folder: PathBuf,
    /// Where mended tiles and pictures go. Absolute.
    pub checked: PathBuf,
    /// The name of the spec for tiles whose subfolders name none.
    pub spec: Option<String>,
    /// Time of day of the nightly sweep.
    pub at: Time,
    /// Time of day at which the nightly sweep stops; `None` when it may take as long as it needs.
    pub until: Option<Time>,
    /// Within how long every file is read again in full.
    pub verify: Duration,
    /// How long nobody has touched what is told as not belonging there, and may be put away.
    pub tidy_after: Duration,
    /// How files are named, as written.
    pub names: Option<String>,
    /// The letters that may stand in a word of a name.
    pub letters: String,
    /// The most letters of a name.
    pub longest: usize,
    /// Whether what can be mended is mended into `checked`, and what is held is pictured there.
    pub mend: bool,
}

impl Archive {
    /// An archive with every setting at its default.
    #[must_use]
    pub fn of(name: &str, folder: &Path) -> Self {
        Self {
            name: name.into(),
            folder: folder.into(),
            checked: beside(folder),
            spec: None,
            at: jiff::civil::time(2, 30, 0, 0),
            until: None,
            verify: Duration::from_hours(24 * 30),
            tidy_after: stray::YOUNG,
            names: None,
            letters: naming::LETTERS.into(),
            longest: naming::LONGEST,
            mend: true,
        }
    }

    /// How files are named; `None` when that is not judged.
    #[must_use]
    pub fn pattern(&self) -> Option<Pattern> {
        self.names.as_ref().and_then(|names| Pattern::parse(names, &self.letters, self.longest).ok())
    }

    /// Its folders, to be kept apart from all others.
    #[must_use]
    pub fn places(&self) -> [Place; 2] {
        let place = |what: &str, path: &PathBuf| Place {
            what: format!("{what} of [archive.{}]", self.name),
            entry: format!("archive.{}", self.name),
            path: path.clone(),
        };
        [place("folder", &self.folder), place("checked", &self.checked)]
    }
}

/// The default output folder: beside the archive, so that two archives, or an archive and exports, may lie side by side.
fn beside(folder: &Path) -> PathBuf {
    let mut name: OsString = folder.file_name().unwrap_or_default().into();
    name.push("-checked");
    folder.with_file_name(name)
}

/// Reads one entry. `resolve` makes a written folder absolute.
///
/// # Errors
/// A complaint at the first value that is wrong.
pub fn read(
    source: &Source<'_>,
    name: &Text,
    shape: &shape::Archive,
    specs: &BTreeMap<String, Spec>,
    resolve: &dyn Fn(&str) -> PathBuf,
) -> Result<Archive, Complaint> {
    let default = Archive::of(name.get_ref(), &resolve(shape.folder.get_ref()));
    if let Some(spec) = &shape.spec
        && !specs.contains_key(spec.get_ref())
    {
        let known: Vec<&str> = specs.keys().map(String::as_str).collect();
        let remedy = complaint::nearest(spec.get_ref(), &known);
        return Err(source.at(spec, format!("there is no [spec.{}]", spec.get_ref()), &remedy));
    }
    let time = |text: &Option<Text>| {
        text.as_ref().map(|text| words::time_of_day(text.get_ref()).map_err(|wrong| source.at(text, wrong, "")))
    };
    let at = time(&shape.at).transpose()?.unwrap_or(default.at);
    let until = time(&shape.until).transpose()?;
    if let Some(text) = shape.until.as_ref().filter(|_| until == Some(at)) {
        return Err(source.at(
            text,
            format!("[archive.{}] stops at the time at which it begins", name.get_ref()),
            "write a later time, or leave until out to let a sweep take as long as it needs",
        ));
    }
    let verify = match &shape.verify {
        None => default.verify,
        Some(text) => words::duration(text.get_ref()).map_err(|wrong| source.at(text, wrong, ""))?,
    };
    if let Some(text) = shape.verify.as_ref().filter(|_| verify < DAY) {
        return Err(source.at(
            text,
            format!("{:?} is less than a day, and a sweep runs once a night", text.get_ref()),
            "write for example \"30 days\"; \"1 day\" reads every file each night",
        ));
    }
    let tidy_after = match &shape.tidy_after {
        None => default.tidy_after,
        Some(text) => words::duration(text.get_ref()).map_err(|wrong| source.at(text, wrong, ""))?,
    };
    let letters = shape.letters.as_ref().map_or(default.letters, |letters| letters.get_ref().clone());
    if let Some(text) = &shape.letters {
        naming::letters(&letters).map_err(|wrong| source.at(text, wrong.what, &wrong.remedy))?;
    }
    let longest = match &shape.longest {
        None => default.longest,
        Some(value) => {
            usize::try_from(*value.get_ref()).ok().filter(|longest| (1..=250).contains(longest)).ok_or_else(|| {
                source.at(value, "a name cannot have that many letters".to_string(), "write a number from 1 to 250")
            })?
        }
    };
    if let Some(text) = &shape.names {
        Pattern::parse(text.get_ref(), &letters, longest)
            .map_err(|wrong| source.at(text, wrong.what, &wrong.remedy))?;
    }
    Ok(Archive {
        letters,
        longest,
        checked: shape.checked.as_ref().map_or(default.checked, |checked| resolve(checked.get_ref())),
        spec: shape.spec.as_ref().map(|spec| spec.get_ref().clone()),
        at,
        until,
        verify,
        tidy_after,
        names: shape.names.as_ref().map(|names| names.get_ref().clone()),
        mend: shape.mend.unwrap_or(default.mend),
        ..Archive::of(name.get_ref(), &default.folder)
    })
}

const DAY: Duration = Duration::from_hours(24);
