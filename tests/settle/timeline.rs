//! The language of `tests/timelines`: one deed or expectation a line.
//!
//! ```text
//! # a comment
//! settings quiet=2s incomplete=30s grace=10m reading=300ms step=2s      (each may be left out)
//! 0ms write a.png 40 truncated        makes or overwrites; complete, truncated or unknown
//! 5ms fill a.png complete             changes bytes, leaves the stamp
//! 6ms touch a.png | 7ms delete a.png | 8ms rename a.png b.png
//! 9ms burst 100 in many               writes many/00000.png and so on, complete
//! 10ms look many                      a look at a folder; "look ." is the whole root
//! 11ms unseen write a.png 50 complete   any deed whose event is lost
//! expect a.png complete 50 at 2011ms  in this order, and nothing else; "expect gone a.png at 3s", "expect 100 in many at 2009ms"
//! ```

use crate::world::{Said, World};
use burler::clock::Tick;
use burler::settle::{Settings, Structure};
use std::path::Path;
use std::time::Duration;

/// Runs a timeline and compares what the table said with what is expected.
pub fn run(text: &str) -> Result<(), String> {
    let mut world = World::new(Settings::default());
    let mut expected = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or_default();
        let words: Vec<&str> = line.split_whitespace().collect();
        if !words.is_empty() {
            let done = step(&mut world, &mut expected, &words);
            done.map_err(|problem| format!("line {}: {problem}: {line}", number + 1))?;
        }
    }
    world.pass_all();
    if expected.is_empty() {
        return Err("a timeline must expect something; write \"expect nothing\" when it is nothing".into());
    }
    expected.retain(|line| line != "nothing");
    let said = said(&world);
    if said == expected { Ok(()) } else { Err(format!("expected {expected:#?}\nbut it said {said:#?}")) }
}

fn step(world: &mut World, expected: &mut Vec<String>, words: &[&str]) -> Result<(), String> {
    match words {
        ["settings", pairs @ ..] => {
            let mut settings = Settings::default();
            for pair in pairs {
                let (name, value) = pair.split_once('=').ok_or("a setting is name=value")?;
                let value = duration(value)?;
                match name {
                    "quiet" => settings.quiet = value,
                    "incomplete" => settings.quiet_incomplete = value,
                    "grace" => settings.grace = value,
                    "reading" => world.reading = value,
                    "step" => world.step = value,
                    _ => return Err(format!("no setting {name}")),
                }
            }
            world.table = burler::settle::Table::new(settings);
            Ok(())
        }
        ["expect", "nothing"] => {
            expected.push("nothing".into());
            Ok(())
        }
        ["expect", what @ .., "at", time] => {
            expected.push(format!("{} at {:?}", what.join(" "), duration(time)?));
            Ok(())
        }
        [time, "unseen", deed @ ..] => act(world, time, deed).map(|_| ()),
        [time, deed @ ..] => {
            let paths = act(world, time, deed)?;
            paths.iter().for_each(|path| world.tell(Path::new(path)));
            Ok(())
        }
        [] => Ok(()),
    }
}

/// Does a deed and yields the paths whose events it causes.
fn act(world: &mut World, time: &str, deed: &[&str]) -> Result<Vec<String>, String> {
    world.pass_to(Tick(duration(time)?));
    let paths = match deed {
        ["write", path, size, structure] => {
            world.write(Path::new(path), number(size)?, structure_of(structure)?);
            vec![(*path).to_string()]
        }
        ["fill", path, structure] => {
            world.fill(Path::new(path), structure_of(structure)?);
            vec![(*path).to_string()]
        }
        ["touch", path] => {
            world.touch(Path::new(path));
            vec![(*path).to_string()]
        }
        ["delete", path] => {
            world.delete(Path::new(path));
            vec![(*path).to_string()]
        }
        ["rename", from, to] => {
            world.rename(Path::new(from), Path::new(to));
            vec![(*from).to_string(), (*to).to_string()]
        }
        ["burst", count, "in", folder] => {
            let paths = (0..number(count)?).map(|index| format!("{folder}/{index:05}.png"));
            paths.inspect(|path| world.write(Path::new(path), 1, Structure::Complete)).collect()
        }
        ["look", folder] => {
            world.look(Path::new(if *folder == "." { "" } else { folder }), Duration::ZERO);
            Vec::new()
        }
        _ => return Err("not a deed".into()),
    };
    Ok(paths)
}

/// What the table said, one line each; whole bursts in one.
fn said(world: &World) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut burst: Option<(String, Tick, usize)> = None;
    for (now, said) in &world.said {
        let (line, folder) = match said {
            Said::Gone(path) => (format!("gone {} at {:?}", path.display(), now.0), None),
            Said::Settled(settled, bytes) => {
                assert_eq!(settled.stamp, bytes.stamp, "the verdict belongs to the file that is there");
                let structure = format!("{:?}", settled.structure).to_lowercase();
                let line = format!("{} {structure} {} at {:?}", settled.path.display(), settled.stamp.size, now.0);
                (line, settled.path.parent().filter(|folder| folder.ends_with("many")))
            }
        };
        let Some(folder) = folder.map(|folder| folder.display().to_string()) else {
            lines.extend(burst.take().map(burst_line));
            lines.push(line);
            continue;
        };
        match &mut burst {
            Some((open, at, count)) if *open == folder && at == now => *count += 1,
            _ => lines.extend(burst.replace((folder, *now, 1)).map(burst_line)),
        }
    }
    lines.extend(burst.map(burst_line));
    lines
}

fn burst_line((folder, at, count): (String, Tick, usize)) -> String {
    format!("{count} in {folder} at {:?}", at.0)
}

fn structure_of(word: &str) -> Result<Structure, String> {
    match word {
        "complete" => Ok(Structure::Complete),
        "truncated" => Ok(Structure::Truncated),
        "unknown" => Ok(Structure::Unknown),
        _ => Err(format!("no structure {word}")),
    }
}

fn number(word: &str) -> Result<u64, String> {
    word.parse().map_err(|_| format!("{word} is no number"))
}

/// A duration such as `340ms`, `2s`, `10m`.
fn duration(word: &str) -> Result<Duration, String> {
    let end = word.find(|c: char| !c.is_ascii_digit()).ok_or_else(|| format!("{word} has no unit"))?;
    let value = number(&word[..end])?;
    match &word[end..] {
        "ms" => Ok(Duration::from_millis(value)),
        "s" => Ok(Duration::from_secs(value)),
        "m" => Ok(Duration::from_secs(value * 60)),
        unit => Err(format!("no unit {unit}")),
    }
}
