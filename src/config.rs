//! The configuration: validated settings built from the TOML shape.
//!
//! Takes the text of a file and where it stands; yields settings with absolute folders that do not overlap, or a
//! sentence with file, line, column and what to do. Knows nothing of what the stages do with them.

pub mod words;
pub mod shape;
pub mod complaint;
pub mod places;
pub mod starter;
pub mod weights;
pub mod archives;

use crate::spec::wish::Wish;
use crate::spec::{GroundDemand, Length, Repeat, Spec};
use archives::Archive;
use complaint::{Complaint, Source, choice};
use shape::Text;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Which tiles `ready/` receives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ready {
    /// Every sound and every mended tile.
    All,
    /// Only tiles that Burler changed.
    Mended,
}

/// One watched folder.
#[derive(Clone, Debug, PartialEq)]
pub struct Folder {
    /// Its name in the configuration.
    pub name: String,
    /// The designer's folder, only read. Absolute.
    pub exports: PathBuf,
    /// Burler's output folder. Absolute.
    pub checked: PathBuf,
    /// The name of the spec for tiles whose subfolders name none.
    pub spec: Option<String>,
    /// Which tiles `ready/` receives.
    pub ready: Ready,
    /// Whether to look again and again instead of waiting for events.
    pub polling: bool,
    /// How long withdrawn outputs stay.
    pub keep_earlier: Duration,
}

/// When and to whom the digest goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Digest {
    /// Time of day.
    pub at: jiff::civil::Time,
    /// IANA zone name; `None` means the system's zone.
    pub zone: Option<String>,
    /// Recipients.
    pub to: Vec<String>,
}

/// Everything configured.
#[derive(Clone, Debug, PartialEq)]
pub struct Config {
    /// The file it came from; `None` for the built-in defaults.
    pub file: Option<PathBuf>,
    /// Where ledger, letters and scratch live. Absolute.
    pub state: PathBuf,
    /// Watched folders by name.
    pub folders: Vec<Folder>,
    /// Archives by name.
    pub archives: Vec<Archive>,
    /// Specs by name.
    pub specs: BTreeMap<String, Spec>,
    /// Quiet time of a complete file.
    pub quiet: Duration,
    /// How long a truncated file may take.
    pub grace: Duration,
    /// The time between full scans.
    pub scan: Duration,
    /// Tiles inspected at the same time.
    pub workers: u32,
    /// Most memory of one worker in bytes.
    pub worker_memory: u64,
    /// Most time for one tile.
    pub worker_time: Duration,
    /// Longest side of the repeat picture in pixels.
    pub mockup_side: u32,
    /// JPEG quality of mock-ups, 1 to 100.
    pub mockup_quality: u8,
    /// The letter.
    pub digest: Digest,
}

impl Config {
    /// The settings without any file: nothing watched, no spec.
    #[must_use]
    pub fn without_file(home: &places::Home) -> Self {
        Self {
            file: None,
            state: home.state.clone(),
            folders: Vec::new(),
            archives: Vec::new(),
            specs: BTreeMap::new(),
            quiet: Duration::from_secs(2),
            grace: Duration::from_mins(10),
            scan: Duration::from_mins(5),
            workers: 1,
            worker_memory: 2_000_000_000,
            worker_time: Duration::from_mins(2),
            mockup_side: 2000,
            mockup_quality: 90,
            digest: Digest { at: jiff::civil::time(18, 0, 0, 0), zone: None, to: Vec::new() },
        }
    }

    /// The spec with the default of a folder: the nearest ancestor folder of the tile named as a spec wins.
    ///
    /// `path` is relative to the exports folder.
    #[must_use]
    pub fn spec_for(&self, folder: &Folder, path: &Path) -> Spec {
        self.spec_below(folder.spec.as_deref(), path)
    }

    /// The spec for a tile below any root: the nearest ancestor folder named as a spec, else the default, else none.
    #[must_use]
    pub fn spec_below(&self, default: Option<&str>, path: &Path) -> Spec {
        path.parent()
            .into_iter()
            .flat_map(Path::ancestors)
            .filter_map(|ancestor| self.specs.get(ancestor.file_name()?.to_str()?))
            .next()
            .or_else(|| self.specs.get(default?))
            .cloned()
            .unwrap_or_default()
    }

    /// Every folder that is kept apart from all others.
    #[must_use]
    pub fn places(&self) -> Vec<places::Place> {
        let state = places::Place { what: "the state folder".into(), entry: String::new(), path: self.state.clone() };
        let of_folder = |folder: &Folder| {
            let place = |what: &str, path: &PathBuf| places::Place {
                what: format!("{what} of [folder.{}]", folder.name),
                entry: format!("folder.{}", folder.name),
                path: path.clone(),
            };
            [place("exports", &folder.exports), place("checked", &folder.checked)]
        };
        std::iter::once(state)
            .chain(self.folders.iter().flat_map(of_folder))
            .chain(self.archives.iter().flat_map(Archive::places))
            .collect()
    }
}

