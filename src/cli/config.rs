//! `config`: makes a commented configuration by asking a few questions, checks one, shows what it comes to.

use super::input;
use super::plain;
use super::status::{Failure, Status};
use crate::config::{Config, places, starter};
use crate::disk::{Disk, Onto, Source};
use crate::spec::{GroundDemand, Length, Spec};
use crate::tile::Content;
use std::fmt::Write as _;
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Words of `config`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Write a commented configuration; asks on a terminal, takes the options elsewhere
    Init(Init),
    /// Say whether the configuration is right, and what is wrong with it
    Check,
    /// Show what the configuration comes to, defaults included
    Show,
}

#[derive(Debug, clap::Args)]
struct Init {
    /// Your folder of exported tiles
    #[arg(long, value_name = "FOLDER")]
    exports: Option<PathBuf>,
    /// Burler's output folder [default: "checked" beside it]
    #[arg(long, value_name = "FOLDER")]
    checked: Option<PathBuf>,
    /// The side of your square tiles in pixels, for an order sheet at 300 per inch
    #[arg(long, value_name = "PIXELS")]
    side: Option<u32>,
    /// Replace a configuration that is there
    #[arg(long)]
    force: bool,
}

/// Makes, checks or shows the configuration.
///
/// # Errors
/// When it is wrong, or cannot be written.
pub fn run(words: Arguments, settings: Option<&Path>) -> Result<Status, Failure> {
    match words.what {
        What::Init(words) => init(words, settings),
        What::Check => {
            let mut config = input::configuration(settings)?;
            if config.archives.is_empty() {
                config = input::watched_configuration(settings)?;
            }
            for folder in &config.folders {
                if !folder.exports.is_dir() {
                    return Err(Failure::configuration(format!(
                        "[folder.{}]: there is no folder {}; make it, or correct exports in {}",
                        folder.name,
                        folder.exports.display(),
                        config.file.as_deref().unwrap_or(Path::new("the configuration")).display()
                    )));
                }
            }
            let archives = match config.archives.len() {
                0 => String::new(),
                count => format!(", {}", some(count, "archive")),
            };
            plain::answer(&format!(
                "{} is right: {} watched{archives}, {}",
                config.file.as_deref().unwrap_or(Path::new("the configuration")).display(),
                some(config.folders.len(), "folder"),
                some(config.specs.len(), "order sheet")
            ));
            // No failure: an archive may lie on a drive that is connected only at times, and the watch must not wait for it.
            for archive in config.archives.iter().filter(|archive| !archive.folder.is_dir()) {
                let folder = archive.folder.display();
                plain::answer(&format!(
                    "[archive.{}]: {folder} is not there now; connect its drive or make it",
                    archive.name
                ));
            }
            Ok(Status::Fine)
        }
        What::Show => {
            plain::answer(shown(&input::configuration(settings)?).trim_end());
            Ok(Status::Fine)
        }
    }
}

fn init(words: Init, settings: Option<&Path>) -> Result<Status, Failure> {
    let home = places::Home::from_environment();
    let file = std::path::absolute(settings.unwrap_or(&home.config)).map_err(Failure::io)?;
    if file.exists() && !words.force {
        return Err(Failure::io(format!(
            "{} is there already; change it by hand, or add --force to begin anew",
            file.display()
        )));
    }
    let asking = io::stdin().is_terminal() && words.exports.is_none();
    let exports = match words.exports {
        Some(exports) => text(&exports)?,
        None if asking => ask("Which folder do you save finished tiles into?", "~/oddfathom/exports")?,
        None => return Err(Failure::usage("say which folder holds your tiles: burler config init --exports FOLDER")),
    };
    let checked = match words.checked {
        Some(checked) => Some(text(&checked)?),
        None if asking => Some(ask("Where should Burler put what it gives back?", &beside(&exports))?),
        None => None,
    };
    let side = match words.side {
        None if asking => {
            let answer = ask("How many pixels wide are your square tiles? (nothing when they differ)", "")?;
            if answer.is_empty() {
                None
            } else {
                Some(answer.parse().map_err(|_| {
                    Failure::usage(format!("{answer:?} is no number of pixels; write for example 3600"))
                })?)
            }
        }
        side => side,
    };
    let base = std::env::current_dir().map_err(Failure::io)?;
    // A path on the command line starts where the person stands, one in the file where the file lies.
    let rooted = |written: &str| {
        if written.starts_with('~') { written.into() } else { base.join(written).to_string_lossy().into_owned() }
    };
    let written = starter::filled(&rooted(&exports), checked.as_deref().map(rooted).as_deref(), side);
    crate::config::parse(&written, &file, &home).map_err(Failure::configuration)?;
    let (Some(folder), Some(name)) = (file.parent(), file.file_name()) else {
        return Err(Failure::usage(format!("{} is no name for a file", file.display())));
    };
    let disk = Disk::new();
    disk.make_folders(folder).map_err(Failure::io)?;
    let bytes = written.into_bytes();
    let content = Content::of(&bytes);
    let onto = if words.force { Onto::Anything } else { Onto::Nothing };
    disk.tree(folder)
        .and_then(|tree| tree.publish(Path::new(name), &Source::Bytes(bytes), content, onto))
        .map_err(Failure::io)?;
    plain::answer(&format!("wrote {}; now run: burler watch", file.display()));
    Ok(Status::Fine)
}

