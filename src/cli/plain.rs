//! Tickets as people read them on a terminal.

use super::repeats;
use super::status::Failure;
use crate::finding::{Bound, Finding, Measure, Verdict, rounded};
use crate::pipeline::check::words;
use crate::ticket::{Companion, Ticket};
use std::fmt::Write;

/// Prints one answer to standard output. A reader that has gone away, as `head` does, is no failure.
pub fn answer(text: &str) {
    use std::io::Write as _;
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{text}");
}

/// Tells a failure on standard error.
#[expect(clippy::print_stderr, reason = "the one place where a command's failure is told")]
pub fn tell(failure: &Failure) {
    eprintln!("burler: {}", failure.message);
}

/// A ticket in a few lines.
#[must_use]
pub fn ticket(ticket: &Ticket) -> String {
    let mut out = format!("{}: {}", printable(&ticket.tile), ticket.verdict.plain());
    if ticket.verdict != Verdict::Unreadable {
        let _ = write!(out, "\n  {}", described(ticket));
    }
    for (at, finding) in ticket.findings.iter().enumerate() {
        let _ = write!(out, "\n  - {}{}", finding.says, measured(finding));
        if ticket.let_pass.contains(&at) {
            let _ = write!(out, "\n    let pass by you");
        } else if finding.silenced {
            let _ = write!(out, "\n    silenced by the order sheet");
        } else {
            let _ = write!(out, "\n    to do: {}", finding.remedy);
        }
    }
    for reading in &ticket.readings {
        let word = if reading.passes() { "passed" } else { "beyond" };
        let _ = write!(out, "\n  {word}  {}: {}, {}", reading.kind, reading.at, amount(&reading.measure));
    }
    for companion in &ticket.companions {
        let _ = write!(out, "\n  {}", made(companion));
    }
    for output in &ticket.outputs {
        let _ = write!(out, "\n  -> {}", printable(output));
    }
    out
}

/// A companion in one line.
fn made(companion: &Companion) -> String {
    if let Some(why) = &companion.refused {
        return format!("{}: {why}", companion.wish);
    }
    let Companion { wish, width, height, units, repeat, .. } = companion;
    let units = if *units == 1 { "1 repeat".into() } else { words::count(*units, "repeats") };
    let mut line = format!("{wish}: {width} x {height} px, {units}, to be laid as {repeat}");
    if let (Some(degrees), Some(scale)) = (companion.degrees, companion.scale) {
        let _ = write!(line, "; turned by {degrees} degrees, scale {scale}");
    }
    line
}

fn described(ticket: &Ticket) -> String {
    let mut parts = vec![format!("{} x {} px", ticket.width, ticket.height)];
    if let (Some([x, y]), Some([wide, high])) = (ticket.resolution_dpi, ticket.print_mm) {
        let dpi = if (x - y).abs() < 0.005 { format!("{x:.0}") } else { format!("{x:.1} x {y:.1}") };
        parts.push(format!("{dpi} per inch, prints {:.1} x {:.1} cm", wide / 10.0, high / 10.0));
    } else {
        parts.push("no print size given".into());
    }
    parts.push(format!("{} {} bit", ticket.channels, ticket.bit_depth));
    parts.push(format!("{} ground", ticket.ground));
    parts.push(match ticket.repeat.joins_as.as_slice() {
        // Without a joint that fails, nothing was to repeat: a placement print or a sketch.
        [] if !ticket.findings.iter().any(|finding| finding.kind.at_joint()) => "joints not judged".into(),
        [] => "joins in no layout".into(),
        layouts => format!("joins as {}", layouts.join(", ")),
    });
    parts.extend(ticket.repeat.unit.as_ref().map(repeats::words));
    parts.join("; ")
}

fn measured(finding: &Finding) -> String {
    finding.measure.as_ref().map_or_else(String::new, |measure| format!(" ({})", amount(measure)))
}

fn amount(Measure { name, value, unit, bound, limit }: &Measure) -> String {
    let bound = match bound {
        Bound::Min => "at least ",
        Bound::Max => "at most ",
        Bound::Equal => "should be ",
    };
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    format!("{name} {}{unit}, {bound}{}", number(*value), number(*limit))
}

fn number(value: f64) -> String {
    let value = rounded(value);
    if value.fract() == 0.0 && (0.0..1e15).contains(&value) {
        words::count(value as u64, "")
    } else {
        format!("{value}")
    }
}

/// A name without characters that could command a terminal.
#[must_use]
pub fn printable(name: &str) -> String {
    name.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}