/// Builds the settings from the text of a configuration file.
///
/// Relative folders are taken from the file's own folder, `~` from `home`.
///
/// # Errors
/// A complaint with place and remedy at the first thing that is wrong.
pub fn parse(text: &str, file: &Path, home: &places::Home) -> Result<Config, Complaint> {
    let source = Source { text, file };
    let shape: shape::File = toml::from_str(text).map_err(|error| source.of_toml(&error))?;
    let base = file.parent().unwrap_or(Path::new("/"));
    let mut config = Config { file: Some(file.to_path_buf()), ..Config::without_file(home) };

    for (name, spec) in &shape.spec {
        config.specs.insert(name.get_ref().clone(), spec_of(&source, name, spec)?);
    }
    if let Some(state) = &shape.state.folder {
        config.state = places::resolve(state.get_ref(), base, home);
    }
    for (name, folder) in &shape.folder {
        if name.get_ref().starts_with("archive/") {
            return Err(source.at(
                name,
                format!("a folder cannot be named {:?}: archives are kept under such names", name.get_ref()),
                "give it a name without a slash",
            ));
        }
        let exports = places::resolve(folder.exports.get_ref(), base, home);
        let checked = match &folder.checked {
            Some(checked) => places::resolve(checked.get_ref(), base, home),
            None => exports.parent().unwrap_or(&exports).join("checked"),
        };
        if let Some(spec) = &folder.spec
            && !config.specs.contains_key(spec.get_ref())
        {
            let known: Vec<&str> = config.specs.keys().map(String::as_str).collect();
            return Err(source.at(
                spec,
                format!("there is no [spec.{}]", spec.get_ref()),
                &complaint::nearest(spec.get_ref(), &known),
            ));
        }
        let ready = match &folder.ready {
            None => Ready::All,
            Some(word) => choice(&source, word, &[("all", Ready::All), ("mended", Ready::Mended)])?,
        };
        config.folders.push(Folder {
            name: name.get_ref().clone(),
            exports,
            checked,
            spec: folder.spec.as_ref().map(|spec| spec.get_ref().clone()),
            ready,
            polling: folder.polling.unwrap_or(false),
            keep_earlier: parsed(&source, folder.keep_earlier.as_ref(), words::duration)?
                .unwrap_or(Duration::from_hours(24 * 30)),
        });
    }
    for (name, shape) in &shape.archive {
        config.archives.push(archives::read(&source, name, shape, &config.specs, &|written| {
            places::resolve(written, base, home)
        })?);
    }
    if let Some((one, other)) = places::overlap(&config.places()) {
        let entries = [&one.entry, &other.entry];
        let of = |kind: &str, name: &Text| entries.contains(&&format!("{kind}.{}", name.get_ref()));
        let folder = shape.folder.iter().find(|(name, _)| of("folder", name)).map(|(_, folder)| &folder.exports);
        let archive = shape.archive.iter().find(|(name, _)| of("archive", name)).map(|(_, archive)| &archive.folder);
        let say = |place: &places::Place| format!("{} ({})", place.what, place.path.display());
        return Err(source.at_optional(
            archive.or(folder),
            format!("{} and {} overlap", say(one), say(other)),
            "give each folder a place of its own, none inside another",
        ));
    }
    if let Some(quiet) = parsed(&source, shape.settle.quiet.as_ref(), words::duration)? {
        config.quiet = quiet;
    }
    if let Some(grace) = parsed(&source, shape.settle.grace.as_ref(), words::duration)? {
        config.grace = grace;
    }
    if let Some(scan) = parsed(&source, shape.settle.scan.as_ref(), words::duration)? {
        config.scan = scan;
    }
    if let Some(memory) = parsed(&source, shape.worker.memory.as_ref(), words::bytes)? {
        config.worker_memory = memory;
    }
    if let Some(time) = parsed(&source, shape.worker.time.as_ref(), words::duration)? {
        config.worker_time = time;
    }
    config.workers = within(&source, shape.worker.count.as_ref(), config.workers, 1, 64)?;
    config.mockup_side = within(&source, shape.mockup.max_side.as_ref(), config.mockup_side, 200, 20_000)?;
    config.mockup_quality = within(&source, shape.mockup.quality.as_ref(), config.mockup_quality, 1, 100)?;
    if let Some(digest) = &shape.digest {
        digest_of(&source, digest, &mut config.digest)?;
    }
    Ok(config)
}