fn text(path: &Path) -> Result<String, Failure> {
    path.to_str().map(Into::into).ok_or_else(|| {
        Failure::usage(format!("{} is not UTF-8, which a configuration must be; rename the folder", path.display()))
    })
}

fn beside(exports: &str) -> String {
    let trimmed = exports.trim_end_matches('/');
    trimmed.rfind('/').map_or_else(|| "checked".into(), |at| format!("{}/checked", &trimmed[..at]))
}

/// Asks on standard error, so that standard output stays the answer's.
fn ask(question: &str, default: &str) -> Result<String, Failure> {
    let hint = if default.is_empty() { String::new() } else { format!(" [{default}]") };
    let mut terminal = io::stderr().lock();
    write!(terminal, "{question}{hint} ").and_then(|()| terminal.flush()).map_err(Failure::io)?;
    let mut line = String::new();
    io::stdin().lock().read_line(&mut line).map_err(Failure::io)?;
    let line = line.trim();
    Ok(if line.is_empty() { default.into() } else { line.into() })
}

fn some(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn shown(config: &Config) -> String {
    let mut out = String::new();
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    line(format!("configuration: {}", config.file.as_deref().map_or("none".into(), |file| file.display().to_string())));
    line(format!("state: {}", config.state.display()));
    for folder in &config.folders {
        line(format!("folder {}: {} -> {}", folder.name, folder.exports.display(), folder.checked.display()));
        line(format!(
            "  order sheet {}; {} given back; {}; replaced outputs kept {} days",
            folder.spec.as_deref().unwrap_or("none"),
            if folder.ready == crate::config::Ready::All { "all good tiles" } else { "mended tiles" },
            if folder.polling { "looked at again and again" } else { "told by events" },
            folder.keep_earlier.as_secs() / 86_400
        ));
    }
    for archive in &config.archives {
        line(format!("archive {}: {} -> {}", archive.name, archive.folder.display(), archive.checked.display()));
        line(format!(
            "  order sheet {}; swept at {}{}; every file read again within {} days; {}",
            archive.spec.as_deref().unwrap_or("none"),
            archive.at.strftime("%H:%M"),
            archive.until.map_or_else(String::new, |until| format!(" until {}", until.strftime("%H:%M"))),
            archive.verify.as_secs() / 86_400,
            if archive.mend { "mended" } else { "only told" }
        ));
    }
    for spec in config.specs.values() {
        line(format!("order sheet {}: {}", spec.name, demanded(spec)));
    }
    line(format!(
        "settle: quiet {} s, grace {} s, full scan every {} s",
        config.quiet.as_secs_f64(),
        config.grace.as_secs(),
        config.scan.as_secs()
    ));
    line(format!(
        "worker: {}, {:.1} GB and {} s for a tile",
        some(config.workers as usize, "process").replace("processs", "processes"),
        config.worker_memory as f64 / 1e9,
        config.worker_time.as_secs()
    ));
    line(format!("mock-ups: at most {} px a side, JPEG quality {}", config.mockup_side, config.mockup_quality));
    line(format!(
        "letter: daily at {:02}:{:02}, {}{}",
        config.digest.at.hour(),
        config.digest.at.minute(),
        config.digest.zone.as_deref().unwrap_or("the system's time zone"),
        if config.digest.to.is_empty() { String::new() } else { format!(", to {}", config.digest.to.join(", ")) }
    ));
    out
}

fn demanded(spec: &Spec) -> String {
    let length = |length: Length| match length {
        Length::Pixels(pixels) => format!("{pixels} px"),
        Length::Millimeters(mm) => format!("{mm:.1} mm"),
    };
    let mut parts = Vec::new();
    parts.extend(spec.width.map(|side| format!("width {}", length(side))));
    parts.extend(spec.height.map(|side| format!("height {}", length(side))));
    parts.extend(spec.resolution.map(|per_inch| format!("{per_inch} per inch")));
    parts.push(match spec.ground {
        GroundDemand::Infer => "any ground".into(),
        GroundDemand::Opaque => "opaque ground".into(),
        GroundDemand::Transparent => "transparent ground".into(),
        GroundDemand::Either => "either ground".into(),
    });
    parts.push(spec.repeat.map_or("any repeat".into(), |repeat| format!("repeat {repeat}")));
    parts.extend(spec.blocks.map(|blocks| format!("{blocks} blocks a side")));
    parts.extend(spec.bytes.map(|bytes| format!("at most {:.1} MB", bytes as f64 / 1e6)));
    parts.extend(spec.rgb_only.then(|| "RGB only".into()));
    parts.extend(spec.profile.as_ref().map(|profile| format!("profile {profile}")));
    parts.extend(spec.depth.map(|depth| format!("at most {depth} bits")));
    parts.extend(spec.silence.iter().map(|kind| format!("silent on {kind}")));
    parts.extend(spec.companions.iter().map(|wish| format!("with {wish}")));
    parts.join(", ")
}
