//! `[digest]`: when letters are written, how much they tell, and to whom they go.
//!
//! Takes the table's shape, yields settings, or a complaint with place and remedy. Knows nothing of how letters are made.

use super::complaint::{Complaint, Source, choice};
use super::shape;
use super::way::Way;
use super::words;
use crate::digest::{self, When};
use jiff::civil::{Time, Weekday};
use std::time::Duration;
use toml::Spanned;

/// The days of the week as they are written.
const DAYS: [(&str, Weekday); 7] = [
    ("Mon", Weekday::Monday),
    ("Tue", Weekday::Tuesday),
    ("Wed", Weekday::Wednesday),
    ("Thu", Weekday::Thursday),
    ("Fri", Weekday::Friday),
    ("Sat", Weekday::Saturday),
    ("Sun", Weekday::Sunday),
];

/// When and to whom the digest goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Digest {
    /// When letters are written.
    pub when: When,
    /// IANA zone name; `None` means the system's zone.
    pub zone: Option<String>,
    /// The most tiles one letter tells in full.
    pub most: usize,
    /// After how long a tile that needs the artist is called to mind again; `None` for never.
    pub remind: Option<Duration>,
    /// Recipients.
    pub to: Vec<String>,
    /// How letters are sent; `None` when they are only kept and shown as pages.
    pub way: Option<Way>,
}

impl Default for Digest {
    fn default() -> Self {
        Self { when: When::default(), zone: None, most: 40, remind: None, to: Vec::new(), way: None }
    }
}

/// Fills the settings with what the table says.
///
/// # Errors
/// A complaint at the first thing that is wrong.
pub fn fill(source: &Source<'_>, shape: &shape::Digest, digest: &mut Digest) -> Result<(), Complaint> {
    let when = &mut digest.when;
    if let Some(at) = &shape.at {
        when.at = time(at.get_ref()).ok_or_else(|| {
            source.at(at, format!("{:?} is not a time of day", at.get_ref()), "write for example at = \"18:00\"")
        })?;
    }
    if let Some(days) = &shape.days {
        when.days = days.get_ref().iter().map(|day| choice(source, day, &DAYS)).collect::<Result<_, _>>()?;
        if when.days.is_empty() {
            let remedy = "name at least one, for example days = [\"Mon\", \"Thu\"]";
            return Err(source.at(days, "without a day there is no letter".into(), remedy));
        }
    }
    when.at_once = shape.at_once.unwrap_or(when.at_once);
    if let Some(calm) = &shape.calm {
        when.calm = words::duration(calm.get_ref()).map_err(|wrong| source.at(calm, wrong, ""))?;
    }
    if let Some(hours) = &shape.quiet {
        when.quiet = quiet(hours.get_ref()).ok_or_else(|| {
            let remedy = "write for example \"21:00-07:00\", or \"never\"";
            source.at(hours, format!("{:?} is not a span of hours", hours.get_ref()), remedy)
        })?;
    }
    let number = |number: &Option<Spanned<usize>>, default: usize, least: usize| match number {
        Some(number) if !(least..=10_000).contains(number.get_ref()) => Err(source.at(
            number,
            format!("{} is out of range", number.get_ref()),
            &format!("write a number from {least} to 10000"),
        )),
        number => Ok(number.as_ref().map_or(default, |number| *number.get_ref())),
    };
    when.after = number(&shape.after, when.after, 0)?;
    digest.most = number(&shape.most, digest.most, 1)?;
    if let Some(remind) = &shape.remind {
        digest.remind = match remind.get_ref().as_str() {
            "never" => None,
            text => Some(words::duration(text).map_err(|wrong| source.at(remind, wrong, "or write \"never\""))?),
        };
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
        if !digest::is_address(to.get_ref()) {
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

fn time(text: &str) -> Option<Time> {
    Time::strptime("%H:%M", text.trim()).ok()
}

/// A span of hours; the inner `None` is "never". One that begins when it ends would be all day or no time at all.
fn quiet(text: &str) -> Option<Option<(Time, Time)>> {
    if text == "never" {
        return Some(None);
    }
    let (from, until) = text.split_once('-')?;
    let (from, until) = (time(from)?, time(until)?);
    (from != until).then_some(Some((from, until)))
}
