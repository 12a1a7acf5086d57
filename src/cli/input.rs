//! What the words on the command line stand for: files, specs, the configuration.

use super::status::Failure;
use super::words::{Demands, Files};
use crate::config::{self, Config, complaint, places::Home};
use crate::disk;
use crate::spec::{GroundDemand, Repeat, Spec};
use std::ffi::OsStr;
use std::io::{self, Read};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

/// The configuration named, or the usual one when it is there, or the defaults.
///
/// # Errors
/// When a named file cannot be read, or any is wrong.
pub fn configuration(named: Option<&Path>) -> Result<Config, Failure> {
    let home = Home::from_environment();
    let file = named.unwrap_or(&home.config);
    if named.is_none() && !file.exists() {
        return Ok(Config::without_file(&home));
    }
    let text = disk::read_text(file).map_err(|error| {
        Failure::configuration(format!(
            "{error}; name an existing file with --config, or make one with `burler config init`"
        ))
    })?;
    let absolute = std::path::absolute(file).map_err(Failure::io)?;
    config::parse(&text, &absolute, &home).map_err(Failure::configuration)
}

/// The configuration, which must watch something.
///
/// # Errors
/// As [`configuration`], and when no folder is configured.
pub fn watched_configuration(named: Option<&Path>) -> Result<Config, Failure> {
    let config = configuration(named)?;
    if config.folders.is_empty() {
        let file = named.map_or_else(|| Home::from_environment().config, Path::to_path_buf);
        return Err(Failure::configuration(format!(
            "{}: no folder to watch; make one with `burler config init`, or add [folder.studio] with exports = \"…\"",
            file.display()
        )));
    }
    Ok(config)
}

/// All files named, lists included.
///
/// # Errors
/// When a list cannot be read.
pub fn files(words: Files) -> Result<Vec<PathBuf>, Failure> {
    let mut files = words.files;
    if let Some(list) = words.files_from {
        let mut bytes = Vec::new();
        if list == Path::new("-") {
            io::stdin()
                .lock()
                .read_to_end(&mut bytes)
                .map_err(|error| Failure::io(format!("cannot read the list of files: {error}")))?;
        } else {
            bytes = disk::read_bytes(&list).map_err(Failure::io)?;
        }
        let lines = bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
        files.extend(lines.map(|line| PathBuf::from(OsStr::from_bytes(line))));
    }
    Ok(files)
}

/// The spec for a file: the one named, else the one of the configured folder it lies in, else none; with the ground and
/// repeat that were said.
///
/// # Errors
/// When a word is not known.
pub fn spec(demands: &Demands, config: &Config, file: &Path) -> Result<Spec, Failure> {
    let mut spec = match &demands.spec {
        Some(name) => config.specs.get(name).cloned().ok_or_else(|| {
            let known: Vec<&str> = config.specs.keys().map(String::as_str).collect();
            let remedy = match known.as_slice() {
                [] => format!("none is configured, so add [spec.{name}] to the configuration, or leave --spec out"),
                known => complaint::nearest(name, known),
            };
            Failure::usage(format!("there is no order sheet {name:?}; {remedy}"))
        })?,
        None => of_folder(config, file),
    };
    if let Some(ground) = &demands.ground {
        spec.ground = match ground.as_str() {
            "opaque" => GroundDemand::Opaque,
            "transparent" => GroundDemand::Transparent,
            "either" => GroundDemand::Either,
            other => {
                return Err(Failure::usage(format!(
                    "{other:?} is no ground; {}",
                    complaint::nearest(other, &["opaque", "transparent", "either"])
                )));
            }
        };
    }
    if let Some(repeat) = &demands.repeat {
        let known: Vec<&str> = Repeat::ALL.iter().map(|repeat| repeat.name()).collect();
        spec.repeat = Some(Repeat::from_name(repeat).ok_or_else(|| {
            Failure::usage(format!("{repeat:?} is no repeat; {}", complaint::nearest(repeat, &known)))
        })?);
    }
    Ok(spec)
}

fn of_folder(config: &Config, file: &Path) -> Spec {
    let real = config::places::real(file);
    config
        .folders
        .iter()
        .find_map(|folder| {
            let inside = real.strip_prefix(config::places::real(&folder.exports)).ok()?;
            Some(config.spec_for(folder, inside))
        })
        .unwrap_or_default()
}