fn spec_of(source: &Source<'_>, name: &Text, shape: &shape::Spec) -> Result<Spec, Complaint> {
    let width = parsed(source, shape.width.as_ref(), words::length)?;
    let height = parsed(source, shape.height.as_ref(), words::length)?;
    let resolution = match &shape.resolution {
        Some(number) if !(1.0..=100_000.0).contains(number.get_ref()) => {
            return Err(source.at(
                number,
                "a resolution is between 1 and 100000 pixels per inch".into(),
                "write for example 300",
            ));
        }
        number => number.as_ref().map(|number| *number.get_ref()),
    };
    for (length, text) in [(width, &shape.width), (height, &shape.height)] {
        if matches!(length, Some(Length::Millimeters(_))) && resolution.is_none() {
            return Err(source.at_optional(
                text.as_ref(),
                format!(
                    "[spec.{}] gives a print length but no resolution, so pixels cannot be counted",
                    name.get_ref()
                ),
                "add resolution = 300, or write the length in px",
            ));
        }
    }
    let ground = match &shape.ground {
        None => GroundDemand::Infer,
        Some(word) => choice(
            source,
            word,
            &[
                ("opaque", GroundDemand::Opaque),
                ("transparent", GroundDemand::Transparent),
                ("either", GroundDemand::Either),
            ],
        )?,
    };
    let repeat = match &shape.repeat {
        None => None,
        Some(word) => {
            let mut choices: Vec<(&str, Option<Repeat>)> =
                Repeat::ALL.iter().map(|repeat| (repeat.name(), Some(*repeat))).collect();
            choices.push(("any", None));
            choice(source, word, &choices)?
        }
    };
    let weights::Lists { silence, tell, hold } = weights::lists(source, shape)?;
    let mut companions = Vec::new();
    for words in &shape.companions {
        companions.push(Wish::parse(words.get_ref()).map_err(|error| source.at(words, error.to_string(), ""))?);
    }
    Ok(Spec {
        name: name.get_ref().clone(),
        width,
        height,
        resolution,
        ground,
        repeat,
        blocks: shape.blocks.as_ref().map(|_| within(source, shape.blocks.as_ref(), 1, 1, 10_000)).transpose()?,
        bytes: parsed(source, shape.bytes.as_ref(), words::bytes)?,
        rgb_only: match &shape.mode {
            None => false,
            Some(word) => choice(source, word, &[("rgb", true)])?,
        },
        profile: shape.profile.clone(),
        depth: shape.depth,
        colors: shape.colors.as_ref().map(|_| within(source, shape.colors.as_ref(), 1, 1, 10_000)).transpose()?,
        viewing: parsed(source, shape.viewing.as_ref(), words::distance)?,
        silence,
        tell,
        hold,
        companions,
    })
}

fn digest_of(source: &Source<'_>, shape: &shape::Digest, digest: &mut Digest) -> Result<(), Complaint> {
    if let Some(at) = &shape.at {
        digest.at = jiff::civil::Time::strptime("%H:%M", at.get_ref()).map_err(|_| {
            source.at(at, format!("{:?} is not a time of day", at.get_ref()), "write for example at = \"18:00\"")
        })?;
    }
    if let Some(zone) = &shape.zone {
        jiff::tz::TimeZone::get(zone.get_ref()).map_err(|_| {
            source.at(
                zone,
                format!("there is no time zone {:?}", zone.get_ref()),
                "write an IANA name such as \"Europe/Lisbon\"",
            )
        })?;
        digest.zone = Some(zone.get_ref().clone());
    }
    for to in shape.to.iter().flatten() {
        if !to.get_ref().contains('@') {
            return Err(source.at(
                to,
                format!("{:?} is not a mail address", to.get_ref()),
                "write for example \"you@oddfathom.example\"",
            ));
        }
        digest.to.push(to.get_ref().clone());
    }
    Ok(())
}

fn parsed<T>(
    source: &Source<'_>,
    text: Option<&Text>,
    read: fn(&str) -> Result<T, String>,
) -> Result<Option<T>, Complaint> {
    text.map(|text| read(text.get_ref()).map_err(|wrong| source.at(text, wrong, ""))).transpose()
}

fn within<T: Copy + PartialOrd + std::fmt::Display>(
    source: &Source<'_>,
    number: Option<&toml::Spanned<T>>,
    default: T,
    least: T,
    most: T,
) -> Result<T, Complaint> {
    match number {
        None => Ok(default),
        Some(number) if *number.get_ref() >= least && *number.get_ref() <= most => Ok(*number.get_ref()),
        Some(number) => Err(source.at(
            number,
            format!("{} is out of range", number.get_ref()),
            &format!("write a number from {least} to {most}"),
        )),
    }
}
