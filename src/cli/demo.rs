//! `demo`: draws the tiles of Oddfathom, runs the real daemon over them, and says whether each promise was kept.

use super::plain;
use super::status::{Failure, Status};
use crate::demo::run::{Came, DemoError, Stage, run as run_demo};
use crate::demo::tiles;
use crate::finding::{Kind, Verdict};
use std::io::{IsTerminal, Write};
use std::path::PathBuf;

/// Words of `demo`.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// An empty folder for the demo, or that of an earlier one [default: a fresh one among the temporary files]
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
}

/// Runs the demo. Status 1 when a promise was not kept.
///
/// # Errors
/// When the folder is somebody else's, or the demo cannot run.
pub fn run(words: Arguments) -> Result<Status, Failure> {
    let failed = |error: DemoError| match error {
        DemoError::NotOurs(_) => Failure::usage(error),
        error => Failure::io(error),
    };
    let folder = match words.folder {
        Some(folder) => std::path::absolute(folder).map_err(Failure::io)?,
        None => tempfile::Builder::new().prefix("burler-demo-").tempdir().map_err(Failure::io)?.keep(),
    };
    let program = std::env::current_exe()
        .map_err(|error| Failure::io(format!("cannot find Burler's own executable: {error}")))?;
    let stage = Stage::set(&folder).map_err(failed)?;
    plain::answer(&format!("the demo's folder: {}", folder.display()));
    let terminal = std::io::stderr().is_terminal();
    let mut say = |text: &str| {
        let mut out = std::io::stderr().lock();
        // Progress on one line of a terminal, line by line elsewhere; a closed standard error is no reason to stop.
        let _ = if terminal { write!(out, "\r\x1b[K{text}") } else { writeln!(out, "{text}") };
        let _ = out.flush();
    };
    let came = run_demo(&stage, &tiles(), &program, &mut say).map_err(failed)?;
    say("");
    plain::answer(&table(&came));
    let broken = came.iter().filter(|came| !came.kept()).count();
    plain::answer(&if broken == 0 {
        format!("\nall {} promises kept; look into {}", came.len(), stage.checked().display())
    } else {
        format!(
            "\n{broken} of {} promises broken; the daemon's log is {}",
            came.len(),
            folder.join("watch.log").display()
        )
    });
    Ok(if broken == 0 { Status::Fine } else { Status::Held })
}

/// The table: tile, promised, got, where to look.
fn table(came: &[Came]) -> String {
    let rows: Vec<[String; 4]> = came
        .iter()
        .map(|came| {
            let got = match &came.got {
                Some(got) => spelled(got),
                None => "nothing in time".into(),
            };
            let got = if came.untouched { got } else { format!("{got}, original changed!") };
            let mark = if came.kept() { "" } else { "  <- broken" };
            let look = came.look_at.as_ref().map_or("-".into(), |file| format!("checked/{}", file.display()));
            [came.path.clone(), spelled(&came.promised), format!("{got}{mark}"), look]
        })
        .collect();
    let head = ["tile", "promised", "got", "where to look"].map(String::from);
    let wide = |column: usize| rows.iter().chain([&head]).map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths = [wide(0), wide(1), wide(2)];
    let line = |row: &[String; 4]| {
        let [a, b, c] = widths;
        format!("{:a$}  {:b$}  {:c$}  {}", row[0], row[1], row[2], row[3])
    };
    let mut lines = vec![String::new(), line(&head)];
    lines.extend(rows.iter().map(line));
    lines.join("\n")
}

fn spelled((verdict, kinds): &(Verdict, Vec<Kind>)) -> String {
    let kinds: Vec<&str> = kinds.iter().map(|kind| kind.name()).collect();
    if kinds.is_empty() { verdict.plain().into() } else { format!("{} ({})", verdict.plain(), kinds.join(", ")) }
}
