//! Small values in the configuration: lengths, sizes in bytes, durations and times of day as people write them.
//!
//! Takes text, yields meaningful types or a sentence that says what would be right.

use crate::spec::{Length, MM_PER_INCH};
use std::time::Duration;

/// A length such as `"3600 px"`, `"40 cm"`, `"406.4 mm"` or `"16 in"`.
///
/// # Errors
/// A sentence with the accepted forms.
pub fn length(text: &str) -> Result<Length, String> {
    let wrong =
        || format!("{text:?} is not a length; write for example \"3600 px\", \"30.5 cm\", \"305 mm\" or \"12 in\"");
    let (number, unit) = split(text).ok_or_else(wrong)?;
    let length = match unit {
        "px" if number.fract() == 0.0 && number <= f64::from(u32::MAX) => Length::Pixels(number as u32),
        "mm" => Length::Millimeters(number),
        "cm" => Length::Millimeters(number * 10.0),
        "m" => Length::Millimeters(number * 1000.0),
        "in" => Length::Millimeters(number * MM_PER_INCH),
        _ => return Err(wrong()),
    };
    if number > 0.0 { Ok(length) } else { Err(wrong()) }
}

/// A distance such as `"2 m"` or `"60 cm"`, in millimeters.
///
/// # Errors
/// A sentence with the accepted forms.
pub fn distance(text: &str) -> Result<f64, String> {
    match length(text) {
        Ok(Length::Millimeters(distance)) => Ok(distance),
        Ok(Length::Pixels(_)) | Err(_) => {
            Err(format!("{text:?} is not a distance; write for example \"2 m\", \"60 cm\" or \"24 in\""))
        }
    }
}

/// A size such as `"25 MB"`, `"300 kB"` or `"1 GB"`, decimal as storage is sold.
///
/// # Errors
/// A sentence with the accepted forms.
pub fn bytes(text: &str) -> Result<u64, String> {
    let wrong = || format!("{text:?} is not a size; write for example \"25 MB\" or \"300 kB\"");
    let (number, unit) = split(text).ok_or_else(wrong)?;
    let factor = match unit {
        "B" => 1.0,
        "kB" => 1e3,
        "MB" => 1e6,
        "GB" => 1e9,
        _ => return Err(wrong()),
    };
    if number > 0.0 { Ok((number * factor).round() as u64) } else { Err(wrong()) }
}

/// A duration such as `"2 s"`, `"10 min"` or `"3 days"`.
///
/// # Errors
/// A sentence with the accepted forms.
pub fn duration(text: &str) -> Result<Duration, String> {
    let wrong = || format!("{text:?} is not a duration; write for example \"2 s\", \"10 min\" or \"36 h\"");
    let signed: jiff::SignedDuration = match split(text) {
        // The library's notation has no days, since a civil day can be 23 or 25 hours long; here one means 24 hours.
        Some((days, "days" | "day" | "d")) => jiff::SignedDuration::from_secs_f64((days * 86_400.0).min(1e12)),
        _ => text.parse().map_err(|_| wrong())?,
    };
    Duration::try_from(signed).ok().filter(|duration| !duration.is_zero()).ok_or_else(wrong)
}

/// A time of day such as `"02:30"`.
///
/// # Errors
/// A sentence with the accepted form.
pub fn time_of_day(text: &str) -> Result<jiff::civil::Time, String> {
    jiff::civil::Time::strptime("%H:%M", text)
        .map_err(|_| format!("{text:?} is not a time of day; write hours and minutes, for example \"02:30\""))
}

fn split(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
    let number: f64 = text[..end].parse().ok()?;
    Some((number, text[end..].trim_start()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_in_five_units() {
        assert_eq!(length("3600 px"), Ok(Length::Pixels(3600)));
        assert_eq!(length("12in"), Ok(Length::Millimeters(12.0 * 25.4)));
        assert_eq!(length(" 30.5 cm"), Ok(Length::Millimeters(305.0)));
        assert_eq!(length("305 mm"), Ok(Length::Millimeters(305.0)));
        assert_eq!(length("2 m"), Ok(Length::Millimeters(2000.0)));
        for wrong in ["", "3600", "px", "-3 px", "0 px", "3.5 px", "12 ft", "1.2.3 in", "NaN in"] {
            assert!(length(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn sizes_and_durations_are_read() {
        assert_eq!(bytes("25 MB"), Ok(25_000_000));
        assert_eq!(bytes("1.5 kB"), Ok(1500));
        assert!(bytes("25").is_err() && bytes("25 Mb").is_err());
        assert_eq!(duration("2 s"), Ok(Duration::from_secs(2)));
        assert_eq!(duration("10 min"), Ok(Duration::from_secs(600)));
        assert_eq!(duration("3 days"), Ok(Duration::from_secs(3 * 86_400)));
        for wrong in ["", "2", "0 s", "-2 s", "soon"] {
            assert!(duration(wrong).is_err(), "{wrong}");
        }
    }
}
